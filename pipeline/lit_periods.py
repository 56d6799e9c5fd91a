"""Periods of a day as schedules write them: 'sunset+15 to 23:00', '05:00 to sunrise-15', '07:00 to 18:30'."""

from __future__ import annotations

import re
from typing import Literal, NamedTuple

MOST_OFFSET_MIN = 360
DAY_MIN = 24 * 60

_EDGE = re.compile(r"(?:(sunrise|sunset)([+-]\d{1,3})?|(\d{1,2}):(\d{2}))")


class Edge(NamedTuple):
    """A moment of a day: minutes after midnight by the clock, or minutes after the sun's event (negative: before)."""

    by: Literal["clock", "sunrise", "sunset"]
    minutes: int


class Period(NamedTuple):
    """From one moment to another; it belongs to the day on which it begins."""

    begin: Edge
    end: Edge

    @property
    def ends_next_day(self) -> bool:
        """Whether the end is to be looked for on the following day.

        By the clock alone, where the end is not later than the beginning. From sunset, where the end is a sunrise or a
        time of the morning; from a time of the afternoon, where it is a sunrise.
        """
        begin, end = self.begin, self.end
        if end.by == "clock":
            if begin.by == "clock":
                return end.minutes <= begin.minutes
            return begin.by == "sunset" and end.minutes < DAY_MIN // 2
        if end.by == "sunrise":
            return begin.by == "sunset" or (begin.by == "clock" and begin.minutes >= DAY_MIN // 2)
        return False


def read_period(text: str) -> Period:
    """One period; ValueError says how it is written."""
    edges = text.split(" to ")
    if len(edges) != 2:
        raise ValueError(f"'{text}' is not a period; write it as 'sunset+15 to 23:00' or '05:00 to sunrise'")
    return Period(*(_edge(edge.strip().lower(), text) for edge in edges))


def check_period(text: str) -> str:
    """The text itself; ValueError where it is no period."""
    read_period(text)
    return text


def _edge(text: str, whole: str) -> Edge:
    found = _EDGE.fullmatch(text.replace(" ", ""))
    if not found:
        raise ValueError(
            f"'{text}' in '{whole}' is no time of day; write 22:30, sunset, sunrise, sunset+15 or sunrise-15 (minutes)"
        )
    if found[1]:
        offset = int(found[2] or 0)
        if abs(offset) > MOST_OFFSET_MIN:
            raise ValueError(f"'{text}' is more than {MOST_OFFSET_MIN} minutes from the {found[1]}")
        return Edge("sunrise" if found[1] == "sunrise" else "sunset", offset)
    minutes = int(found[3]) * 60 + int(found[4])
    if int(found[4]) > 59 or minutes > DAY_MIN:
        raise ValueError(f"'{text}' is not a time of day from 00:00 to 24:00")
    return Edge("clock", minutes)
