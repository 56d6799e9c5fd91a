"""The Kaplan-Meier curve of lives under delayed entry, and what is read off it."""

from __future__ import annotations

import math
import warnings
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm

from pipeline.survival.form import FloatArray
from pipeline.survival.margins import LifeMargins, margins_of
from pipeline.survival.refusals import CannotFit, SmallRiskSetWarning, check_confidence

# Common practice, no source: below ten at risk, one failure moves the curve by more than 10 %.
SMALL_RISK_SET = 10


class Estimate(NamedTuple):
    """A figure with its limits; None where the curve does not reach it."""

    value: float | None
    lower: float | None
    upper: float | None


def kaplan_meier(
    lives: pd.DataFrame | LifeMargins, start_days: float = 0, confidence: float = 0.95
) -> pd.DataFrame:
    """Share surviving, by age, of controls that work at ``start_days``.

    One row per age at which something failed: ``age_days``, ``at_risk`` (under observation just before
    it), ``failures``, ``survival``, ``lower``, ``upper``. Survival is 1 from ``start_days`` to the first
    row, and holds between rows; with no failure the frame is empty. Limits are pointwise, on the log(-log)
    scale with Greenwood's variance; where survival reaches 0, lower is 0 and upper is carried down from the
    step before.

    Warns (SmallRiskSetWarning) where an early step rests on few controls and more come under observation
    later, as happens with delayed entry: such a step spoils all that follows, so start the curve later.
    Refuses interval-censored lives (use ``turnbull``), and a start beyond all observation.

    Source: Kaplan and Meier, JASA 53 (1958) 457-481; limits: Kalbfleisch and Prentice, The Statistical
    Analysis of Failure Time Data (1980) (cited from memory).
    """
    check_confidence(confidence)
    if not (math.isfinite(start_days) and start_days >= 0):
        raise ValueError(f"start_days must be a number of at least 0; got {start_days!r}")
    margins = margins_of(lives)
    _refuse_no_curve(margins, start_days)
    after = margins.failure_days > start_days
    ages, failures = margins.failure_days[after], margins.failure_counts[after]
    at_risk = margins.at_risk(ages)
    _warn_small_risk_set(ages, at_risk)
    survival = np.asarray(np.cumprod(1.0 - failures / at_risk), dtype=np.float64)
    lower, upper = _log_log_limits(survival, greenwood(failures, at_risk), confidence)
    return pd.DataFrame(
        {
            "age_days": ages,
            "at_risk": np.rint(at_risk).astype(np.int64),
            "failures": np.rint(failures).astype(np.int64),
            "survival": survival,
            "lower": lower,
            "upper": upper,
        }
    )


def dense_from(lives: pd.DataFrame | LifeMargins) -> float:
    """The age in days from which a curve of these lives rests on enough controls, 0 if it always does.

    As ``kaplan_meier`` warns: the last failure on fewer than ten at risk where at least twice as many are at risk
    later, as under delayed entry.
    """
    margins = margins_of(lives)
    at_risk = margins.at_risk(margins.failure_days)
    early = _early_steps(at_risk, _most_later(at_risk))
    return float(margins.failure_days[early[-1]]) if early.size else 0.0


def survival_at(curve: pd.DataFrame, age_days: float) -> float:
    """Survival at an age, read off a ``kaplan_meier`` curve (1 before its first step)."""
    at = int(np.searchsorted(curve["age_days"].to_numpy(), age_days, side="right"))
    return 1.0 if at == 0 else float(curve["survival"].iloc[at - 1])


def median_life(curve: pd.DataFrame) -> Estimate:
    """Age in days by which half have failed, with limits where the limits of the curve cross one half.

    None where the curve, or its limit, does not come down to one half. Where the curve stays at exactly
    one half over a stretch, the middle of the stretch. Source: Brookmeyer and Crowley, Biometrics 38
    (1982) 29-41 (cited from memory).
    """
    ages = curve["age_days"].to_numpy(dtype=np.float64)
    return Estimate(
        *(_crossing_half(ages, curve[name].to_numpy(np.float64)) for name in ("survival", "lower", "upper"))
    )


def restricted_mean_life(
    curve: pd.DataFrame, until_days: float, start_days: float = 0, confidence: float = 0.95
) -> Estimate:
    """Mean days worked between ``start_days`` and ``until_days``: the area under the curve.

    ``start_days`` is the start the curve was made with. The limits are normal, kept within the span.
    ``until_days`` should not lie beyond the last age under observation.
    """
    check_confidence(confidence)
    if not until_days > start_days:
        raise ValueError(f"until_days {until_days:g} must be after start_days {start_days:g}")
    inside = curve[curve["age_days"] < until_days]
    edges = np.concatenate([[start_days], inside["age_days"].to_numpy(np.float64), [until_days]])
    heights = np.concatenate([[1.0], inside["survival"].to_numpy(np.float64)])
    areas = np.diff(edges) * heights
    remaining = areas[::-1].cumsum()[::-1][1:]
    steps = _variance_steps(inside["failures"].to_numpy(np.float64), inside["at_risk"].to_numpy(np.float64))
    spread = float(norm.ppf((1 + confidence) / 2)) * math.sqrt(float(remaining**2 @ steps))
    mean = float(areas.sum())
    return Estimate(mean, max(mean - spread, 0.0), min(mean + spread, until_days - start_days))


def greenwood(failures: FloatArray, at_risk: FloatArray) -> FloatArray:
    """Variance of log survival after each step: the running sum of d / (n (n - d))."""
    return np.asarray(np.cumsum(_variance_steps(failures, at_risk)), dtype=np.float64)


def _variance_steps(failures: FloatArray, at_risk: FloatArray) -> FloatArray:
    left = at_risk - failures
    return np.divide(failures, at_risk * left, out=np.zeros_like(failures), where=left > 0)


def _log_log_limits(
    survival: FloatArray, variance: FloatArray, confidence: float
) -> tuple[FloatArray, FloatArray]:
    """survival ** exp(+-z se) with se the standard error of log(-log survival)."""
    log_survival = np.log(np.where(survival > 0, survival, 0.5))
    width = float(norm.ppf((1 + confidence) / 2)) * np.sqrt(variance) / -log_survival
    with np.errstate(over="ignore"):
        lower, upper = survival ** np.exp(width), survival ** np.exp(-width)
    ended = survival <= 0
    lower[ended] = 0.0
    upper[ended] = upper[~ended][-1] if (~ended).any() else 1.0
    return lower, upper


def _refuse_no_curve(margins: LifeMargins, start_days: float) -> None:
    if margins.units == 0:
        raise CannotFit("There are no lives to draw a curve of.")
    if margins.has_intervals:
        count = round(float(margins.interval_counts.sum()))
        raise CannotFit(
            f"{count} failures are known only to lie between exit_low_days and exit_days: a Kaplan-Meier "
            "curve would misplace them. Use pipeline.survival.turnbull (the Turnbull estimate)."
        )
    last = float(margins.exit_days.max())
    if start_days >= last:
        raise CannotFit(
            f"No control was under observation after {start_days:g} days; the last ended at {last:g} days."
        )


def _warn_small_risk_set(ages: FloatArray, at_risk: FloatArray) -> None:
    """Warn of a failure on fewer than SMALL_RISK_SET at risk where the risk set doubles afterwards."""
    if not ages.size:
        return
    later_most = _most_later(at_risk)
    early = _early_steps(at_risk, later_most)
    if early.size:
        last = int(early[-1])
        warnings.warn(
            f"At {ages[last]:g} days a failure falls on only {at_risk[last]:.0f} controls at risk, though "
            f"{later_most[last]:.0f} are at risk later: this early step moves the whole curve. "
            f"Start the curve later, for instance start_days={ages[last]:g}.",
            SmallRiskSetWarning,
            stacklevel=3,
        )


def _most_later(at_risk: FloatArray) -> FloatArray:
    return np.asarray(np.maximum.accumulate(at_risk[::-1])[::-1], dtype=np.float64)


def _early_steps(at_risk: FloatArray, most_later: FloatArray) -> NDArray[np.intp]:
    return np.flatnonzero((at_risk < SMALL_RISK_SET) & (most_later >= 2 * at_risk))


def _crossing_half(ages: FloatArray, level: FloatArray) -> float | None:
    """First age at which ``level`` is below one half, or the middle of the stretch where it equals it."""
    tolerance = 1e-9
    at_half = np.flatnonzero(np.abs(level - 0.5) <= tolerance)
    below = np.flatnonzero(level < 0.5 - tolerance)
    if at_half.size:
        return float((ages[at_half[0]] + ages[below[0]]) / 2) if below.size else float(ages[at_half[0]])
    return float(ages[below[0]]) if below.size else None
