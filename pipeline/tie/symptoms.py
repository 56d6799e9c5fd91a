"""The symptom and the cause that a call's words give."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from pipeline.lexicon.phrases import Found
from pipeline.lexicon.words import Words
from pipeline.tie.accounts import Account

# Where a text holds several, the first in this order counts: 'out' and 'damage' are said most loosely.
SYMPTOMS = ("wrong time", "day burning", "cycling", "flicker", "dim", "damage", "circuit out", "out")
_REACH = 3
_DARK = ("out", "circuit out", "dim")
_COVERED = "covered eye"
_COVERING = ("covered", "covering", "cover", "covers", "taped")
_CAME = ("came", "come", "comes", "turned", "turns")


class Searched(Protocol):
    """A text split into words, with the phrases found in it."""

    @property
    def words(self) -> Words: ...
    @property
    def found(self) -> tuple[Found, ...]: ...
    @property
    def account(self) -> Account: ...


def symptom_of(reported: Searched, done: Searched, category: Searched) -> tuple[str, str]:
    """The symptom and the words that gave it: what was reported, else what the crew saw, else the category.

    Damage that only the crew speaks of ('rodent damage to wire') is a cause: it counts last.
    """
    told, seen, filed = _said(reported), _said(done), _said(category)
    damage = {key: words for key, words in seen.items() if key == "damage"}
    loosely = _loosely(reported, told)
    for said in (
        told,
        {key: words for key, words in seen.items() if key != "damage"},
        loosely,
        damage,
        filed,
    ):
        for symptom in SYMPTOMS:
            if symptom in said:
                return symptom, said[symptom]
    return "unknown", ""


def _loosely(text: Searched, told: dict[str, str]) -> dict[str, str]:
    """'not working' is out, and 'lights on' is day burning, where nothing else speaks."""
    if "unclear" in told:
        return {"out": told["unclear"]}
    lit = next((item for item in text.found if item.layer == "lit"), None)
    return {"day burning": text.words.said(lit.first, lit.last)} if lit else {}


def _said(text: Searched) -> dict[str, str]:
    said: dict[str, str] = {}
    for item in text.found:
        if item.layer == "symptom" and item.value not in said and not denied(text.found, item):
            said[item.value] = text.words.said(item.first, item.last)
    return said


def cause_of(reported: Searched, done: Searched, symptom: str) -> tuple[str, str]:
    """The cause that is not the control's own, and its words; the crew's word counts before the report's."""
    for text in (done, reported):
        causes = [
            item
            for item in text.found
            if item.layer == "cause"
            and item.value != "none"
            and not _cleared(text, item)
            and not (item.value == _COVERED and _cannot_be_its_cover(text, item, symptom))
        ]
        if causes:
            automation = [item for item in causes if item.value == "building automation"]
            last = (automation or causes)[-1]
            return last.value, text.words.said(last.first, last.last)
    if any(outcome == "bypassed" for outcome in _deeds(reported)):
        return "bypass", "bypassed"
    return "", ""


def tested_dark(done: Searched) -> bool:
    """'Covered eye, lights came on': the crew saw by day that the lamps come on in the dark."""
    return any(
        item.layer == "cause" and item.value == _COVERED and _is_test(done, item) for item in done.found
    )


def _cannot_be_its_cover(text: Searched, item: Found, symptom: str) -> bool:
    """A cover over the eye makes lamps burn; it keeps none dark, unless it is light that shines on it."""
    return _is_test(text, item) or (
        symptom in _DARK and "shining" not in text.words.words[item.first : item.last]
    )


def _is_test(text: Searched, item: Found) -> bool:
    """'Covered eye to test', 'put tape over eye and light came on': an act of the crew's, not what it found."""
    words, sentences = text.words.words, text.words.sentences
    said = words[item.first : item.last]
    acted = said[0] in _COVERING or (
        said[0] in ("over", "tape") and "put" in words[max(item.first - 2, 0) : item.first + 1]
    )
    if not acted:
        return False
    sentence = sentences[item.first]
    seen = any(
        other.layer == "lit" or (other.layer == "state" and other.value in ("checked", "sound"))
        for other in text.found
        if sentences[other.first] == sentence
    )
    came_on = any(
        word in _CAME and after == "on" and number == sentence
        for word, after, number in zip(words, words[1:], sentences, strict=False)
    )
    return seen or came_on


def _deeds(text: Searched) -> list[str]:
    return [item.value for item in text.found if item.layer == "action"]


def denied(found: Iterable[Found], item: Found) -> bool:
    """'no flicker': struck out by the word before."""
    return any(
        other.layer == "state" and other.value == "not" and other.last == item.first for other in found
    )


def _cleared(text: Searched, item: Found) -> bool:
    """'EMS schedule ok', 'not in hand': struck out before, or found sound after, in the same clause."""
    clause = text.words.clauses[item.first]
    for other in text.found:
        if other.layer != "state" or text.words.clauses[other.first] != clause:
            continue
        if other.value == "not" and 0 <= item.first - other.last < _REACH:
            return True
        if other.value == "sound" and 0 <= other.first - item.last < _REACH:
            return True
    return False
