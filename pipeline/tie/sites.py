"""Which site a text names: by id, name, alias, or a near spelling that no other site rivals."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from rapidfuzz import fuzz, process

from pipeline.tie.names import PlaceWords

NEAR_ENOUGH = 84.0
"""Least likeness, 0 to 100, of a misspelt name; chosen on made-up names, no source."""
CLEAR_LEAD = 6.0
"""By how much the best site must lead the next one."""


class Site(NamedTuple):
    """A site of the register and the names it goes by."""

    site_id: str
    name: str | None
    aliases: tuple[str, ...]


class SiteMatch(NamedTuple):
    """The site found, how, and how surely (0 to 1); no site where the text fits none, or fits several."""

    site_id: str | None
    method: str
    confidence: float


_MOST_COMPARED = 100  # names that a misspelt text is held against, letter by letter
NO_SITE = SiteMatch(None, "", 0.0)
_Key = tuple[str, ...]


class SiteNames:
    """Finds sites by what people call them. Cost grows with distinct texts, not calls."""

    def __init__(self, words: PlaceWords, sites: Iterable[Site]) -> None:
        self._words = words
        self._exact: dict[_Key, dict[str, str]] = {}
        for site in sites:
            self._learn(site.site_id, site.site_id, "id")
            self._learn(site.name, site.site_id, "name")
            for alias in site.aliases:
                self._learn(alias, site.site_id, "alias")
        spread = Counter(
            word for key, ids in self._exact.items() if "id" not in ids.values() for word in set(key)
        )
        self._common = {word for word, times in spread.items() if times >= 4}
        self._ids = {"".join(key): ids for key, ids in self._exact.items() if "id" in ids.values()}
        self._names = {" ".join(key): key for key, ids in self._exact.items() if set(ids.values()) - {"id"}}
        self._holding: dict[str, list[_Key]] = defaultdict(list)
        for key in self._exact:
            for word in set(key):
                self._holding[word].append(key)
        self._with_pair: dict[str, list[str]] = defaultdict(list)
        for name, key in self._names.items():
            for pair in _pairs(self._core(key) or name):
                self._with_pair[pair].append(name)
        self._seen: dict[str, SiteMatch] = {}

    def _learn(self, text: str | None, site_id: str, method: str) -> None:
        key = self._words.key(text)
        if key:
            self._exact.setdefault(key, {}).setdefault(site_id, method)

    def find(self, text: str | None) -> SiteMatch:
        """The site that a site column's text names."""
        text = (text or "").strip()
        if not text:
            return NO_SITE
        if text not in self._seen:
            self._seen[text] = self._find(self._words.key(text))
        return self._seen[text]

    def _find(self, key: _Key) -> SiteMatch:
        ids = self._exact.get(key) or self._ids.get("".join(key))
        if ids:
            return self._only(ids, 1.0)
        inside = self._inside(key)
        if inside:
            return inside
        return self._short_for(key) or self._near(key)

    @staticmethod
    def _only(ids: dict[str, str], confidence: float) -> SiteMatch:
        if len(ids) != 1:
            return NO_SITE
        ((site_id, method),) = ids.items()
        return SiteMatch(site_id, method, confidence)

    def _inside(self, key: _Key) -> SiteMatch | None:
        """'Q17 - Fenn Elementary, rear': a whole id or name stands in the text; the longest counts."""
        for length in range(min(len(key) - 1, 6), 0, -1):
            ids: dict[str, str] = {}
            for first in range(len(key) - length + 1):
                part = key[first : first + length]
                if length > 1 or (part[0] not in self._common and not part[0].isdecimal()):
                    ids = self._exact.get(part, {}) | ids
            if ids:
                return self._only(ids, 0.95)
        return None

    def _short_for(self, key: _Key) -> SiteMatch | None:
        """'Fenn' for 'Fenn Elementary School': every word of the text in one site's name only."""
        said = set(key)
        if not said - self._common or not said:
            return None
        ids: dict[str, str] = {}
        telling = min((self._holding.get(word, []) for word in said - self._common), key=len)
        for name in telling:
            if said <= set(name):
                ids = self._exact[name] | ids  # the first learnt name says how: names stand before aliases
        return self._only(ids, 0.9) if ids else None

    def _near(self, key: _Key) -> SiteMatch:
        text = " ".join(key)
        if sum(map(len, key)) < 5:
            return NO_SITE
        best: dict[str, float] = {}
        for name, score, _ in process.extract(text, self._alike(key), scorer=fuzz.token_sort_ratio, limit=12):
            core = self._core(key), self._core(self._names[name])
            likeness = max(0.3 * score + 0.7 * (fuzz.ratio(*core) if all(core) else score), score - 4.0)
            for site_id in self._exact[self._names[name]]:
                best[site_id] = max(best.get(site_id, 0.0), likeness)
        ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
        if not ranked or ranked[0][1] < NEAR_ENOUGH:
            return NO_SITE
        if len(ranked) > 1 and ranked[0][1] - ranked[1][1] < CLEAR_LEAD:
            return NO_SITE
        return SiteMatch(ranked[0][0], "misspelling", round(ranked[0][1] / 100, 3))

    def _alike(self, key: _Key) -> list[str]:
        """Names that share a quarter of the pairs of letters of a text's telling words, the most alike first: all that
        can be near enough, found without looking at every name."""
        pairs = _pairs(self._core(key) or " ".join(key))
        shared = Counter(name for pair in pairs for name in self._with_pair.get(pair, ()))
        least = len(pairs) / 4
        return [name for name, count in shared.most_common(_MOST_COMPARED) if count >= least]

    def _core(self, key: _Key) -> str:
        return " ".join(word for word in key if word not in self._common)


def _pairs(text: str) -> set[str]:
    """The pairs of neighbouring letters in a text's words, the edges of words among the letters."""
    return {f" {word} "[at : at + 2] for word in text.split() for at in range(len(word) + 1)}
