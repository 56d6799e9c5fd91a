"""Which years of wasted energy are no whole years, in words: their bars must not be read as a trend."""

from __future__ import annotations

from datetime import date
from typing import Literal

from pipeline.figures.energy import energy_by
from pipeline.figures.facts import Facts, facts
from pipeline.figures.filters import EVERYTHING, Filters, fiscal_year
from pipeline.figures.wording import date_text
from pipeline.store import Store


def partial_years_text(
    store: Store, by: Literal["calendar year", "fiscal year"] = "calendar year", filters: Filters = EVERYTHING
) -> str:
    """A sentence for each year of ``energy_by`` that the log, or the period, covers only in part; '' without any.

    Energy is dated by when it burnt, so a year before the log began holds the first days of what was reported later.
    """
    info = facts(store)
    first, last = filters.start or info.log_from, filters.end or info.log_to
    if first is None or last is None:
        return ""
    parts = energy_by(store, by, filters)["part"].tolist()
    said = (_said(part, *_span(info, by, int(part[-4:])), first, last) for part in parts)
    return " ".join(filter(None, said))


def _span(info: Facts, by: str, year: int) -> tuple[date, date]:
    return fiscal_year(info, year) if by == "fiscal year" else (date(year, 1, 1), date(year, 12, 31))


def _said(part: str, start: date, end: date, first: date, last: date) -> str:
    if end < first:
        return (
            f"{part} is no whole year: it ended before {date_text(first)}, from when on calls are counted, and holds "
            "only what incidents reported later had burnt by then."
        )
    if start < first or end > last:
        return f"{part} is covered in part, {date_text(max(start, first))} to {date_text(min(end, last))}."
    return ""
