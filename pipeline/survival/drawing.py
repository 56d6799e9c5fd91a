"""Parameters drawn from a likelihood, for simulations that must carry its uncertainty."""

from __future__ import annotations

import numpy as np

from pipeline.survival.form import FloatArray
from pipeline.survival.weibull_likelihood import LOG_SHAPE_HIGH, LOG_SHAPE_LOW, WeibullLikelihood

_POINTS = 201
_DEPTH = 14.0  # natural-log units below the maximum; what lies beyond has a weight under 1e-6


def draw_weibull(
    likelihood: WeibullLikelihood, log_shape: float, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """``count`` pairs (shape, log scale in days) from the normalised likelihood.

    Flat in log scale and log shape: for complete and failure-terminated samples prediction intervals
    then have their nominal coverage exactly (location-scale family; recalled from memory). Given the shape,
    the rate is gamma distributed with the failures as its parameter.
    """
    top = likelihood.profile(log_shape)
    low, high = likelihood.log_shape_limits(log_shape, top - _DEPTH)
    grid = np.linspace(max(low, LOG_SHAPE_LOW), min(high, LOG_SHAPE_HIGH), _POINTS)
    rates = np.array([likelihood.best_log_rate(float(point)) for point in grid])
    profile = np.array([likelihood.value(float(p), float(r)) for p, r in zip(grid, rates, strict=True)])
    curvature = np.array([likelihood.curvature(float(p), float(r)) for p, r in zip(grid, rates, strict=True)])
    weight = np.exp(profile - top - grid) / np.sqrt(curvature)
    below = np.concatenate([[0.0], np.cumsum((weight[1:] + weight[:-1]) / 2)])
    drawn = np.interp(rng.random(count) * below[-1], below, grid)
    spread = np.interp(drawn, grid, curvature)
    log_rate = np.interp(drawn, grid, rates) + np.log(rng.gamma(spread) / spread)
    shape = np.exp(drawn)
    return shape, np.log(likelihood.longest_days) - log_rate / shape
