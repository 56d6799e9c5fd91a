"""Find phrases in a text's words: a tree of words, walked once from each word.

A phrase is words in a row; ``_`` in it stands for up to LONGEST_GAP words of the same clause.
The walk from one word looks at no more than a fixed stretch, so the time is proportional to the text.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from pipeline.lexicon.words import Words

GAP = "_"
LONGEST_GAP = 3
LONGEST_PHRASE = 8


class Found(NamedTuple):
    """A phrase in a text: words ``first`` up to, not including, ``last`` mean ``value`` in ``layer``."""

    layer: str
    value: str
    first: int
    last: int


@dataclass
class _Node:
    after: dict[str, _Node] = field(default_factory=dict)
    means: dict[str, str] = field(default_factory=dict)


class PhraseBook:
    """Phrases and what each means, by layer."""

    def __init__(self) -> None:
        self._root = _Node()

    def add(self, layer: str, value: str, words: Iterable[str]) -> None:
        """Learn a phrase; a later one of the same words in the same layer takes its place."""
        node = self._root
        for word in words:
            node = node.after.setdefault(word, _Node())
        node.means[layer] = value

    def find(self, text: Words) -> list[Found]:
        """The phrases of a text, in order; within a layer the longest wins and none overlap."""
        taken: dict[str, int] = {}
        found: list[Found] = []
        roots = self._root.after
        for first, word in enumerate(text.words):
            node = roots.get(word)
            if node is None:
                continue
            longest: dict[str, tuple[int, str]] = {}
            self._walk(node, text, first + 1, longest)
            for layer, (last, value) in longest.items():
                if first >= taken.get(layer, 0):
                    found.append(Found(layer, value, first, last))
                    taken[layer] = last
        return found

    def _walk(self, node: _Node, text: Words, place: int, longest: dict[str, tuple[int, str]]) -> None:
        for layer, value in node.means.items():
            if place > longest.get(layer, (0, ""))[0]:
                longest[layer] = (place, value)
        words, clauses = text.words, text.clauses
        clause = clauses[place - 1]
        if place < len(words) and clauses[place] == clause:
            after = node.after.get(words[place])
            if after is not None:
                self._walk(after, text, place + 1, longest)
        gap = node.after.get(GAP)
        if gap is not None:
            for skipped in range(LONGEST_GAP + 1):
                there = place + skipped
                if there >= len(words) or clauses[there] != clause:
                    break
                after = gap.after.get(words[there])
                if after is not None:
                    self._walk(after, text, there + 1, longest)
