"""What a register's removal_reason means: how a control's life ended, read with the matcher that reads calls.

A reason may say several things: a stated failure goes before planned work, that before damage, that before a plain
removal. A reason that denies a failure ("did not fail") states a removal. Where a failure stands beside a denial that
belongs to nothing ("failed: no"), or no word is known, the reason has no meaning here, and the person is told.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from textwrap import shorten

from pipeline.lexicon.phrases import PhraseBook
from pipeline.lexicon.words import Words, split_words
from pipeline.numerals import count_text

FAILED, PLANNED, DAMAGE, REMOVED = "failed", "planned", "damage", "removed"

_FORMS = {
    "fail": "failed fails failing failure failures",
    "plan": "planned plans planning",
    "schedule": "scheduled",
    "upgrade": "upgraded upgrades upgrading",
    "retrofit": "retrofitted retrofits retrofitting",
    "campaign": "campaigns",
    "renew": "renewed renewal",
    "damage": "damaged damages",
    "vandal": "vandals vandalism vandalised vandalized",
    "steal": "stolen theft",
    "knock": "knocked",
    "remove": "removed removal",
    "move": "moved relocated relocation",
    "demolish": "demolished demolition",
    "close": "closed closure",
    "decommission": "decommissioned decommissioning",
    "work": "working works worked functional functioning",
    "need": "needed required",
    "burn": "burned burnt",
    "lamp": "lamps",
    "no": "none nil",
    "not": "never didn't didnt hasn't hasnt hadn't hadnt wasn't wasnt isn't isnt doesn't doesnt",
}
_FORM_OF = {written: form for form, several in _FORMS.items() for written in several.split()}
MOST_NAMED = 10
_TAKEN = "says nothing that is known: taken as a removal without failure. Write failed, planned, damage or removed."
_DENIALS = ("no", "not", "without")

_PHRASES = {
    FAILED: ("fail", "faulty", "defective", "inoperative", "not work", "not operational", "burn out", "dead"),
    PLANNED: ("plan", "schedule", "campaign", "upgrade", "retrofit", "renew", "preventive", "group replacement"),
    DAMAGE: ("damage", "vandal", "knock down", "knockdown", "hit by", "lightning", "steal", "collision"),
    REMOVED: (
        "remove", "move", "demolish", "close", "decommission", "work", "with lamp", "no longer need", "not need",
        "surplus", "taken out", "taken down",
        "not fail", "not yet fail", "not a fail", "not due to fail", "not because of fail", "no fail",
        "no sign of fail", "no known fail", "without fail", "not plan", "not damage", "no damage", "without damage",
        "not faulty", "not defective", "not dead",
    ),
}  # fmt: skip


@cache
def meaning(reason: str | None) -> str | None:
    """failed, planned, damage or removed; None where the reason says nothing that is known. An empty one: removed."""
    words = split_words(reason, lambda word: _FORM_OF.get(word, word))
    if not (reason or "").strip():
        return REMOVED
    found = _book().find(words)
    said = {each.value for each in found}
    if FAILED in said and _denies(words, [(each.first, each.last) for each in found]):
        return None
    return next((value for value in _PHRASES if value in said), None)


def _denies(words: Words, taken: list[tuple[int, int]]) -> bool:
    """Whether a denial stands in the text that belongs to no phrase."""
    return any(
        word in _DENIALS and not any(first <= place < last for first, last in taken)
        for place, word in enumerate(words.words)
    )


def unknown_reasons(rows: Iterable[tuple[int, str]]) -> list[str]:
    """A sentence for each reason without a meaning, from (row number in controls.csv, reason); beyond MOST_NAMED, one
    for all the others."""
    rows_of: defaultdict[str, list[int]] = defaultdict(list)
    for number, reason in rows:
        if meaning(reason) is None:
            rows_of[reason].append(number)
    named = sorted(rows_of.items(), key=lambda each: (-len(each[1]), each[0]))
    told = [f"'{shorten(reason, 60)}' {_in_rows(found)} {_TAKEN}" for reason, found in named[:MOST_NAMED]]
    rest = [number for _, found in named[MOST_NAMED:] for number in found]
    if rest:
        told.append(f"{count_text(len(named) - MOST_NAMED)} more removal reasons {_in_rows(rest)} {_TAKEN}")
    return told


def _in_rows(numbers: list[int]) -> str:
    shown = ", ".join(str(number) for number in sorted(numbers)[:5])
    more = f" and {count_text(len(numbers) - 5)} more" if len(numbers) > 5 else ""
    return f"(row{'s' if len(numbers) > 1 else ''} {shown}{more})"


@cache
def _book() -> PhraseBook:
    book = PhraseBook()
    for value, phrases in _PHRASES.items():
        for phrase in phrases:
            book.add("removal", value, phrase.split())
    return book
