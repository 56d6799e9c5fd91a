"""The detection delay in force, and what was estimated of it."""

from __future__ import annotations

import pandas as pd

from pipeline.figures.facts import Facts
from pipeline.store import Store


def detection_delays(store: Store) -> pd.DataFrame:
    """The mean detection delay as assumed and as estimated, one row each.

    Columns: origin, in_force, delay_days, lower_days, upper_days (90 %), measured, unreported, patrol_reports,
    patrol_finds (faults that speak), note. Empty for a database without a build.
    """
    return store.frame(
        "SELECT origin, in_force, delay_days, lower_days, upper_days, measured, unreported, patrol_reports,"
        " patrol_finds, note FROM detection_delays ORDER BY origin"
    )


def delay_text(store: Store, info: Facts) -> str:
    """The mean detection delay in force, and how sure it is, in words."""
    rows = store.rows(
        "SELECT delay_days, lower_days, upper_days FROM detection_delays WHERE in_force AND origin = 'estimated'"
    )
    if rows:
        days, lower, upper = rows[0]
        return f"estimated {days:.3g} days, with 90 % limits {lower:.3g} to {upper:.3g}"
    assumed = info.assumptions
    return f"{assumed.detection_delay_days:g} days, and 90 % sure within a factor of {assumed.detection_delay_spread:g}"
