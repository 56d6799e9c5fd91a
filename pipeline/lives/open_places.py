"""Places where it is open which control failed, or whether one did: successive stays and findings on one clock.

The clock of a place counts days since its first control, or all controls of the batch, were installed. A chain of
stays breaks where nothing links them: at a gap in the record, where age is unknown, at another row of the register.
The verdict that ended a stay just before a chain is part of the chain before it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from pipeline.lives.gaps import INTERRUPTED
from pipeline.lives.stay_records import Replacement, Stay, Window

NumberedStay = tuple[int, Stay]
_HALF_DAY = 0.5  # a failure on the first day has half a day at risk
_APART = 1e-3  # days between findings of one day at one place, so that each has an age of its own


@dataclass(frozen=True)
class Finding:
    """What may have ended a life: its age and that of the successor's start on the place's clock, days.

    ``certain_end``: the control was changed all the same. ``stay``: number of the stay that it ended as read, or None.
    ``rule``: of the verdict, whose odds are its probability.
    """

    age_days: float
    renewed_days: float
    probability: float
    certain_end: bool
    after: date | None
    by: date | None
    mode: str
    other_end: str
    incident_id: str | None
    stay: int | None
    read_failed: bool
    rule: str | None = None


@dataclass(frozen=True)
class OpenPlace:
    """A single control's place or a batch while it was watched, with its findings in order of age."""

    control_id: str
    register_case: str
    origin: date
    entry_days: float
    exit_days: float
    quantity: int
    exit_reason: str
    stays: tuple[int, ...]
    findings: tuple[Finding, ...] = field(repr=False)

    def day(self, clock_days: float) -> int:
        """Calendar day, as an ordinal, at an age on the clock."""
        return self.origin.toordinal() + int(clock_days)


def open_places_of_single(
    stays: Sequence[NumberedStay],
    events: Sequence[Replacement],
    windows: Sequence[Window],
    installed: Collection[date],
) -> Iterator[OpenPlace]:
    """The chains of one place at which some verdict is open; those with certain verdicts only are left out.

    ``stays``: all of the place, in order; ``installed``: installation dates of its register rows.
    """
    used = {stay.incident_id for _, stay in stays}
    inner = [
        event for event in events
        if not event.ends_life and event.probability > 0 and event.incident_id not in used
    ]  # fmt: skip
    of_incident = {event.incident_id: event for event in events}
    for chain, following in _chains(stays):
        place = _place(chain, following, of_incident, inner, windows, installed)
        if any(0 < found.probability < 1 for found in place.findings):
            yield place


def open_batch(numbered: NumberedStay, events: Sequence[Replacement]) -> OpenPlace | None:
    """A batch in which something may have failed; None where nothing did, or where it counts in rates only."""
    number, stay = numbered
    if stay.excluded_reason is not None or stay.started_on is None:
        return None
    exit_days = float((stay.ended_on - stay.started_on).days)
    place = OpenPlace(
        stay.control_id, stay.register_case, stay.started_on, 0.0, exit_days, stay.quantity, stay.end_reason,
        (number,), (),
    )  # fmt: skip
    findings = []
    for event in events:
        if event.probability > 0 and stay.entered_on < event.reported_on <= stay.ended_on:
            age = max(_clock(place, event.failed_on), _HALF_DAY)
            found = _finding(place, event, age, event.restored_on, event.changed)
            findings += [found] * min(event.units, stay.quantity)
    return _with(place, findings) if findings and exit_days > 0 else None


def _chains(stays: Sequence[NumberedStay]) -> Iterator[tuple[list[NumberedStay], Stay | None]]:
    """Runs of linked stays, each with the stay that follows it at the place, if any."""
    chain: list[NumberedStay] = []
    for number, stay in stays:
        if chain and not _linked(chain[-1][1], stay):
            yield chain, stay
            chain = []
        if stay.excluded_reason is None and stay.started_on is not None:
            chain.append((number, stay))
    if chain:
        yield chain, None


def _linked(stay: Stay, following: Stay) -> bool:
    return (
        following.excluded_reason is None
        and following.control_id == stay.control_id
        and following.entered_on == following.started_on
        and following.entered_on >= stay.ended_on
        and stay.end_reason != INTERRUPTED
    )


def _place(
    chain: Sequence[NumberedStay], following: Stay | None, of_incident: dict[str, Replacement],
    inner: Sequence[Replacement], windows: Sequence[Window], installed: Collection[date],
) -> OpenPlace:  # fmt: skip
    first, last = chain[0][1], chain[-1][1]
    assert first.started_on is not None
    blank = OpenPlace(
        first.control_id, first.register_case, first.started_on, float((first.entered_on - first.started_on).days),
        0.0, 1, last.end_reason, tuple(number for number, _ in chain), (),
    )  # fmt: skip
    nexts = [*(stay for _, stay in chain[1:]), following]
    ends = [
        _end_of(blank, number, stay, after, of_incident.get(stay.incident_id or ""), installed)
        for (number, stay), after in zip(chain, nexts, strict=True)
    ]
    window = next((each for each in windows if each.first <= last.ended_on <= each.last), windows[-1])
    closing = ends[-1]
    if closing is not None and not closing.certain_end:
        reason = "in service" if window is windows[-1] else INTERRUPTED
        exit_days = _clock(blank, window.last)
    else:
        reason, exit_days = last.end_reason, _clock(blank, last.ended_on)
    findings = [found for found in ends if found is not None]
    exit_days = max([exit_days, *(found.age_days for found in findings)])
    place = OpenPlace(
        blank.control_id,
        blank.register_case,
        blank.origin,
        blank.entry_days,
        exit_days,
        1,
        reason,
        blank.stays,
        (),
    )
    for event in inner:
        age = _clock(place, event.failed_on)
        watched = any(each.first <= event.reported_on <= each.last for each in windows)
        if watched and place.entry_days < age <= exit_days:
            findings.append(_finding(place, event, age, event.restored_on, certain=False))
    return _with(place, findings)


def _end_of(
    place: OpenPlace, number: int, stay: Stay, following: Stay | None, event: Replacement | None,
    installed: Collection[date],
) -> Finding | None:  # fmt: skip
    """The finding that ended a stay as read; None where nothing did."""
    linked = following is not None and _linked(stay, following)
    if event is None and not stay.failed and not linked:
        return None
    born = _clock(place, stay.started_on or place.origin)
    age = max(_clock(place, stay.ended_on), max(born, place.entry_days) + _HALF_DAY)
    restored = following.started_on if linked and following is not None else None
    succeeded = following is not None and following.started_on in installed
    if event is None:
        renewed = age if restored is None else max(age, _clock(place, restored))
        verdict = 1.0 if stay.failed else 0.0
        return Finding(
            age,
            renewed,
            verdict,
            True,
            stay.failed_after,
            stay.failed_by,
            stay.end_reason,
            stay.end_reason,
            None,
            number,
            stay.failed,
        )
    return _finding(place, event, age, restored, event.changed or succeeded, stay, number)


def _finding(
    place: OpenPlace, event: Replacement, age: float, restored: date | None, certain: bool,
    stay: Stay | None = None, number: int | None = None,
) -> Finding:  # fmt: skip
    """``restored`` None: nothing is known of a successor, so none enters."""
    after, by = (
        (event.worked_on, event.reported_on)
        if stay is None or not stay.failed
        else (stay.failed_after, stay.failed_by)
    )
    renewed = float("inf") if restored is None else max(age, _clock(place, restored))
    mode = event.end_reason if event.failed else "erratic"
    other = event.end_reason if not event.failed else "removed"
    return Finding(
        age,
        renewed,
        event.probability,
        certain,
        after,
        by,
        mode,
        other,
        event.incident_id,
        number,
        stay is not None and stay.failed,
        event.rule,
    )


def _with(place: OpenPlace, findings: Sequence[Finding]) -> OpenPlace:
    """The place with its findings in order, each at an age of its own, none beyond the end of watching."""
    ordered: list[Finding] = []
    for found in sorted(findings, key=lambda each: (each.age_days, each.incident_id or "")):
        age = found.age_days
        if ordered and age <= ordered[-1].age_days:
            age = ordered[-1].age_days + _APART
        exit_days = max(place.exit_days, age)
        ordered.append(
            replace(found, age_days=age, renewed_days=min(max(found.renewed_days, age), exit_days))
        )
    exit_days = max([place.exit_days, *(found.age_days for found in ordered)])
    return replace(place, exit_days=exit_days, findings=tuple(ordered))


def _clock(place: OpenPlace, day: date) -> float:
    return float((day - place.origin).days)
