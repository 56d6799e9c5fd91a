"""Parameters drawn from a likelihood, for simulations that must carry its uncertainty."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline

from pipeline.survival.form import FloatArray
from pipeline.survival.weibull_likelihood import LOG_SHAPE_HIGH, LOG_SHAPE_LOW, WeibullLikelihood

_POINTS, _EXACT_POINTS = (
    201,
    41,
)  # reckoned at the latter, a cubic spline between: to 1e-5 of a draw (tested)
_DEPTH = 14.0  # natural-log units below the maximum; what lies beyond has a weight under 1e-6


def draw_weibull(
    likelihood: WeibullLikelihood, log_shape: float, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """``count`` pairs (shape, log scale in days) from the normalised likelihood.

    Flat in log shape and in the log of the cumulative hazard at the longest age seen: that hazard is what
    lives under delayed entry do determine. (Flat in log shape and log scale, exact for complete samples,
    gave 72 % instead of 90 % where every life entered late and 8 had failed; this gives 88 %, and 90 to
    92 % with early entries. Measured by simulation, 800 runs each.) Given the shape, the rate is gamma
    distributed with the failures as its parameter.
    """
    top = likelihood.profile(log_shape)
    low, high = likelihood.log_shape_limits(log_shape, top - _DEPTH)
    grid = np.linspace(max(low, LOG_SHAPE_LOW), min(high, LOG_SHAPE_HIGH), _POINTS)
    centre, log_spread, profile = _laws(likelihood, grid)
    weight = np.exp(profile - top - log_spread / 2)
    below = np.concatenate([[0.0], np.cumsum((weight[1:] + weight[:-1]) / 2)])
    drawn = np.interp(rng.random(count) * below[-1], below, grid)
    spread = np.exp(np.interp(drawn, grid, log_spread))
    log_rate = np.interp(drawn, grid, centre) + np.log(rng.gamma(spread) / spread)
    shape = np.exp(drawn)
    return shape, np.log(likelihood.longest_days) - log_rate / shape


def _laws(likelihood: WeibullLikelihood, grid: FloatArray) -> FloatArray:
    """Centre of the log rate, log of its gamma parameter, and profile log-likelihood at each log shape: (3, points)."""
    exact = np.linspace(grid[0], grid[-1], _EXACT_POINTS)
    laws = [(*likelihood.rate_law(float(point)), likelihood.profile(float(point))) for point in exact]
    values = np.array([(centre, np.log(spread), profile) for centre, spread, profile in laws])
    return np.asarray(CubicSpline(exact, values)(grid).T, dtype=np.float64)
