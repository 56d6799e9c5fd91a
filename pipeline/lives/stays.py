"""Who sat where from when to when: one place's register rows and the log's replacements -> stays.

A stay is one control's time at a place, cut to what can be known of it. Three rules decide at which age a
control comes under observation (they are the difference between a right and a wrong life):

* ``keeps removed``: the register keeps removed controls, so a row is known whether or not its control
  survived; it enters when the log began.
* ``snapshot``: a row is known only because its control was in place on the day of the snapshot; it enters
  on that day and adds nothing before.
* ``begun in the log``: a replacement seen in the log began the life; it enters at age 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pipeline.lives.removals import FAILED, REMOVED, meaning
from pipeline.lives.stay_records import RegisterRow, Replacement, Stay, Window

MATCH_DAYS = 45  # a register's installation date this near after a replacement in the log is the same event
EARLY_DAYS = 7  # and it may be written up to this much before the report

UNKNOWN_START = "installation date unknown"
BEFORE_SNAPSHOT = "before the snapshot: known only because it survived to that day"
BATCH_BEFORE_LOG = "batch installed before the log began: which members were already replaced is unknown"


@dataclass(frozen=True)
class _Start:
    started_on: date | None
    row: RegisterRow
    register_case: str


@dataclass(frozen=True)
class _End:
    day: date
    failed: bool
    reason: str
    incident_id: str | None = None
    after: date | None = None
    by: date | None = None


def stays_of_single(
    rows: Sequence[RegisterRow], replacements: Sequence[Replacement], window: Window
) -> list[Stay]:
    """The successive controls of one place, each row one control; replacements may come in any order."""
    ordered = sorted(replacements, key=lambda event: (event.reported_on, event.incident_id))
    known = [event for event in ordered if event.ends_life and event.reported_on <= window.last]
    events = [event for event in known if not any(_contradicts(row, event, known) for row in rows)]
    starts = sorted(_starts(rows, events), key=lambda start: start.started_on or date.min)
    stays: list[Stay] = []
    for number, start in enumerate(starts):
        following = starts[number + 1].started_on if number + 1 < len(starts) else None
        stays += _stay(start, following, events, window)
    return stays


def stays_of_batch(row: RegisterRow, window: Window) -> list[Stay]:
    """A batch as the register gives it, without what the log tells: its members' lives are drawn from that.

    One installed before its log began counts in rates only.
    """
    last = min(row.removed_on or window.last, window.last)
    removed = row.removed_on is not None and row.removed_on <= window.last
    reason = _removal(row).reason if removed else "in service"
    begin = max(row.installed_on or window.first, window.first)
    if begin > last:
        return []
    whole = Stay(
        row.control_id, _register_case(row), row.installed_on, begin, last, False, reason, row.quantity
    )
    if row.installed_on is None:
        whole = replace(whole, excluded_reason=UNKNOWN_START)
    elif row.installed_on < window.first:
        whole = replace(whole, excluded_reason=BATCH_BEFORE_LOG)
    return [whole]


def _register_case(row: RegisterRow) -> str:
    return "keeps removed" if row.as_of is None else "snapshot"


def _same_event(installed_on: date, event: Replacement) -> bool:
    """Whether an installation is the log's replacement, its date written down a little early or late."""
    if installed_on == date.min:
        return False
    latest = (event.restored_on or event.reported_on) + timedelta(days=MATCH_DAYS)
    return event.reported_on - timedelta(days=EARLY_DAYS) <= installed_on <= latest


def _contradicts(row: RegisterRow, event: Replacement, events: Sequence[Replacement]) -> bool:
    """A snapshot says an older control was in place after this replacement: the two cannot both be right.

    The failure still counts in rates; no age can be had from it.
    """
    if row.as_of is None or row.installed_on is None or event.restored_on is None:
        return False
    return (
        row.installed_on < event.reported_on
        and event.restored_on <= row.as_of
        and not _same_event(row.installed_on, event)
    )


def _starts(rows: Sequence[RegisterRow], events: Sequence[Replacement]) -> Iterator[_Start]:
    """Every known beginning at the place: the register's rows, and the log's replacements that no row speaks for."""
    dated = [_with_deduced_date(row, events) for row in rows]
    installed = [row.installed_on for row in dated if row.installed_on]
    for row in dated:
        matched = row.installed_on and any(_same_event(row.installed_on, event) for event in events)
        yield _Start(
            row.installed_on, row, "begun in the log" if matched and row.as_of else _register_case(row)
        )
    for event in events:
        if event.restored_on and not any(_same_event(day, event) for day in installed):
            row = _row_at(dated, event.restored_on)
            yield _Start(event.restored_on, row, "begun in the log")
    first_event = events[0] if events else None
    all_dated = len(installed) == len(dated)
    if first_event and installed and all_dated and first_event.reported_on <= min(installed):
        # The control before the first dated one, where no row stands for it: it failed in the log, its age is unknown.
        yield _Start(None, dated[0], _register_case(dated[0]))


def _with_deduced_date(row: RegisterRow, events: Sequence[Replacement]) -> RegisterRow:
    """A snapshot row without a date began with the last replacement before the snapshot, if the log has one."""
    if row.installed_on is not None or row.as_of is None:
        return row
    before = [event.restored_on for event in events if event.restored_on and event.restored_on <= row.as_of]
    return replace(row, installed_on=max(before)) if before else row


def _row_at(rows: Sequence[RegisterRow], day: date) -> RegisterRow:
    """The register row that speaks for the place on a day: the one in place, else the latest before, else any."""
    in_place = [r for r in rows if (r.installed_on or date.min) <= day < (r.removed_on or date.max)]
    earlier = [r for r in rows if (r.installed_on or date.min) <= day]
    return max(in_place or earlier or rows, key=lambda r: r.installed_on or date.min)


def _stay(
    start: _Start, following: date | None, events: Sequence[Replacement], window: Window
) -> Iterator[Stay]:
    began = start.started_on or date.min
    end = _end(start, following, events, window)
    first_seen = max(began, window.first)
    blank = Stay(
        start.row.control_id, start.register_case, start.started_on, first_seen, end.day, False, "in service"
    )
    finished = replace(
        blank, failed=end.failed, end_reason=end.reason, incident_id=end.incident_id,
        failed_after=end.after, failed_by=end.by,
    )  # fmt: skip
    if end.day < first_seen or (end.day == first_seen and not end.failed and end.reason != "in service"):
        return
    if start.started_on is None:
        yield replace(finished, excluded_reason=UNKNOWN_START)
    elif start.register_case == "snapshot" and start.row.as_of and start.row.as_of > first_seen:
        seen_on = min(start.row.as_of, end.day)
        survived = end.day > start.row.as_of or (end.day == start.row.as_of and not end.failed)
        before = replace(blank, ended_on=seen_on, end_reason="unknown") if survived else finished
        yield replace(before, excluded_reason=BEFORE_SNAPSHOT)
        if survived:
            yield replace(finished, entered_on=seen_on)
    else:
        yield finished


def _end(start: _Start, following: date | None, events: Sequence[Replacement], window: Window) -> _End:
    """The first of: the log's next replacement, the register's removal, the successor's start, the log's end."""
    began = start.started_on or date.min
    ends = []  # of two on one day the first listed says why
    if start.row.removed_on and start.row.removed_on >= began:
        ends.append(_removal(start.row))
    if following is not None:
        ends.append(_End(following, False, "removed"))
    ends.append(_End(window.last, False, "in service"))
    nearest = min(ends, key=lambda end: end.day)
    event = next((e for e in events if began < e.reported_on and not _same_event(began, e)), None)
    if event is None or (
        event.reported_on > nearest.day and not _reported_late(nearest.day, following, event)
    ):
        return nearest
    day = min(max(event.failed_on if event.failed else event.reported_on, began), nearest.day)
    if event.reported_on >= window.first:
        # What was first reported in the window counts, in ages as in rates, though it may have begun before.
        day = max(day, window.first)
    if not event.failed or event.worked_on is None:
        return _End(day, event.failed, event.end_reason, event.incident_id)
    by = max(day, min(event.reported_on, nearest.day))
    return _End(day, True, event.end_reason, event.incident_id, max(event.worked_on, began), by)


def _reported_late(ended_on: date, following: date | None, event: Replacement) -> bool:
    """Whether the log's replacement is how a control ended that the register lets end some days before the report."""
    is_near = event.reported_on - ended_on <= timedelta(days=MATCH_DAYS)
    return is_near and following is not None and _same_event(following, event)


def _removal(row: RegisterRow) -> _End:
    """The end that the register itself records; a stated failure is a failure even where the log is silent."""
    reason, day = meaning(row.removal_reason), row.removed_on or date.max
    return _End(day, True, "unknown") if reason == FAILED else _End(day, False, reason or REMOVED)
