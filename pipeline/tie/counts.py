"""How many pieces a text speaks of: '6 photo controls', 'photocell x 2', 'two lamps'."""

from __future__ import annotations

from pipeline.lexicon.words import Words

NUMBER_WORDS = {
    "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
    "eleven": 11, "twelve": 12, "both": 2,
}  # fmt: skip
# A number before one of these is a size, a rating or an hour, not a count.
_MEASURES = frozenset((
    "w", "watt", "watts", "v", "volt", "volts", "va", "kw", "a", "amp", "amps", "k", "kv", "ft", "foot",
    "feet", "in", "inch", "inches", "h", "hr", "hrs", "hour", "hours", "min", "mins", "minutes", "day",
    "days", "am", "pm", "st", "nd", "rd", "th", "wire", "pin", "phase",
))  # fmt: skip
# A number after one of these is a name.
_NAMES = frozenset((
    "#", "no", "number", "num", "wo", "order", "pole", "ticket", "crm", "case", "call", "ref", "tag",
    "asset", "unit", "room", "lp", "bldg", "building",
))  # fmt: skip
_BETWEEN = 4
MOST_PIECES = 500


def whole_number(word: str) -> int | None:
    """A small number in digits or as a word; None for any other word."""
    if word.isdecimal():
        return int(word) if len(word) <= 3 and not word.startswith("0") else None
    return 1 if word == "one" else NUMBER_WORDS.get(word)


def count_before(text: Words, place: int, earliest: int = 0) -> int | None:
    """The count in front of the word at ``place``: within a few words of its own clause, not before ``earliest``."""
    for at in range(place - 1, max(place - 1 - _BETWEEN, earliest - 1), -1):
        if text.clauses[at] != text.clauses[place]:
            return None
        word = text.words[at]
        if word in ("and", "&", "with", "w/", "or") or word in _NAMES:
            return None
        if word in NUMBER_WORDS:
            return NUMBER_WORDS[word]
        if word.isdecimal() and _is_count(text, at):
            return _of_a_total(text, at, earliest) or int(word)
    return None


def _of_a_total(text: Words, at: int, earliest: int) -> int | None:
    """'3 of 8 lights' and '3 out of the 8 lights': three."""
    before = [word for word in text.words[max(at - 4, earliest) : at] if word not in ("the", "out")]
    some = whole_number(before[-2]) if len(before) > 1 and before[-1] == "of" else None
    return some if some and some <= int(text.words[at]) else None


def count_after(text: Words, place: int) -> int | None:
    """The count behind a part, written 'x 3', 'qty 3' or '(3)'; ``place`` is the word after the part."""
    if place < len(text.words) and text.words[place] in ("x", "qty", "quantity"):
        place += 1
    elif not text.text[text.ends[place - 1] : text.ends[place - 1] + 2].strip().startswith("("):
        return None
    if place < len(text.words) and text.words[place].isdecimal() and _is_count(text, place):
        return int(text.words[place])
    return None


def _is_count(text: Words, at: int) -> bool:
    word = text.words[at]
    if not 1 <= len(word) <= 3 or word.startswith("0") or not 1 <= int(word) <= MOST_PIECES:
        return False
    follows = text.words[at + 1] if at + 1 < len(text.words) else ""
    precedes = text.words[at - 1] if at else ""
    joined = text.text[text.ends[at] : text.ends[at] + 1] in ("-", "/", ".")
    if follows == "pole" and text.words[at + 2 : at + 3] in (
        ("breaker",),
        ("contactor",),
        ("switch",),
        ("relay",),
    ):
        return False
    return follows not in _MEASURES and precedes not in _NAMES and not joined and follows not in ("/", "%")
