"""Text from data made fit for a terminal: nothing in it can move the cursor, ring, colour or turn the line around."""

from __future__ import annotations

import codecs
import unicodedata
from typing import TextIO

_JOINERS = frozenset("\u00ad\u200c\u200d")  # soft hyphen and the joiners that some scripts need
_UNSEEN = frozenset(
    ("Cc", "Cf", "Cs", "Zl", "Zp")
)  # Unicode general categories: controls, formats, surrogates, breaks
_NARROW = {"\u202f": " ", "\u00a0": " ", "\u2212": "-", "\u2013": "-", "\u2019": "'"}


def plain(text: str) -> str:
    """The same text with every control, direction and break character written as an escape such as ``\\x1b``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escaped(character) if _acts(character) else character for character in text)


def _acts(character: str) -> bool:
    return unicodedata.category(character) in _UNSEEN and character not in _JOINERS


def _escaped(character: str) -> str:
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")


def never_fail_on(stream: TextIO) -> None:
    """Let a stream of a narrow encoding (an old console, a redirected one) write a stand-in instead of failing."""
    codecs.register_error("dayburn", _stand_in)
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="dayburn")


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end]
    return "".join(_NARROW.get(character, "?") for character in missing), error.end
