"""Weibull fits of many margins that differ little from one another: each begins where the one before ended."""

from __future__ import annotations

import math

import numpy as np

from pipeline.survival import LifeMargins, WeibullFit, fit_weibull
from pipeline.survival.form import FloatArray
from pipeline.survival.weibull import refuse_undetermined
from pipeline.survival.weibull_likelihood import WeibullLikelihood

_STEPS, _STEP = 25, 1e-5
_SETTLED = 1e-9  # of log shape and log rate: far below any limit's width
_LONGEST = 0.5


def fit_near(margins: LifeMargins, start: WeibullFit | None, confidence: float) -> WeibullFit:
    """``fit_weibull`` by Newton's method from a fit of like lives; the whole search where that does not settle.

    The same maximum to 1e-8 (tested). Raises CannotFit as ``fit_weibull`` does.
    """
    if start is None:
        return fit_weibull(margins, confidence)
    refuse_undetermined(margins)
    likelihood = WeibullLikelihood(margins)
    point = _climbed(likelihood, start)
    if point is None:
        return fit_weibull(margins, confidence)
    log_shape, log_rate = float(point[0]), float(point[1])
    return WeibullFit(
        shape=math.exp(log_shape),
        scale_days=math.exp(likelihood.log_scale(log_shape, log_rate)),
        log_likelihood=likelihood.value(log_shape, log_rate),
        failures=margins.failures,
        units=margins.units,
        confidence=confidence,
        margins=margins,
    )


def _climbed(likelihood: WeibullLikelihood, start: WeibullFit) -> FloatArray | None:
    """The stationary point near the start where the likelihood is concave; None where it is not reached."""
    log_rate = start.shape * (math.log(likelihood.longest_days) - math.log(start.scale_days))
    point = np.array([math.log(start.shape), log_rate])
    for _ in range(_STEPS):
        slope = _score(likelihood, point)
        columns = [(_score(likelihood, point + _STEP * unit) - slope) / _STEP for unit in np.eye(2)]
        information = -np.array(columns)
        information = (information + information.T) / 2
        if not (np.isfinite(information).all() and information[0, 0] > 0 and np.linalg.det(information) > 0):
            return None
        step = np.linalg.solve(information, slope)
        longest = float(np.abs(step).max())
        point = point + step * min(1.0, _LONGEST / max(longest, 1e-300))
        if longest < _SETTLED:
            return np.asarray(point, dtype=np.float64)
    return None


def _score(likelihood: WeibullLikelihood, point: FloatArray) -> FloatArray:
    return np.array(likelihood.score(float(point[0]), float(point[1])))
