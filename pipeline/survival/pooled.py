"""One Weibull life from the fits of several imputations, by Rubin's rules."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.stats import t as student

from pipeline.survival.form import FloatArray
from pipeline.survival.weibull import Limits, WeibullFit
from pipeline.survival.weibull_life import WeibullLife, exp_or_inf, log_b_life, log_mean_life

_Quantity = Callable[[float, float], float]


@dataclass(frozen=True)
class ImputedWeibull(WeibullLife):
    """A Weibull life pooled over imputations of what the data leave open. Limits are two-sided.

    Every figure is averaged over the imputations on the log scale (survival: the log of the cumulative
    hazard), with total variance = mean variance + (1 + 1 / imputations) * variance between imputations, and
    limits from Student's t (Rubin, Multiple Imputation for Nonresponse in Surveys (1987), chapter 3; from
    memory). ``failures`` and ``units`` are means over imputations. ``lives`` is the last imputed frame, for tables and
    curves (``imputed`` marks what was drawn): one possible history, never to be analysed as if seen.
    """

    shape: float
    scale_days: float
    failures: float
    units: float
    imputations: int
    confidence: float
    fits: tuple[WeibullFit, ...] = field(repr=False, compare=False)
    lives: pd.DataFrame = field(repr=False, compare=False)
    unplaced_events: int = 0
    method: str = "imputed"

    @cached_property
    def shape_limits(self) -> Limits:
        """Limits of the shape."""
        return self._limits(lambda shape, log_scale: math.log(shape))

    @cached_property
    def scale_limits(self) -> Limits:
        """Limits of the scale, days."""
        return self._limits(lambda shape, log_scale: log_scale)

    def b_life_limits(self, percent: float) -> Limits:
        """Limits of ``b_life(percent)``, days."""
        return self._limits(lambda shape, log_scale: log_b_life(shape, log_scale, percent))

    @cached_property
    def mean_life_limits(self) -> Limits:
        """Limits of the mean life, days."""
        return self._limits(log_mean_life)

    def survival_limits(self, age_days: float) -> Limits:
        """Limits of the share still working at an age in days."""
        if age_days <= 0:
            return 1.0, 1.0
        low, high = self._limits(lambda shape, log_scale: shape * (math.log(age_days) - log_scale))
        return math.exp(-high), math.exp(-low)

    @cached_property
    def missing_information(self) -> tuple[float, float]:
        """Share of the variance of (log shape, log scale) that is due to what had to be imputed, 0 to 1."""
        return (
            self._pooled(lambda shape, log_scale: math.log(shape))[2],
            self._pooled(lambda shape, log_scale: log_scale)[2],
        )

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` pairs (shape, log scale in days): each imputation's own draws, in equal parts, shuffled."""
        parts = np.array_split(np.arange(count), len(self.fits))
        drawn = [
            fit.draw_parameters(part.size, rng)
            for fit, part in zip(self.fits, parts, strict=True)
            if part.size
        ]
        order = rng.permutation(count)
        shape, log_scale = (np.concatenate([pair[i] for pair in drawn])[order] for i in (0, 1))
        return shape, log_scale

    def _limits(self, quantity: _Quantity) -> Limits:
        """Limits of exp(quantity)."""
        centre, variance, _, freedom = self._pooled(quantity)
        width = float(student.ppf((1 + self.confidence) / 2, freedom)) * math.sqrt(variance)
        return exp_or_inf(centre - width), exp_or_inf(centre + width)

    def _pooled(self, quantity: _Quantity) -> tuple[float, float, float, float]:
        """Centre, total variance, share of it due to imputation, and degrees of freedom."""
        values = np.array([quantity(fit.shape, math.log(fit.scale_days)) for fit in self.fits])
        within = float(np.mean([_variance(fit, quantity) for fit in self.fits]))
        between = (1.0 + 1.0 / self.imputations) * float(np.var(values, ddof=1))
        total = within + between
        share = between / total if total > 0 else 0.0
        freedom = (self.imputations - 1) / share**2 if share > 1e-6 else 1e12
        return float(values.mean()), total, share, freedom


def pool(
    fits: list[WeibullFit],
    counts: list[tuple[float, float]],
    lives: pd.DataFrame,
    confidence: float,
    unplaced_events: int = 0,
) -> ImputedWeibull:
    """The fits of two or more imputations as one life; ``counts``: failures and lives seen in each."""
    return ImputedWeibull(
        shape=math.exp(float(np.mean([math.log(fit.shape) for fit in fits]))),
        scale_days=math.exp(float(np.mean([math.log(fit.scale_days) for fit in fits]))),
        failures=float(np.mean([failures for failures, _ in counts])),
        units=float(np.mean([units for _, units in counts])),
        imputations=len(fits),
        confidence=confidence,
        fits=tuple(fits),
        lives=lives,
        unplaced_events=unplaced_events,
    )


def _variance(fit: WeibullFit, quantity: _Quantity) -> float:
    """Variance of a function of (shape, log scale), by the delta method in (log shape, log scale)."""
    log_shape, log_scale, step = math.log(fit.shape), math.log(fit.scale_days), 1e-5
    slope = np.array(
        [
            quantity(math.exp(log_shape + step), log_scale) - quantity(math.exp(log_shape - step), log_scale),
            quantity(fit.shape, log_scale + step) - quantity(fit.shape, log_scale - step),
        ]
    ) / (2 * step)
    return float(slope @ fit.log_covariance @ slope)
