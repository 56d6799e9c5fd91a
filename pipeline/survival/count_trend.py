"""Whether a monthly count grows: a log-linear regression on time with the season taken out."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy.stats import chi2, norm
from statsmodels.tools.sm_exceptions import ConvergenceWarning, HessianInversionWarning

from pipeline.survival.form import FloatArray, finite_numbers, require_columns
from pipeline.survival.refusals import CannotFit, check_confidence

FEWEST_MONTHS = 12
FEWEST_EVENTS = 10  # below this the limits span orders of magnitude and the normal approximation is worthless
MONTHS_FOR_A_SEASON = 24
DISPERSION_TEST_LEVEL = 0.05
_DAYS_PER_YEAR = 365.25
_LARGEST_LOG_RATIO = 10.0  # a growth of e^10 a year is no answer


@dataclass(frozen=True)
class CountTrend:
    """Yearly growth of a monthly count. ``yearly_ratio`` 1.10 is ten per cent more each year.

    ``limits`` are two-sided at ``confidence`` (normal on the log scale). ``dispersion`` is Pearson's chi-square per
    degree of freedom of the Poisson fit; where it is significantly above 1 the model is negative binomial.
    """

    yearly_ratio: float
    limits: tuple[float, float]
    model: str
    season_removed: bool
    dispersion: float
    months: int
    confidence: float


def fit_count_trend(months: pd.DataFrame, confidence: float = 0.95) -> CountTrend:
    """Fit log mean = log exposure + level + growth x years (+ one term per calendar month).

    ``months``: frame with ``month`` (any day of it; whole months only, no gaps needed), ``count`` (>= 0) and, if
    given, ``exposure`` (> 0: controls under observation, say). The season is fitted from two years on. Refuses with
    CannotFit below twelve months or ten events. Method: Cameron and Trivedi, Regression Analysis of
    Count Data, chapter 3 (cited from memory); fits by statsmodels.
    """
    check_confidence(confidence)
    require_columns(months, ("month", "count"), "months")
    counts = finite_numbers(months, "count", "months row")
    if len(counts) < FEWEST_MONTHS:
        raise CannotFit(f"{len(counts)} months are too few for a trend: give at least {FEWEST_MONTHS}.")
    if (counts < 0).any():
        raise ValueError("a count is below 0")
    if counts.sum() < FEWEST_EVENTS:
        raise CannotFit(
            f"{counts.sum():.0f} events are too few for a trend: at least {FEWEST_EVENTS} are needed."
        )
    exposure = (
        finite_numbers(months, "exposure", "months row") if "exposure" in months else np.ones(len(counts))
    )
    if (exposure <= 0).any():
        raise ValueError("an exposure is not above 0")
    design, seasonal = _design(pd.DatetimeIndex(months["month"]))
    return _fit(counts, design, np.log(exposure), seasonal, confidence)


def _design(months: pd.DatetimeIndex) -> tuple[FloatArray, bool]:
    """Columns: years since the first month, one per calendar month (or a level alone)."""
    years = (months - months[0]).days.to_numpy(dtype=np.float64) / _DAYS_PER_YEAR
    seasonal = len(months) >= MONTHS_FOR_A_SEASON
    levels = pd.get_dummies(months.month, dtype=float).to_numpy() if seasonal else np.ones((len(months), 1))
    return np.column_stack([years, levels]), seasonal


def _fit(
    counts: FloatArray, design: FloatArray, offset: FloatArray, seasonal: bool, confidence: float
) -> CountTrend:
    # A calendar month that never counts anything says nothing of growth and has no finite level.
    kept = np.array([counts[column > 0].sum() > 0 for column in design[:, 1:].T])
    rows = design[:, 1:][:, kept].sum(axis=1) > 0
    counts, offset, design = counts[rows], offset[rows], design[rows][:, np.concatenate([[True], kept])]
    poisson = sm.GLM(counts, design, family=sm.families.Poisson(), offset=offset).fit()
    freedom = int(poisson.df_resid)
    dispersion = float(poisson.pearson_chi2 / freedom) if freedom > 0 else float("nan")
    overdispersed = freedom > 0 and chi2.sf(poisson.pearson_chi2, freedom) < DISPERSION_TEST_LEVEL
    slope, error = float(poisson.params[0]), float(poisson.bse[0])
    if overdispersed:
        slope, error = _negative_binomial(counts, design, offset, poisson.params)
    width = float(norm.ppf((1 + confidence) / 2)) * error
    # Counts that all fall in a few months leave the growth without a finite limit (separation).
    if not (np.isfinite(slope) and np.isfinite(error) and abs(slope) + width < _LARGEST_LOG_RATIO):
        raise CannotFit("The counts do not determine a trend: they lie in too few months.")
    return CountTrend(
        float(np.exp(slope)),
        (float(np.exp(slope - width)), float(np.exp(slope + width))),
        "negative binomial" if overdispersed else "poisson",
        seasonal,
        dispersion,
        len(counts),
        confidence,
    )


def _negative_binomial(
    counts: FloatArray, design: FloatArray, offset: FloatArray, start: FloatArray
) -> tuple[float, float]:
    """Slope and its standard error with the dispersion estimated by maximum likelihood (variance mu + a mu^2)."""
    model = sm.NegativeBinomial(counts, design, offset=offset)
    with warnings.catch_warnings():
        warnings.simplefilter("error", ConvergenceWarning)
        warnings.simplefilter("error", HessianInversionWarning)
        try:
            fit = model.fit(start_params=np.append(start, 0.1), disp=False, maxiter=200, method="bfgs")
        except (ConvergenceWarning, HessianInversionWarning) as error:
            raise CannotFit("The counts vary too unevenly for a trend: the fit does not settle.") from error
    return float(fit.params[0]), float(fit.bse[0])
