"""Dates as text: the order of day and month decided over whole columns, and the SQL that reads them.

Whether 7/4 is July or April is decided by values that fit one order only, or by a person; never by a guess.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.ingest.date_forms import DateOrder, date_text, format_of, shape_sql
from pipeline.numerals import count_text
from pipeline.store import Store

_NUMERIC = r"^([0-9]{1,2})[/.\-]([0-9]{1,2})[/.\-](?:[0-9]{4}|[0-9]{2})(?:[^0-9]|$)"
_BARE_TIME = r"[T ]([0-9]{1,2}:[0-9]{1,2})(?::[0-9]{1,2}(?:\.[0-9]+)?)?$"
# A workbook's serial day (1 = 1900-01-01), written as a plain number; limits are 1955 and 2091. Its time of day may
# come from a column of its own, as a clock's or as a part of the day.
_SERIAL = r"^([2-6][0-9]{4}(?:\.[0-9]+)?)(?: ([0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?(?: ?[AP]M)?|0?\.[0-9]+))?$"
_SERIAL_SHAPE = r"yd(?:\.[yd]+)?(?: d:d(?::d)?(?: ?p)?| d?\.[yd]+)?"
_CLOCK_FORMATS = ("%I:%M %p", "%I:%M:%S %p", "%H:%M", "%H:%M:%S")
# A column of so many clock times among which none is later than 12:59 has lost its AM and PM. A choice of ours: were
# only one time in five in the afternoon, thirty without one would occur once in 800 columns.
_FEWEST_TIMES = 30
AM_PM_LOST = "times of day without AM or PM, none later than 12:59: only their days are used"


@dataclass(frozen=True)
class DateEvidence:
    """What date columns hold: values by shape, and how many fit only one order of day and month, or both.

    ``bare_times``: times of day without AM or PM; ``full_times``: those of them that only a clock of 24 hours gives;
    ``midnights``: values at 24:00.
    """

    shapes: dict[str, int] = field(default_factory=dict)
    day_first_only: int = 0
    month_first_only: int = 0
    both: int = 0
    bare_times: int = 0
    full_times: int = 0
    midnights: int = 0

    def __add__(self, other: DateEvidence) -> DateEvidence:
        shapes = dict(self.shapes)
        for shape, count in other.shapes.items():
            shapes[shape] = shapes.get(shape, 0) + count
        return DateEvidence(
            shapes,
            self.day_first_only + other.day_first_only,
            self.month_first_only + other.month_first_only,
            self.both + other.both,
            self.bare_times + other.bare_times,
            self.full_times + other.full_times,
            self.midnights + other.midnights,
        )

    @property
    def half_days_lost(self) -> bool:
        """Whether the times of day have lost their AM and PM, so that none of them can be believed."""
        return self.bare_times >= _FEWEST_TIMES and self.full_times == 0

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
        if not self.shapes:
            return "none"
        if not self.needs_order:
            return "year first or month by name: no order to decide"
        if order is None:
            return (
                f"order of day and month open: {count_text(self.both)} dates fit both, "
                f"{count_text(self.day_first_only)} only day first, "
                f"{count_text(self.month_first_only)} only month first"
            )
        told = {"day first": self.day_first_only, "month first": self.month_first_only}.get(order, 0)
        both, against = count_text(self.both), count_text(self.against(order))
        if not told:
            return f"{order}: as the layout says; {both} dates fit both orders, {against} only the other"
        return f"{order}: {count_text(told)} dates fit only this order, {both} fit both, {against} fit only the other"


def read_evidence(store: Store, table: str, expression: str, weight: str = "1") -> DateEvidence:
    """The evidence of one date expression over a whole table, whose rows count as often as ``weight`` says."""
    conditions = (
        "first BETWEEN 13 AND 31 AND second BETWEEN 1 AND 12",
        "second BETWEEN 13 AND 31 AND first BETWEEN 1 AND 12",
        "first BETWEEN 1 AND 12 AND second BETWEEN 1 AND 12 AND first <> second",
        "hour IS NOT NULL",
        "hour = 0 OR hour > 12",
        "hour = 24",
    )
    counts = ", ".join(f"coalesce(sum(weight) FILTER ({one}), 0)" for one in conditions)
    counted = store.rows(
        rf"""
        WITH texts AS (
          SELECT {date_text(expression)} AS t, {weight} AS weight FROM {table} WHERE {expression} IS NOT NULL
        ),
        parts AS (
          SELECT {shape_sql("t")} AS shape, weight,
            try_cast(regexp_extract(t, '{_NUMERIC}', 1) AS INTEGER) AS first,
            try_cast(regexp_extract(t, '{_NUMERIC}', 2) AS INTEGER) AS second,
            -- midnight is what a system writes that knows the day alone
            nullif(regexp_replace(regexp_extract(t, '{_BARE_TIME}', 1), '^00?:00?$', ''), '') AS clock
          FROM texts WHERE t <> ''
        ),
        hours AS (SELECT *, try_cast(split_part(clock, ':', 1) AS INTEGER) AS hour FROM parts)
        SELECT shape, sum(weight), {counts}
        FROM hours GROUP BY shape ORDER BY sum(weight) DESC, shape LIMIT 1000
        """  # noqa: S608 - expressions are column names of ours (c1, c2 …)
    )
    return DateEvidence(
        {str(shape): int(count) for shape, count, *_ in counted},
        *(sum(int(row[place]) for row in counted) for place in range(2, 8)),
    )


def timestamp_sql(
    expression: str,
    formats: Sequence[str],
    time_zone: str,
    serials: bool,
    evidence: DateEvidence | None = None,
    from_1904: bool = False,
) -> str:
    """SQL giving a local TIMESTAMP of a date's text, NULL where unreadable.

    A time with an offset from UTC is moved to ``time_zone``. ``serials``: accept a workbook's serial days, counted
    from 1899-12-30 or, ``from_1904``, from 1904-01-01. ``evidence`` of the same column: 24:00 is the next day's
    beginning, and times that have lost AM and PM are left out.
    """
    evidence = evidence or DateEvidence()
    text = date_text(expression)
    if evidence.midnights:
        text = rf"regexp_replace({text}, '([T ])24:00(:00)?$', '\100:00\2')"  # group 1, then 00:00
    plain = ", ".join(f"'{one}'" for one in formats if "%z" not in one)
    zoned = [one for one in formats if "%z" in one]
    readings = [f"try_strptime({text}, [{plain}])"] if plain else []
    readings += [f"timezone('{time_zone}', try_strptime({text}, '{one}'))" for one in zoned]
    if serials:
        readings.append(_serial_sql(text, "1904-01-01" if from_1904 else "1899-12-30"))
    read = f"coalesce({', '.join(readings)})" if readings else "NULL::TIMESTAMP"
    if evidence.midnights:
        is_midnight = f"regexp_matches({date_text(expression)}, '[T ]24:00(:00)?$')"
        read = f"{read} + CASE WHEN {is_midnight} THEN INTERVAL 1 DAY ELSE INTERVAL 0 DAY END"
    return f"date_trunc('day', {read})" if evidence.half_days_lost else read


def _serial_sql(text: str, first: str) -> str:
    """SQL: the TIMESTAMP of a serial day counted from ``first``, with its time of day if one follows; else NULL."""
    day, time = (f"regexp_extract({text}, '{_SERIAL}', {group})" for group in (1, 2))
    # strptime gives a time without a day one of 1900-01-01.
    clock = f"try_strptime({time}, {list(_CLOCK_FORMATS)}) - TIMESTAMP '1900-01-01'"
    return (
        f"CASE WHEN regexp_matches({text}, '{_SERIAL}') THEN TIMESTAMP '{first}' "
        f"+ to_seconds(round(({day}::DOUBLE + coalesce(try_cast({time} AS DOUBLE), 0)) * 86400)) "
        f"+ CASE WHEN contains({time}, ':') THEN {clock} ELSE INTERVAL 0 SECOND END END"
    )


def as_written_sql(expression: str, formats: Sequence[str], evidence: DateEvidence) -> str:
    """SQL: what ``timestamp_sql`` gives where a format without an offset fits the text letter by letter; else NULL."""
    plain = ", ".join(f"'{one}'" for one in formats if "%z" not in one)
    if not plain:
        return "NULL::TIMESTAMP"
    read = f"try_strptime({expression}, [{plain}])"
    return f"date_trunc('day', {read})" if evidence.half_days_lost else read


def readable_share(evidence: DateEvidence, serials: bool) -> float:
    """Share of the values whose shape is a date in some order; 0 when there is none."""
    total = sum(evidence.shapes.values())
    good = sum(
        count
        for shape, count in evidence.shapes.items()
        if format_of(shape, "day first") or (serials and re.fullmatch(_SERIAL_SHAPE, shape))
    )
    return good / total if total else 0.0
