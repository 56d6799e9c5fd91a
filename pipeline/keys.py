"""Keys and names joined of several parts: people can read them, and no other parts give the same one.

``A / B`` and ``C`` would join to the same text as ``A`` and ``B / C``. So a slash that begins a word of a part gets
one more (``A // B``): the separator, a single slash between blanks, then stands between parts and nowhere else.
"""

from __future__ import annotations

import re

SEPARATOR = " / "
LONGEST_NAME = 200
"""Characters: a longer text is no name, but stands in the wrong column."""
_WORD_BEGINS_WITH_SLASH = r"(^| )(/+)"


def joined(*parts: str) -> str:
    """The parts as one key; equal keys have equal parts, however many."""
    return SEPARATOR.join(re.sub(_WORD_BEGINS_WITH_SLASH, r"\1\2/", part) for part in parts)


def joined_sql(*expressions: str) -> str:
    """The same as an SQL expression of text expressions; null where any of them is."""
    escaped = (rf"regexp_replace({part}, '{_WORD_BEGINS_WITH_SLASH}', '\1\2/', 'g')" for part in expressions)
    return f" || '{SEPARATOR}' || ".join(escaped)
