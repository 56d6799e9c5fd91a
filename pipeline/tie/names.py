"""Names of places as words that can be compared, however they are written."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import lru_cache

from pipeline.lexicon.spelling import Spelling
from pipeline.lexicon.words import Words, split_words

_SILENT = frozenset(
    ("#", "no", "num", "number", "the", "at", "of", "tag", "asset", "ref", "id", "&", "and", "@")
)


class PlaceWords:
    """Splits names and texts into place words: variants under one form, leading zeros gone, slips mended.

    ``names`` are the register's own names: their longer words are recognised with a letter wrong.
    """

    def __init__(self, forms: Mapping[str, str], names: Collection[str], known: Collection[str] = ()) -> None:
        plain = Spelling(forms, (), ())
        words = {word for name in names for word in split_words(name, plain.form_of).words}
        self._spelling = Spelling(forms, {word for word in words if word.isalpha()}, known)
        self.split = lru_cache(maxsize=50_000)(self._split)

    def _form(self, word: str) -> str:
        return word.lstrip("0") or "0" if word.isdecimal() else self._spelling.form_of(word)

    def _split(self, text: str | None) -> Words:
        words = split_words(text, self._form)
        kept = [at for at, word in enumerate(words.words) if word not in _SILENT]
        return Words(
            words=tuple(words.words[at] for at in kept),
            clauses=tuple(words.clauses[at] for at in kept),
            sentences=tuple(words.sentences[at] for at in kept),
            starts=tuple(words.starts[at] for at in kept),
            ends=tuple(words.ends[at] for at in kept),
            text=words.text,
        )

    def key(self, text: str | None) -> tuple[str, ...]:
        """A name's words, comparable."""
        return self.split(text).words
