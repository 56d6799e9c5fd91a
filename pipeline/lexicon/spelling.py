"""The known form of a word: plural and variant forms, and slips in the few words that matter."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from rapidfuzz.distance import OSA

SHORTEST_MENDED, LONGEST_MENDED = 5, 20
_REMEMBERED = 200_000


class Spelling:
    """Gives each distinct word its known form once, and remembers it.

    ``forms`` maps a variant to its known form. ``mended`` are words worth recognising when misspelt;
    ``known`` are words that are themselves; ``lookalikes`` besides draw their own slips to themselves
    ('contracor' is nearer to 'contractor' than to 'contactor').
    """

    def __init__(
        self,
        forms: Mapping[str, str],
        mended: Collection[str],
        known: Collection[str],
        lookalikes: Collection[str] = (),
    ) -> None:
        self._forms = dict(forms)
        self._mended = sorted(mended)
        self._lookalikes = sorted(set(lookalikes) - set(mended))
        self._known = frozenset(known) | frozenset(lookalikes) | frozenset(forms) | frozenset(mended)
        self._seen: dict[str, str] = {}

    def form_of(self, word: str) -> str:
        """The known form of a lower-case word; the word itself where there is none."""
        seen = self._seen.get(word)
        if seen is None:
            if len(self._seen) >= _REMEMBERED:
                self._seen.clear()
            seen = self._seen[word] = self._find(word)
        return seen

    def _find(self, word: str) -> str:
        if word in self._known or not SHORTEST_MENDED <= len(word) <= LONGEST_MENDED:
            return self._forms.get(word, word)
        allowed = 1 if len(word) < 9 else 2
        near = [
            (distance, candidate)
            for candidate in self._mended
            if len(candidate) > SHORTEST_MENDED
            and candidate[0] == word[0]
            and (distance := OSA.distance(word, candidate, score_cutoff=allowed)) <= allowed
        ]
        if not near:
            return self._forms.get(word, word)
        near.sort()
        if any(OSA.distance(word, other, score_cutoff=near[0][0]) < near[0][0] for other in self._lookalikes):
            return self._forms.get(word, word)
        best = near[0][1]
        known_best = self._forms.get(best, best)
        rivals = {self._forms.get(other, other) for distance, other in near if distance == near[0][0]}
        return known_best if rivals == {known_best} else word
