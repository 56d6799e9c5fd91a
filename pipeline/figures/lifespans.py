"""Which group of controls fails soonest, and which lasts."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.figures.failures import failure_groups
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.lives.groups import FULL_FITS
from pipeline.store import Store

GROUPING = "model and lamp"
YEAR_DAYS = 365.25


class Lifespan(NamedTuple):
    """A group's B10 life in years: the age by which 10 % have failed, with limits."""

    name: str
    b10_years: float
    lower_years: float
    upper_years: float
    failures: int
    units: int


def soonest_and_longest(
    store: Store, filters: Filters = EVERYTHING
) -> tuple[Lifespan | None, Lifespan | None, int]:
    """The model and lamp that fail soonest, those that last longest, and how many groups could be ranked.

    Only groups with a full Weibull fit are ranked: with a borrowed shape a B10 has no upper limit. Longest is None
    where a single group could be ranked.
    """
    fits = failure_groups(store, GROUPING, filters)
    ranked = fits[fits["method"].isin(FULL_FITS)]
    found = [
        Lifespan(
            name=str(row["group_name"]),
            b10_years=row["b10_days"] / YEAR_DAYS,
            lower_years=row["b10_days_lower"] / YEAR_DAYS,
            upper_years=row["b10_days_upper"] / YEAR_DAYS,
            failures=int(row["failures"]),
            units=int(row["units"]),
        )
        for row in ranked.sort_values(["b10_days", "group_name"]).to_dict("records")
    ]
    if not found:
        return None, None, 0
    return found[0], found[-1] if len(found) > 1 else None, len(found)
