"""Spans of day burning cut at month ends, and on the days when the load behind their control changes."""

from __future__ import annotations

from typing import cast

import numpy as np
import pandas as pd

from pipeline.energy.instants import split_by_month, utc_seconds_from_local
from pipeline.energy.schedule import LitSchedule, lit_schedule
from pipeline.settings import Assumptions

LEVELS = ("low", "central", "high")
_DAY_S = 86_400.0


def lit_parts(spans: pd.DataFrame, steps: pd.DataFrame, assumptions: Assumptions) -> pd.DataFrame:
    """Hours lit by day of every incident, by local calendar month and stretch of unchanged load.

    spans : incident_id, latitude, longitude, time_zone, closes, and onset_ and restored_ low, central, high.
    steps : incident_id, begins and ends (local days, the end not included) that cover each span without a gap.
    Gives incident_id, month (first day), begins, and excess_hours_low, _central, _high [h]: the sum over an
    incident's parts is that over its span. A span of no length keeps one part of no hours.
    """
    key = ["incident_id", "month", "begins"]
    stretches = spans.merge(steps[["incident_id", "begins", "ends"]], on="incident_id")
    pieces = [
        _cut(part, level, zone, schedule)
        for part, zone, schedule in _places(stretches, assumptions)
        for level in LEVELS
    ]
    if not pieces:
        nothing = dict.fromkeys((f"excess_hours_{level}" for level in LEVELS), 0.0)
        return stretches[["incident_id", "begins"]].assign(month=stretches["begins"], **nothing)
    wide = pd.concat(pieces).pivot_table("hours", key, "level", aggfunc="sum", fill_value=0.0)
    wide = wide.reindex(columns=LEVELS, fill_value=0.0).add_prefix("excess_hours_")
    return wide.reset_index()


def next_day_hours(spans: pd.DataFrame, assumptions: Assumptions) -> pd.Series[float]:
    """Hours that lamps would be lit on the day after the log's end, by incident_id [h]."""
    hours: dict[str, float] = {}
    for part, zone, schedule in _places(spans, assumptions):
        closes = utc_seconds_from_local(part["closes"], zone)
        lit = schedule.day_hours_between(closes, closes + _DAY_S)
        hours |= dict(zip(part["incident_id"], lit.tolist(), strict=True))
    return pd.Series(hours, dtype=float)


def _places(spans: pd.DataFrame, assumptions: Assumptions) -> list[tuple[pd.DataFrame, str, LitSchedule]]:
    """The spans of each place with its zone and a schedule that covers them and the day after the log's end."""
    places = []
    for place, part in spans.groupby(["latitude", "longitude", "time_zone"]):
        latitude, longitude, zone = cast("tuple[float, float, str]", place)
        first = utc_seconds_from_local(part["onset_high"], zone).min()
        ends = (*(f"restored_{level}" for level in LEVELS), "onset_low", "closes")
        last = max(utc_seconds_from_local(part[name], zone).max() for name in ends)
        schedule = lit_schedule(
            latitude, longitude, first, last + _DAY_S,
            assumptions.lights_on_after_sunset_min, assumptions.lights_off_before_sunrise_min,
        )  # fmt: skip
        places.append((part, zone, schedule))
    return places


def _cut(part: pd.DataFrame, level: str, zone: str, schedule: LitSchedule) -> pd.DataFrame:
    """One level's stretches at one place, cut at month ends: incident_id, month, begins, level, hours."""
    onset_s = utc_seconds_from_local(part[f"onset_{level}"], zone)
    restored_s = np.maximum(onset_s, utc_seconds_from_local(part[f"restored_{level}"], zone))
    begins_s, ends_s = (utc_seconds_from_local(part[name], zone) for name in ("begins", "ends"))
    starts_s, stops_s = np.maximum(onset_s, begins_s), np.minimum(restored_s, ends_s)
    # a span of no length belongs to the stretch that holds it
    within = (starts_s < stops_s) | ((onset_s == restored_s) & (begins_s <= onset_s) & (onset_s < ends_s))
    months = split_by_month(starts_s[within], stops_s[within], zone)
    found: pd.DataFrame = part.loc[within, ["incident_id", "begins"]].iloc[months.span]
    hours = schedule.day_hours_between(months.start_s, months.end_s)
    return found.assign(month=months.month.astype("datetime64[s]"), level=level, hours=hours)
