"""Spans of the clock as people write them: '12:00 to 18:00', and over midnight '22:00 to 06:00'."""

from __future__ import annotations

import re

MINUTES_PER_DAY = 24 * 60

_TIME = re.compile(r"(\d{1,2}):(\d{2})")


def check_hours(text: str) -> str:
    """The text itself; ValueError where it is no span of the clock."""
    minutes_of(text)
    return text


def minutes_of(text: str) -> tuple[tuple[int, int], ...]:
    """The span as minutes since midnight, the end not included; one over midnight has two parts of the same day.

    '00:00 to 24:00' is the whole day. Raises ValueError for an hour that no day has, or a span of no length.
    """
    parts = text.split(" to ")
    if len(parts) != 2:
        raise ValueError(f"'{text}' is not a span of the clock such as '12:00 to 18:00'")
    first, last = (_minute(part.strip(), text) for part in parts)
    if first in (MINUTES_PER_DAY, last):
        raise ValueError(f"'{text}' has no length; the whole day is '00:00 to 24:00'")
    if first < last:
        return ((first, last),)
    return tuple(part for part in ((0, last), (first, MINUTES_PER_DAY)) if part[0] < part[1])


def clock_text(minute: int) -> str:
    """A minute since midnight as '07:30'."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _minute(part: str, text: str) -> int:
    found = _TIME.fullmatch(part)
    if not found:
        raise ValueError(f"'{text}' is not a span of the clock such as '12:00 to 18:00'")
    hour, minute = int(found[1]), int(found[2])
    if minute > 59 or hour * 60 + minute > MINUTES_PER_DAY:
        raise ValueError(f"'{part}' is no time of a day (00:00 to 24:00)")
    return hour * 60 + minute
