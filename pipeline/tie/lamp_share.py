"""What share of a place's lamps a fault concerns, where its words say so: 'half of the poles', '3 of 8 lights'.

A share needs lamps, or ground that they light, as its noun ('half of the lot', never 'half an hour'); and it counts
only for what is said of it: '3 of 8 repaired' is no fault of 3 of 8.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from pipeline.lexicon.phrases import Found
from pipeline.lexicon.words import Words
from pipeline.tie.accounts import DEEDS
from pipeline.tie.parts import CLOCKED
from pipeline.tie.symptoms import denied
from pipeline.tie.written_shares import WrittenShare, may_hold_a_share, written_shares

_GROUND = frozenset(("side", "row", "rows", "circuit", "circuits", "them", "lighting"))
# 'half an hour', 'half the night', 'half of the work': a word that makes it no share of lamps.
_OTHERWISE = frozenset((
    "hour", "hours", "hr", "hrs", "day", "night", "nights", "time", "week", "year", "inch", "mile", "way",
    "past", "minutes", "min", "power", "work", "parts", "bright", "brightness", "output", "voltage", "phases",
))  # fmt: skip
_REACH = 5


class LampShare(NamedTuple):
    """A share (over 0, at most 1), its words, and the symptom said of it ('' where none is)."""

    share: float
    said: str
    symptom: str


class _Searched(NamedTuple):
    words: Words
    found: Sequence[Found]


def share_of_lamps(
    reported: Iterable[LampShare], done: Iterable[LampShare], symptom: str
) -> LampShare | None:
    """The one share that the texts' shares give for a symptom; None where they give none, or several.

    What was reported counts before what the crew saw; of the crew only what it says was at fault.
    """
    for shares in (reported, [share for share in done if share.symptom]):
        said = [item for item in shares if _alike(item.symptom, symptom)]
        if said:
            return said[0] if len({item.share for item in said}) == 1 else None
    return None


def _alike(said: str, symptom: str) -> bool:
    """A share said of lamps that burn says nothing of dark ones, and the other way round."""
    return said == "" or (said in CLOCKED) == (symptom in CLOCKED)


def shares_in(words: Words, found: Sequence[Found]) -> Iterator[LampShare]:
    """The shares of lamps that a text says are at fault."""
    if not may_hold_a_share(words):
        return
    text = _Searched(words, found)
    for written in written_shares(words):
        names_lamps = _names_lamps(text, written)
        if names_lamps is False or (written.needs_lamps and not names_lamps) or _struck_out(text, written):
            continue
        symptom = _fault_said(text, written)
        if symptom is None or not (names_lamps or symptom):
            continue
        yield LampShare(written.share, text.words.said(written.first, written.last), symptom)


def _names_lamps(text: _Searched, written: WrittenShare) -> bool | None:
    """True where lamps or their ground follow in the clause, None where no noun does, False where it is another."""
    words = text.words
    end = min(written.last + _REACH, len(words.words))
    lamps = {item.first for item in text.found if _is_lamps(item)}
    clause = words.clauses[written.last - 1]
    for at in range(written.last, end):
        if words.clauses[at] != clause or any(item.first == at and _is_fault(item) for item in text.found):
            return None
        if words.words[at] in _OTHERWISE:
            return False
        if at in lamps or words.words[at] in _GROUND:
            return True
        if any(item.first == at and item.layer == "component" and not _is_lamps(item) for item in text.found):
            return False  # 'one side of the contactor', '3 of 8 photocells'
    return None


def _is_lamps(item: Found) -> bool:
    if item.layer == "component":
        return item.value in ("lamp", "pole")
    return (item.layer == "place" and item.value == "outdoors") or (item.layer, item.value) == (
        "lighting",
        "outdoor",
    )


def _is_fault(item: Found) -> bool:
    return item.layer == "symptom" and item.value != "none"


def _struck_out(text: _Searched, written: WrittenShare) -> bool:
    """'not half of the lights', 'no longer every other one'."""
    before = text.words.words[max(written.first - 3, 0) : written.first]
    return "longer" in before or bool(before and before[-1] in ("not", "never"))


def _fault_said(text: _Searched, written: WrittenShare) -> str | None:
    """The symptom said of a share: what follows in its sentence, else what the text says at all; '' where a fault of
    no named kind is. None where what follows is work done, or that all is well."""
    sentence = text.words.sentences[written.first]
    follows = sorted(
        (
            item
            for item in text.found
            if item.first >= written.last and text.words.sentences[item.first] == sentence
        ),
        key=lambda item: (item.first, item.layer not in ("symptom", "lit")),
    )
    lit = False
    for item in follows:
        if item.layer == "symptom":
            return None if item.value == "none" or denied(text.found, item) else _named(item)
        lit = lit or item.layer == "lit"
        if item.layer == "action" and item.value in (*DEEDS, "none found", "duplicate"):
            return None
        if item.layer == "state" and item.value in ("sound", "checked"):
            return None
        if item.layer == "state" and item.value in ("bad", "need"):
            return ""
    if lit:
        return "day burning"
    earlier = [item for item in text.found if _is_fault(item) and item.first < written.first]
    return _named(earlier[-1]) if earlier else ""


def _named(item: Found) -> str:
    return "" if item.value == "unclear" else item.value
