"""Which places of a site a call speaks of: by asset tag, or by the register's position labels in its text."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from pipeline.lexicon.phrases import LONGEST_PHRASE, Found, PhraseBook
from pipeline.lexicon.words import Words
from pipeline.tie.names import PlaceWords

_Key = tuple[str, ...]
_NUMBERED = frozenset(("pole", "p", "light", "fixture", "photocell", "pc", "wallpack"))
LONGEST_NAME = LONGEST_PHRASE + 4


class Control(NamedTuple):
    """What the place finder needs of a register row."""

    control_id: str
    site_id: str
    position: str
    label: str


class Place(NamedTuple):
    """A place that a text names: a control row (by tag) or a position (by label), how, and how surely (0 to 1).

    ``first`` is the word of the text at which the name begins, -1 for the asset column.
    """

    site_id: str
    position: str
    control_id: str | None
    method: str
    confidence: float
    first: int


class PlaceBook:
    """Finds tags and labels of one register. Built once; a look-up costs as much as the text is long."""

    def __init__(self, words: PlaceWords, controls: Iterable[Control]) -> None:
        self._words = words
        self._controls = {control.control_id: control for control in controls}
        self._tags: dict[str, str | None] = {}  # joined tag -> control, None where two share it
        self._site_tags: dict[tuple[str, str], str | None] = {}
        self._labels: dict[str, dict[_Key, tuple[str, float] | None]] = defaultdict(dict)
        self._tag_book = PhraseBook()
        self._site_books: dict[str, PhraseBook] = {}
        for control in self._controls.values():
            self._learn_tag(control)
        for site_id, position, label in sorted(
            {(c.site_id, c.position, c.label) for c in self._controls.values()}
        ):
            self._learn_label(site_id, position, label)
        for site_id, labels in self._labels.items():
            self._site_books[site_id] = self._book_of(labels)

    # ---- learning -----------------------------------------------------------------------------

    def _learn_tag(self, control: Control) -> None:
        key = self._words.key(control.control_id)
        if not key:
            return
        _claim(self._tags, "".join(key), control.control_id)
        if len(key) > 1 or len(key[0]) >= 4:
            self._tag_book.add("tag", control.control_id, key)
        site = self._words.key(control.site_id)
        if key[: len(site)] == site and len(key) > len(site):
            key = key[len(site) :]
            _claim(self._site_tags, (control.site_id, "".join(key)), control.control_id)
        digits = [word for word in key if word.isdecimal()]
        if digits:
            _claim(self._site_tags, (control.site_id, digits[-1]), control.control_id)

    def _learn_label(self, site_id: str, position: str, label: str) -> None:
        labels = self._labels[site_id]
        key = self._words.key(label)
        if not key:
            return
        _claim(labels, key, (position, 0.95))
        if len(key) >= 2 and key[-1].isdecimal():
            number = key[-1]
            if key[-2] in _NUMBERED or len(key) == 2:
                for noun in ("pole", "pole light", "p", "light") if key[-2] in _NUMBERED else (key[-2],):
                    _claim(labels, (*noun.split(), number), (position, 0.85))

    @staticmethod
    def _book_of(labels: dict[_Key, tuple[str, float] | None]) -> PhraseBook:
        book = PhraseBook()
        for key, target in labels.items():
            if target is not None and len(key) <= LONGEST_NAME:
                book.add("label", f"{target[1]}\t{target[0]}", key)
        return book

    # ---- finding ------------------------------------------------------------------------------

    def by_asset(self, site_id: str | None, asset: str | None) -> Place | None:
        """The place that an asset column names: a tag however written, or a label."""
        key = self._words.key(asset)
        if not key:
            return None
        joined = "".join(key)
        control = self._tags.get(joined)
        if control:
            return self._tagged(control, site_id, 1.0, -1)
        for start in range(len(key)):
            rest = "".join(key[start:])
            if site_id and (control := self._site_tags.get((site_id, rest))):
                return self._tagged(control, site_id, 0.9 if start == 0 else 0.8, -1)
            if start and len(rest) >= 4 and (control := self._tags.get(rest)):
                return self._tagged(control, site_id, 0.9, -1)
        inside = self._tags_in(self._words.split(asset), site_id)
        if inside:
            return inside[0]._replace(first=-1)
        labels = self._labels_in(self._words.split(asset), site_id) or self._by_words(key, site_id)
        return labels[0]._replace(first=-1) if len({place.position for place in labels}) == 1 else None

    def in_text(self, site_id: str | None, text: str | None) -> list[Place]:
        """The places that a text names, in order, each once: tags first, then labels of the site."""
        words = self._words.split(text)
        tagged = self._tags_in(words, site_id)
        labelled = self._labels_in(words, site_id)
        places = tagged + [place for place in labelled if place.position not in {t.position for t in tagged}]
        if not places and site_id:
            places = self._by_words(words.words, site_id)
        once: dict[str, Place] = {}
        for place in sorted(places, key=lambda place: place.first):
            once.setdefault(place.position, place)
        return list(once.values())

    def split(self, text: str | None) -> Words:
        """The words on which ``Place.first`` counts."""
        return self._words.split(text)

    def _tagged(self, control_id: str, site_id: str | None, confidence: float, first: int) -> Place:
        control = self._controls[control_id]
        if site_id is not None and control.site_id != site_id:
            confidence *= 0.55
        return Place(control.site_id, control.position, control_id, "tag", round(confidence, 3), first)

    def _tags_in(self, words: Words, site_id: str | None) -> list[Place]:
        found = [item for item in self._tag_book.find(words) if _whole(words, item)]
        return [self._tagged(item.value, site_id, 0.97, item.first) for item in found]

    def _labels_in(self, words: Words, site_id: str | None) -> list[Place]:
        book = self._site_books.get(site_id or "")
        if book is None or site_id is None:
            return []
        places = []
        for item in book.find(words):
            confidence, position = item.value.split("\t", 1)
            if _whole(words, item):
                places.append(Place(site_id, position, None, "label", float(confidence), item.first))
        return places

    def _by_words(self, said: Sequence[str], site_id: str | None) -> list[Place]:
        """A label whose words all stand in the text in any order, if one alone is the fullest such label."""
        have = set(said)
        fits = [
            (len(key), target[0])
            for key, target in self._labels.get(site_id or "", {}).items()
            if target and len(key) >= 2 and have.issuperset(key)
        ]
        longest = max((length for length, _ in fits), default=0)
        best = {position for length, position in fits if length == longest}
        if len(best) != 1 or site_id is None:
            return []
        return [Place(site_id, best.pop(), None, "label", 0.75, 0)]


def _whole(words: Words, found: Found) -> bool:
    """A number at the end of a name is the whole number: '14' is not '14.5', '14/15' or '14ft'."""
    end = words.ends[found.last - 1]
    follows = words.text[end : end + 2]
    return not (follows[:1] in ("/", ".", "-") and follows[1:2].isdigit())


def _claim(table: dict, key: object, value: object) -> None:  # type: ignore[type-arg]
    """Learn a key, unless it means two things already or now."""
    if key not in table:
        table[key] = value
    elif table[key] is None or table[key] == value:
        return
    elif isinstance(value, tuple) and isinstance(table[key], tuple):
        mine, other = value[1], table[key][1]
        if value[0] == table[key][0] or mine < other:
            return
        table[key] = value if mine > other else None
    else:
        table[key] = None
