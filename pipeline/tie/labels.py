"""The register's position labels, and the shorter ways in which people write them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from pipeline.lexicon.phrases import Found, PhraseBook
from pipeline.lexicon.words import Words
from pipeline.register_chains import chain_ends
from pipeline.tie.names import PlaceWords

_Key = tuple[str, ...]
_Whole = tuple[frozenset[str], int, str]  # a label's words, how many, and its position
WHOLE, STEM, PART, CODE, NUMBERED, ANY_ORDER = 0.95, 0.9, 0.88, 0.85, 0.8, 0.7
"""How surely a label is meant: written whole; less its last word; its end part; its leading code; only its
noun and number; all its words in any order. Assumptions of this project, no source."""
_POLES = frozenset(("pole", "p", "light"))


class Control(NamedTuple):
    """What finding a place needs of a register row."""

    control_id: str
    site_id: str
    position: str
    label: str
    switched_by: str | None


class Labels:
    """Finds position labels in text, site by site. A form that two places share means neither."""

    def __init__(self, words: PlaceWords, controls: Iterable[Control]) -> None:
        controls = list(controls)
        carriers = chain_ends({c.control_id: c.switched_by for c in controls})
        places = {c.control_id: c.position for c in controls}
        self._carrying = {
            c.position: places[carriers[c.control_id]] for c in controls if c.control_id in carriers
        }
        whole: dict[str, list[_Whole]] = defaultdict(list)
        claims: dict[str, dict[_Key, dict[str, float]]] = defaultdict(lambda: defaultdict(dict))
        for site_id, position, label in sorted({(c.site_id, c.position, c.label) for c in controls}):
            key = words.key(label)
            if len(key) >= 2:
                whole[site_id].append((frozenset(key), len(key), position))
            for form, confidence in _forms(key):
                known = claims[site_id][form]
                known[position] = max(confidence, known.get(position, 0.0))
        self._whole = {site_id: _by_rarest_word(labels) for site_id, labels in whole.items()}
        self._books = {site_id: self._book(forms) for site_id, forms in claims.items()}

    def _book(self, forms: dict[_Key, dict[str, float]]) -> PhraseBook:
        book = PhraseBook()
        for form, claimed in forms.items():
            meant = self._meant(claimed)
            if meant:
                book.add("label", f"{meant[1]}\t{meant[0]}", form)
        return book

    def _meant(self, claimed: dict[str, float]) -> tuple[str, float] | None:
        """The one place that a form means: the surest; of one circuit's devices, the one that carries it."""
        best = max(claimed.values())
        places = {position for position, confidence in claimed.items() if confidence == best}
        if len(places) > 1:
            places = {self._carrying.get(position, position) for position in places}
        return (places.pop(), best) if len(places) == 1 else None

    def find(self, site_id: str, words: Words) -> list[tuple[Found, str, float]]:
        """Labels of a site in a text: where, which position, how surely."""
        book = self._books.get(site_id)
        if book is None:
            return []
        found = []
        for item in book.find(words):
            confidence, position = item.value.split("\t", 1)
            found.append((item, position, float(confidence)))
        return found or self._in_any_order(site_id, words)

    def _in_any_order(self, site_id: str, words: Words) -> list[tuple[Found, str, float]]:
        """A label whose words all stand in the text, if one alone is the fullest such label."""
        whole = self._whole.get(site_id, {})
        if whole.keys().isdisjoint(words.words):
            return []
        have = set(words.words)
        fits = [
            (length, position)
            for word in whole.keys() & have
            for key, length, position in whole[word]
            if key <= have
        ]
        longest = max((length for length, _ in fits), default=0)
        best = {position for length, position in fits if length == longest}
        return [(Found("label", "", 0, 1), best.pop(), ANY_ORDER)] if len(best) == 1 else []


def _by_rarest_word(labels: list[_Whole]) -> dict[str, list[_Whole]]:
    """A site's labels by the word of each that fewest of them share: without it a text cannot hold the label."""
    spread = Counter(word for key, _, _ in labels for word in key)
    found: dict[str, list[_Whole]] = defaultdict(list)
    for label in labels:
        found[min(label[0], key=lambda word: (spread[word], word))].append(label)
    return dict(found)


def _forms(key: _Key) -> Iterator[tuple[_Key, float]]:
    """The ways of writing one label, each with how surely it means it."""
    if not key:
        return
    yield key, WHOLE
    if len(key) > 2 and key[0].isalpha() and len(key[0]) <= 2 and key[1].isdecimal():
        yield key[:2], CODE
        for form, confidence in _forms(key[2:]):
            yield form, min(confidence, STEM)
        return
    if len(key) > 2 and not key[-1].isdecimal():
        yield key[:-1], STEM
    if key[-1].isdecimal():
        for start in range(1, len(key) - 2):
            yield key[start:], PART
        if len(key) >= 2 and key[-2] in _POLES:
            for noun in ("pole", "light"):
                yield (noun, key[-1]), NUMBERED
            yield ("pole", "light", key[-1]), NUMBERED
