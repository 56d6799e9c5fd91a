"""How many of the controls in service will fail within a horizon."""

from __future__ import annotations

import math
from typing import NamedTuple, Protocol

import numpy as np
import pandas as pd

from pipeline.faults import Fault
from pipeline.survival.form import FloatArray, finite_numbers, refuse, require_columns
from pipeline.survival.margins import count_by_age
from pipeline.survival.refusals import check_confidence
from pipeline.survival.renewal import Moments, moments_with_renewal, moments_without_renewal

DRAWS = 4000
RENEWAL_DRAWS = 1000
_AGES_DRAWN = 2000
_RENEWAL_AGES_DRAWN = 60
_STEPS_DRAWN, _STEPS_EXPECTED = 80, 400
_CELLS = 2_000_000


class LifeModel(Protocol):
    """Anything with a Weibull shape and scale, and draws of them: WeibullFit, FixedShapeFit, StatedLife."""

    @property
    def shape(self) -> float:
        """Weibull shape."""

    @property
    def scale_days(self) -> float | None:
        """Weibull scale in days, None where nothing failed."""

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Pairs (shape, log scale in days)."""


class Forecast(NamedTuple):
    """Failures within the horizon: the expected number and a prediction interval for the number itself."""

    expected: float
    lower: float
    upper: float


def forecast(
    fit: LifeModel,
    at_risk: pd.DataFrame,
    horizon_days: float,
    confidence: float = 0.95,
    renewed_by: LifeModel | None = None,
    seed: int = 0,
) -> Forecast:
    """Failures to expect within ``horizon_days`` among the controls in service.

    ``at_risk``: frame with ``age_days`` (>= 0, of a control that works now) and ``quantity`` (>= 1).
    Without ``renewed_by`` a control counts once; with it, what fails is replaced at once by a control of
    that life, which may fail again within the horizon.

    ``expected`` takes the fit at its estimate (0 where nothing ever failed). The interval is for the count
    that will be seen: it carries the uncertainty of the fit (parameters drawn from its likelihood) and
    chance (a count with the mean and variance that the drawn parameters imply), and repeats for a seed.
    It supposes that controls fail independently and that the life stays what it was.
    """
    check_confidence(confidence)
    if not (math.isfinite(horizon_days) and horizon_days > 0):
        raise ValueError(f"horizon_days must be a number above 0; got {horizon_days!r}")
    ages, quantity = _fleet(at_risk)
    if ages.size == 0:
        return Forecast(0.0, 0.0, 0.0)
    expected = _expected(fit, renewed_by, ages, quantity, horizon_days)
    rng = np.random.default_rng(seed)
    mean, variance = _drawn_moments(fit, renewed_by, ages, quantity, horizon_days, rng)
    counts = draw_counts(mean, variance, rng)
    tail = (1.0 - confidence) / 2
    lower, upper = np.quantile(counts, [tail, 1.0 - tail], method="inverted_cdf")
    return Forecast(expected, min(float(lower), math.floor(expected)), max(float(upper), math.ceil(expected)))


def _fleet(at_risk: pd.DataFrame) -> tuple[FloatArray, FloatArray]:
    """Distinct ages and the controls at each."""
    require_columns(at_risk, ("age_days", "quantity"), "at_risk")
    ages = finite_numbers(at_risk, "age_days", "at_risk row")
    quantity = finite_numbers(at_risk, "quantity", "at_risk row")
    labels = at_risk.index
    refuse(
        [
            Fault(f"at_risk row {labels[i]}", f"age_days {ages[i]:g} is negative.")
            for i in np.flatnonzero(ages < 0).tolist()
        ]
        + [
            Fault(f"at_risk row {labels[i]}", f"quantity {quantity[i]:g} is less than 1.")
            for i in np.flatnonzero(quantity < 1).tolist()
        ]
    )
    return count_by_age(ages, quantity)


def _estimate(model: LifeModel) -> tuple[FloatArray, FloatArray]:
    log_scale = math.inf if model.scale_days is None else math.log(model.scale_days)
    return np.array([model.shape]), np.array([log_scale])


def _expected(
    fit: LifeModel, renewed_by: LifeModel | None, ages: FloatArray, quantity: FloatArray, horizon: float
) -> float:
    if renewed_by is None:
        mean, _ = moments_without_renewal(ages, quantity, horizon, *_estimate(fit))
    else:
        mean, _ = moments_with_renewal(
            ages,
            quantity,
            horizon,
            _estimate(fit),
            _estimate(renewed_by),
            _steps(_STEPS_EXPECTED, horizon, renewed_by),
        )
    return float(mean[0])


def _steps(least: int, horizon: float, renewed_by: LifeModel) -> int:
    """Steps of the renewal equation: more where the horizon spans several lives."""
    lives = 0.0 if renewed_by.scale_days is None else horizon / renewed_by.scale_days
    return int(least * min(max(1.0, lives / 2.0), 5.0))


def _drawn_moments(
    fit: LifeModel,
    renewed_by: LifeModel | None,
    ages: FloatArray,
    quantity: FloatArray,
    horizon: float,
    rng: np.random.Generator,
) -> Moments:
    """Mean and variance of the count for each draw of the parameters."""
    if renewed_by is not None:
        first = fit.draw_parameters(RENEWAL_DRAWS, rng)
        later = first if renewed_by is fit else renewed_by.draw_parameters(RENEWAL_DRAWS, rng)
        some = _thinned(ages, quantity, _RENEWAL_AGES_DRAWN)
        return moments_with_renewal(*some, horizon, first, later, _steps(_STEPS_DRAWN, horizon, renewed_by))
    shape, log_scale = fit.draw_parameters(DRAWS, rng)
    ages, quantity = _thinned(ages, quantity, _AGES_DRAWN)
    pieces = max(1, ages.size * DRAWS // _CELLS)
    parts = [
        moments_without_renewal(ages, quantity, horizon, *pair)
        for pair in zip(np.array_split(shape, pieces), np.array_split(log_scale, pieces), strict=True)
    ]
    return np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])


def _thinned(ages: FloatArray, quantity: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """At most ``most`` ages that stand for the fleet: neighbours merged at their mean age.

    Only the width of the interval is worked out on them; the expected number uses every age.
    """
    if ages.size <= most:
        return ages, quantity
    place = np.minimum((np.cumsum(quantity) - quantity / 2) / quantity.sum() * most, most - 1).astype(
        np.int64
    )
    number = np.bincount(place, weights=quantity, minlength=most).astype(np.float64)
    total = np.bincount(place, weights=quantity * ages, minlength=most).astype(np.float64)
    return total[number > 0] / number[number > 0], number[number > 0]


def draw_counts(mean: FloatArray, variance: FloatArray, rng: np.random.Generator) -> FloatArray:
    """One count for each mean and variance: binomial where the variance is less, else negative binomial.

    Exact for controls of one age without renewal. For a mix of chances the binomial with the same mean and
    variance is very near the true law (Ehm, Statistics and Probability Letters 11 (1991) 7-16; from memory).
    """
    mean = np.maximum(mean, 0.0)
    counts = rng.poisson(mean).astype(np.float64)
    gap = mean - variance
    even = np.abs(gap) <= 1e-9 * np.maximum(mean, 1e-300)
    under, over = (gap > 0) & ~even, (gap < 0) & ~even
    trials = np.maximum(np.rint(mean[under] ** 2 / gap[under]), np.maximum(np.ceil(mean[under]), 1.0))
    capped = np.minimum(trials, 2.0**62)
    counts[under] = rng.binomial(capped.astype(np.int64), np.minimum(mean[under] / capped, 1.0))
    size = mean[over] ** 2 / -gap[over]
    counts[over] = rng.negative_binomial(size, size / (size + mean[over]))
    return counts
