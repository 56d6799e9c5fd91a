"""Find phrases in a text's words: a tree of words, walked once from each word.

A phrase is words in a row; ``_`` in it stands for up to LONGEST_GAP words of the same clause.
The walk from one word looks at no more than a fixed stretch, so the time is proportional to the text.
"""

from __future__ import annotations

from bisect import bisect_right
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
    """Phrases and what each means, by layer.

    ``remembered``: for how many different clauses to keep what was found. Words of no phrase are all alike to it, so
    that clauses that differ in a name or a number are one.
    """

    def __init__(self, remembered: int = 0) -> None:
        self._root = _Node()
        self._vocabulary: set[str] = set()
        self._remembered = remembered
        self._seen: dict[tuple[str, ...], tuple[Found, ...]] = {}

    def add(self, layer: str, value: str, words: Iterable[str]) -> None:
        """Learn a phrase; a later one of the same words in the same layer takes its place."""
        node = self._root
        for word in words:
            node = node.after.setdefault(word, _Node())
            self._vocabulary.add(word)
        node.means[layer] = value
        self._seen.clear()

    def find(self, text: Words) -> list[Found]:
        """The phrases of a text, in order; within a layer the longest wins and none overlap."""
        words, clauses = text.words, text.clauses
        roots = self._root.after.keys()
        if roots.isdisjoint(words):
            return []
        found: list[Found] = []
        vocabulary = self._vocabulary
        first, count = 0, len(words)
        while first < count:
            last = count if clauses[-1] == clauses[first] else bisect_right(clauses, clauses[first], first)
            said = words[first:last]
            if not roots.isdisjoint(said):
                clause = (
                    tuple([word if word in vocabulary else "" for word in said]) if self._remembered else said
                )
                found += [
                    Found(layer, value, first + at, first + end)
                    for layer, value, at, end in self._known(clause)
                ]
            first = last
        return found

    def _known(self, clause: tuple[str, ...]) -> tuple[Found, ...]:
        if not self._remembered:
            return self._find(clause)
        found = self._seen.get(clause)
        if found is None:
            if len(self._seen) >= self._remembered:
                self._seen.clear()
            found = self._seen[clause] = self._find(clause)
        return found

    def _find(self, clause: tuple[str, ...]) -> tuple[Found, ...]:
        taken: dict[str, int] = {}
        found: list[Found] = []
        roots = self._root.after
        for first, word in enumerate(clause):
            node = roots.get(word)
            if node is None:
                continue
            longest: dict[str, tuple[int, str]] = {}
            self._walk(node, clause, first + 1, longest)
            for layer, (last, value) in longest.items():
                if first >= taken.get(layer, 0):
                    found.append(Found(layer, value, first, last))
                    taken[layer] = last
        return tuple(found)

    def _walk(
        self, node: _Node, words: tuple[str, ...], place: int, longest: dict[str, tuple[int, str]]
    ) -> None:
        here: _Node | None = node
        gaps: list[tuple[_Node, int]] = []
        while here is not None:
            for layer, value in here.means.items():
                if layer not in longest or place > longest[layer][0]:
                    longest[layer] = (place, value)
            if place >= len(words):
                break
            gap = here.after.get(GAP)
            if gap is not None:
                gaps.append((gap, place))
            here = here.after.get(words[place])
            place += 1
        for gap, begin in reversed(gaps):
            for there in range(begin, min(begin + LONGEST_GAP + 1, len(words))):
                after = gap.after.get(words[there])
                if after is not None:
                    self._walk(after, words, there + 1, longest)
