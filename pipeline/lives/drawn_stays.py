"""One drawing of the lives at open places, as rows of the working table of stays."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from pipeline.lives.histories import Lived
from pipeline.lives.open_places import Finding, OpenPlace
from pipeline.survival.form import BoolArray

Row = dict[str, object]


def drawn_stays(places: Sequence[OpenPlace], lived: Lived, only: BoolArray) -> list[Row]:
    """The drawn lives at those of ``places`` that ``only`` marks, in the columns of the working table of stays.

    Days are ordinals. Members of a batch that were never concerned stand in one row.
    """
    findings = [found for place in places for found in place.findings]
    rows: list[Row] = []
    untouched: dict[int, int] = {}
    for i in np.flatnonzero(only[lived.place]).tolist():
        number, ended_by = int(lived.place[i]), int(lived.ended_by[i])
        place, begun = places[number], bool(lived.begun_by[i] >= 0)
        if place.quantity > 1 and not begun and ended_by < 0:
            untouched[number] = untouched.get(number, 0) + 1
            continue
        end = findings[ended_by] if ended_by >= 0 else None
        rows.append(
            _life(place, float(lived.birth[i]), begun, float(lived.end[i]))
            | _how_it_ended(place, bool(lived.failed[i]), end)
            | {"quantity": 1}
        )
    for number, quantity in untouched.items():
        place = places[number]
        rows.append(
            _life(place, 0.0, False, place.exit_days)
            | _how_it_ended(place, False, None)
            | {"quantity": quantity}
        )
    return rows


def _life(place: OpenPlace, birth_days: float, begun: bool, end_days: float) -> Row:
    """Whose life it was and its days; ``begun``: by a finding of the log."""
    started = place.day(birth_days)
    return {
        "control_id": place.control_id,
        "register_case": "begun in the log" if begun else place.register_case,
        "started_on": started,
        "entered_on": max(started, place.day(place.entry_days)),
        "ended_on": place.day(end_days),
    }


def _how_it_ended(place: OpenPlace, failed: bool, finding: Finding | None) -> Row:
    reason, incident_id = place.exit_reason, None
    between: tuple[date | None, date | None] = (None, None)
    if finding is not None:
        reason, incident_id = finding.mode if failed else finding.other_end, finding.incident_id
        between = (finding.after, finding.by) if failed else between
    after, by = (None if day is None else day.toordinal() for day in between)
    return {
        "failed": failed, "end_reason": reason, "incident_id": incident_id, "failed_after": after, "failed_by": by,
    }  # fmt: skip
