"""Weibull life of a group of controls, with limits by profile likelihood."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.stats import chi2

from pipeline.survival.drawing import draw_weibull
from pipeline.survival.form import FloatArray
from pipeline.survival.margins import LifeMargins, margins_of
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.weibull_life import WeibullLife, exp_or_inf, log_b_life, log_mean_life
from pipeline.survival.weibull_likelihood import WeibullLikelihood

Limits = tuple[float, float]


@dataclass(frozen=True)
class WeibullFit(WeibullLife):
    """A fitted Weibull life. Limits are two-sided, by profile likelihood, at ``confidence``.

    ``units`` and ``failures`` are counted with their quantity. ``log_likelihood`` is for ages in days.
    Limits are worked out when first asked for, so that a point fit stays fast.
    """

    shape: float
    scale_days: float
    log_likelihood: float
    failures: int
    units: int
    confidence: float
    margins: LifeMargins = field(repr=False, compare=False)

    @cached_property
    def likelihood(self) -> WeibullLikelihood:
        """The log-likelihood this fit maximises."""
        return WeibullLikelihood(self.margins)

    @cached_property
    def shape_limits(self) -> Limits:
        """Limits of the shape; 0 or infinity where the data set no limit on that side."""
        low, high = self.likelihood.log_shape_limits(math.log(self.shape), self._floor)
        return math.exp(low), math.exp(high)

    @cached_property
    def scale_limits(self) -> Limits:
        """Limits of the scale, days."""
        return self._limits_of_age(lambda shape, log_scale: log_scale)

    def b_life_limits(self, percent: float) -> Limits:
        """Limits of ``b_life(percent)``, days."""
        return self._limits_of_age(lambda shape, log_scale: log_b_life(shape, log_scale, percent))

    @cached_property
    def mean_life_limits(self) -> Limits:
        """Limits of the mean life, days."""
        return self._limits_of_age(log_mean_life)

    def survival_limits(self, age_days: float) -> Limits:
        """Limits of the share still working at an age in days."""
        if age_days <= 0:
            return 1.0, 1.0
        log_age = math.log(age_days)

        def log_cumulative_hazard(shape: float, log_scale: float) -> float:
            return shape * (log_age - log_scale)

        low, high = self._extremes(log_cumulative_hazard)
        return math.exp(-exp_or_inf(high)), math.exp(-exp_or_inf(low))

    def hazard_limits(self, age_days: float) -> Limits:
        """Limits of the failures per day among those still working at an age in days."""
        if age_days <= 0:
            raise ValueError(f"limits of the hazard need an age above 0 days; got {age_days:g}")
        log_age = math.log(age_days)

        def log_hazard(shape: float, log_scale: float) -> float:
            return math.log(shape) + shape * (log_age - log_scale) - log_age

        low, high = self._extremes(log_hazard)
        return exp_or_inf(low), exp_or_inf(high)

    @cached_property
    def log_covariance(self) -> FloatArray:
        """Covariance (2, 2) of (log shape, log scale), from the observed information.

        For pooling fits over imputations; single limits are better read from the profile limits.
        """
        centre = np.array([math.log(self.shape), math.log(self.scale_days)])
        step = 1e-5
        rows = [
            (self._slope(centre + step * unit) - self._slope(centre - step * unit)) / (2 * step)
            for unit in np.eye(2)
        ]
        information = -np.array(rows)
        return np.asarray(np.linalg.inv((information + information.T) / 2), dtype=np.float64)

    def draw_parameters(self, count: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """``count`` pairs (shape, log scale in days) drawn from the normalised likelihood of this fit."""
        return draw_weibull(self.likelihood, math.log(self.shape), count, rng)

    @property
    def _floor(self) -> float:
        return self.log_likelihood - float(chi2.ppf(self.confidence, 1)) / 2

    def _slope(self, point: FloatArray) -> FloatArray:
        """Derivatives of the log-likelihood by log shape and log scale."""
        log_shape, log_scale = float(point[0]), float(point[1])
        shape = math.exp(log_shape)
        log_rate = shape * (math.log(self.likelihood.longest_days) - log_scale)
        by_shape, by_rate = self.likelihood.score(log_shape, log_rate)
        return np.array([by_shape + by_rate * log_rate, -shape * by_rate])

    def _extremes(self, quantity: Callable[[float, float], float]) -> Limits:
        return self.likelihood.extremes(quantity, math.log(self.shape), self._floor)

    def _limits_of_age(self, log_age: Callable[[float, float], float]) -> Limits:
        low, high = self._extremes(log_age)
        return exp_or_inf(low), exp_or_inf(high)


def fit_weibull(lives: pd.DataFrame | LifeMargins, confidence: float = 0.95) -> WeibullFit:
    """Fit a Weibull life by maximum likelihood, honouring censoring and delayed entry.

    ``lives``: a frame in the form of ``check_lives``, or margins counted elsewhere. Failures with
    ``exit_low_days`` enter as interval-censored. Refuses with CannotFit where the data do not determine
    both shape and scale; then ``fit_weibull_fixed_shape`` may still answer.

    Method and limits: Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapters 7, 8
    and 11 (cited from memory).
    """
    check_confidence(confidence)
    margins = margins_of(lives)
    refuse_undetermined(margins)
    _refuse_unbounded_rate(margins)
    likelihood = WeibullLikelihood(margins)
    best = likelihood.most_likely()
    if best is None:
        raise _no_maximum(likelihood, margins)
    log_shape, log_rate = best
    return WeibullFit(
        shape=math.exp(log_shape),
        scale_days=exp_or_inf(likelihood.log_scale(log_shape, log_rate)),
        log_likelihood=likelihood.value(log_shape, log_rate),
        failures=margins.failures,
        units=margins.units,
        confidence=confidence,
        margins=margins,
    )


def refuse_undetermined(margins: LifeMargins) -> None:
    """Refuse lives from which no two parameters can be had, saying why."""
    if margins.units == 0:
        raise CannotFit("There are no lives to fit.")
    if margins.failures == 0:
        raise CannotFit(
            f"None of the {margins.units} lives failed, so shape and scale cannot both be estimated.",
            "fit_weibull_fixed_shape gives a lower limit of the scale for a shape that you state.",
        )
    distinct = np.unique(margins.failure_days).size
    spans = {*zip(margins.interval_low_days.tolist(), margins.interval_high_days.tolist(), strict=True)}
    if distinct + len(spans) < 2:
        where = f"at {margins.failure_days[0]:g} days" if distinct else "within one and the same interval"
        raise CannotFit(
            f"All failures ({margins.failures}) lie {where}: one age cannot show how far failures spread.",
            "State a shape and use fit_weibull_fixed_shape, or wait for failures at other ages.",
        )


def _refuse_unbounded_rate(margins: LifeMargins) -> None:
    """Refuse where every life failed in an interval that opens as it comes under observation."""
    if margins.failure_counts.size or margins.exit_counts.size:
        return
    seen = margins.interval_low_days @ margins.interval_counts - margins.entry_days @ margins.entry_counts
    if seen <= 0:
        raise CannotFit(
            "Every life failed in an interval that begins where it came under observation, so no control was "
            "ever seen to work and the life may be arbitrarily short."
        )


def _no_maximum(likelihood: WeibullLikelihood, margins: LifeMargins) -> CannotFit:
    if likelihood.runs_to_infinity():
        return CannotFit(
            f"The {margins.failures} failures lie so close together in age that the shape runs to infinity; "
            "no Weibull fit is possible.",
            "State a shape and use fit_weibull_fixed_shape.",
        )
    return CannotFit(
        f"The {margins.failures} failures fall so steeply with age that the shape runs to 0; no Weibull fit "
        "is possible. Look for failures of mixed kinds or for wrong installation dates.",
        "Or state a shape and use fit_weibull_fixed_shape.",
    )
