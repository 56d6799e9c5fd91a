"""Stays cut where a site's log was not kept: a gap in the record is no time at risk.

The stretch before a gap ends censored ("record interrupted"), the one after it enters at the age then reached. What was
replaced unseen in the gap is unknown unless the register speaks for it: it keeps removed controls, or its snapshot is
later than the gap. Otherwise what follows a gap counts in rates, not in ages.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from pipeline.lives.stay_records import RegisterRow, Stay, Window

INTERRUPTED = "record interrupted"
AFTER_A_GAP = "after a gap in the record: whether it was replaced unseen is unknown"


def cut_at_gaps(
    stay: Stay, windows: Sequence[Window], row: RegisterRow, reported: Mapping[str, date]
) -> Iterator[Stay]:
    """The stretches of a stay inside its site's windows (in order, apart from one another).

    ``row``: its control's in the register. ``reported``: the day of each incident's first report. A failure counts in
    the window of its report, as everywhere; one reported in no window counts nowhere.
    """
    if len(windows) == 1:
        yield stay
        return
    stay = _in_its_window(stay, windows, reported)
    for number, window in enumerate(windows):
        entered, ended = max(stay.entered_on, window.first), min(stay.ended_on, window.last)
        if entered > ended or (entered == ended and stay.entered_on < entered and not _ends_in(stay, window)):
            continue
        piece = stay if number == 0 or stay.entered_on >= window.first else _after_gap(stay, window, row)
        if _ends_in(stay, window):
            yield replace(piece, entered_on=entered, ended_on=ended)
        else:
            yield replace(
                piece,
                entered_on=entered,
                ended_on=ended,
                failed=False,
                end_reason=INTERRUPTED,
                incident_id=None,
            )


def _ends_in(stay: Stay, window: Window) -> bool:
    return window.first <= stay.ended_on <= window.last


def _in_its_window(stay: Stay, windows: Sequence[Window], reported: Mapping[str, date]) -> Stay:
    """A failure of the gap that was reported after it stands on that window's first day, as at the log's beginning."""
    day = reported.get(stay.incident_id or "")
    if not stay.failed or day is None:
        return stay
    seen = next((window for window in windows if window.first <= day <= window.last), None)
    if seen is None:
        return replace(stay, failed=False, end_reason="unknown", incident_id=None)
    return replace(stay, ended_on=max(stay.ended_on, seen.first))


def _after_gap(stay: Stay, window: Window, row: RegisterRow) -> Stay:
    """What follows a gap, left out of the ages where nobody knows what happened in it."""
    speaks = row.quantity == 1 and (
        stay.register_case == "keeps removed"
        or (stay.register_case == "snapshot" and row.as_of is not None and row.as_of >= window.first)
    )
    return stay if speaks or stay.excluded_reason else replace(stay, excluded_reason=AFTER_A_GAP)
