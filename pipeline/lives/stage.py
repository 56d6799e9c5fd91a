"""The lives stage: which control sat where from when to when, then fits, curves and rates per group."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict

import pandas as pd

from pipeline.lives.gaps import cut_at_gaps
from pipeline.lives.groups import fill_groups
from pipeline.lives.removals import unknown_reasons
from pipeline.lives.stays import (
    RegisterRow,
    Replacement,
    Stay,
    Window,
    stays_of_batch,
    stays_of_single,
)
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Store, sql_text

Seat = tuple[str, ...]

_ROWS = """
SELECT c.control_id, c.quantity, c.installed_on, c.removed_on, c.removal_reason, c.as_of,
       c.position, coalesce(c.kind, '') AS kind, w.first, w.last
FROM controls c
JOIN (SELECT site_id, min(observed_from) AS first, max(observed_to) AS last FROM observation_windows GROUP BY site_id) w
  USING (site_id)
ORDER BY c.control_id
"""

_REPLACEMENTS = """
SELECT r.incident_id, r.reported_on, r.failed_on, r.restored_on, r.failed, r.end_reason, r.units,
       r.position, r.control_id
FROM replacements r
ORDER BY r.incident_id
"""

# Working table; the checks at the end of a build compare lives with it.
_STAYS = """
CREATE OR REPLACE TEMP TABLE stays (
  stay_number BIGINT, succession BIGINT, control_id VARCHAR, register_case VARCHAR, started_on DATE, entered_on DATE,
  ended_on DATE, failed BOOLEAN, end_reason VARCHAR, quantity BIGINT, incident_id VARCHAR, excluded_reason VARCHAR
)
"""


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill lives, life_fits, life_curves and failure_rates."""
    progress.step("Following each control's life")
    for name in ("replacements", "lamp_spans"):
        store.run(sql_text("pipeline.lives", name))
    _notice_unknown_reasons(store)
    _fill_lives(store)
    progress.step("Fitting lives")
    fill_groups(store, portfolio.settings.assumptions, progress)
    _notice_unused(store)


def _fill_lives(store: Store) -> None:
    store.run(_STAYS)
    stays = pd.DataFrame(_stay_rows(store))
    if stays.empty:
        store.notice(
            "lives", "controls.csv", "no control has any time under observation, so no life can be followed."
        )
        return
    for column in ("started_on", "entered_on", "ended_on"):
        stays[column] = pd.to_datetime(stays[column])
    store.fill_frame("stays", stays)
    store.fill("lives", sql_text("pipeline.lives", "lives"))


def _stay_rows(store: Store) -> Iterator[dict[str, object]]:
    """Every stay of every place as a row, numbered within its control."""
    numbers: dict[str, int] = defaultdict(int)
    windows = _windows_of_controls(store)
    rows = {
        row[0]: RegisterRow(*row)
        for row in store.rows(
            "SELECT control_id, quantity, installed_on, removed_on, removal_reason, as_of FROM controls"
        )
    }
    days = store.rows("SELECT incident_id, first_reported_at::DATE FROM incidents")
    reported = {str(incident_id): day for incident_id, day in days}
    for count, stay in enumerate(_all_stays(store)):
        numbers[stay.control_id] += 1
        place = {"stay_number": count, "succession": numbers[stay.control_id]}
        for piece in cut_at_gaps(stay, windows[stay.control_id], rows[stay.control_id], reported):
            yield asdict(piece) | place


def _windows_of_controls(store: Store) -> dict[str, list[Window]]:
    """The windows of record of each control's site, in order."""
    found: defaultdict[str, list[Window]] = defaultdict(list)
    for control_id, first, last in store.rows(
        "SELECT control_id, observed_from, observed_to FROM controls JOIN observation_windows USING (site_id) "
        "ORDER BY control_id, observed_from"
    ):
        found[control_id].append(Window(first, last))
    return found


def _all_stays(store: Store) -> Iterator[Stay]:
    singles: dict[Seat, list[RegisterRow]] = defaultdict(list)
    batches: dict[str, RegisterRow] = {}
    windows: dict[Seat, Window] = {}
    for control_id, quantity, installed, removed, reason, as_of, position, kind, first, last in store.rows(
        _ROWS
    ):
        row, window = (
            RegisterRow(control_id, quantity, installed, removed, reason, as_of),
            Window(first, last),
        )
        if installed is not None and installed > last:
            continue  # not there yet while the log was kept
        if quantity > 1:
            batches[control_id] = row
            windows[(control_id,)] = window
        else:
            singles[position, kind].append(row)
            windows[position, kind] = window
    seat_of = {row.control_id: seat for seat, rows in singles.items() for row in rows}
    by_seat = _replacements_by_seat(store, seat_of, batches)
    for seat, rows in singles.items():
        yield from stays_of_single(rows, by_seat[seat], windows[seat])
    for control_id, row in batches.items():
        yield from stays_of_batch(row, by_seat[(control_id,)], windows[(control_id,)])


def _replacements_by_seat(
    store: Store, seat_of: dict[str, Seat], batches: dict[str, RegisterRow]
) -> defaultdict[Seat, list[Replacement]]:
    """The log's replacements under the place (and kind of control) that they concern."""
    found: defaultdict[Seat, list[Replacement]] = defaultdict(list)
    kinds_at: defaultdict[str, set[Seat]] = defaultdict(set)
    for seat in seat_of.values():
        kinds_at[seat[0]].add(seat)
    for *fields, position, control_id in store.rows(_REPLACEMENTS):
        event = Replacement(*fields)
        if control_id in batches:
            found[(control_id,)].append(event)
        elif control_id in seat_of:
            found[seat_of[control_id]].append(event)
        elif len(kinds_at[position]) == 1:
            found[next(iter(kinds_at[position]))].append(event)
    return found


def _notice_unknown_reasons(store: Store) -> None:
    """Say which removal reasons the register gives that mean nothing here."""
    rows = store.rows(
        "SELECT row_number, removal_reason FROM controls"
        " WHERE removed_on IS NOT NULL AND removal_reason IS NOT NULL ORDER BY row_number"
    )
    for sentence in unknown_reasons(rows):
        store.notice("lives", "controls.csv, column removal_reason", sentence)


def _notice_unused(store: Store) -> None:
    """Say how many control-years do not enter the age analyses, and why."""
    for reason, stretches, years in store.rows("""
        SELECT excluded_reason, count(*), sum(quantity * date_diff('day', entered_on, ended_on)) / 365.25
        FROM lives WHERE excluded_reason IS NOT NULL GROUP BY 1 ORDER BY 3 DESC
    """):
        sentence = (
            f"{count_text(round(years))} control-years ({count_text(stretches)} stretches) count in rates but not in "
            f"ages: {reason}."
        )
        store.notice("lives", "lives", sentence)
