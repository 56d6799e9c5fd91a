"""Register and log, gathered place by place: the stays as the verdicts stand, and what is open about them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from pipeline.lives.gaps import cut_at_gaps
from pipeline.lives.open_places import NumberedStay, OpenPlace, open_batch, open_places_of_single
from pipeline.lives.stay_records import RegisterRow, Replacement, Stay, Window
from pipeline.lives.stays import stays_of_batch, stays_of_single
from pipeline.store import Store

Seat = tuple[str, ...]

_WINDOWS = (
    "SELECT site_id, observed_from, observed_to FROM observation_windows ORDER BY site_id, observed_from"
)

_ROWS = """
SELECT c.control_id, c.quantity, c.installed_on, c.removed_on, c.removal_reason, c.as_of,
       c.position, coalesce(c.kind, '') AS kind, c.site_id
FROM controls c
ORDER BY c.control_id
"""

_REPLACEMENTS = """
SELECT r.incident_id, r.reported_on, r.failed_on, r.restored_on, r.failed, r.end_reason, r.units,
       r.worked_on, r.probability, r.changed, r.rule, r.position, r.control_id
FROM replacements r
ORDER BY r.incident_id
"""


@dataclass
class Seats:
    """Every stay with its number (its place in the list), and the places at which something is open."""

    stays: list[NumberedStay] = field(default_factory=list)
    open_places: list[OpenPlace] = field(default_factory=list)


@dataclass
class _Read:
    """What the tables hold of one place: register rows, findings, and when its site's log was kept."""

    rows: list[RegisterRow]
    windows: list[Window]
    events: list[Replacement] = field(default_factory=list)

    @property
    def hull(self) -> Window:
        """From the first day of the log to its last, gaps included."""
        return Window(self.windows[0].first, self.windows[-1].last)


def read_seats(store: Store) -> Seats:
    """The stays of all places, batches last, as the register and the log's verdicts give them."""
    singles, batches = _register(store)
    _add_events(store, singles, batches)
    seats = Seats()
    for read in singles.values():
        numbered = _numbered(seats, read, stays_of_single(read.rows, read.events, read.hull))
        installed = {row.installed_on for row in read.rows if row.installed_on is not None}
        seats.open_places += open_places_of_single(numbered, read.events, read.windows, installed)
    for read in batches.values():
        for each in _numbered(seats, read, stays_of_batch(read.rows[0], read.hull)):
            place = open_batch(each, read.events)
            if place is not None:
                seats.open_places.append(place)
    return seats


def _numbered(seats: Seats, read: _Read, stays: Sequence[Stay]) -> list[NumberedStay]:
    """The stays of one place, numbered within their control, cut at the gaps of the record and added to all."""
    row_of = {row.control_id: row for row in read.rows}
    reported = {event.incident_id: event.reported_on for event in read.events}
    before: defaultdict[str, int] = defaultdict(int)
    pieces: list[Stay] = []
    for stay in stays:
        before[stay.control_id] += 1
        numbered = replace(stay, succession=before[stay.control_id])
        pieces += cut_at_gaps(numbered, read.windows, row_of[stay.control_id], reported)
    added = list(enumerate(pieces, start=len(seats.stays)))
    seats.stays += added
    return added


def _register(store: Store) -> tuple[dict[Seat, _Read], dict[str, _Read]]:
    """Single controls by place and kind, batches by their id; those that came after the log are left out."""
    windows: defaultdict[str, list[Window]] = defaultdict(list)
    for site_id, first, last in store.rows(_WINDOWS):
        windows[site_id].append(Window(first, last))
    singles: dict[Seat, _Read] = {}
    batches: dict[str, _Read] = {}
    for control_id, quantity, installed, removed, reason, as_of, position, kind, site_id in store.rows(_ROWS):
        kept = windows.get(site_id)
        if kept is None or (installed is not None and installed > kept[-1].last):
            continue  # no log, or not there yet while it was kept
        row = RegisterRow(control_id, quantity, installed, removed, reason, as_of)
        if quantity > 1:
            batches[control_id] = _Read([row], kept)
        else:
            singles.setdefault((position, kind), _Read([], kept)).rows.append(row)
    return singles, batches


def _add_events(store: Store, singles: dict[Seat, _Read], batches: dict[str, _Read]) -> None:
    """Put the log's findings to the place (and kind of control) that they concern."""
    seat_of = {row.control_id: seat for seat, read in singles.items() for row in read.rows}
    kinds_at: defaultdict[str, set[Seat]] = defaultdict(set)
    for seat in singles:
        kinds_at[seat[0]].add(seat)
    for *fields, position, control_id in store.rows(_REPLACEMENTS):
        event = Replacement(*fields)
        if control_id in batches:
            batches[control_id].events.append(event)
        elif control_id in seat_of:
            singles[seat_of[control_id]].events.append(event)
        elif len(kinds_at[position]) == 1:
            singles[next(iter(kinds_at[position]))].events.append(event)
