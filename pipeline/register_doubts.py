"""Values of the registers that can be read but not be true: said with file, row and column, counted, and not used."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.numerals import count_text
from pipeline.setting_terms import is_known_zone

Row = dict[str, Any]
Rows = list[Row]
Notice = tuple[str, str]

MOST_WATTS = 5000
"""Above it, watts of one luminaire are taken for a slip, W. An assumption of this project, no source."""
# Degrees of longitude between a place and the meridian of its standard time. Real zones stay within some 45 (common
# knowledge of maps, no source); the limits are choices of ours.
_FARTHEST_DEGREES = 55.0
_SWAPPED_FROM_DEGREES, _SWAPPED_TO_DEGREES = 30.0, 20.0
_MOST_ROWS = 5


def set_doubtful_aside(registers: Mapping[str, Rows], default_zone: str) -> dict[str, list[Notice]]:
    """Empty zones and coordinates, and watts of fixtures, that cannot be true; say so by register.

    registers : rows of sites, controls and fixtures, changed in place. Gives each one's notices (place, message).
    """
    unknown_zones = _without_unknown_zones(registers["sites"])
    zones = {row["site_id"]: row.get("time_zone") for row in registers["sites"]}
    return {
        "sites": unknown_zones
        + _without_doubtful_places(
            registers["sites"], "sites", lambda row: row.get("time_zone") or default_zone
        ),
        "controls": _without_doubtful_places(
            registers["controls"], "controls", lambda row: zones.get(row.get("site_id")) or default_zone
        ),
        "fixtures": _without_doubtful_watts(registers["fixtures"]),
    }


def _without_unknown_zones(sites: Rows) -> list[Notice]:
    """A site whose clock is unknown has no hours by the clock either: its coordinates go with its zone."""
    notices = []
    for row in sites:
        zone = row.get("time_zone")
        if zone is None or is_known_zone(zone):
            continue
        notices.append(
            (
                f"{_file(row, 'sites')}, row {row['row_number']}, column time_zone",
                f"'{zone}' is not an IANA time zone such as America/Denver. Hours at site '{row['site_id']}' are "
                "left out of all totals. Correct it, or leave the cell empty where the portfolio's zone holds.",
            )
        )
        row["time_zone"] = row["latitude"] = row["longitude"] = None
    return notices


def _without_doubtful_places(rows: Rows, register: str, zone_of: Callable[[Row], str]) -> list[Notice]:
    doubtful = [(row, problem) for row in rows if (problem := _problem(row, zone_of(row)))]
    kind = register.removesuffix("s")
    notices = []
    for row, problem in doubtful[:_MOST_ROWS]:
        notices.append(
            (
                f"{_file(row, register)}, row {row['row_number']}, columns latitude and longitude",
                f"{_written(row)} {problem}. They are not used: the {kind} '{row[f'{kind}_id']}' counts as one "
                "without coordinates, and hours at a site without any are left out of all totals. Correct them, or "
                "the site's time_zone.",
            )
        )
    if len(doubtful) > _MOST_ROWS:
        notices.append(
            (
                f"{register}.csv, columns latitude and longitude",
                f"{_counted(len(doubtful))} in all have coordinates that cannot be true; the first {_MOST_ROWS} are "
                "named above. None of them are used.",
            )
        )
    for row, _ in doubtful:
        row["latitude"] = row["longitude"] = None
    return notices


def _problem(row: Row, zone: str) -> str:
    """What is wrong with a row's coordinates in a zone; '' where nothing is."""
    latitude, longitude = row.get("latitude"), row.get("longitude")
    outside = abs(latitude or 0) > 90 or abs(longitude or 0) > 180
    if latitude is None or longitude is None:
        return "is not on Earth" if outside else ""
    if latitude == 0 and longitude == 0:
        return "is the point in the sea that stands for an empty field"
    meridian = _meridian_degrees(zone)
    apart = _apart(longitude, meridian)
    swapped = (outside or apart > _SWAPPED_FROM_DEGREES) and _apart(latitude, meridian) < _SWAPPED_TO_DEGREES
    if swapped and abs(longitude) <= 90 and abs(latitude) <= 180:
        return f"look swapped: in {zone} it would be {longitude:g}, {latitude:g}"
    if outside:
        return "are no place on Earth: latitude runs from -90 to 90, longitude from -180 to 180"
    if apart > _FARTHEST_DEGREES:
        return f"lie {count_text(round(apart))} degrees of longitude from the meridian of {zone}"
    return ""


def _written(row: Row) -> str:
    return ", ".join(f"{row[name]:g}" for name in ("latitude", "longitude") if row[name] is not None)


def _meridian_degrees(zone: str) -> float:
    """Longitude at which the zone's standard time is the sun's."""
    offsets = (datetime(2024, month, 1, tzinfo=ZoneInfo(zone)).utcoffset() for month in (1, 7))
    return 15 * min(offset.total_seconds() for offset in offsets if offset is not None) / 3600


def _apart(one: float, other: float) -> float:
    return abs((one - other + 180) % 360 - 180)


def _without_doubtful_watts(fixtures: Rows) -> list[Notice]:
    drawn = [row for row in fixtures if row.get("watts_each") is not None]
    none = [row for row in drawn if row["watts_each"] == 0]
    huge = [row for row in drawn if row["watts_each"] > MOST_WATTS]
    notices = [
        *_watts_notices("0 W: no lamp draws nothing", none),
        *_watts_notices(f"more than {count_text(MOST_WATTS)} W for one luminaire", huge),
    ]
    for row in (*none, *huge):
        row["watts_each"] = None
    return notices


def _watts_notices(problem: str, rows: Rows) -> list[Notice]:
    notices = []
    for file in sorted({_file(row, "fixtures") for row in rows}):
        of_file = [row for row in rows if _file(row, "fixtures") == file]
        message = (
            f"{problem}, in {_counted(len(of_file))} ({_rows(of_file)}). Their watts count as unknown, so their energy "
            "is left out of all totals. Write the watts of one luminaire, or leave the cell empty."
        )
        notices.append((f"{file}, column watts_each", message))
    return notices


def _rows(rows: Rows) -> str:
    named = ", ".join(f"row {row['row_number']}: {row['watts_each']:g} W" for row in rows[:_MOST_ROWS])
    more = len(rows) - _MOST_ROWS
    return f"{named} and {count_text(more)} more" if more > 0 else named


def _file(row: Row, register: str) -> str:
    return str(row.get("file_name") or f"{register}.csv")


def _counted(number: int) -> str:
    return f"{count_text(number)} {'row' if number == 1 else 'rows'}"
