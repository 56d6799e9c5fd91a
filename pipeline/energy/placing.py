"""Incidents gathered by place, each with the schedule that its lamps should have followed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.instants import utc_seconds_from_local
from pipeline.energy.schedule import LitSchedule, lit_schedule
from pipeline.energy.timetable import timetable
from pipeline.settings import Assumptions

Floats = npt.NDArray[np.float64]

LEVELS = ("low", "central", "high")
_DAY_S = 86_400.0


class PlacedSpans(NamedTuple):
    """The spans of one place and timetable, its zone and its schedule, ready from the first onset to a day after the
    log's end."""

    spans: pd.DataFrame
    zone: str
    schedule: LitSchedule


def places_of(
    spans: pd.DataFrame, assumptions: Assumptions, schedules: Sequence[Schedule]
) -> list[PlacedSpans]:
    """``spans``: latitude, longitude, time_zone, closes, onset_ and restored_ low, central, high; with any of
    ``schedules`` also site_id and kind."""
    places = []
    told = spans.assign(held=pd.Series(_held(spans, schedules), index=spans.index, dtype=object))
    for place, part in told.groupby(["latitude", "longitude", "time_zone", "held"]):
        latitude, longitude, zone, numbers = cast("tuple[float, float, str, tuple[int, ...]]", place)
        first = utc_seconds_from_local(part["onset_high"], zone).min()
        ends = (*(f"restored_{level}" for level in LEVELS), "onset_low", "closes")
        last = max(utc_seconds_from_local(part[name], zone).max() for name in ends) + _DAY_S
        own = [schedules[number] for number in numbers]
        schedule = schedule_at(latitude, longitude, zone, first, last, assumptions, own)
        places.append(PlacedSpans(part.drop(columns="held"), zone, schedule))
    return places


def schedule_at(
    latitude: float,
    longitude: float,
    zone: str,
    first_s: float,
    last_s: float,
    assumptions: Assumptions,
    own: Sequence[Schedule] = (),
) -> LitSchedule:
    """When lamps of one place should be off between two instants [UTC s]: by ``own`` timetables, else by the sun."""
    offsets = assumptions.lights_on_after_sunset_min, assumptions.lights_off_before_sunrise_min
    if own:
        return timetable(latitude, longitude, zone, first_s, last_s, own, *offsets)
    return lit_schedule(latitude, longitude, first_s, last_s, *offsets)


def _held(spans: pd.DataFrame, schedules: Sequence[Schedule]) -> list[tuple[int, ...]]:
    """The numbers of the schedules meant for each span's site and kind of control."""
    if not schedules:
        return [()] * len(spans)
    return [
        tuple(number for number, schedule in enumerate(schedules) if schedule.holds_for(site_id, kind))
        for site_id, kind in zip(spans["site_id"], spans["kind"], strict=True)
    ]


def level_seconds(spans: pd.DataFrame, zone: str) -> tuple[Floats, Floats]:
    """Onset and end at each level [UTC s], (spans, levels); no end is before its onset."""
    onset_s = np.column_stack([utc_seconds_from_local(spans[f"onset_{level}"], zone) for level in LEVELS])
    ends = [utc_seconds_from_local(spans[f"restored_{level}"], zone) for level in LEVELS]
    return onset_s, np.maximum(onset_s, np.column_stack(ends))
