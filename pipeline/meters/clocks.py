"""Wall clocks as stretches of constant offset, so that millions of local times turn into instants by one join."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd

_STEP = timedelta(days=1)  # no zone changes its clocks there and back within a day
_EARLIEST, _LATEST = datetime(1900, 1, 1), datetime(2200, 1, 1)


def clock_stretches(zone: str, first: datetime, last: datetime) -> pd.DataFrame:
    """Stretches of the wall clock of a zone that cover two local times.

    Columns: time_zone, local_from, local_to, offset_s, again_s, skipped.

    Local time minus ``offset_s`` is UTC. Where clocks go back, a stretch has two offsets: ``again_s`` is the one of
    its second run. Where they go forward, a stretch is ``skipped``: its times do not exist.
    """
    rows: list[tuple[datetime, float, float | None, bool]] = []
    at, end = (moment.replace(tzinfo=UTC) for moment in (first - timedelta(days=2), last + timedelta(days=2)))
    offset = _offset(zone, at)
    rows.append((_EARLIEST, offset.total_seconds(), None, False))
    while at < end:
        following = at + _STEP
        later = _offset(zone, following)
        if later != offset:
            change = _change(zone, at, following)
            rows += _around(change.replace(tzinfo=None), offset, later)
            offset = later
        at = following
    frame = pd.DataFrame(rows, columns=["local_from", "offset_s", "again_s", "skipped"])
    frame["again_s"] = frame["again_s"].astype(float)
    return frame.assign(time_zone=zone, local_to=frame["local_from"].shift(-1).fillna(pd.Timestamp(_LATEST)))


def _around(
    change: datetime, before: timedelta, after: timedelta
) -> list[tuple[datetime, float, float | None, bool]]:
    """The stretch that comes twice, or that is skipped, and the one after it."""
    first, last = sorted((change + before, change + after))
    forward = after > before
    again = None if forward else after.total_seconds()
    return [(first, before.total_seconds(), again, forward), (last, after.total_seconds(), None, False)]


def _change(zone: str, low: datetime, high: datetime) -> datetime:
    """The instant, to the second, at which the offset changes between two."""
    was = _offset(zone, low)
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
        low, high = (middle, high) if _offset(zone, middle) == was else (low, middle)
    return high


def _offset(zone: str, instant: datetime) -> timedelta:
    return instant.astimezone(ZoneInfo(zone)).utcoffset() or timedelta()
