"""Stretches of time that a text names: '2 hours', 'half an hour', '1 1/2 hrs', '20 to 30 minutes'."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.lexicon.words import Words
from pipeline.tie.counts import whole_number

_HOURS = frozenset(("hour", "hours", "hr", "hrs", "h"))
_MINUTES = frozenset(("minute", "minutes", "min", "mins"))
_UNITS = _HOURS | _MINUTES
_LONGEST_H = 24.0


class TimeSpan(NamedTuple):
    """Hours, over 0 and at most 24, and the words from ``first`` up to but not with ``last`` that name them."""

    hours: float
    first: int
    last: int


def names_a_unit(words: Words) -> bool:
    """Whether a text holds a word for hours or minutes at all."""
    return not _UNITS.isdisjoint(words.words)


def time_spans(words: Words) -> Iterator[TimeSpan]:
    """Every stretch of hours or minutes in a text."""
    for at, word in enumerate(words.words):
        if word in _HOURS or word in _MINUTES:
            amount, first = _amount(words, at)
            if amount is None:
                continue
            last = at + 1
            if words.words[last : last + 3] == ("and", "a", "half"):
                amount, last = amount + 0.5, last + 3
            hours = amount if word in _HOURS else amount / 60
            if 0 < hours <= _LONGEST_H:
                yield TimeSpan(hours, first, last)


def _amount(words: Words, unit: int) -> tuple[float | None, int]:
    """How many of the unit, and the word where that begins."""
    said = words.words
    before = said[unit - 1] if unit else ""
    if before in ("a", "an"):
        return (0.5, unit - 2) if unit > 1 and said[unit - 2] == "half" else (1.0, unit - 1)
    if before == "half":
        whole = _whole_and_a_half(said, unit)
        return whole or (0.5, unit - 1)
    if before == "of" and unit > 1 and said[unit - 2] in ("couple", "pair"):
        return 2.0, unit - 2
    if before in ("couple", "pair"):
        return 2.0, unit - 1
    if before.isdecimal():
        return _in_digits(words, unit)
    number = whole_number(before) or 0
    return (float(number), unit - 1) if number else (None, unit)


def _in_digits(words: Words, unit: int) -> tuple[float | None, int]:
    said = words.words
    if unit > 1 and words.text[words.ends[unit - 2] : words.starts[unit - 1]] == ".":
        return _decimal(said, unit)
    if unit > 2 and said[unit - 2] == "/":
        return _fraction(said, unit)
    number = whole_number(said[unit - 1])
    return _range(words, unit, number) if number else (None, unit)


def _whole_and_a_half(said: tuple[str, ...], unit: int) -> tuple[float, int] | None:
    """'one and a half hours'."""
    if unit > 3 and said[unit - 3 : unit - 1] == ("and", "a"):
        number = whole_number(said[unit - 4])
        return (number + 0.5, unit - 4) if number else None
    return None


def _decimal(said: tuple[str, ...], unit: int) -> tuple[float | None, int]:
    """'1.5 hours', which stands as two words."""
    whole, part = said[unit - 2], said[unit - 1]
    if whole.isdecimal() and len(whole) + len(part) <= 5:
        return float(f"{whole}.{part}"), unit - 2
    return None, unit


def _fraction(said: tuple[str, ...], unit: int) -> tuple[float | None, int]:
    """'1/2 hour', '1 1/2 hours'."""
    some, every = whole_number(said[unit - 3]), whole_number(said[unit - 1])
    if not some or not every or some >= every:
        return None, unit
    whole = whole_number(said[unit - 4]) if unit > 3 and said[unit - 4].isdecimal() else None
    return (whole or 0) + some / every, unit - 3 - bool(whole)


def _range(words: Words, unit: int, number: int) -> tuple[float, int]:
    """'1-2 hours' and '1 to 2 hours': the middle."""
    said = words.words
    if unit > 1 and said[unit - 2].isdecimal():
        joint = words.text[words.ends[unit - 2] : words.starts[unit - 1]]
        if joint.strip() == "-" and len(said[unit - 2]) <= 2:
            return (int(said[unit - 2]) + number) / 2, unit - 2
    if (
        unit > 2
        and said[unit - 2] in ("to", "or")
        and said[unit - 3].isdecimal()
        and len(said[unit - 3]) <= 2
    ):
        return (int(said[unit - 3]) + number) / 2, unit - 3
    return float(number), unit - 1
