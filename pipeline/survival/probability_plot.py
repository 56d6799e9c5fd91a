"""A Weibull probability plot: the data as points, the fit as a line, both with limits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from pipeline.survival.curves import kaplan_meier
from pipeline.survival.form import FloatArray
from pipeline.survival.margins import LifeMargins
from pipeline.survival.refusals import CannotFit

_LINE_POINTS = 25


class LifeWithLimits(Protocol):
    """WeibullFit or ImputedWeibull."""

    @property
    def shape(self) -> float:
        """Weibull shape."""

    @property
    def scale_days(self) -> float:
        """Weibull scale in days."""

    def survival_limits(self, age_days: float) -> tuple[float, float]:
        """Limits of the share still working at an age."""


@dataclass(frozen=True)
class ProbabilityPlot:
    """Frames for a plot of failed share against age.

    ``points``: ``age_days, failed_share, lower, upper`` (limits of the curve at that age).
    ``line``: ``age_days, failed_share, lower, upper`` (limits of the fit).
    Both also hold ``x`` = log age and ``y`` = log(-log(1 - failed share)), the axes on which a Weibull life is
    a straight line of slope shape, and ``y_lower``, ``y_upper``, the heights of the limits (infinite at shares 0 and
    1). ``starts_at_days`` is the age from which the points are conditional: under delayed entry the share failed by
    then is taken from the fit, since no control was seen before.
    """

    points: pd.DataFrame = field(repr=False)
    line: pd.DataFrame = field(repr=False)
    starts_at_days: float = 0.0


def probability_plot(
    lives: pd.DataFrame | LifeMargins,
    fit: LifeWithLimits,
    start_days: float = 0.0,
    confidence: float = 0.95,
) -> ProbabilityPlot:
    """Kaplan-Meier points at the middle of each step, and the fitted line, with limits of both.

    Points bend away from the line where the Weibull is wrong; a few outside the limits prove nothing, for the
    limits hold age by age. ``start_days`` as for ``kaplan_meier``. Refuses as that function does, and where
    nothing failed. Source of the plotting position: Meeker and Escobar (1998), section 6.4 (from memory).
    """
    curve = kaplan_meier(lives, start_days, confidence)
    if curve.empty:
        raise CannotFit("Nothing failed, so there are no points to plot.")
    reached = math.exp(-((start_days / fit.scale_days) ** fit.shape)) if start_days > 0 else 1.0
    survival = curve["survival"].to_numpy(np.float64)
    middle = (np.concatenate([[1.0], survival[:-1]]) + survival) / 2
    ages = curve["age_days"].to_numpy(np.float64)
    points = _frame(
        ages,
        reached * middle,
        reached * curve["lower"].to_numpy(np.float64),
        reached * curve["upper"].to_numpy(np.float64),
    )
    span = np.geomspace(ages[0], ages[-1], _LINE_POINTS)
    limits = np.array([fit.survival_limits(float(age)) for age in span])
    line = _frame(span, np.exp(-((span / fit.scale_days) ** fit.shape)), limits[:, 0], limits[:, 1])
    return ProbabilityPlot(points, line, float(start_days))


def paper_height(failed_share: ArrayLike) -> FloatArray:
    """Height of a failed share (0 to 1) on Weibull paper: log(-log(1 - share))."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(-np.log1p(-np.asarray(failed_share, dtype=np.float64))), dtype=np.float64)


def _frame(ages: FloatArray, survival: FloatArray, low: FloatArray, high: FloatArray) -> pd.DataFrame:
    with np.errstate(divide="ignore"):
        height = np.log(-np.log(survival))
    return pd.DataFrame(
        {
            "age_days": ages,
            "failed_share": 1.0 - survival,
            "lower": 1.0 - high,
            "upper": 1.0 - low,
            "x": np.log(ages),
            "y": height,
            "y_lower": paper_height(1.0 - high),
            "y_upper": paper_height(1.0 - low),
        }
    )
