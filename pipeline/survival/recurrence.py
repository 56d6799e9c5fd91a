"""Repeat failures: the mean number per unit by age."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.stats import norm

from pipeline.faults import Fault
from pipeline.survival.form import FloatArray, finite_numbers, refuse, require_columns
from pipeline.survival.refusals import CannotFit, check_confidence

_UNITS_AT_ONCE = 500


def mean_cumulative_function(
    events: pd.DataFrame, exposure: pd.DataFrame, confidence: float = 0.95
) -> pd.DataFrame:
    """Mean number of events per unit by age, with robust limits.

    ``events``: ``unit``, ``age_days`` (one row per event). ``exposure``: ``unit``, ``entry_days``,
    ``exit_days``, when the unit was under observation; a unit may have several spans that do not overlap.
    Returns ``age_days, mean_count, lower, upper``, one row per age with an event.

    A unit is at risk at an age if entry < age <= exit. The variance is the robust one of Lawless and
    Nadeau, which needs no Poisson process; limits are on the log scale. With a single unit at risk
    throughout there is no scatter between units, and the limits are missing (NaN).

    Refuses events that no exposure of their unit covers, naming the row.
    Source: Nelson, Journal of Quality Technology 20 (1988) 24-35; Lawless and Nadeau, Technometrics 37
    (1995) 158-168 (cited from memory).
    """
    check_confidence(confidence)
    event_ages, event_units, spans = _checked(events, exposure)
    ages, number = np.unique(event_ages, return_counts=True)
    at_risk = np.searchsorted(np.sort(spans["entry_days"]), ages, side="left") - np.searchsorted(
        np.sort(spans["exit_days"]), ages, side="left"
    )
    steps = number / at_risk
    mean = np.cumsum(steps)
    variance = _robust_variance(ages, at_risk.astype(np.float64), steps, event_ages, event_units, spans)
    single = len(np.unique(spans["unit"])) < 2
    width = float(norm.ppf((1 + confidence) / 2)) * np.sqrt(variance) / mean
    factor = np.full(ages.size, np.nan) if single else np.exp(width)
    return pd.DataFrame(
        {"age_days": ages, "mean_count": mean, "lower": mean / factor, "upper": mean * factor}
    )


def _checked(events: pd.DataFrame, exposure: pd.DataFrame) -> tuple[FloatArray, FloatArray, pd.DataFrame]:
    """Event ages, their units as numbers, and the spans with units numbered the same way."""
    require_columns(events, ("unit", "age_days"), "events")
    require_columns(exposure, ("unit", "entry_days", "exit_days"), "exposure")
    if len(exposure) == 0:
        raise CannotFit("exposure holds no unit, so no mean per unit can be had.")
    ages = finite_numbers(events, "age_days", "events row")
    entry = finite_numbers(exposure, "entry_days", "exposure row")
    exit_ = finite_numbers(exposure, "exit_days", "exposure row")
    names = pd.Index(pd.unique(exposure["unit"]))
    spans = pd.DataFrame(
        {"unit": names.get_indexer(pd.Index(exposure["unit"])), "entry_days": entry, "exit_days": exit_},
        index=exposure.index,
    )
    refuse([*_span_faults(spans), *_overlaps(spans)])
    units = names.get_indexer(pd.Index(events["unit"])).astype(np.float64)
    refuse(_uncovered(events, ages, units, spans))
    return ages, units, spans


def _span_faults(spans: pd.DataFrame) -> list[Fault]:
    faults = []
    for row in spans[(spans["entry_days"] < 0) | (spans["exit_days"] <= spans["entry_days"])].itertuples():
        problem = (
            f"exit_days {row.exit_days:g} is not after entry_days {row.entry_days:g}, or entry is negative."
        )
        faults.append(Fault(f"exposure row {row.Index}", problem))
    return faults


def _overlaps(spans: pd.DataFrame) -> list[Fault]:
    ordered = spans.sort_values(["unit", "entry_days"], kind="stable")
    same = ordered["unit"].to_numpy()[1:] == ordered["unit"].to_numpy()[:-1]
    over = same & (ordered["entry_days"].to_numpy()[1:] < ordered["exit_days"].to_numpy()[:-1])
    rows = ordered.index[1:][over]
    return [Fault(f"exposure row {row}", "overlaps another span of the same unit.") for row in rows]


def _uncovered(events: pd.DataFrame, ages: FloatArray, units: FloatArray, spans: pd.DataFrame) -> list[Fault]:
    """Events outside every span of their unit."""
    ordered = spans.sort_values("entry_days", kind="stable")
    wanted = pd.DataFrame({"age": ages, "unit": units.astype(np.int64), "place": np.arange(ages.size)})
    found = pd.merge_asof(
        wanted.sort_values("age", kind="stable"),
        ordered.assign(unit=ordered["unit"].astype(np.int64)),
        left_on="age",
        right_on="entry_days",
        by="unit",
        allow_exact_matches=False,
    )
    outside = found[~(found["age"] <= found["exit_days"])]["place"].sort_values()
    return [
        Fault(
            f"events row {events.index[place]}",
            f"unit {events['unit'].iloc[place]!r} was not under observation at {ages[place]:g} days.",
            "Every event must lie within entry_days < age_days <= exit_days of its unit.",
        )
        for place in outside.tolist()
    ]


def _robust_variance(
    ages: FloatArray,
    at_risk: FloatArray,
    steps: FloatArray,
    event_ages: FloatArray,
    event_units: FloatArray,
    spans: pd.DataFrame,
) -> FloatArray:
    """Sum over units of (own events less expected ones, each divided by the number at risk) squared."""
    total = np.zeros(ages.size)
    units = int(spans["unit"].max()) + 1
    at = np.searchsorted(ages, event_ages)
    first = np.searchsorted(ages, spans["entry_days"].to_numpy(), side="right")
    last = np.searchsorted(ages, spans["exit_days"].to_numpy(), side="right")
    span_units = spans["unit"].to_numpy()
    expected = steps / at_risk
    for start in range(0, units, _UNITS_AT_ONCE):
        size = min(_UNITS_AT_ONCE, units - start)
        surplus = np.zeros((size, ages.size))
        mine = (event_units >= start) & (event_units < start + size)
        np.add.at(surplus, (event_units[mine].astype(np.int64) - start, at[mine]), 1.0 / at_risk[at[mine]])
        for span in np.flatnonzero((span_units >= start) & (span_units < start + size)):
            surplus[span_units[span] - start, first[span] : last[span]] -= expected[first[span] : last[span]]
        total += (np.cumsum(surplus, axis=1) ** 2).sum(axis=0)
    return total
