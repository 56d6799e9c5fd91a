"""What is read off the curves of groups: median life, mean life up to an age, and how many were at risk."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.failures import check_grouping
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.lifespans import YEAR_DAYS
from pipeline.lives.group_lives import GroupLives
from pipeline.lives.groups import curve_frame
from pipeline.settings import Assumptions
from pipeline.store import Store
from pipeline.survival import LifeMargins, dense_from, median_life, restricted_mean_life

AT_YEARS = (1, 2, 5, 10)
MEAN_UNTIL_YEARS = 10.0
_COLUMNS = (
    "group_name", "median_days", "median_days_lower", "median_days_upper", "mean_until_days", "mean_days",
    "mean_days_lower", "mean_days_upper", *(f"at_risk_{years}" for years in AT_YEARS), "note",
)  # fmt: skip


def curve_readings(
    store: Store, grouping: str = "model and lamp", filters: Filters = EVERYTHING
) -> pd.DataFrame:
    """A row for each group with a curve; verdicts as they stand, as the curves are.

    Columns: group_name; median_days with limits (missing where the curve, or its limit, does not come down to one
    half); mean_days with limits: days worked on average up to the age mean_until_days (ten years, or the oldest age
    seen); at_risk_1, _2, _5, _10: controls under observation just before that many years; note: where early steps of
    the curve rest on too few controls.
    """
    check_grouping(grouping)
    rows = query.frame(store, "group_lives", filters, by_group=grouping, group=None)
    assumptions = facts(store).assumptions
    found = [_reading(str(name), GroupLives(part), assumptions) for name, part in rows.groupby("group_name")]
    return pd.DataFrame([row for row in found if row], columns=list(_COLUMNS))


def _reading(name: str, lives: GroupLives, assumptions: Assumptions) -> dict[str, Any] | None:
    central = lives.at_central_ages()
    curve = curve_frame(central, assumptions)
    if curve.empty:
        return None
    margins = LifeMargins.from_lives(central)
    until = min(MEAN_UNTIL_YEARS * YEAR_DAYS, float(margins.exit_days.max()))
    row: dict[str, Any] = {"group_name": name, "mean_until_days": until, "note": _note(central)}
    for what, estimate in (
        ("median_days", median_life(curve)),
        ("mean_days", restricted_mean_life(curve, until, confidence=assumptions.confidence)),
    ):
        row |= {what: estimate.value, f"{what}_lower": estimate.lower, f"{what}_upper": estimate.upper}
    at_risk = margins.at_risk(np.array(AT_YEARS) * YEAR_DAYS)
    return row | {f"at_risk_{years}": round(number) for years, number in zip(AT_YEARS, at_risk, strict=True)}


def _note(central: pd.DataFrame) -> str:
    start = dense_from(central)
    if not start:
        return ""
    return (
        f"Up to {start / YEAR_DAYS:.1f} years failures fall on fewer than ten controls under observation: these steps "
        "move the whole curve, so rely on the Weibull fit."
    )
