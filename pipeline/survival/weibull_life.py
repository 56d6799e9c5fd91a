"""What a Weibull shape and scale say about a life."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from pipeline.survival.form import FloatArray

_FLOAT_MAX_LOG = 709.0


class WeibullLife:
    """What a Weibull shape and scale say about a life. S(t) = exp(-(t / scale)**shape)."""

    shape: float
    scale_days: float

    def b_life(self, percent: float) -> float:
        """Age in days by which ``percent`` % have failed (10 gives the B10 life)."""
        return exp_or_inf(log_b_life(self.shape, math.log(self.scale_days), percent))

    @property
    def mean_life(self) -> float:
        """Mean life in days."""
        return exp_or_inf(log_mean_life(self.shape, math.log(self.scale_days)))

    @overload
    def survival(self, age_days: float) -> float: ...
    @overload
    def survival(self, age_days: ArrayLike) -> FloatArray: ...
    def survival(self, age_days: ArrayLike) -> float | FloatArray:
        """Share still working at an age in days (a number, or an array of them)."""
        ages = _ages(age_days)
        return _as_given(np.exp(-((ages / self.scale_days) ** self.shape)), age_days)

    @overload
    def hazard(self, age_days: float) -> float: ...
    @overload
    def hazard(self, age_days: ArrayLike) -> FloatArray: ...
    def hazard(self, age_days: ArrayLike) -> float | FloatArray:
        """Failures per day among those still working at an age in days."""
        ages = _ages(age_days)
        with np.errstate(divide="ignore"):
            rate = self.shape / self.scale_days * (ages / self.scale_days) ** (self.shape - 1.0)
        return _as_given(rate, age_days)


@dataclass(frozen=True)
class StatedLife(WeibullLife):
    """A Weibull life that somebody states: an assumption, without uncertainty of its own."""

    shape: float
    scale_days: float

    def __post_init__(self) -> None:
        for name, value in (("shape", self.shape), ("scale_days", self.scale_days)):
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name} must be a number above 0; got {value!r}")

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` times the stated pair (shape, log scale in days)."""
        return np.full(count, self.shape), np.full(count, math.log(self.scale_days))


def log_b_life(shape: float, log_scale: float, percent: float) -> float:
    """Log of the age in days by which ``percent`` % have failed."""
    if not 0.0 < percent < 100.0:
        raise ValueError(f"percent must lie between 0 and 100 (such as 10 for B10); got {percent!r}")
    return log_scale + math.log(-math.log1p(-percent / 100.0)) / shape


def log_mean_life(shape: float, log_scale: float) -> float:
    """Log of the mean life in days: scale * gamma(1 + 1 / shape)."""
    return log_scale + float(gammaln(1.0 + 1.0 / shape))


def exp_or_inf(log_value: float) -> float:
    """exp of a number, infinity where that is beyond a float."""
    return math.exp(log_value) if log_value < _FLOAT_MAX_LOG else math.inf


def _ages(age_days: ArrayLike) -> FloatArray:
    ages = np.asarray(age_days, dtype=np.float64)
    if not (ages >= 0).all():
        raise ValueError("an age in days must be a number of at least 0")
    return ages


def _as_given(values: FloatArray, like: ArrayLike) -> float | FloatArray:
    return float(values) if np.ndim(like) == 0 else np.asarray(values, dtype=np.float64)
