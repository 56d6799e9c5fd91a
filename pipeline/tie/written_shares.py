"""Shares as texts write them, whatever they are shares of: '3 of 8', 'half', 'every other', '1/3 of the'."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.lexicon.words import Words
from pipeline.tie.counts import MOST_PIECES, NUMBER_WORDS, whole_number

_PARTS = {
    "half": 1 / 2, "third": 1 / 3, "thirds": 1 / 3, "quarter": 1 / 4, "quarters": 1 / 4,
    "fourth": 1 / 4, "fourths": 1 / 4, "fifth": 1 / 5, "fifths": 1 / 5,
}  # fmt: skip
_EACH = {"other": 2, "second": 2, "third": 3, "fourth": 4, "2": 2, "3": 3, "4": 4}
# A text with none of these holds no share.
_BEGIN = frozenset(
    (*_PARTS, "every", "alternate", "alternating", "of", "in", "%", "percent", "pct", "/", "side")
)
# A share begins with one of these, or with a number in digits.
_FIRST_WORDS = frozenset((*NUMBER_WORDS, "one", *_PARTS, "every", "alternate", "alternating"))
_ORDINAL = ("nd", "rd", "th")
_ONE_SIDE = 0.5  # of two alike: assumption of this project, no source
_LINKS = frozenset(("of", "the", "our", "these", "those", "all", "total", "out"))


class WrittenShare(NamedTuple):
    """A share (over 0, at most 1) and the words from ``first`` up to but not with ``last`` that write it."""

    share: float
    first: int
    last: int
    needs_lamps: bool  # False: 'one side', '3 of 8' may stand without a noun where a fault is said of them


def may_hold_a_share(words: Words) -> bool:
    """Whether a text holds a word that a share needs: most texts are done with at this point."""
    return not _BEGIN.isdisjoint(words.words)


def written_shares(words: Words) -> Iterator[WrittenShare]:
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


def _one_clause(words: Words, written: WrittenShare) -> bool:
    return words.clauses[written.first] == words.clauses[written.last - 1]


def _word(words: Words, at: int) -> str:
    return words.words[at] if 0 <= at < len(words.words) else ""


def _counted(words: Words, at: int) -> WrittenShare | None:
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
        return (
            WrittenShare(some / every, at, at + 3, True) if every and every <= 10 and some < every else None
        )
    last = at + 1 + (_word(words, at + 1) == "out")
    if _word(words, last) != "of":
        return None
    last += 1
    while _word(words, last) in _LINKS:
        last += 1
    every = whole_number(_word(words, last))
    if every is None or not 1 <= some <= every or not 2 <= every <= MOST_PIECES:
        return None
    return WrittenShare(some / every, at, last + 1, False)


def _percent(words: Words, at: int) -> WrittenShare | None:
    if not words.words[at].isdecimal() or _word(words, at + 1) not in ("%", "percent", "pct"):
        return None
    number = int(words.words[at]) if len(words.words[at]) <= 3 else 0
    return WrittenShare(number / 100, at, at + 2, True) if 0 < number < 100 else None


def _slashed(words: Words, at: int) -> WrittenShare | None:
    """'1/3 of the poles'; bare '3/8 lights' may be a day and is left."""
    if _word(words, at + 1) != "/" or _word(words, at + 3) not in ("of", "the"):
        return None
    some, every = whole_number(_word(words, at)), whole_number(_word(words, at + 2))
    return WrittenShare(some / every, at, at + 3, True) if some and every and some < every <= 12 else None


def _part(words: Words, at: int) -> WrittenShare | None:
    """'half', 'a third of', 'two thirds of'."""
    part = _PARTS.get(words.words[at])
    if part is None:
        return None
    if words.words[at] == "half":
        return WrittenShare(part, at, at + 1, True)
    times = 1 if _word(words, at - 1) == "a" else whole_number(_word(words, at - 1))
    if _word(words, at + 1) != "of" or not times:
        return None
    return WrittenShare(times * part, at - 1, at + 1, True)


def _each(words: Words, at: int) -> WrittenShare | None:
    """'every other light', 'every 3rd pole', 'alternate fixtures'."""
    if words.words[at] in ("alternate", "alternating"):
        return WrittenShare(1 / 2, at, at + 1, True)
    if words.words[at] != "every":
        return None
    every = _EACH.get(_word(words, at + 1))
    digits = _word(words, at + 1).isdecimal()
    if every is None or (digits and _word(words, at + 2) not in _ORDINAL):
        return None
    return WrittenShare(1 / every, at, at + 2 + digits, True)


def _side(words: Words, at: int) -> WrittenShare | None:
    """'one side of the lot'; 'the east side' may be any share, and is left."""
    one = words.words[at] in ("one", "1") and _word(words, at + 1) in ("side", "half")
    return WrittenShare(_ONE_SIDE, at, at + 2, _word(words, at + 2) == "of") if one else None
