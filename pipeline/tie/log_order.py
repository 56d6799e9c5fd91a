"""Comments kept as a log, the newest entry first, put into the order in which things were done."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from pipeline.tie.dates import Span

# What may stand before the date that heads an entry: the end of a line, of a sentence or of a tag, or a rule.
_ENDS_AN_ENTRY = "\n\r>;|.-*"
_WITHIN = " \t([{"

Dated = list[tuple[Span, tuple[date, ...]]]


def oldest_first(text: str, dates: Dated) -> str:
    """The text with its dated entries turned round where their dates fall from each to the next, whichever way an
    ambiguous one is read; any other text as it is. What stands before the first entry stays there."""
    entries = [(start, days) for (start, _), days in dates if _heads_an_entry(text, start)]
    if len(entries) < 2 or not all(min(newer) >= max(older) for (_, newer), (_, older) in pairwise(entries)):
        return text
    if min(entries[0][1]) <= max(entries[-1][1]):
        return text
    starts = [start for start, _ in entries] + [len(text)]
    pieces = [text[start:end] for start, end in pairwise(starts)]
    return text[: starts[0]] + " . ".join(reversed(pieces))


def _heads_an_entry(text: str, start: int) -> bool:
    before = text[max(start - 40, 0) : start].rstrip(_WITHIN)
    return not before.strip() or before[-1] in _ENDS_AN_ENTRY
