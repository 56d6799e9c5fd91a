"""What makes controls live longer or shorter: Weibull accelerated-life regression."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.stats import norm

from pipeline.survival.form import FloatArray, check_lives
from pipeline.survival.margins import LifeMargins
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.regression_design import Term, design_matrix, make_terms
from pipeline.survival.regression_likelihood import RegressionLikelihood
from pipeline.survival.weibull import fit_weibull
from pipeline.survival.weibull_life import StatedLife

_SEPARATED = (
    "The regression has no maximum: some combination of covariates separates the failures from the rest. "
    "Use fewer covariates or merge levels."
)
# Standard error of log life for one standard deviation of a covariate: beyond a factor of e^10 on life the
# likelihood is flat there, and the search stopped on the way to infinity.
_FLATTEST = 10.0
_SETTLED = 1e-11  # of a coefficient for one standard deviation of its covariate


@dataclass(frozen=True)
class LifeRegression:
    """A fitted Weibull accelerated life: log scale = intercept + sum of coefficient * term; one shape for all.

    ``life_ratios``: frame ``covariate, life_ratio, lower, upper, p_value, compared_with``. A life ratio is the
    factor on every age of failure, for one unit more of a numeric column, or for a level against the
    commonest one (``compared_with``). Limits are Wald's on the log scale, p values Wald's.
    ``coefficients`` and ``covariance`` stand in the order intercept, terms; the covariance also has
    log shape as its last row and column.
    """

    shape: float
    shape_limits: tuple[float, float]
    life_ratios: pd.DataFrame
    log_likelihood: float
    failures: int
    units: int
    confidence: float
    coefficients: FloatArray = field(repr=False)
    covariance: FloatArray = field(repr=False)
    terms: tuple[Term, ...] = field(repr=False)

    def life_for(self, values: Mapping[str, object]) -> StatedLife:
        """The fitted life of a control with these covariate values, without its uncertainty."""
        absent = sorted({term.column for term in self.terms} - set(values))
        if absent:
            raise ValueError(f"give a value for {', '.join(absent)}")
        row = np.array([1.0, *(term.value(values) for term in self.terms)])
        return StatedLife(self.shape, math.exp(float(row @ self.coefficients)))


def fit_life_regression(
    lives: pd.DataFrame, covariates: Sequence[str], confidence: float = 0.95
) -> LifeRegression:
    """Fit how covariates stretch or shorten life, honouring censoring, intervals and delayed entry.

    ``covariates``: a list of columns of ``lives`` (never a formula). Numeric columns act on log life in
    proportion; take the logarithm first where life should follow a power of them. Other columns are
    compared level by level with their commonest level.

    Refuses with a reason: missing values, columns that do not vary or determine one another, a level
    without failures, and fewer failures than parameters plus one. Below about ten failures per term the
    limits are rough (common practice, no source).
    Source: Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data (1980), chapter 3;
    Meeker and Escobar (1998), chapter 17 (cited from memory).
    """
    check_confidence(confidence)
    checked = check_lives(lives)
    return fit_terms(checked, make_terms(checked, covariates), confidence)


def fit_terms(
    checked: pd.DataFrame, terms: Sequence[Term], confidence: float, near: LifeRegression | None = None
) -> LifeRegression:
    """The regression on given terms, of lives in their normal form; ``near``: a fit of like lives to search from."""
    matrix = design_matrix(checked, terms)
    margins = LifeMargins.from_lives(checked)
    if margins.failures < len(terms) + 3:
        raise CannotFit(
            f"{margins.failures} failures are too few for the effects of {', '.join(t.name for t in terms)}; "
            f"at least {len(terms) + 3} are needed. Use fewer covariates or merge levels."
        )
    centre, spread = _standardisation(matrix)
    likelihood = RegressionLikelihood(checked, (matrix - centre) / spread)
    point = None if near is None else _polished(likelihood, _start_near(near, centre, spread))
    if point is None or not _is_top(likelihood, point):
        point = _maximise(likelihood, _start(margins, matrix.shape[1]))
    coefficients, covariance = _in_log_life(likelihood, point, centre, spread)
    return _result(likelihood, point, coefficients, covariance, terms, margins, confidence)


def _start(margins: LifeMargins, columns: int) -> FloatArray:
    """The one life of all, without any effect."""
    alone = fit_weibull(margins)
    start = np.zeros(columns + 1)
    start[0], start[-1] = math.log(alone.scale_days) * alone.shape, math.log(alone.shape)
    return start


def _start_near(near: LifeRegression, centre: FloatArray, spread: FloatArray) -> FloatArray:
    """Another fit's coefficients as those of the hazard on standardised terms, with its log shape."""
    hazard = near.shape * near.coefficients * spread
    hazard[0] = near.shape * (near.coefficients[0] + near.coefficients[1:] @ centre[1:])
    return np.append(hazard, math.log(near.shape))


def _standardisation(matrix: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Centre and spread of every column but the first (ones), so that the search is well scaled."""
    centre, spread = matrix.mean(axis=0), matrix.std(axis=0)
    centre[0], spread[0] = 0.0, 1.0
    return centre, spread


def _maximise(likelihood: RegressionLikelihood, start: FloatArray) -> FloatArray:
    scale = 1.0 / likelihood.failures

    def loss(point: FloatArray) -> tuple[float, FloatArray]:
        value, slope = likelihood.value_and_slope(point)
        return -scale * value, -scale * slope

    found = minimize(
        loss,
        start,
        jac=True,
        method="BFGS",
        options={"gtol": 1e-7, "maxiter": 500},
    )
    point = _polished(likelihood, np.asarray(found.x, dtype=np.float64))
    if not _is_top(likelihood, point):
        raise CannotFit(_SEPARATED)
    return point


def _is_top(likelihood: RegressionLikelihood, point: FloatArray) -> bool:
    """Whether the likelihood is flat at a point (whether it is a maximum shows in its information)."""
    return bool(np.abs(likelihood.value_and_slope(point)[1]).max() <= 1e-5 * likelihood.failures)


def _polished(likelihood: RegressionLikelihood, point: FloatArray) -> FloatArray:
    """Newton's method from a point near the maximum, to the last digits."""
    for _ in range(8):
        slope = likelihood.value_and_slope(point)[1]
        try:
            step = np.linalg.solve(likelihood.information(point), slope)
        except np.linalg.LinAlgError:  # flat in some direction: refused below, where the slope is not nothing
            break
        if not np.isfinite(step).all() or np.abs(step).max() > 1.0:
            break
        point = point + step
        if np.abs(step).max() < _SETTLED:
            break
    return point


def _in_log_life(
    likelihood: RegressionLikelihood, point: FloatArray, centre: FloatArray, spread: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Coefficients of log scale on the covariates as given, and the covariance of them and log shape."""
    size = point.size
    shape = math.exp(point[-1])
    back = np.eye(size)  # from (hazard coefficients of standardised terms, log shape)
    back[:-1, :-1] = np.diag(1.0 / (spread * shape))
    back[0, 1:-1] = -centre[1:] / (spread[1:] * shape)
    coefficients = back[:-1, :-1] @ point[:-1]
    back[:-1, -1] = -coefficients
    information = likelihood.information(point)
    if not np.all(np.linalg.eigvalsh(information) > 0):
        raise CannotFit(
            "The covariates' effects cannot be told apart from these lives. Use fewer covariates."
        )
    covariance = back @ np.linalg.inv(information) @ back.T
    if (np.sqrt(np.diag(covariance))[1:-1] * spread[1:] > _FLATTEST).any():
        raise CannotFit(_SEPARATED)
    return coefficients, covariance


def _result(
    likelihood: RegressionLikelihood,
    point: FloatArray,
    coefficients: FloatArray,
    covariance: FloatArray,
    terms: Sequence[Term],
    margins: LifeMargins,
    confidence: float,
) -> LifeRegression:
    error = np.sqrt(np.diag(covariance))
    z = float(norm.ppf((1 + confidence) / 2))
    effect, width = coefficients[1:], z * error[1:-1]
    ratios = pd.DataFrame(
        {
            "covariate": [term.name for term in terms],
            "life_ratio": np.exp(effect),
            "lower": np.exp(effect - width),
            "upper": np.exp(effect + width),
            "p_value": 2.0 * norm.sf(np.abs(effect) / error[1:-1]),
            "compared_with": [None if term.level is None else term.compared_with for term in terms],
        }
    )
    shape = math.exp(point[-1])
    factor = math.exp(z * float(error[-1]))
    return LifeRegression(
        shape=shape,
        shape_limits=(shape / factor, shape * factor),
        life_ratios=ratios,
        log_likelihood=likelihood.value_and_slope(point)[0],
        failures=margins.failures,
        units=margins.units,
        confidence=confidence,
        coefficients=coefficients,
        covariance=covariance,
        terms=tuple(terms),
    )
