"""The known form of a word: plural and variant forms, and slips in the few words that matter."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from rapidfuzz.distance import OSA

SHORTEST_MENDED, LONGEST_MENDED = 5, 20
_REMEMBERED = 200_000


class Remembered(dict[str, str]):
    """The form of each word, looked for once: a plain look-up from then on. Numbers are not kept: few come twice."""

    def __init__(self, find: Callable[[str], str]) -> None:
        super().__init__()
        self._find = find

    def __missing__(self, word: str) -> str:
        form = self._find(word)
        if not word.isdecimal():
            if len(self) >= _REMEMBERED:
                self.clear()
            self[word] = form
        return form


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
        # By their first letter, which a slip is taken to leave alone: a word is held against few of them.
        self._mended: dict[str, list[str]] = {}
        for word in sorted(mended):
            if len(word) > SHORTEST_MENDED:
                self._mended.setdefault(word[0], []).append(word)
        self._lookalikes = sorted(set(lookalikes) - set(mended))
        self._known = frozenset(known) | frozenset(lookalikes) | frozenset(forms) | frozenset(mended)
        self._seen = Remembered(self._find)
        self.form_of: Callable[[str], str] = self._seen.__getitem__
        """The known form of a lower-case word; the word itself where there is none."""

    def _find(self, word: str) -> str:
        if word in self._known or not SHORTEST_MENDED <= len(word) <= LONGEST_MENDED:
            return self._forms.get(word, word)
        allowed = 1 if len(word) < 9 else 2
        near = [
            (distance, candidate)
            for candidate in self._mended.get(word[0], ())
            if (distance := OSA.distance(word, candidate, score_cutoff=allowed)) <= allowed
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
