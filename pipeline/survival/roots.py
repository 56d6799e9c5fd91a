"""Roots and extremes of smooth functions of one variable, as limits by likelihood need them."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from pipeline.survival.form import FloatArray

_MOST_NEWTON_STEPS = 10


def falling_root(function: Callable[[float], tuple[float, float]], start: float) -> float:
    """Root of a falling function, given with its derivative, near ``start``.

    A few of Newton's steps mostly suffice. Where the function is flat, they do not: then it is bracketed outward from
    ``start`` and halved in.
    """
    point = start
    for _ in range(_MOST_NEWTON_STEPS):
        value, slope = function(point)
        if not (math.isfinite(value) and slope < 0):
            break
        step = -value / slope
        point += step
        if abs(step) <= 1e-12 * max(1.0, abs(point)):
            return point
    return _bracketed_root(lambda at: function(at)[0], start)


def _bracketed_root(function: Callable[[float], float], start: float) -> float:
    low = high = start
    step = 0.5
    while function(low) < 0:
        low, step = low - step, step * 2
    step = 0.5
    while function(high) > 0:
        high, step = high + step, step * 2
        if step > 1e6:
            raise ArithmeticError("the likelihood has no maximum in the rate")
    return low if low == high else float(brentq(function, low, high, xtol=1e-13, rtol=1e-14))


def crossing(above: Callable[[float], float], start: float, bound: float, beyond: float) -> float:
    """Where ``above`` first turns negative on the way from start to bound; ``beyond`` if it does not."""
    inside, step = start, 0.02
    direction = 1.0 if bound > start else -1.0
    while True:
        outside = start + direction * step
        if (bound - outside) * direction <= 0:
            outside = bound
        if above(outside) < 0:
            return float(brentq(above, inside, outside, xtol=1e-12, rtol=1e-13))
        if outside == bound:
            return beyond
        inside, step = outside, step * 2


def least_near(values: list[float], grid: FloatArray, function: Callable[[float], float]) -> float:
    """Minimum of ``function``, searched around the best point of its values on the grid."""
    best = int(np.argmin(values))
    left, right = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])
    if not (math.isfinite(values[best]) and right > left):
        return values[best]
    found = minimize_scalar(function, bounds=(left, right), method="bounded", options={"xatol": 1e-6})
    return min(values[best], float(found.fun))
