"""What a call's words say: one reading per fault.

Read once for every distinct pair of problem and action text; never fails on a text. What the crew
did counts before what was reported; within each, the last decisive statement counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from pipeline.lexicon import Lexicon
from pipeline.lexicon.phrases import Found
from pipeline.lexicon.words import Words
from pipeline.tie.counts import count_before
from pipeline.tie.dates import dates_in
from pipeline.tie.mentions import Account, Mention, account_of
from pipeline.tie.symptoms import cause_of, symptom_of

CONTROLS = ("photocontrol", "time switch", "timer", "occupancy sensor", "contactor", "control")
_CLOCKED = ("day burning", "wrong time")  # symptoms that a lamp cannot cause
_RANK = {"replaced": 5, "repaired": 4, "bypassed": 3, "completed": 3, "reset": 2, "cleaned": 1, "": 0}
_RIVALS = ("lamp", "driver", "wiring", "supply", "pole")
_OUTCOMES = ("duplicate", "none found", "referred")


class Reading(NamedTuple):
    """One fault as its texts tell it.

    ``kind`` is the kind of control named, if any; ``alone`` is false where other parts were worked on
    with it; ``bad`` is true where the text says that the part itself had failed; ``reported`` is true
    where the problem text, not only the action, names a symptom.
    """

    symptom: str
    component: str
    kind: str
    action: str
    cause: str
    units: int
    alone: bool
    bad: bool
    reported: bool
    evidence: str


@dataclass(frozen=True)
class _Text:
    """A text, split and searched once."""

    words: Words
    found: list[Found]
    account: Account

    def mentioned(self) -> list[Mention]:
        return [part for part in self.account.mentions if not part.sound]


def read(
    lexicon: Lexicon, problem: str | None, action: str | None, category: str | None
) -> tuple[Reading, ...]:
    """The faults of one call, the main one first; always at least one."""
    reported, done = _search(lexicon, problem), _search(lexicon, action)
    symptom, symptom_said = symptom_of(reported, done, _search(lexicon, category))
    cause, cause_said = cause_of(reported, done)
    parts = _parts(reported, done)
    main = _main_part(parts, symptom)
    deed = _deed(main, reported, done)
    evidence = "; ".join(
        filter(None, (symptom_said, _part_said(main, done), f"cause: {cause_said}" if cause_said else ""))
    )
    first = Reading(
        symptom=symptom,
        component=_component(main),
        kind=main.part if main and main.part in CONTROLS[:-1] else "",
        action=deed,
        cause=cause,
        units=_units(main, reported),
        alone=not _helpers(parts, main),
        bad=_found_bad(main, done),
        reported=_reports_a_fault(reported),
        evidence=evidence or "the text says nothing of it",
    )
    return (first, *_counted_extras(parts, main, first))


def _search(lexicon: Lexicon, text: str | None) -> _Text:
    words = lexicon.split(_without_dates(text))
    found = lexicon.find(words)
    return _Text(words, found, account_of(words, found))


def _without_dates(text: str | None) -> str | None:
    """The text with its dates blanked, so that their digits are not read as counts."""
    for (start, end), _ in dates_in(text) if text else ():
        assert text is not None
        text = text[:start] + " " * (end - start) + text[end:]
    return text


def _parts(reported: _Text, done: _Text) -> list[Mention]:
    """The parts that count: those of the action; the problem's where the action names none."""
    parts = [part for part in done.mentioned() if part.deed or part.bad or part.needed]
    if any(part.deed or part.bad for part in parts):
        return parts
    suspects = [part for part in reported.mentioned() if part.deed or part.bad or part.needed]
    sound = {part.part for part in done.account.mentions if part.sound}
    suspects = [part for part in suspects if part.part not in sound]
    suspects = [part for part in suspects if part.part in CONTROLS or part.part == "driver" or _is_bulb(part)]
    deed = _last_deed(done)
    for part in suspects:
        asked_for = part.deed or ("replaced" if part.needed else "")
        part.deed = asked_for if deed == "completed" and asked_for else deed
    return suspects or parts


def _is_bulb(part: Mention) -> bool:
    """A lamp named as a part; 'fixture' and 'light' in a report only say where."""
    return part.part == "lamp" and part.said.lower().rstrip("s") in ("lamp", "bulb")


def _found_bad(main: Mention | None, done: _Text) -> bool:
    """The text says of the part that it had failed; a crew that says 'needs new' says the same."""
    if main is None:
        return False
    same = [part for part in done.account.mentions if part.part == main.part and not part.sound]
    return main.bad or any(part.bad or part.needed for part in same)


def _main_part(parts: list[Mention], symptom: str) -> Mention | None:
    """The part that the fault was in: a replaced control first, else what was worked on hardest and last."""

    best: Mention | None = None
    for part in parts:
        if best is None:
            best = part
            continue
        ahead, behind = _weight(part, symptom), _weight(best, symptom)
        # Of equals, the last statement counts; within one statement, what it names first.
        if ahead > behind or (ahead == behind and part.deed_clause != best.deed_clause):
            best = part
    return best


def _weight(part: Mention, symptom: str) -> tuple[int, int, int]:
    is_control = part.part in CONTROLS
    decisive = is_control and (part.deed == "replaced" or (symptom in _CLOCKED and bool(part.deed)))
    decisive = decisive or (symptom == "damage" and part.part == "pole")
    named = part.part not in ("control", "other")
    return int(decisive), _RANK.get(part.deed, 0) * 2 + int(part.bad) + int(is_control), int(named)


def _component(main: Mention | None) -> str:
    if main is None:
        return "unknown"
    return "control" if main.part in CONTROLS else main.part


def _deed(main: Mention | None, reported: _Text, done: _Text) -> str:
    """The action in the words of the findings table."""
    deed = main.deed if main else ""
    if not deed and (main is None or _last_deed(done) == "bypassed"):
        deed = _last_deed(done)
    outcomes = done.account.outcomes
    if "duplicate" in outcomes and deed in ("", "completed"):
        return "duplicate"
    if _is_planned(reported, done):
        return "planned"
    if deed in ("", "completed"):
        for outcome in reversed(outcomes):
            if outcome in _OUTCOMES:
                return outcome
        if main and main.needed and done.account.mentions:
            return "referred"
    return "unknown" if deed in ("", "completed") else deed


def _last_deed(done: _Text) -> str:
    """The last deed that names no part; 'done' and 'completed' count only when nothing else was said."""
    bare = done.account.bare_deeds
    return next((deed for deed in reversed(bare) if deed != "completed"), bare[-1] if bare else "")


def _is_planned(reported: _Text, done: _Text) -> bool:
    if "planned" in reported.account.outcomes:
        return True
    return "planned" in done.account.outcomes and not _reports_a_fault(reported)


def _reports_a_fault(reported: _Text) -> bool:
    return any(item.layer in ("symptom", "lit") and item.value != "none" for item in reported.found)


def _units(main: Mention | None, reported: _Text) -> int:
    if main is None:
        return 1
    if main.count:
        return main.count
    if main.said.lower().endswith("s") and not main.said.lower().endswith("ss"):
        return _lights_counted(reported.words)
    return 1


def _lights_counted(problem: Words) -> int:
    """'6 pole lights on' and then 'replaced photocells': six."""
    for place, word in enumerate(problem.words):
        if word in ("light", "lamp", "pole", "fixture", "photocell", "wallpack"):
            count = count_before(problem, place)
            if count:
                return count
    return 1


def _helpers(parts: list[Mention], main: Mention | None) -> list[Mention]:
    """Other parts, of a kind that can cause the same darkness, that were replaced or repaired with the main one."""
    if main is None:
        return []
    return [
        part
        for part in parts
        if part.part in _RIVALS
        and _component(part) != _component(main)
        and part.deed in ("replaced", "repaired")
    ]


def _counted_extras(parts: list[Mention], main: Mention | None, first: Reading) -> Iterable[Reading]:
    """'17 lamps, 6 photo controls': a part with a count of its own is a fault of its own."""
    seen = {first.component}
    for part in parts:
        component = _component(part)
        counted = part.count and part.count > 1 and part.count != first.units
        if part is main or component in seen or component in ("other", "unknown") or not counted:
            continue
        seen.add(component)
        yield Reading(
            symptom=first.symptom,
            component=component,
            kind=part.part if part.part in CONTROLS[:-1] else "",
            action="unknown" if part.deed in ("", "completed") else part.deed,
            cause=first.cause,
            units=part.count or 1,
            alone=True,
            bad=part.bad,
            reported=first.reported,
            evidence=f"{part.count} {part.said} {part.deed}".strip(),
        )


def _part_said(main: Mention | None, done: _Text) -> str:
    if main is None:
        said = done.account.said
        return ", ".join(said.values())
    words = [main.said]
    if main.deed:
        words.insert(0, main.deed)
    if main.bad:
        words.append("(found bad)")
    if main.needed:
        words.append("(needed)")
    return " ".join(words)
