"""Values of the registers that can be read but not be true: said with their row, and not used."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.numerals import count_text

Rows = list[dict[str, Any]]
Notice = tuple[str, str]

# Degrees of longitude between a place and the meridian of its standard time. Real zones stay within some 45 (common
# knowledge of maps, no source); the limits are choices of ours.
_FARTHEST_DEGREES = 55.0
_SWAPPED_FROM_DEGREES, _SWAPPED_TO_DEGREES = 30.0, 20.0
_MOST_ROWS = 5


def set_doubtful_aside(sites: Rows, fixtures: Rows, default_zone: str) -> tuple[list[Notice], list[Notice]]:
    """Take coordinates that do not fit their zone out of ``sites``, and say so; say which ``fixtures`` draw 0 W.

    Gives the notices (place, message) of either register.
    """
    return _without_doubtful_places(sites, default_zone), _zero_watts(fixtures)


def _without_doubtful_places(sites: Rows, default_zone: str) -> list[Notice]:
    notices = []
    for row in sites:
        latitude, longitude = row.get("latitude"), row.get("longitude")
        if latitude is None or longitude is None:
            continue
        zone = row.get("time_zone") or default_zone
        problem = _problem(latitude, longitude, zone)
        if problem:
            notices.append(
                (
                    f"sites.csv, row {row['row_number']}, columns latitude and longitude",
                    f"{latitude:g}, {longitude:g} {problem}. They are not used: hours lit by day at site "
                    f"'{row['site_id']}' are left out of all totals. Correct them, or time_zone.",
                )
            )
            row["latitude"] = row["longitude"] = None
    return notices


def _problem(latitude: float, longitude: float, zone: str) -> str:
    """What is wrong with a place in a zone; '' where nothing is."""
    meridian = _meridian_degrees(zone)
    apart = _apart(longitude, meridian)
    if latitude == 0 and longitude == 0:
        return "is the point in the sea that stands for an empty field"
    swapped = apart > _SWAPPED_FROM_DEGREES and _apart(latitude, meridian) < _SWAPPED_TO_DEGREES
    if swapped and abs(longitude) <= 90:
        return f"look swapped: in {zone} it would be {longitude:g}, {latitude:g}"
    if apart > _FARTHEST_DEGREES:
        return f"lie {count_text(round(apart))} degrees of longitude from the meridian of {zone}"
    return ""


def _meridian_degrees(zone: str) -> float:
    """Longitude at which the zone's standard time is the sun's."""
    offsets = (datetime(2024, month, 1, tzinfo=ZoneInfo(zone)).utcoffset() for month in (1, 7))
    return 15 * min(offset.total_seconds() for offset in offsets if offset is not None) / 3600


def _apart(one: float, other: float) -> float:
    return abs((one - other + 180) % 360 - 180)


def _zero_watts(fixtures: Rows) -> list[Notice]:
    rows = [row["row_number"] for row in fixtures if row.get("watts_each") == 0]
    if not rows:
        return []
    shown = ", ".join(str(number) for number in rows[:_MOST_ROWS]) + (" …" if len(rows) > _MOST_ROWS else "")
    return [
        (
            "fixtures.csv, column watts_each",
            f"0 W in {_counted(rows)} (row {shown}): no lamp draws nothing, so their watts are taken as unknown and "
            "their energy is left out. Write the watts, or leave the cell empty.",
        )
    ]


def _counted(rows: Sequence[int]) -> str:
    return f"{count_text(len(rows))} {'row' if len(rows) == 1 else 'rows'}"
