"""Spans of day burning cut at month ends, and on the days when the load behind their control changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, cast

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.draws import drawn_between, drawn_delays, shared_factors, uniforms
from pipeline.energy.instants import split_by_month, utc_seconds_from_local
from pipeline.energy.placing import LEVELS, level_seconds, places_of
from pipeline.energy.tariff_hours import HoursBetween
from pipeline.energy.tariff_parts import Billing, joined
from pipeline.noticing import Noticing, stretches_before
from pipeline.settings import Assumptions

Floats = npt.NDArray[np.float64]

_DAY_S = 86_400.0
_KEY = ["incident_id", "month", "begins"]


class LitParts(NamedTuple):
    """Hours lit by day: ``frame`` (incident_id, month, begins, excess_hours_low, _central, _high [h]), in the order
    of these keys, ``drawn_hours`` (rows of the frame, draws) [h], and ``by_tariff`` as ``Billing.hours`` gives them."""

    frame: pd.DataFrame
    drawn_hours: Floats
    by_tariff: pd.DataFrame


def lit_parts(
    spans: pd.DataFrame,
    steps: pd.DataFrame,
    assumptions: Assumptions,
    noticing: Noticing | None = None,
    billing: Billing | None = None,
    schedules: Sequence[Schedule] = (),
) -> LitParts:
    """Hours lit by day of every incident, by local calendar month and stretch of unchanged load.

    spans : incident_id, latitude, longitude, time_zone, closes, and onset_ and restored_ low, central, high.
    steps : incident_id, begins and ends (local days, the end not included) that cover each span without a gap.
    noticing : the detection delay by day; by default that of the assumptions on all days.
    billing : the tariffs by which the hours are split besides; by default none.
    schedules : timetables in their order; with any, spans has site_id and kind.
    Where spans has late_by_h other than 0, lamps follow their schedule late by so many hours (negative: early), and
    only the hours of that shift count.
    The sum over an incident's parts is that over its span. A span of no length keeps one part of no hours.
    """
    noticing = noticing or Noticing(assumptions.detection_delay_days)
    billing = billing or Billing.none()
    factors = shared_factors(assumptions.detection_delay_spread)
    stretches = steps[["incident_id", "begins", "ends"]]
    places = [
        _parts_of(part.reset_index(drop=True), stretches, zone, excess, noticing, factors, billing)
        for part, zone, excess in _excess_by_place(spans, assumptions, schedules)
    ]
    if not places:
        return LitParts(_no_parts(stretches), factors[None][:0], joined([]))
    frame = pd.concat([place.frame for place in places], ignore_index=True)
    order = frame.sort_values(_KEY, kind="stable").index
    drawn = np.concatenate([place.drawn_hours for place in places])
    by_tariff = joined([place.by_tariff for place in places])
    return LitParts(frame.loc[order].reset_index(drop=True), drawn[order.to_numpy()], by_tariff)


def next_day_parts(
    spans: pd.DataFrame, assumptions: Assumptions, billing: Billing, schedules: Sequence[Schedule] = ()
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Hours that lamps would be lit on the day after the log's end, like ``frame`` and ``by_tariff`` of LitParts.

    spans : as for lit_parts, with begins, the stretch of load whose lamps would burn. All levels are the same.
    """
    parts, by_tariff = [_no_parts(spans)], []
    for part, zone, excess in _excess_by_place(spans, assumptions, schedules):
        closes_s = utc_seconds_from_local(part["closes"], zone)[:, None].repeat(len(LEVELS), axis=1)
        day_s = closes_s, closes_s + _DAY_S
        pieces = part[["incident_id", "begins"]].assign(month=part["closes"].dt.normalize())
        pieces[[f"excess_hours_{level}" for level in LEVELS]] = excess(*day_s)
        parts.append(pieces)
        by_tariff.append(billing.hours(pieces, *day_s, zone, excess))
    return pd.concat(parts, ignore_index=True), joined(by_tariff)


def _no_parts(stretches: pd.DataFrame) -> pd.DataFrame:
    hours = {f"excess_hours_{level}": pd.Series(dtype=float) for level in LEVELS}
    none = stretches.head(0)[["incident_id", "begins"]]
    return none.assign(month=none["begins"], **hours)


def _excess_by_place(
    spans: pd.DataFrame, assumptions: Assumptions, schedules: Sequence[Schedule]
) -> list[tuple[pd.DataFrame, str, HoursBetween]]:
    """The spans of each place, timetable and shift, the zone, and their hours of excess between two instants."""
    told = spans if "late_by_h" in spans else spans.assign(late_by_h=0.0)
    found: list[tuple[pd.DataFrame, str, HoursBetween]] = []
    for place in places_of(told, assumptions, schedules):
        for late_by_h, part in place.spans.groupby("late_by_h"):
            schedule, late = place.schedule, float(cast("float", late_by_h))
            found.append(
                (part, place.zone, schedule.wrong_clock(late).between if late else schedule.day_hours_between)
            )
    return found


def _parts_of(
    spans: pd.DataFrame,
    steps: pd.DataFrame,
    zone: str,
    excess: HoursBetween,
    noticing: Noticing,
    factors: Floats,
    billing: Billing,
) -> LitParts:
    """The parts of one place: the widest spans are cut once, and each level and draw is clipped to the pieces."""
    onset_s, restored_s = level_seconds(spans, zone)
    widest = spans[["incident_id"]].assign(
        row=np.arange(len(spans)), onset_s=onset_s.min(axis=1), restored_s=restored_s.max(axis=1)
    )
    pieces, starts_s, ends_s = _cut(widest.merge(steps, on="incident_id"), zone)
    row = pieces.pop("row").to_numpy()
    lit_s = _clipped(onset_s[row], restored_s[row], starts_s[:, None], ends_s[:, None])
    pieces[[f"excess_hours_{level}" for level in LEVELS]] = excess(*lit_s)
    by_tariff = billing.hours(pieces, *lit_s, zone, excess)
    drawn_onset_s, drawn_restored_s = _drawn(spans, onset_s, restored_s, noticing, factors)
    drawn_s = _clipped(drawn_onset_s[row], drawn_restored_s[row], starts_s[:, None], ends_s[:, None])
    return LitParts(pieces, excess(*drawn_s), by_tariff)


def _cut(stretches: pd.DataFrame, zone: str) -> tuple[pd.DataFrame, Floats, Floats]:
    """Spans met with their stretches of load, cut at month ends: incident_id, row, month, begins; start and end [s]."""
    onset_s, restored_s = stretches["onset_s"].to_numpy(float), stretches["restored_s"].to_numpy(float)
    begins_s, ends_s = (utc_seconds_from_local(stretches[name], zone) for name in ("begins", "ends"))
    starts_s, stops_s = np.maximum(onset_s, begins_s), np.minimum(restored_s, ends_s)
    # a span of no length belongs to the stretch that holds it
    within = (starts_s < stops_s) | ((onset_s == restored_s) & (begins_s <= onset_s) & (onset_s < ends_s))
    months = split_by_month(starts_s[within], stops_s[within], zone)
    pieces = stretches.loc[within, ["incident_id", "row", "begins"]].iloc[months.span].reset_index(drop=True)
    return pieces.assign(month=months.month.astype("datetime64[s]")), months.start_s, months.end_s


def _clipped(onset_s: Floats, restored_s: Floats, start_s: Floats, end_s: Floats) -> tuple[Floats, Floats]:
    """What of each span lies within its piece [UTC s]."""
    first_s = np.clip(onset_s, start_s, end_s)
    return first_s, np.maximum(first_s, np.clip(restored_s, start_s, end_s))


def _drawn(
    spans: pd.DataFrame, onset_s: Floats, restored_s: Floats, noticing: Noticing, factors: Floats
) -> tuple[Floats, Floats]:
    """Onset and end in each draw [UTC s], (spans, draws)."""
    low, central, high = restored_s.T
    for_onset, for_end = uniforms(spans["incident_id"].tolist(), factors.size)
    windows_days = (onset_s[:, 0] - onset_s[:, 2]) / _DAY_S
    reported = pd.DatetimeIndex(spans["onset_low"]).as_unit("us").asi8 / (_DAY_S * 1e6)
    stretches = stretches_before(noticing, reported, float(windows_days.max()))
    delays = drawn_delays(windows_days, *stretches, factors, for_onset)
    ordered = np.maximum(low, np.minimum(central, high))
    return onset_s[:, :1] - delays * _DAY_S, drawn_between(low, ordered, high, for_end)
