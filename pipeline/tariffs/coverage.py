"""Which hours of a year a tariff prices twice, or not at all: each as a sentence for the person who wrote it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import combinations

import numpy as np
import numpy.typing as npt

from pipeline.clock_spans import MINUTES_PER_DAY, clock_text
from pipeline.day_sets import WEEKDAYS, days_within
from pipeline.tariffs.form import DAY_KINDS, HOLIDAY, Tariff, TariffPeriod
from pipeline.tariffs.wall import edges_of, holds

Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_YEAR = np.arange(np.datetime64("2000-01-01"), np.datetime64("2001-01-01"))  # a leap year holds every day
_MOST_SPANS = 3


def coverage_faults(tariff: Tariff, periods: tuple[TariffPeriod, ...]) -> list[str]:
    """Sentences on the hours that the periods of one version leave without a price, or price twice.

    Every day of the year is tried as every kind of day that it can be, so what holds in one year holds in all.
    """
    named = [period for period in periods if not period.other_times]
    minutes = edges_of(named)
    possible = _possible(tariff)
    claims = [_claimed(period, minutes) & possible[:, :, None] for period in named]
    faults = [
        f"{where} is priced twice: by '{one.name}' and by '{other.name}'"
        for (one, claim), (other, second) in combinations(zip(named, claims, strict=True), 2)
        for where in _said(claim & second, possible, minutes)
    ]
    if len(named) == len(periods):
        left = np.broadcast_to(possible[:, :, None], (*possible.shape, minutes.size)).copy()
        for claim in claims:
            left &= ~claim
        faults += [f"{where} has no price" for where in _said(left, possible, minutes)]
    return faults


def _possible(tariff: Tariff) -> Flags:
    """Which day of the year can be which kind of day, (366, kinds): a yearly holiday nothing else."""
    possible = np.ones((_YEAR.size, len(DAY_KINDS)), dtype=bool)
    once_or_yearly = [_without_year(text) for text in tariff.holidays]
    yearly = [text for text in tariff.holidays if text == _without_year(text)]
    weekdays = np.arange(len(DAY_KINDS)) != DAY_KINDS.index(HOLIDAY)
    possible[:, ~weekdays] = days_within(_YEAR, once_or_yearly)[:, None] if once_or_yearly else False
    if yearly:
        possible[np.ix_(days_within(_YEAR, yearly), weekdays)] = False
    return possible


def _without_year(text: str) -> str:
    """The days of the year of a holiday, whichever year it is given for."""
    return " to ".join(part.strip()[-5:] for part in text.split(" to "))


def _claimed(period: TariffPeriod, minutes: Ints) -> Flags:
    """(366, kinds, minutes): whether the period claims that part of that day, were it of that kind."""
    kinds = [np.full(_YEAR.size, number) for number in range(len(DAY_KINDS))]
    return np.stack([holds(period, _YEAR, kind, minutes) for kind in kinds], axis=1)


def _said(cells: Flags, possible: Flags, minutes: Ints) -> Iterator[str]:
    """Each span of the clock with the days on which it is concerned, alike spans side by side taken together."""
    ends = np.append(minutes[1:], MINUTES_PER_DAY)
    begin = 0
    for at in range(minutes.size):
        last = at + 1 == minutes.size
        if last or not np.array_equal(cells[:, :, at], cells[:, :, at + 1]):
            for days, kinds in _alike(cells[:, :, at], possible):
                hours = f"{clock_text(minutes[begin])} to {clock_text(ends[at])}"
                yield f"{hours} on {_kinds_text(kinds)} ({_days_text(days)})"
            begin = at + 1


def _alike(cells: Flags, possible: Flags) -> Iterator[tuple[Ints, Ints]]:
    """Days and kinds of day of some cells (366, kinds): kinds together that differ on no day which can be either."""
    open_kinds = [int(kind) for kind in np.flatnonzero(cells.any(axis=0))]
    while open_kinds:
        together: list[int] = []
        for kind in open_kinds:
            differ = (cells[:, [kind]] != cells[:, together]) & possible[:, [kind]] & possible[:, together]
            if not differ.any():
                together.append(kind)
        yield np.flatnonzero(cells[:, together].any(axis=1)), np.array(together)
        open_kinds = [kind for kind in open_kinds if kind not in together]


def _kinds_text(kinds: Ints) -> str:
    concerned = [DAY_KINDS[number] for number in kinds]
    return "every day of the week" if concerned == list(WEEKDAYS) else ", ".join(concerned)


def _days_text(on: Ints) -> str:
    """Days of the year as spans, the first few of many."""
    if on.size == _YEAR.size:
        return "all year"
    runs = np.split(on, np.flatnonzero(np.diff(on) > 1) + 1)
    spans = [_text(run[0]) if run.size == 1 else f"{_text(run[0])} to {_text(run[-1])}" for run in runs]
    return ", ".join(spans[:_MOST_SPANS]) + (" and more" if len(spans) > _MOST_SPANS else "")


def _text(day: int) -> str:
    return date.fromordinal(date(2000, 1, 1).toordinal() + int(day)).strftime("%m-%d")
