"""Which part of the portfolio a figure is about: sites, kinds of control and a period."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from pipeline.figures.facts import Facts, facts
from pipeline.store import Store


@dataclass(frozen=True)
class Filters:
    """Empty means everything. ``start`` and ``end`` are both inside the period."""

    sites: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    start: date | None = None
    end: date | None = None

    @property
    def everything(self) -> bool:
        """Whether nothing is filtered."""
        return self == EVERYTHING

    def parameters(self) -> dict[str, Any]:
        """Values for $sites, $kinds, $start and $end; None where everything is asked."""
        return {
            "sites": list(self.sites) or None,
            "kinds": list(self.kinds) or None,
            "start": self.start,
            "end": self.end,
        }

    def without_period(self) -> Filters:
        """The same sites and kinds at all times."""
        return Filters(self.sites, self.kinds)


EVERYTHING = Filters()


@dataclass(frozen=True)
class Period:
    """A year that the log covers, at least in part; ``complete`` when it covers all of it."""

    label: str
    start: date
    end: date
    complete: bool


def fiscal_year(info: Facts, year: int) -> tuple[date, date]:
    """First and last day of a fiscal year, which is named by the calendar year in which it ends."""
    month = info.fiscal_year_start
    first = date(year, 1, 1) if month == 1 else date(year - 1, month, 1)
    return first, date(first.year + 1, month, 1) - timedelta(days=1)


def periods(store: Store) -> list[Period]:
    """Calendar years, then fiscal years where they differ, that the log covers; newest first."""
    info = facts(store)
    if info.log_from is None or info.log_to is None:
        return []
    years = range(info.log_to.year + 1, info.log_from.year - 1, -1)
    spans = [(str(year), date(year, 1, 1), date(year, 12, 31)) for year in years]
    if info.fiscal_year_start != 1:
        spans += [(_fiscal_label(info, year), *fiscal_year(info, year)) for year in years]
    return [
        Period(label, start, end, info.log_from <= start and end <= info.log_to)
        for label, start, end in spans
        if start <= info.log_to and end >= info.log_from
    ]


def _fiscal_label(info: Facts, year: int) -> str:
    first, last = fiscal_year(info, year)
    months = calendar.month_abbr
    return f"FY {year} ({months[first.month]} {first.year} to {months[last.month]} {last.year})"
