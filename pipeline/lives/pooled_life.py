"""One life from the fits of several imputations, with limits that hold chance and what had to be drawn."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import brentq
from scipy.stats import gamma, norm
from scipy.stats import t as student

from pipeline.survival import CannotFit, FixedShapeFit, WeibullFit, WeibullLife
from pipeline.survival.form import FloatArray
from pipeline.survival.weibull_life import exp_or_inf, log_b_life, log_mean_life

Limits = tuple[float, float]
_Quantity = Callable[[float, float], float]
_STEP = 1e-5


@dataclass(frozen=True)
class PooledLife(WeibullLife):
    """A Weibull life pooled over imputations by Rubin's rules on the log scale.

    The limits are those of the profile likelihood of the imputation nearest to the centre, widened about it by
    the root of total variance over that fit's own, and by Student's t over the normal quantile. So they keep the
    skewness of the profile limits, and are these where nothing had to be drawn. Total variance = mean variance +
    (1 + 1 / imputations) * variance between imputations (Rubin, Multiple Imputation for Nonresponse in Surveys,
    1987, chapter 3; from memory).
    """

    shape: float
    scale_days: float
    confidence: float
    fits: tuple[WeibullFit, ...]

    @property
    def failures(self) -> float:
        """Failures, mean over the imputations."""
        return float(np.mean([fit.failures for fit in self.fits]))

    @cached_property
    def shape_limits(self) -> Limits:
        """Limits of the shape."""
        return self._limits(lambda shape, log_scale: math.log(shape), self._nearest.shape_limits)

    @cached_property
    def scale_limits(self) -> Limits:
        """Limits of the scale, days."""
        return self._limits(lambda shape, log_scale: log_scale, self._nearest.scale_limits)

    def b_life_limits(self, percent: float) -> Limits:
        """Limits of ``b_life(percent)``, days."""
        own = self._nearest.b_life_limits(percent)
        return self._limits(lambda shape, log_scale: log_b_life(shape, log_scale, percent), own)

    @cached_property
    def mean_life_limits(self) -> Limits:
        """Limits of the mean life, days."""
        return self._limits(log_mean_life, self._nearest.mean_life_limits)

    @cached_property
    def missing_information(self) -> float:
        """Share of the variance of the log scale that is due to what had to be drawn, 0 to 1."""
        total = self._covariance[1, 1]
        return float(self._between[1, 1] / total)

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` pairs (shape, log scale in days): the nearest fit's draws, spread to the total covariance."""
        shape, log_scale = self._nearest.draw_parameters(count, rng)
        own = np.linalg.cholesky(self._nearest.log_covariance)
        spread = np.linalg.cholesky(self._covariance) @ np.linalg.inv(own)
        away = np.array([np.log(shape), log_scale]) - _point(self._nearest)[:, None]
        drawn = self._centre[:, None] + spread @ away
        return np.exp(drawn[0]), drawn[1]

    @property
    def _centre(self) -> FloatArray:
        return np.array([math.log(self.shape), math.log(self.scale_days)])

    @cached_property
    def _points(self) -> FloatArray:
        return np.array([_point(fit) for fit in self.fits])

    @cached_property
    def _between(self) -> FloatArray:
        """Variance between imputations, with the factor for their finite number."""
        count = len(self.fits)
        return np.asarray((1 + 1 / count) * np.cov(self._points.T, ddof=1), dtype=np.float64)

    @cached_property
    def _covariance(self) -> FloatArray:
        within = np.mean([fit.log_covariance for fit in self.fits], axis=0)
        return np.asarray(within + self._between, dtype=np.float64)

    @cached_property
    def _nearest(self) -> WeibullFit:
        apart = self._points - self._centre
        scaled = np.sum(apart * np.linalg.solve(self._covariance, apart.T).T, axis=1)
        return self.fits[int(np.argmin(scaled))]

    def _limits(self, quantity: _Quantity, own: Limits) -> Limits:
        """Limits of exp(quantity), from those of the nearest fit."""
        slope = _slope(quantity, self.shape, math.log(self.scale_days))
        total, between = (float(slope @ matrix @ slope) for matrix in (self._covariance, self._between))
        share = between / total
        freedom = (len(self.fits) - 1) / share**2 if share > 1e-6 else 1e12
        tail = (1 + self.confidence) / 2
        own_variance = float(slope @ self._nearest.log_covariance @ slope)
        widen = math.sqrt(total / own_variance) * float(student.ppf(tail, freedom) / norm.ppf(tail))
        centre = quantity(self.shape, math.log(self.scale_days))
        at = quantity(self._nearest.shape, math.log(self._nearest.scale_days))
        low, high = (math.log(limit) if limit > 0 else -math.inf for limit in own)
        return exp_or_inf(centre + widen * (low - at)), exp_or_inf(centre + widen * (high - at))


def pooled(fits: Sequence[WeibullFit]) -> PooledLife:
    """The fits of two or more imputations as one life."""
    centre = np.mean([_point(fit) for fit in fits], axis=0)
    return PooledLife(math.exp(centre[0]), math.exp(centre[1]), fits[0].confidence, tuple(fits))


@dataclass(frozen=True)
class PooledFixedShape:
    """A scale for a stated shape over imputations; the lower limit is one-sided, ``scale_days`` None without failures.

    Given an imputation the rate is known as after its failures over its exposure (see ``fit_weibull_fixed_shape``);
    the limit is that of the equal mixture of these laws, and its own limit where all imputations are alike.
    """

    shape: float
    scale_days: float | None
    scale_lower_days: float
    confidence: float
    fits: tuple[FixedShapeFit, ...]

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` pairs (shape, log scale in days): each imputation's own draws in equal parts, shuffled."""
        parts = np.array_split(rng.permutation(count), len(self.fits))
        log_scale = np.empty(count)
        for fit, part in zip(self.fits, parts, strict=True):
            log_scale[part] = fit.draw_parameters(part.size, rng)[1]
        return np.full(count, self.shape), log_scale


def pooled_fixed_shape(fits: Sequence[FixedShapeFit]) -> PooledFixedShape:
    """Scale and lower limit over imputations fitted with one shape."""
    shape, confidence = fits[0].shape, fits[0].confidence
    failures = np.array([fit.failures for fit in fits], dtype=np.float64)
    longest = max(fit.longest_days for fit in fits)
    exposures = np.array([fit.exposure * (fit.longest_days / longest) ** shape for fit in fits])

    def too_high(rate: float) -> float:
        return float(np.mean(gamma.cdf(rate * exposures, failures + 1))) - confidence

    if not (exposures > 0).all():
        raise CannotFit("No control was seen to work for any time, so no life can be stated.")
    ceiling = float(gamma.ppf(confidence, failures.max() + 1)) / float(exposures.min())
    rate = float(brentq(too_high, 0.0, ceiling * 1.01, xtol=1e-14 * ceiling, rtol=1e-13))
    scale = None
    if (
        failures.sum() > 0
    ):  # the mean of the rates: some draws may have no failure, and none has a scale of infinity
        rates = [(fit.scale_days / longest) ** -shape if fit.scale_days else 0.0 for fit in fits]
        scale = longest * float(np.mean(rates)) ** (-1 / shape)
    return PooledFixedShape(shape, scale, longest * rate ** (-1 / shape), confidence, tuple(fits))


def _point(fit: WeibullFit) -> FloatArray:
    return np.array([math.log(fit.shape), math.log(fit.scale_days)])


def _slope(quantity: _Quantity, shape: float, log_scale: float) -> FloatArray:
    """Derivatives of a quantity by log shape and log scale."""
    return np.array(
        [
            quantity(shape * math.exp(_STEP), log_scale) - quantity(shape * math.exp(-_STEP), log_scale),
            quantity(shape, log_scale + _STEP) - quantity(shape, log_scale - _STEP),
        ]
    ) / (2 * _STEP)
