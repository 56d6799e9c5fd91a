"""The lives stage: which control sat where from when to when, then fits, curves and rates per group."""

from __future__ import annotations

from pipeline.inrush import driver_peaks
from pipeline.lives.drawing import fill_lives
from pipeline.lives.groups import fill_groups
from pipeline.lives.removals import unknown_reasons
from pipeline.lives.seats import Seats, read_seats
from pipeline.lives.working_tables import fill_stays
from pipeline.numerals import counted
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Store, sql_text


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill lives, life_draws, life_fits, life_fits_as_read, life_curves and failure_rates."""
    progress.step("Following each control's life")
    _make_driver_peaks(store)
    for name in ("replacements", "lamp_spans"):
        store.run(sql_text("pipeline.lives", name))
    _notice_unknown_reasons(store)
    assumptions = portfolio.settings.assumptions
    _fill_lives(store, read_seats(store), assumptions.few_failures)
    progress.step("Fitting lives")
    fill_groups(store, assumptions, progress)
    _notice_without_row(store)
    _notice_unused(store)


def _make_driver_peaks(store: Store) -> None:
    """The working table of drivers' combined peaks by device and fixture group, from the source of the inrush list."""
    peaks = driver_peaks(store.frame("SELECT * FROM driver_groups"))
    with store.frame_as("reckoned_peaks", peaks[["control_id", "fixture_id", "peak_a", "unverified"]]):
        store.run("""
            CREATE OR REPLACE TEMP TABLE driver_peaks AS
            SELECT control_id::VARCHAR AS control_id, fixture_id::VARCHAR AS fixture_id,
                   unverified::BOOLEAN AS unverified,
                   CASE WHEN NOT isnan(peak_a::DOUBLE) THEN peak_a::DOUBLE END AS peak_a
            FROM reckoned_peaks
        """)


def _fill_lives(store: Store, seats: Seats, few_failures: int) -> None:
    if not seats.stays:
        fill_stays(store, [])
        store.notice(
            "lives", "controls.csv", "no control has any time under observation, so no life can be followed."
        )
        return
    fill_lives(store, seats, few_failures)


def _notice_unknown_reasons(store: Store) -> None:
    """Say which removal reasons the register gives that mean nothing here."""
    rows = store.rows(
        "SELECT row_number, removal_reason FROM controls"
        " WHERE removed_on IS NOT NULL AND removal_reason IS NOT NULL ORDER BY row_number"
    )
    for sentence in unknown_reasons(rows):
        store.notice("lives", "controls.csv, column removal_reason", sentence)


def _notice_without_row(store: Store) -> None:
    """Name controls that the register removed for good and the log replaces all the same."""
    found = store.rows("""
        SELECT c.control_id, c.row_number FROM controls c JOIN lives l USING (control_id)
        WHERE l.started_on >= c.removed_on GROUP BY ALL ORDER BY c.row_number
    """)
    if found:
        named = ", ".join(f"{control} in row {row}" for control, row in found[:5])
        more = f" and {counted(len(found) - 5, 'other')}" if len(found) > 5 else ""
        sentence = (
            f"{counted(len(found), 'control')} removed by the register, but replaced on that day or later by the log "
            f"({named}{more}): what the log put there is followed without a row of its own. Add that row, or correct "
            "removed_on."
        )
        store.notice("lives", "controls.csv, column removed_on", sentence)


def _notice_unused(store: Store) -> None:
    """Say how many control-years do not enter the age analyses, and why."""
    for reason, stretches, years in store.rows("""
        SELECT excluded_reason, count(*), sum(quantity * date_diff('day', entered_on, ended_on)) / 365.25
        FROM lives WHERE excluded_reason IS NOT NULL GROUP BY 1 ORDER BY 3 DESC
    """):
        sentence = (
            f"{counted(round(years), 'control-year')} ({counted(stretches, 'stretch', 'stretches')}) in rates, not in "
            f"ages: {reason}."
        )
        store.notice("lives", "lives", sentence)
