"""How controls end: they burn on, stay dark, or go for another reason, each of which may come first."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival import cumulative_incidence

ENDS = ("fails on", "fails off", "other")
"""Other: erratic failures, damage, planned work and removals."""
_COLUMNS = ("kind", "end", "age_days", "incidence", "lower", "upper")


def ends_of_lives(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Share of each kind of control that has ended in one way by each age, the other ways being able to come first.

    Columns: kind, end ("fails on", "fails off", "other"), age_days, incidence (0 to 1) with pointwise limits, one
    row per age at which something ended so. Verdicts as they stand, failures at their central age (Aalen-Johansen).
    """
    lives = query.frame(store, "ends_of_lives", filters)
    parts = []
    for kind, own in lives.groupby("kind"):
        for end in ENDS:
            if (own["end_reason"] == end).any():
                found = cumulative_incidence(own, end, facts(store).confidence)
                parts.append(found.assign(kind=kind, end=end))
    if not parts:
        return pd.DataFrame(columns=list(_COLUMNS), dtype=float)
    return pd.concat(parts, ignore_index=True)[list(_COLUMNS)]


def ended_by_age(curves: pd.DataFrame, ages_years: tuple[float, ...] = (2, 5, 10)) -> pd.DataFrame:
    """The shares of ``ends_of_lives`` at some ages: kind, end, years, incidence, lower, upper.

    An age beyond the last end of the kind is left out: little or nothing was seen there.
    """
    rows = []
    for kind, of_kind in curves.groupby("kind"):
        for years in ages_years:
            if years * 365.25 > of_kind["age_days"].max():
                continue
            for end in ENDS:
                before = of_kind[(of_kind["end"] == end) & (of_kind["age_days"] <= years * 365.25)]
                last = before.iloc[-1] if len(before) else {"incidence": 0.0, "lower": 0.0, "upper": None}
                rows.append(
                    {"kind": kind, "end": end, "years": years}
                    | {name: last[name] for name in ("incidence", "lower", "upper")}
                )
    return pd.DataFrame(rows, columns=["kind", "end", "years", "incidence", "lower", "upper"])
