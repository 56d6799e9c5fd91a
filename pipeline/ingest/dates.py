"""Dates as text: their forms, the order of day and month decided over whole columns, and the SQL that reads them.

A column's values are first reduced to shapes (``7/4/2011 1:05 PM`` becomes ``d/d/y d:d p``); each shape has at most one
format. Whether 7/4 is July or April is decided by values that fit one order only, or by a person; never by a guess.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from pipeline.numerals import count_text
from pipeline.store import Store

DateOrder = Literal["day first", "month first"]
DATE_ORDERS: tuple[DateOrder, ...] = ("day first", "month first")

_MONTHS = "JANUARY|FEBRUARY|MARCH|APRIL|MAY|JUNE|JULY|AUGUST|SEPTEMBER|OCTOBER|NOVEMBER|DECEMBER"
_SHORT_MONTHS = "JAN|FEB|MAR|APR|JUN|JUL|AUG|SEP|OCT|NOV|DEC"
_NUMERIC = r"^([0-9]{1,2})[/.\-]([0-9]{1,2})[/.\-](?:[0-9]{4}|[0-9]{2})(?:[^0-9]|$)"
# A workbook's serial day (1 = 1900-01-01), written as a plain number; limits are 1955 and 2091.
_SERIAL = r"^[2-6][0-9]{4}(\.[0-9]+)?$"


@dataclass(frozen=True)
class DateEvidence:
    """What date columns hold: values by shape, and how many fit only one order of day and month, or both."""

    shapes: dict[str, int] = field(default_factory=dict)
    day_first_only: int = 0
    month_first_only: int = 0
    both: int = 0

    def __add__(self, other: DateEvidence) -> DateEvidence:
        shapes = dict(self.shapes)
        for shape, count in other.shapes.items():
            shapes[shape] = shapes.get(shape, 0) + count
        return DateEvidence(
            shapes,
            self.day_first_only + other.day_first_only,
            self.month_first_only + other.month_first_only,
            self.both + other.both,
        )

    @property
    def needs_order(self) -> bool:
        """Whether any value is written as two numbers that could be day and month."""
        return self.day_first_only + self.month_first_only + self.both > 0

    def decided(self) -> DateOrder | None:
        """The order that the values prove; None where both fit, both occur, or none is needed."""
        if self.day_first_only and not self.month_first_only:
            return "day first"
        if self.month_first_only and not self.day_first_only:
            return "month first"
        return None

    def against(self, order: DateOrder | None) -> int:
        """Values that fit only the other order."""
        return {"day first": self.month_first_only, "month first": self.day_first_only}.get(order or "", 0)

    def statement(self, order: DateOrder | None) -> str:
        """The order and what it rests on, for a person."""
        if not self.needs_order:
            return "year first or month by name: no order to decide"
        told = {"day first": self.day_first_only, "month first": self.month_first_only}.get(order or "", 0)
        basis = (
            f"{count_text(told)} dates fit only this order" if told else "as the layout says; both orders fit"
        )
        return f"{order}: {basis}, {count_text(self.both)} fit both, " + (
            f"{count_text(self.against(order))} fit only the other"
        )


def date_text(expression: str) -> str:
    """SQL: a date's text in upper case, spaces single, UTC's Z as an offset, SEPT as SEP."""
    text = rf"regexp_replace(upper(trim({expression}, ' ' || chr(9) || chr(160))), '\s+', ' ', 'g')"
    text = rf"regexp_replace({text}, '([0-9])Z$', '\1+00:00')"
    return rf"regexp_replace({text}, '\bSEPT\b', 'SEP')"


def _shape(text: str) -> str:
    """SQL: a date text's shape: years y, one or two digits d, eight e, month names n or b, AM/PM p, fractions f."""
    steps = (
        (r"\b(?:19|20)[0-9]{6}\b", "e"),
        (r"\.[0-9]{1,9}\b(\s?[AP]M|[+\-][0-9:]+)?$", r".f\1"),
        (r"[0-9]{4}", "y"),
        (r"[0-9]{1,2}", "d"),
        (rf"\b(?:{_SHORT_MONTHS})\b", "b"),
        (rf"\b(?:{_MONTHS})\b", "n"),
        (r"\b([d ])[AP]M$", r"\1p"),
    )
    # Fractions follow seconds only: in 04.07.11 the last part is a year.
    for pattern, token in steps:
        if token.startswith(".f"):
            text = (
                rf"CASE WHEN regexp_matches({text}, ':[0-9]{{2}}\.') "
                rf"THEN regexp_replace({text}, '{pattern}', '{token}') ELSE {text} END"
            )
        else:
            text = f"regexp_replace({text}, '{pattern}', '{token}', 'g')"
    return text


def read_evidence(store: Store, table: str, expression: str) -> DateEvidence:
    """The evidence of one date expression over a whole table."""
    counted = store.rows(
        rf"""
        WITH texts AS (SELECT {date_text(expression)} AS t FROM {table} WHERE {expression} IS NOT NULL),
        parts AS (
          SELECT {_shape("t")} AS shape,
            try_cast(regexp_extract(t, '{_NUMERIC}', 1) AS INTEGER) AS first,
            try_cast(regexp_extract(t, '{_NUMERIC}', 2) AS INTEGER) AS second
          FROM texts WHERE t <> ''
        )
        SELECT shape, count(*),
          count(*) FILTER (first BETWEEN 13 AND 31 AND second BETWEEN 1 AND 12),
          count(*) FILTER (second BETWEEN 13 AND 31 AND first BETWEEN 1 AND 12),
          count(*) FILTER (first BETWEEN 1 AND 12 AND second BETWEEN 1 AND 12 AND first <> second)
        FROM parts GROUP BY shape ORDER BY count(*) DESC, shape LIMIT 1000
        """  # noqa: S608 - expressions are column names of ours (c1, c2 …)
    )
    return DateEvidence(
        {str(shape): int(count) for shape, count, *_ in counted},
        *(sum(int(row[place]) for row in counted) for place in (2, 3, 4)),
    )


def formats_for(shapes: Sequence[str], order: DateOrder | None) -> list[str]:
    """The formats of the shapes that are dates, in the given order of day and month."""
    formats = (format_of(shape, order) for shape in shapes)
    return list(dict.fromkeys(found for found in formats if found))


def format_of(shape: str, order: DateOrder | None) -> str | None:
    """A shape's format for strptime, or None when it is no date (or needs an order that is not given)."""
    match = re.match(r"(?P<date>e|[dybn][dybn/.,\- ]*?)(?:(?P<gap>[T ])(?P<time>d:d.*))?$", shape)
    if not match:
        return None
    day, clock = _date_format(match["date"], order), _time_format(match["time"])
    if day is None or clock is None:
        return None
    return f"{day}{match['gap']}{clock}" if match["time"] else day


def _date_format(shape: str, order: DateOrder | None) -> str | None:
    known = re.fullmatch(
        r"(?P<iso>y([/.\-])d\2d)|(?P<whole>e)|(?P<numeric>d([/.\-])d\5[dy])"
        r"|d[ \-.]{0,2}[bn][ \-.,]{0,2}[dy]|[bn][. \-]{1,2}d,?[ \-]?[dy]|y[ \-][bn][ \-]d",
        shape,
    )
    if not known or (known["numeric"] and order is None):
        return None
    if known["whole"]:
        return "%Y%m%d"
    if known["iso"]:
        parts = ["%Y", "%m", "%d"]
    elif known["numeric"]:
        year = "%Y" if shape.endswith("y") else "%y"
        parts = ["%d", "%m", year] if order == "day first" else ["%m", "%d", year]
    else:
        parts = _named_month_parts(shape)
    tokens = iter(parts)
    return re.sub("[dybn]", lambda _: next(tokens), shape)


def _named_month_parts(shape: str) -> list[str]:
    """Formats of the parts of a date whose month is a name: the year is the four digits, or the last part."""
    letters = re.findall("[dybn]", shape)
    numbers = ["%d", "%y"] if "y" not in letters else ["%d"]
    return [
        {"y": "%Y", "b": "%b", "n": "%B"}.get(letter) or numbers.pop(0)
        for letter in letters
    ]  # fmt: skip


def _time_format(shape: str | None) -> str | None:
    if shape is None:
        return ""
    clock = re.fullmatch(r"d:d(?P<s>:d)?(?P<f>\.f)?(?P<p> ?p)?(?P<z> ?[+\-](?:d:d|y|d))?", shape)
    if not clock:
        return None
    hour = "%I" if clock["p"] else "%H"
    parts = [hour + ":%M", ":%S" if clock["s"] else "", ".%f" if clock["f"] else ""]
    parts.append((clock["p"] or "").replace("p", "%p"))
    parts.append(" %z" if (clock["z"] or "").startswith(" ") else "%z" if clock["z"] else "")
    return "".join(parts)


def timestamp_sql(expression: str, formats: Sequence[str], time_zone: str, serials: bool) -> str:
    """SQL giving a local TIMESTAMP of a date's text, NULL where unreadable.

    A time with an offset from UTC is moved to ``time_zone``. ``serials``: accept a workbook's serial days.
    """
    text = date_text(expression)
    plain = ", ".join(f"'{one}'" for one in formats if "%z" not in one)
    zoned = [one for one in formats if "%z" in one]
    readings = [f"try_strptime({text}, [{plain}])"] if plain else []
    readings += [f"timezone('{time_zone}', try_strptime({text}, '{one}'))" for one in zoned]
    if serials:
        readings.append(
            f"CASE WHEN regexp_matches({text}, '{_SERIAL}') THEN TIMESTAMP '1899-12-30' "
            f"+ to_seconds(round(try_cast({text} AS DOUBLE) * 86400)) END"
        )
    return f"coalesce({', '.join(readings)})" if readings else "NULL::TIMESTAMP"


def readable_share(evidence: DateEvidence, serials: bool) -> float:
    """Share of the values whose shape is a date in some order; 0 when there is none."""
    total = sum(evidence.shapes.values())
    good = sum(
        count
        for shape, count in evidence.shapes.items()
        if format_of(shape, "day first") or (serials and re.fullmatch(r"yd(?:\.[yd]+)?", shape))
    )
    return good / total if total else 0.0
