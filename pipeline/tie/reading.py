"""What a call's words say: one reading per fault.

Read once for every distinct pair of problem and action text; never fails on a text. What the crew
did counts before what was reported; within each, the last decisive statement counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from pipeline.lexicon import Lexicon
from pipeline.lexicon.phrases import Found
from pipeline.lexicon.words import Words
from pipeline.tie.accounts import CONTROLS, Account, Mention
from pipeline.tie.counts import count_before
from pipeline.tie.dates import dates_in
from pipeline.tie.lamp_share import LampShare, share_of_lamps, shares_in
from pipeline.tie.log_order import oldest_first
from pipeline.tie.mentions import account_of
from pipeline.tie.parts import component_of, main_part, only_named, parts_of, rivals_of
from pipeline.tie.shifts import Shift, shift_in
from pipeline.tie.symptoms import cause_of, symptom_of, tested_dark

_REMEMBERED = 10_000
WRONG_TIME = "wrong time"
_BARE_WORDS = 4  # of a closing text that is no more than a list of parts
_OUTCOMES = ("duplicate", "none found", "referred")


class Reading(NamedTuple):
    """One fault as its texts tell it.

    ``kind`` is the kind of control named, if any; ``alone`` is false where other parts were worked on
    with it; ``bad`` is true where the text says that the part itself had failed; ``reported`` is true
    where the problem text, not only the action, names a symptom. ``share_of_lamps`` is the share of the
    place's lamps that the fault concerns; ``burning_shift_h`` and ``dark_shift_h`` are the hours a night by
    which lights of the wrong time burn outside their hours or are dark within them (``burning_edge``: 'on',
    before they should come on; 'off', after they should go off). None and '' where it is not said. ``tested_dark``:
    the crew covered the eye and saw the lamps come on.
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
    share_of_lamps: float | None = None
    burning_shift_h: float | None = None
    dark_shift_h: float | None = None
    burning_edge: str = ""
    tested_dark: bool = False


class _Text(NamedTuple):
    """A text, split and searched once. Nothing may change it: it is shared by all calls that say the same."""

    words: Words
    found: tuple[Found, ...]
    account: Account
    shift: Shift | None
    shares: tuple[LampShare, ...]


class Reader:
    """Reads calls with one lexicon; a text that was seen before is not searched again."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._lexicon = lexicon
        self._search = lru_cache(maxsize=_REMEMBERED)(self._search_text)
        self.read = lru_cache(maxsize=_REMEMBERED)(self._read)

    def _read(self, problem: str | None, action: str | None, category: str | None) -> tuple[Reading, ...]:
        """The faults of one call, the main one first; always at least one."""
        return _read(self._search(problem), self._search(action), self._search(category))

    def names_a_part(self, text: str) -> bool:
        """Whether a text speaks of a part at all."""
        return bool(self._search(text).account.mentions)

    def _search_text(self, text: str | None) -> _Text:
        words = self._lexicon.split(_as_told(text))
        found = self._lexicon.find(words)
        return _Text(
            words, tuple(found), account_of(words, found), shift_in(words), tuple(shares_in(words, found))
        )


def _read(reported: _Text, done: _Text, category: _Text) -> tuple[Reading, ...]:
    symptom, symptom_said = symptom_of(reported, done, category)
    shift = _shift(reported, done, symptom)
    if shift and symptom != WRONG_TIME:
        symptom, symptom_said = WRONG_TIME, shift.said
    share = share_of_lamps(reported.shares, done.shares, symptom)
    cause, cause_said = cause_of(reported, done, symptom)
    parts = parts_of(reported.account, done.account)
    if not parts and len(done.words.words) <= _BARE_WORDS:
        parts = only_named(done.account)
    main = main_part(parts, symptom)
    because = f"cause: {cause_said}" if cause_said else ""
    shifted = shift.said if shift and shift.said not in symptom_said else ""
    said = (symptom_said, share.said if share else "", shifted, _part_said(main, done), because)
    evidence = "; ".join(filter(None, said))
    first = Reading(
        symptom=symptom,
        component=component_of(main),
        kind=_kind(main),
        action=_deed(main, reported, done, cause),
        cause=cause,
        units=_units(main, reported),
        alone=not rivals_of(parts, main),
        bad=_found_bad(main, done),
        reported=_reports_a_fault(reported),
        evidence=evidence or "the text says nothing of it",
        share_of_lamps=share.share if share else None,
        burning_shift_h=shift.burning_h if shift else None,
        dark_shift_h=shift.dark_h if shift else None,
        burning_edge=shift.burning_edge if shift else "",
        tested_dark=tested_dark(done),
    )
    return (first, *_counted_extras(parts, main, first))


def _shift(reported: _Text, done: _Text, symptom: str) -> Shift | None:
    """A shift that was reported makes the fault one of time, and so does a clock that the crew found off by hours;
    other hours of the crew's ('2 hours late') count only on such a fault."""
    found = done.shift if done.shift and (symptom == WRONG_TIME or done.shift.of_clock) else None
    return reported.shift or found


def _kind(part: Mention | None) -> str:
    """The kind of control that the part names, if it does."""
    return part.part if part and part.part in CONTROLS[:-1] else ""


def _as_told(text: str | None) -> str | None:
    """The text in the order of its entries, its dates blanked, so that their digits are not read as counts."""
    dates = dates_in(text) if text else []
    if not text or not dates:
        return text
    blanked = text
    for (start, end), _ in dates:
        blanked = blanked[:start] + " " * (end - start) + blanked[end:]
    return oldest_first(blanked, dates)


def _found_bad(main: Mention | None, done: _Text) -> bool:
    """The text says of the part that it had failed; a crew that says 'needs new' says the same."""
    if main is None:
        return False
    same = [part for part in done.account.mentions if part.part == main.part and not part.sound]
    return main.bad or any(part.bad or part.needed for part in same)


def _deed(main: Mention | None, reported: _Text, done: _Text, cause: str) -> str:
    """The action in the words of the findings table."""
    deed = main.deed if main else ""
    if deed == "bypassed" and cause == "bypass":  # found so, and what was done of it is told by itself
        deed = done.account.last_deed() or deed
    if not deed and (main is None or done.account.last_deed() == "bypassed"):
        deed = done.account.last_deed()
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
        if done.account.mentions and not done.account.mentioned():
            return "none found"  # every part that the crew speaks of was sound
        if done.account.checked and not outcomes and not (main and main.bad):
            return "none found"  # a check, and not a word of anything done
    return "unknown" if deed in ("", "completed") else deed


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


def _counted_extras(parts: list[Mention], main: Mention | None, first: Reading) -> Iterable[Reading]:
    """'17 lamps, 6 photo controls': a part with a count of its own is a fault of its own."""
    seen = {first.component}
    for part in parts:
        component = component_of(part)
        counted = part.count and part.count > 1 and part.count != first.units
        if part is main or component in seen or component in ("other", "unknown") or not counted:
            continue
        seen.add(component)
        yield Reading(
            symptom=first.symptom,
            component=component,
            kind=_kind(part),
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
