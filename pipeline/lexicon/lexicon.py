"""The lexicon: a portfolio's words, ready to be found in text."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pipeline.lexicon.lighting import LightingVerdict, judge_lighting
from pipeline.lexicon.load import FILE, Content, read_content
from pipeline.lexicon.phrases import GAP, Found, PhraseBook
from pipeline.lexicon.spelling import Spelling
from pipeline.lexicon.words import Words, split_words

_CLAUSES_REMEMBERED = 100_000


class Lexicon:
    """Finds phrases in text and says what they mean. Never fails on a text, whatever it holds.

    ``place_forms`` maps the ways of writing a word of a place's name to its known form.
    """

    def __init__(self, content: Content) -> None:
        phrase_words = {word for _, phrase in content.phrases for word in phrase.split()}
        self._spelling = Spelling(content.forms, content.mended, phrase_words, content.known)
        self.place_forms = dict(content.place_forms)
        self._book = PhraseBook(_CLAUSES_REMEMBERED)
        for (layer, phrase), value in content.phrases.items():
            self._book.add(layer, value, self._phrase_words(phrase))

    def split(self, text: str | None) -> Words:
        """A text's words in their known forms."""
        return split_words(text, self._spelling.form_of)

    def find(self, words: Words) -> list[Found]:
        """The phrases in split words, in order, layer by layer without overlap."""
        return self._book.find(words)

    def lighting(self, problem: str | None, action: str | None, category: str | None) -> LightingVerdict:
        """Does the call concern exterior lighting? By the category columns and text, and by text alone."""
        return judge_lighting(self, problem, action, category)

    def _phrase_words(self, phrase: str) -> list[str]:
        words: list[str] = []
        for part in phrase.split():
            words += [GAP] if part == GAP else self.split(part).words
        return words


def load_lexicon(folder: Path | None = None) -> Lexicon:
    """The built-in lexicon with the portfolio folder's lexicon.toml on top, if it has one.

    Raises InputFaults with every fault of that page.
    """
    if folder is None or not (folder / FILE).is_file():
        return _built_in()
    return Lexicon(read_content(folder))


@cache
def _built_in() -> Lexicon:
    return Lexicon(read_content(None))
