"""Text as words: what every later step of reading sees instead of characters.

All patterns here are single character classes without nesting, so the time is proportional to the
length of the text whatever it holds.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

LONGEST_TEXT = 20_000
"""Characters read of one text; what comes after is not read (a call is not a book)."""

_TAG = re.compile(r"<[^<>]{0,400}>")
# A full stop after one of these ends nothing.
_SHORTENED = frozenset(
    ("repl", "rplc", "inst", "instl", "chg", "chng", "rpr", "adj", "prog", "ext", "occ", "pkg", "elec", "bldg",
     "approx", "qty", "no", "st", "ave", "rd", "dr", "blvd", "ne", "nw", "se", "sw", "tech", "maint", "vs")
)  # fmt: skip
_ENDS_A_LINE = frozenset(
    ("br", "p", "div", "li", "ul", "ol", "td", "tr", "th", "table", "h1", "h2", "h3", "h4", "hr")
)
_INITIALS = re.compile(r"(?<![^\W_])(?:[^\W\d_]\.){2,8}")
_LETTER, _SIGN = r"[^\W\d_]", r"[^\W_]"
_TOKENS = (
    rf"{_LETTER}/{_LETTER}(?!{_SIGN})"  # p/c, n/c, w/o: one word
    rf"|{_LETTER}+(?:['’]{_LETTER}{{1,3}}(?!{_SIGN}))?"  # a word, with its 's or n't
    r"|\d+"
    r"|-{2,}|[\n\r;!?|]+|\.{2,}"  # always ends a clause
    r"|[.:](?=\s|$)| - |,"  # ends a clause when followed by a space
    rf"|[.:](?={_LETTER})"  # 'photocell.light': a full stop without its space
    r"|[#%/&+@]"
)
_TOKEN = re.compile(_TOKENS)
# The same for plain text in lower case, where naming the letters is much faster than asking of each what it is.
_PLAIN_TOKEN = re.compile(
    _TOKENS.replace(_LETTER, "[a-z]").replace(_SIGN, "[a-z0-9]").replace(r"\d", "[0-9]")
)
_MARKS = frozenset("\n\r;!?|.:,- ")
_ENDS_A_CLAUSE = frozenset((",", ":", " - "))  # and no sentence; nor do dashes
_REMEMBERED = 5_000


class Words(NamedTuple):
    """A text's words in lower case, the clause and sentence of each, and where each begins and ends.

    A clause ends at a comma, colon or dash too; a sentence only at a stop or a new line.
    """

    words: tuple[str, ...]
    clauses: tuple[int, ...]
    sentences: tuple[int, ...]
    starts: tuple[int, ...]
    ends: tuple[int, ...]
    text: str

    def said(self, first: int, last: int) -> str:
        """The text from word ``first`` up to, not including, word ``last``, as written."""
        return self.text[self.starts[first] : self.ends[last - 1]] if last > first else ""


def plain(text: str | None) -> str:
    """A text without HTML, in one Unicode form, no longer than LONGEST_TEXT."""
    if not text:
        return ""
    text = text[:LONGEST_TEXT]
    if "<" in text:
        text = _TAG.sub(_without_tag, text)
    if "&" in text:
        text = html.unescape(text)
    return text if text.isascii() else unicodedata.normalize("NFKC", text).replace("’", "'")


def _without_tag(tag: re.Match[str]) -> str:
    """A space for a tag within a line, a stop for one that ends it."""
    words = tag.group().strip("<>/ ").lower().replace("/", " ").split(maxsplit=1)
    return " . " if words and words[0] in _ENDS_A_LINE else " "


def split_words(text: str | None, form_of: Callable[[str], str] = str) -> Words:
    """Split a text; ``form_of`` gives the form under which a lower-case word is known."""
    words, clauses, sentences, starts, ends, said = _split(text or "")
    return Words(tuple(map(form_of, words)), clauses, sentences, starts, ends, said)


@lru_cache(maxsize=_REMEMBERED)
def _split(text: str) -> Words:
    """The words as written, in lower case. Each text is split for its meaning and for its places: once for both."""
    text = plain(text)
    lowered = text.lower()
    if len(lowered) != len(text):  # some letters change length when lowered; offsets must still agree
        text = lowered
    if "." in lowered:
        lowered = _INITIALS.sub(lambda found: _joined(found.group()), lowered)
    words: list[str] = []
    spans: list[tuple[int, int]] = []
    clauses: list[int] = []
    sentences: list[int] = []
    clause = sentence = 0
    for found in (_PLAIN_TOKEN if lowered.isascii() else _TOKEN).finditer(lowered):
        word = found[0]
        if word[0] in _MARKS:  # every mark ends a clause
            if word == "." and words and words[-1] in _SHORTENED:
                continue
            clause += 1
            sentence += word not in _ENDS_A_CLAUSE and word[:2] != "--"
            continue
        words.append(word)
        spans.append(found.span())
        clauses.append(clause)
        sentences.append(sentence)
    starts, ends = zip(*spans, strict=True) if spans else ((), ())
    return Words(tuple(words), tuple(clauses), tuple(sentences), starts, ends, text)


def _joined(initials: str) -> str:
    """'p.c.' as 'pc', padded so that offsets stay true."""
    return initials.replace(".", "").ljust(len(initials))
