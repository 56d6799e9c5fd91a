"""Dates written in text. Where day and month could be either, both readings are kept: the caller,
who knows when the call was open, decides; nothing is guessed here."""

from __future__ import annotations

import re
from datetime import date

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# One pass each; no part can match the same characters in two ways, so time is linear.
LIKELY = r"\d[/.-]\d|" + "|".join(_MONTHS)
"""What every date written in text holds, in lower case."""
_LIKELY = re.compile(LIKELY)
_NUMERIC = re.compile(r"(?<![\d/.-])(\d{1,4})([/.-])(\d{1,2})\2(\d{2,4})(?![\d/-])")
_NAMED = re.compile(
    r"(?<![^\W_])(?:(\d{1,2})(?:st|nd|rd|th)?[ -]?)?(" + "|".join(_MONTHS) + r")[a-z]{0,6}\.?"
    r"[ -]?(\d{1,2})?(?:st|nd|rd|th)?,?[ -]?(\d{4})(?!\d)"
)

Span = tuple[int, int]


def dates_in(text: str) -> list[tuple[Span, tuple[date, ...]]]:
    """Every date in a text: where it stands, and the one or two days it can mean."""
    text = text.lower()
    if not _LIKELY.search(text):
        return []
    found = [(match.span(), _numeric(match)) for match in _NUMERIC.finditer(text)]
    found += [(match.span(), _named(match)) for match in _NAMED.finditer(text)]
    return sorted((span, days) for span, days in found if days)


def _numeric(match: re.Match[str]) -> tuple[date, ...]:
    first, second, third = match.group(1), match.group(3), match.group(4)
    if len(first) == 4:
        return _days([(int(first), int(second), int(third))])
    if len(first) > 2:
        return ()
    year = int(third) + (2000 if len(third) == 2 else 0)
    one, two = int(first), int(second)
    return _days([(year, one, two), (year, two, one)])


def _named(match: re.Match[str]) -> tuple[date, ...]:
    before, month, after, year = match.groups()
    day = after or before
    return _days([(int(year), _MONTHS.index(month) + 1, int(day))]) if day else ()


def _days(candidates: list[tuple[int, int, int]]) -> tuple[date, ...]:
    days = set()
    for year, month, day in candidates:
        if 1970 <= year <= 2200 and 1 <= month <= 12:
            try:
                days.add(date(year, month, day))
            except ValueError:
                continue
    return tuple(sorted(days))
