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
from pipeline.tie.counts import MOST_PIECES, NUMBER_WORDS, whole_number
from pipeline.tie.parts import CLOCKED
from pipeline.tie.symptoms import denied

_PARTS = {
    "half": 1 / 2, "third": 1 / 3, "thirds": 1 / 3, "quarter": 1 / 4, "quarters": 1 / 4,
    "fourth": 1 / 4, "fourths": 1 / 4, "fifth": 1 / 5, "fifths": 1 / 5,
}  # fmt: skip
_EACH = {"other": 2, "second": 2, "third": 3, "fourth": 4, "2": 2, "3": 3, "4": 4}
# A text with none of these holds no share: most texts are done with at this point.
_BEGIN = frozenset(
    (*_PARTS, "every", "alternate", "alternating", "of", "in", "%", "percent", "pct", "/", "side")
)
# A share begins with one of these, or with a number in digits.
_FIRST_WORDS = frozenset((*NUMBER_WORDS, "one", *_PARTS, "every", "alternate", "alternating"))
_ORDINAL = ("nd", "rd", "th")
_ONE_SIDE = 0.5  # of two alike: assumption of this project, no source
_LINKS = frozenset(("of", "the", "our", "these", "those", "all", "total", "out"))
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


class _Written(NamedTuple):
    share: float
    first: int
    last: int
    needs_lamps: bool  # False: 'one side', '3 of 8' may stand without a noun where a fault is said of them


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
    if _BEGIN.isdisjoint(words.words):
        return
    text = _Searched(words, found)
    for written in _written(words):
        names_lamps = _names_lamps(text, written)
        if names_lamps is False or (written.needs_lamps and not names_lamps) or _struck_out(text, written):
            continue
        symptom = _fault_said(text, written)
        if symptom is None or not (names_lamps or symptom):
            continue
        yield LampShare(written.share, text.words.said(written.first, written.last), symptom)


def _written(words: Words) -> Iterator[_Written]:
    """Every share as written, whatever it is a share of."""
    taken = 0
    for at in range(len(words.words)):
        if at < taken or not (words.words[at] in _FIRST_WORDS or words.words[at].isdecimal()):
            continue
        for form in (_counted, _percent, _slashed, _part, _each, _side):
            written = form(words, at)
            if written and 0 < written.share <= 1 and _one_clause(words, written):
                yield written
                taken = written.last
                break


def _one_clause(words: Words, written: _Written) -> bool:
    return words.clauses[written.first] == words.clauses[written.last - 1]


def _word(words: Words, at: int) -> str:
    return words.words[at] if 0 <= at < len(words.words) else ""


def _counted(words: Words, at: int) -> _Written | None:
    """'3 of 8', 'two out of the five', '1 in 3'."""
    some = whole_number(_word(words, at))
    if some is None or _word(words, at - 1) in (
        "pole",
        "#",
        "no",
        "page",
        "part",
        "call",
        "item",
        "visit",
        "phase",
    ):
        return None
    if _word(words, at + 1) == "in":
        every = whole_number(_word(words, at + 2))
        return _Written(some / every, at, at + 3, True) if every and every <= 10 and some < every else None
    last = at + 1 + (_word(words, at + 1) == "out")
    if _word(words, last) != "of":
        return None
    last += 1
    while _word(words, last) in _LINKS:
        last += 1
    every = whole_number(_word(words, last))
    if every is None or not 1 <= some <= every or not 2 <= every <= MOST_PIECES:
        return None
    return _Written(some / every, at, last + 1, False)


def _percent(words: Words, at: int) -> _Written | None:
    if not words.words[at].isdecimal() or _word(words, at + 1) not in ("%", "percent", "pct"):
        return None
    number = int(words.words[at]) if len(words.words[at]) <= 3 else 0
    return _Written(number / 100, at, at + 2, True) if 0 < number < 100 else None


def _slashed(words: Words, at: int) -> _Written | None:
    """'1/3 of the poles'; bare '3/8 lights' may be a day and is left."""
    if _word(words, at + 1) != "/" or _word(words, at + 3) not in ("of", "the"):
        return None
    some, every = whole_number(_word(words, at)), whole_number(_word(words, at + 2))
    return _Written(some / every, at, at + 3, True) if some and every and some < every <= 12 else None


def _part(words: Words, at: int) -> _Written | None:
    """'half', 'a third of', 'two thirds of'."""
    part = _PARTS.get(words.words[at])
    if part is None:
        return None
    if words.words[at] == "half":
        return _Written(part, at, at + 1, True)
    times = 1 if _word(words, at - 1) == "a" else whole_number(_word(words, at - 1))
    if _word(words, at + 1) != "of" or not times:
        return None
    return _Written(times * part, at - 1, at + 1, True)


def _each(words: Words, at: int) -> _Written | None:
    """'every other light', 'every 3rd pole', 'alternate fixtures'."""
    if words.words[at] in ("alternate", "alternating"):
        return _Written(1 / 2, at, at + 1, True)
    if words.words[at] != "every":
        return None
    every = _EACH.get(_word(words, at + 1))
    digits = _word(words, at + 1).isdecimal()
    if every is None or (digits and _word(words, at + 2) not in _ORDINAL):
        return None
    return _Written(1 / every, at, at + 2 + digits, True)


def _side(words: Words, at: int) -> _Written | None:
    """'one side of the lot'; 'the east side' may be any share, and is left."""
    one = words.words[at] in ("one", "1") and _word(words, at + 1) in ("side", "half")
    return _Written(_ONE_SIDE, at, at + 2, _word(words, at + 2) == "of") if one else None


def _names_lamps(text: _Searched, written: _Written) -> bool | None:
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


def _struck_out(text: _Searched, written: _Written) -> bool:
    """'not half of the lights', 'no longer every other one'."""
    before = text.words.words[max(written.first - 3, 0) : written.first]
    return "longer" in before or bool(before and before[-1] in ("not", "never"))


def _fault_said(text: _Searched, written: _Written) -> str | None:
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
