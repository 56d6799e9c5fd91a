"""Which places of a site a call speaks of: by asset tag, or by the register's position labels in its text."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from rapidfuzz.distance import OSA

from pipeline.lexicon.phrases import Found, PhraseBook
from pipeline.lexicon.words import Words
from pipeline.tie.labels import Control, Labels
from pipeline.tie.names import PlaceWords

_REMEMBERED, _SHORT = 100_000, 120  # texts of which the places are kept, and the most characters of one
_UNIT_WORDS = frozenset(("unit", "head", "fixture", "light", "pack", "number"))


class Place(NamedTuple):
    """A place that a text names: a control row (by tag) or a position (by label), how, and how surely (0 to 1).

    ``first`` and ``last`` are the words of the text between which the name stands (``last`` not included),
    -1 for a column of its own; ``member`` is which one of a batch ('unit 4'), where the text says so.
    """

    site_id: str
    position: str
    control_id: str | None
    method: str
    confidence: float
    first: int
    last: int
    member: str = ""


class PlaceBook:
    """Finds tags and labels of one register. Built once; a look-up costs as much as the text is long."""

    def __init__(self, words: PlaceWords, controls: Iterable[Control]) -> None:
        self._words = words
        self._controls = {control.control_id: control for control in controls}
        self._tags: dict[str, str | None] = {}  # joined tag -> control, None where two share it
        self._tag_book = PhraseBook()
        self._numbers: dict[str, dict[str, str | None]] = {}  # site or '' -> number -> control
        for control in self._controls.values():
            self._learn_tag(control)
        self._labels = Labels(words, self._controls.values())
        self._remembered = lru_cache(maxsize=_REMEMBERED)(self._in_text)

    def _learn_tag(self, control: Control) -> None:
        key = self._words.key(control.control_id)
        if not key:
            return
        site = self._words.key(control.site_id)
        short = key[len(site) :] if key[: len(site)] == site and len(key) > len(site) else key
        for form in {key, short}:
            _claim(self._tags, "".join(form), control.control_id)
        if len(key) > 1 or len(key[0]) >= 4:
            self._tag_book.add("tag", control.control_id, key)
        if short[-1].isdecimal():
            for site_id in (control.site_id, ""):
                _claim(self._numbers.setdefault(site_id, {}), short[-1], control.control_id)

    def by_column(self, site_id: str | None, text: str | None) -> Place | None:
        """The place that a column of its own names (asset tag or detail of the location)."""
        words = self._words.split(text)
        key = words.words
        if not key:
            return None
        if control := self._tags.get("".join(key)):
            return self._tagged(control, site_id, 1.0, -1, -1)
        if len(key) == 1 and (control := self._numbers.get(site_id or "", {}).get(key[0])):
            return self._tagged(control, site_id, 0.85, -1, -1)
        places = self.in_text(site_id, text)
        return places[0]._replace(first=-1, last=-1) if len(places) == 1 else None

    def in_text(self, site_id: str | None, text: str | None) -> list[Place]:
        """The places that a text names, in order, each once: tags first, then labels of the site."""
        return list((self._remembered if len(text or "") <= _SHORT else self._in_text)(site_id, text))

    def _in_text(self, site_id: str | None, text: str | None) -> tuple[Place, ...]:
        words = self._words.split(text)
        tagged = self._tags_in(words, site_id)
        labelled = self._labelled(words, site_id)
        if tagged:
            labelled = _beside_tags(tagged, labelled)
        once: dict[tuple[str, str], Place] = {}
        for place in sorted(labelled, key=lambda place: place.first) if len(labelled) > 1 else labelled:
            once.setdefault((place.position, place.member), place)
        return tuple(once.values())

    def member(self, place: Place, *texts: str | None) -> str:
        """Which one of a batch the texts name, for a place found otherwise."""
        for text in texts:
            words = self._words.split(text)
            if _UNIT_WORDS.isdisjoint(words.words) or not any(map(str.isdecimal, words.words)):
                continue
            for named in self._labelled(words, place.site_id):
                if named.position == place.position and named.member:
                    return named.member
        return ""

    def split(self, text: str | None) -> Words:
        """The words on which ``Place.first`` counts."""
        return self._words.split(text)

    def _tagged(
        self, control_id: str, site_id: str | None, confidence: float, first: int, last: int
    ) -> Place:
        control = self._controls[control_id]
        if site_id is not None and control.site_id != site_id:
            confidence *= 0.55
        return Place(control.site_id, control.position, control_id, "tag", round(confidence, 3), first, last)

    def _tags_in(self, words: Words, site_id: str | None) -> list[Place]:
        found = [item for item in self._tag_book.find(words) if _whole(words, item)]
        if found:
            return [self._tagged(item.value, site_id, 0.97, item.first, item.last) for item in found]
        return self._slips_in(words, site_id)

    def _slips_in(self, words: Words, site_id: str | None) -> list[Place]:
        """'PCE-0257' for PC-00257: the number of one tag of the site, its letters with one slip."""
        places: list[Place] = []
        site_numbers = self._numbers.get(site_id or "", {})
        if site_numbers.keys().isdisjoint(words.words):
            return places
        for first, (letters, number) in enumerate(pairwise(words.words)):
            control_id = site_numbers.get(number)
            if control_id is None or not (letters.isalpha() and 2 <= len(letters) <= 6):
                continue
            if len(number) < 2 or words.starts[first + 1] - words.ends[first] > 1:
                continue
            tag = [word for word in self._words.key(control_id) if word.isalpha()]
            if tag and OSA.distance(tag[-1], letters) <= 1:
                places.append(self._tagged(control_id, site_id, 0.88 if site_id else 0.75, first, first + 2))
        return places

    def _labelled(self, words: Words, site_id: str | None) -> list[Place]:
        if site_id is None:
            return []
        places = []
        for item, position, confidence in self._labels.find(site_id, words):
            if _whole(words, item):
                member = _member(words, item)
                last = item.last + 2 * bool(member)
                places.append(Place(site_id, position, None, "label", confidence, item.first, last, member))
        return places


def _beside_tags(tagged: list[Place], labelled: list[Place]) -> list[Place]:
    """Places named by tags, with what labels say of them, and those that labels alone name."""
    members = {place.position: place.member for place in labelled}
    tagged = [place._replace(member=members.get(place.position, "")) for place in tagged]
    known = {place.position for place in tagged}
    # A tag and a label in one short text are two names of one place; the tag is the surer.
    rest = [place for place in labelled if place.position not in known] if len(tagged) != 1 else []
    return tagged + rest


def _member(words: Words, label: Found) -> str:
    """'wall packs 1 unit 4': the number that follows a label by a word for one of its pieces."""
    after = words.words[label.last : label.last + 2]
    if len(after) == 2 and after[0] in _UNIT_WORDS and after[1].isdecimal():
        return after[1]
    return ""


def _whole(words: Words, found: Found) -> bool:
    """A number at the end of a name is the whole number: '14' is not '14.5', '14/15' or '14-15'."""
    end = words.ends[found.last - 1]
    follows = words.text[end : end + 2]
    return not (follows[:1] in ("/", ".", "-") and follows[1:2].isdigit())


def _claim(table: dict[str, str | None], key: str, value: str) -> None:
    """Learn a key; one that means two things means nothing."""
    table[key] = value if table.get(key, value) == value else None
