"""Weibull scale for a stated shape: the answer that few failures, or none, still allow."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import overload

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import chi2

from pipeline.survival.form import FloatArray
from pipeline.survival.margins import LifeMargins, margins_of
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.weibull_life import StatedLife, log_b_life, log_mean_life
from pipeline.survival.weibull_likelihood import WeibullLikelihood


@dataclass(frozen=True)
class FixedShapeFit:
    """A Weibull scale for a stated shape. Lower limits are one-sided, at ``confidence``.

    ``scale_days`` is None where nothing failed: then only the lower limits say anything. The lower limits
    take the shape as known: they do not cover a wrong shape.
    """

    shape: float
    scale_days: float | None
    scale_lower_days: float
    failures: int
    units: int
    confidence: float
    log_likelihood: float
    exposure: float = field(repr=False)
    longest_days: float = field(repr=False)

    @property
    def lower(self) -> StatedLife:
        """The shortest life that the data do not exclude, as a Weibull life."""
        return StatedLife(self.shape, self.scale_lower_days)

    def b_life(self, percent: float) -> float | None:
        """Age in days by which ``percent`` % have failed; None where nothing failed."""
        if self.scale_days is None:
            return None
        return math.exp(log_b_life(self.shape, math.log(self.scale_days), percent))

    def b_life_lower(self, percent: float) -> float:
        """One-sided lower limit of ``b_life(percent)``, days."""
        return math.exp(log_b_life(self.shape, math.log(self.scale_lower_days), percent))

    @property
    def mean_life(self) -> float | None:
        """Mean life in days; None where nothing failed."""
        if self.scale_days is None:
            return None
        return math.exp(log_mean_life(self.shape, math.log(self.scale_days)))

    @property
    def mean_life_lower(self) -> float:
        """One-sided lower limit of the mean life, days."""
        return math.exp(log_mean_life(self.shape, math.log(self.scale_lower_days)))

    @overload
    def survival(self, age_days: float) -> float: ...
    @overload
    def survival(self, age_days: ArrayLike) -> FloatArray: ...
    def survival(self, age_days: ArrayLike) -> float | FloatArray:
        """Share still working at an age in days; refuses where nothing failed (see ``lower``)."""
        return self._estimate().survival(age_days)

    @overload
    def hazard(self, age_days: float) -> float: ...
    @overload
    def hazard(self, age_days: ArrayLike) -> FloatArray: ...
    def hazard(self, age_days: ArrayLike) -> float | FloatArray:
        """Failures per day at an age in days; refuses where nothing failed (see ``lower``)."""
        return self._estimate().hazard(age_days)

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` pairs (shape, log scale in days); the rate is gamma with parameter failures + 1/2."""
        log_rate = np.log(rng.gamma(self.failures + 0.5, size=count) / self.exposure)
        return np.full(count, self.shape), math.log(self.longest_days) - log_rate / self.shape

    def _estimate(self) -> StatedLife:
        if self.scale_days is None:
            raise CannotFit(
                "Nothing failed, so there is no estimate; the attribute `lower` holds the shortest life."
            )
        return StatedLife(self.shape, self.scale_days)


def fit_weibull_fixed_shape(
    lives: pd.DataFrame | LifeMargins, shape: float, confidence: float = 0.95
) -> FixedShapeFit:
    """Scale, and its one-sided lower limit, for a shape that is borrowed or stated; also with no failure.

    With d failures and the exposure A = sum of (exit**shape - entry**shape), scale**shape = A / d, and the
    limit is (2 A / chi-square(confidence; 2 d + 2))**(1 / shape): exact where observation ends by age, and
    on the safe side otherwise. With no failure it is (A / -ln(1 - confidence))**(1 / shape).
    Failures in an interval count their exposure to its low end for the limit, again on the safe side.

    Source: Nelson, Applied Life Data Analysis (1982), and Nelson, Weibull analysis of reliability data
    with few or no failures, Journal of Quality Technology 17 (1985) 140-146 (cited from memory).
    """
    check_confidence(confidence)
    if not (math.isfinite(shape) and shape > 0):
        raise ValueError(f"shape must be a number above 0; got {shape!r}")
    margins = margins_of(lives)
    if margins.units == 0:
        raise CannotFit("There are no lives to fit.")
    likelihood = WeibullLikelihood(margins)
    exposure = likelihood.exposure(shape)
    if not exposure > 0:
        raise CannotFit("No control was seen to work for any time, so no life can be stated.")
    bound = float(chi2.ppf(confidence, 2 * margins.failures + 2)) / 2
    lower = math.log(likelihood.longest_days) + math.log(exposure / bound) / shape
    scale, log_likelihood = _estimate(likelihood, shape) if margins.failures else (None, 0.0)
    return FixedShapeFit(
        shape=shape,
        scale_days=scale,
        scale_lower_days=math.exp(lower),
        failures=margins.failures,
        units=margins.units,
        confidence=confidence,
        log_likelihood=log_likelihood,
        exposure=exposure,
        longest_days=likelihood.longest_days,
    )


def _estimate(likelihood: WeibullLikelihood, shape: float) -> tuple[float, float]:
    log_shape = math.log(shape)
    log_rate = likelihood.best_log_rate(log_shape)
    return math.exp(likelihood.log_scale(log_shape, log_rate)), likelihood.value(log_shape, log_rate)
