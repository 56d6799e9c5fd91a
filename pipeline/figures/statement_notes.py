"""How a year's statement was reckoned, in sentences: what a reader must know before using its figures."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from pipeline.figures.delays import delay_text
from pipeline.figures.facts import Facts, facts
from pipeline.figures.filters import EVERYTHING, Filters, Period
from pipeline.figures.headline_waste import BOUNDARY
from pipeline.figures.meters import unreported_text
from pipeline.figures.statement import METHOD, UNCERTAINTY, Statement
from pipeline.figures.tariff_costs import taxes_statement
from pipeline.numerals import counted
from pipeline.store import Store


class Note(NamedTuple):
    """What a note is about, and what it says."""

    about: str
    says: str


def statement_notes(store: Store, told: Statement, filters: Filters = EVERYTHING) -> list[Note]:
    """Method, boundary, factors, assumptions, uncertainty, coverage and prices of one year's statement."""
    info, year = facts(store), told.year
    unreported = unreported_text(store, replace(filters, start=year.start, end=year.end))
    notes = [
        Note("Method", METHOD),
        Note("Boundary", f"{BOUNDARY} {unreported}".strip()),
        Note("Factors", factors_text(store, year)),
        Note("Assumptions", assumptions_text(store, info)),
        Note("Uncertainty", UNCERTAINTY),
        Note("Coverage", f"{told.coverage} {counted(told.incidents, 'incident')} wasted energy in it."),
        Note("Prices", taxes_statement(store)),
    ]
    return [note for note in notes if note.says]


def factors_text(store: Store, year: Period) -> str:
    """The emission factors of the calendar years that a period touches, each with its edition."""
    rows = store.rows(
        "SELECT method, applies_to, year, value, unit, coalesce(nullif(edition, ''), source), stands_in"
        " FROM factors_in_force WHERE year BETWEEN $first AND $last AND value IS NOT NULL"
        " ORDER BY ['location-based', 'market-based', 'grid losses'].list_position(method), applies_to, year",
        {"first": year.start.year, "last": year.end.year},
    )
    told = [
        f"{method}, {applies_to}, {number}: {value:.3g} {unit} ({edition}{', standing in' if stands_in else ''})"
        for method, applies_to, number, value, unit, edition, stands_in in rows
    ]
    return f"{'; '.join(told)}." if told else "No emission factor is known, so no emissions are reckoned."


def assumptions_text(store: Store, info: Facts) -> str:
    """The assumptions that move the energy most; all others stand with the settings."""
    assumed = info.assumptions
    by_table = "; timetables where they hold" if info.settings.get("schedules") else ""
    return (
        f"Mean detection delay {delay_text(store, info)}; no fault taken to begin more than "
        f"{assumed.onset_cap_days:g} days before its first report; lamps on {assumed.lights_on_after_sunset_min:g} min "
        f"after sunset and off {assumed.lights_off_before_sunrise_min:g} min before sunrise{by_table}; watts of "
        f"discharge lamps times {assumed.ballast_factor_hid:g} where only the lamp's are registered."
    )
