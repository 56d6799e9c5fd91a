"""Sets of days as people write them: '06-05 to 08-14', '12-25', '2024-07-04', and days of the week."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

import numpy as np
import numpy.typing as npt

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

Days = npt.NDArray[np.datetime64]
Flags = npt.NDArray[np.bool_]

_PART = re.compile(r"(?:(\d{4})-)?(\d{2})-(\d{2})")
_LEAP_YEAR = 2000  # so that 02-29 is a day


def check_days(text: str) -> str:
    """The text itself; ValueError where it is no day and no span of days."""
    _ends(text)
    return text


def days_within(days: Days, texts: Sequence[str], weekdays: Sequence[str] = ()) -> Flags:
    """Which of the days lie in any of the written spans (none: every day) and on any of the weekdays (none: all).

    days : datetime64[D]. A span without a year comes every year and may run over the year's end; both its ends
    belong to it.
    """
    days = days.astype("datetime64[D]")
    found = np.zeros(days.shape, dtype=bool) if texts else np.ones(days.shape, dtype=bool)
    for text in texts:
        found |= _within(days, *_ends(text))
    if weekdays:
        numbers = (days.astype(np.int64) + 3) % 7  # 1970-01-01 was a Thursday
        found &= np.isin(numbers, [WEEKDAYS.index(day) for day in weekdays])
    return found


def _within(days: Days, first: tuple[int, int, int], last: tuple[int, int, int]) -> Flags:
    if first[0]:
        low, high = (np.datetime64(date(*end), "D") for end in (first, last))
        return np.asarray((days >= low) & (days <= high))
    months = days.astype("datetime64[M]")
    numbers = (
        (months.astype(np.int64) % 12 + 1) * 100
        + (days - months.astype("datetime64[D]")).astype(np.int64)
        + 1
    )
    low_number, high_number = first[1] * 100 + first[2], last[1] * 100 + last[2]
    if low_number <= high_number:
        return np.asarray((numbers >= low_number) & (numbers <= high_number))
    return np.asarray((numbers >= low_number) | (numbers <= high_number))


def _ends(text: str) -> tuple[tuple[int, int, int], tuple[int, int, int]]:
    """First and last day as (year or 0, month, day)."""
    parts = [_day(part.strip(), text) for part in text.split(" to ")]
    if len(parts) > 2:
        raise ValueError(f"'{text}' has more than two ends; write '06-05 to 08-14'")
    first, last = parts[0], parts[-1]
    if bool(first[0]) != bool(last[0]):
        raise ValueError(f"'{text}' gives a year at one end only; give it at both or at neither")
    if first[0] and first > last:
        raise ValueError(f"'{text}' ends before it begins")
    return first, last


def _day(part: str, text: str) -> tuple[int, int, int]:
    found = _PART.fullmatch(part)
    if not found:
        raise ValueError(f"'{text}' is not a day (12-25 or 2024-12-25) or a span of days (06-05 to 08-14)")
    year, month, day = int(found[1] or 0), int(found[2]), int(found[3])
    try:
        date(year or _LEAP_YEAR, month, day)
    except ValueError:
        raise ValueError(f"'{part}' is not a day of the calendar") from None
    return year, month, day
