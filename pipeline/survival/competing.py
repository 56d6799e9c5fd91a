"""Competing ends: how many controls end in one way, when other ends can come first."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.stats import norm

from pipeline.faults import Fault
from pipeline.survival.form import (
    BoolArray,
    FloatArray,
    check_group_names,
    check_lives,
    refuse,
    require_columns,
)
from pipeline.survival.margins import LifeMargins, count_by_age
from pipeline.survival.refusals import CannotFit, check_confidence

# Values of end_reason that are no end: the control works on, in this stretch or the next.
NO_END = frozenset({"in service", "load changed", "record interrupted"})


def cumulative_incidence(lives: pd.DataFrame, end_reason: str, confidence: float = 0.95) -> pd.DataFrame:
    """Share of controls that by each age have ended for one reason, the others being able to come first.

    Aalen-Johansen estimate from column ``end_reason`` of a lives frame: every value is a way of ending,
    except a missing one and "in service", "load changed" and "record interrupted", which are censored. Delayed
    entry is honoured. Returns ``age_days, incidence, lower, upper``, one row per age at which something ended for
    the reason.
    Limits are pointwise on the scale log(-log(1 - incidence)), so that with a single reason they are those
    of the Kaplan-Meier curve; the variance is that of the delta method.

    Refuses a reason that no row has (naming those there are), interval-censored lives, and a failed life
    without a reason. Source: Aalen and Johansen, Scandinavian Journal of Statistics 5 (1978) 141-150;
    variance: Marubini and Valsecchi, Analysing Survival Data (1995), section 10.4 (cited from memory).
    """
    check_confidence(confidence)
    require_columns(lives, ("end_reason",), "lives")
    checked = check_lives(lives)
    check_group_names(checked[checked["end_reason"].notna()], "end_reason")
    ended = np.asarray(checked["end_reason"].notna() & ~checked["end_reason"].isin(NO_END), dtype=bool)
    _refuse_unclear(lives, checked, ended, end_reason)
    margins = LifeMargins.from_lives(checked.assign(failed=ended))
    ages, ends = margins.failure_days, margins.failure_counts
    at_risk = margins.at_risk(ages)
    of_reason = _counts_of(checked[ended & (checked["end_reason"] == end_reason).to_numpy()], ages)
    before = np.concatenate([[1.0], np.cumprod(1.0 - ends / at_risk)[:-1]])
    incidence = np.asarray(np.cumsum(before * of_reason / at_risk), dtype=np.float64)
    variance = _variance(incidence, before, ends, of_reason, at_risk)
    lower, upper = _limits(incidence, variance, confidence)
    frame = pd.DataFrame({"age_days": ages, "incidence": incidence, "lower": lower, "upper": upper})
    return frame[of_reason > 0].reset_index(drop=True)


def _refuse_unclear(lives: pd.DataFrame, checked: pd.DataFrame, ended: BoolArray, end_reason: str) -> None:
    label = lives.index
    unclear = np.flatnonzero(checked["failed"].to_numpy() & ~ended).tolist()
    refuse(
        [
            Fault(
                f"row {label[i]}",
                f"failed, but end_reason is {lives['end_reason'].iloc[i]!r}.",
                "Give its end.",
            )
            for i in unclear
        ]
    )
    present = sorted(str(value) for value in checked.loc[ended, "end_reason"].unique())
    if end_reason not in present:
        known = ", ".join(present) if present else "none"
        raise CannotFit(f"No life ended with end_reason {end_reason!r}. Reasons there are: {known}.")
    if "exit_low_days" in checked.columns:
        between = checked["exit_low_days"].to_numpy() < checked["exit_days"].to_numpy()
        if between.any():
            raise CannotFit(
                f"{int(between.sum())} lives ended at an age known only within an interval (exit_low_days); "
                "cumulative incidence needs the ages. Give ages, or leave exit_low_days out to take exit_days as exact."
            )


def _counts_of(part: pd.DataFrame, ages: FloatArray) -> FloatArray:
    found, counts = count_by_age(
        part["exit_days"].to_numpy(np.float64), part["quantity"].to_numpy(np.float64)
    )
    full = np.zeros(ages.size)
    full[np.searchsorted(ages, found)] = counts
    return full


def _variance(
    incidence: FloatArray, before: FloatArray, ends: FloatArray, of_reason: FloatArray, at_risk: FloatArray
) -> FloatArray:
    """Delta-method variance, its sums over earlier ages expanded so that one pass does."""
    left = at_risk - ends
    hazard = np.divide(ends, at_risk * left, out=np.zeros_like(ends), where=left > 0)
    own = before**2 * of_reason * (at_risk - of_reason) / at_risk**3
    cross = before * of_reason / at_risk**2
    square = incidence**2 * np.cumsum(hazard) - 2 * incidence * np.cumsum(incidence * hazard)
    square += np.cumsum(incidence**2 * hazard)
    mixed = incidence * np.cumsum(cross) - np.cumsum(incidence * cross)
    return np.asarray(np.maximum(square + np.cumsum(own) - 2 * mixed, 0.0), dtype=np.float64)


def _limits(incidence: FloatArray, variance: FloatArray, confidence: float) -> tuple[FloatArray, FloatArray]:
    inside = (incidence > 0) & (incidence < 1)
    rest = np.where(inside, 1.0 - incidence, 0.5)
    width = float(norm.ppf((1 + confidence) / 2)) * np.sqrt(variance) / (rest * -np.log(rest))
    with np.errstate(over="ignore"):
        lower, upper = 1.0 - rest ** np.exp(-width), 1.0 - rest ** np.exp(width)
    none, all_ = incidence <= 0, incidence >= 1
    lower[none], upper[none] = 0.0, 0.0
    upper[all_] = 1.0
    lower[all_] = lower[inside][-1] if inside.any() else 0.0
    return lower, upper
