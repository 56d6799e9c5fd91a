"""Names of places as words that can be compared, however they are written."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import lru_cache
from itertools import compress

from pipeline.lexicon.spelling import Remembered, Spelling
from pipeline.lexicon.words import Words, split_words

_SILENT = frozenset(
    ("#", "no", "num", "number", "the", "at", "of", "tag", "asset", "ref", "id", "&", "and", "@")
)
_REMEMBERED = 10_000


class PlaceWords:
    """Splits names and texts into place words: variants under one form, leading zeros gone, slips mended.

    ``names`` are the register's own names: their longer words are recognised with a letter wrong.
    """

    def __init__(self, forms: Mapping[str, str], names: Collection[str], known: Collection[str] = ()) -> None:
        plain = Spelling(forms, (), ())
        words = {word for name in names for word in split_words(name, plain.form_of).words}
        self._spelling = Spelling(forms, {word for word in words if word.isalpha()}, known)
        self._form_of = Remembered(self._form).__getitem__
        self.split = lru_cache(maxsize=_REMEMBERED)(self._split)

    def _form(self, word: str) -> str:
        return word.lstrip("0") or "0" if word.isdecimal() else self._spelling.form_of(word)

    def _split(self, text: str | None) -> Words:
        words = split_words(text, self._form_of)
        if _SILENT.isdisjoint(words.words):
            return words
        kept = [word not in _SILENT for word in words.words]
        return Words(
            tuple(compress(words.words, kept)),
            tuple(compress(words.clauses, kept)),
            tuple(compress(words.sentences, kept)),
            tuple(compress(words.starts, kept)),
            tuple(compress(words.ends, kept)),
            words.text,
        )

    def key(self, text: str | None) -> tuple[str, ...]:
        """A name's words, comparable."""
        return self.split(text).words
