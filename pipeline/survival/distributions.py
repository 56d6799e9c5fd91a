"""Which life distribution the lives favour: four of them, fitted to the same margins."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy.optimize import minimize
from scipy.special import log_expit, log_ndtr

from pipeline.survival.form import FloatArray
from pipeline.survival.margins import LifeMargins, margins_of
from pipeline.survival.refusals import CannotFit
from pipeline.survival.weibull import fit_weibull, refuse_undetermined
from pipeline.survival.weibull_likelihood import WeibullLikelihood

# Log survival and log density of z = (log age - location) / spread.
_Law = tuple[Callable[[FloatArray], FloatArray], Callable[[FloatArray], FloatArray]]
_LOG_ROOT_TWO_PI = 0.5 * math.log(2.0 * math.pi)


def _lognormal() -> _Law:
    return lambda z: log_ndtr(-z), lambda z: -0.5 * z * z - _LOG_ROOT_TWO_PI


def _loglogistic() -> _Law:
    return lambda z: log_expit(-z), lambda z: log_expit(z) + log_expit(-z)


def compare_distributions(lives: pd.DataFrame | LifeMargins) -> pd.DataFrame:
    """Weibull, lognormal, loglogistic and exponential by maximum likelihood, the best (lowest aic) first.

    Frame ``distribution, log_likelihood, aic, bic``; censoring, intervals and delayed entry are honoured.
    Ages are in days. aic = 2 k - 2 log_likelihood, bic = k log(units) - 2 log_likelihood, with k parameters
    and units counted with their quantity. Differences of aic under about 2 do not tell distributions apart
    (Burnham and Anderson, Model Selection and Multimodel Inference (2002); from memory).

    A distribution whose likelihood has no maximum gets NaN and a warning. Raises CannotFit as
    ``fit_weibull`` does where no two parameters can be had.
    """
    margins = margins_of(lives)
    refuse_undetermined(margins)
    found = {
        "weibull": (2, _or_nan("weibull", lambda: fit_weibull(margins).log_likelihood)),
        "lognormal": (2, _or_nan("lognormal", lambda: _log_location_scale(margins, _lognormal()))),
        "loglogistic": (2, _or_nan("loglogistic", lambda: _log_location_scale(margins, _loglogistic()))),
        "exponential": (1, _or_nan("exponential", lambda: WeibullLikelihood(margins).profile(0.0))),
    }
    rows = [
        (name, value, 2 * k - 2 * value, k * math.log(margins.units) - 2 * value)
        for name, (k, value) in found.items()
    ]
    frame = pd.DataFrame(rows, columns=["distribution", "log_likelihood", "aic", "bic"])
    return frame.sort_values("aic", kind="stable", na_position="last", ignore_index=True)


def _or_nan(name: str, fit: Callable[[], float]) -> float:
    try:
        return fit()
    except CannotFit as reason:
        warnings.warn(f"{name}: {reason}", stacklevel=3)
        return math.nan


def _log_location_scale(margins: LifeMargins, law: _Law) -> float:
    """Greatest log-likelihood of a distribution of log age with a location and a spread."""
    log_survival, log_density = law
    log_fail, ages = np.log(margins.failure_days), margins.net_exits
    log_net, net = np.log(ages[0]), ages[1]
    with np.errstate(divide="ignore"):
        log_low, log_high = np.log(margins.interval_low_days), np.log(margins.interval_high_days)
    counts, between = margins.failure_counts, margins.interval_counts

    def less_likelihood(point: FloatArray) -> float:
        location, spread = float(point[0]), math.exp(float(point[1]))
        z = (log_fail - location) / spread
        # log hazard = log density - log survival; the net exits then count log survival of every life.
        total = float(counts @ (log_density(z) - log_survival(z) - log_fail)) - counts.sum() * math.log(
            spread
        )
        total += float(net @ log_survival((log_net - location) / spread))
        if between.size:
            low, high = (
                log_survival((log_low - location) / spread),
                log_survival((log_high - location) / spread),
            )
            with np.errstate(divide="ignore"):
                total += float(between @ np.log(-np.expm1(high - low)))
        return -total if math.isfinite(total) else 1e300

    return _maximum(less_likelihood, np.concatenate([log_fail, log_high]))


def _maximum(less_likelihood: Callable[[FloatArray], float], log_ages: FloatArray) -> float:
    """Maximum over (location, log spread), from several starts; CannotFit where it runs away."""
    centre, width = float(np.mean(log_ages)), max(float(np.std(log_ages)), 0.05)
    best: tuple[float, FloatArray] | None = None
    for shift in (0.0, 1.0, 2.0):
        start = np.array([centre + shift * width, math.log(width)])
        found = minimize(
            less_likelihood,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-10, "maxiter": 4000},
        )
        if best is None or found.fun < best[0]:
            best = float(found.fun), np.asarray(found.x, dtype=np.float64)
    assert best is not None
    value, (location, log_spread) = best
    if value >= 1e299 or not (-7.0 < log_spread < 5.0) or abs(location - centre) > 50.0:
        raise CannotFit(
            "the likelihood has no maximum: the failures lie too close together, or fall too steeply."
        )
    return -value
