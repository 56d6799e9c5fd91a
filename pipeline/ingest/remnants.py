"""What other programs leave in texts: HTML and workbook escapes, turned back into the characters they stand for.

Done once, in the fields that are texts, before people are masked; the export keeps its own. The same steps in Python
(for the names of columns) and in SQL (for every row).

Workbook escapes: ECMA-376 part 1, 22.4.2.4 (``_xHHHH_``). Named characters: HTML, section 13.5.
"""

from __future__ import annotations

import re

_TAGS = "p|div|span|b|i|u|em|strong|font|ul|ol|li|table|tbody|tr|td"
# Each step: a pattern (the same in Python and RE2) and what takes its place; ampersands last, and once.
_STEPS: tuple[tuple[str, str], ...] = (
    (r"_x000[dD]_\n?|_x000[aA]_", "\n"),
    (r"_x0009_", "\t"),
    (r"(?i)<br ?/?>|</(?:p|div|li|tr)>", "\n"),
    (rf"(?i)</?(?:{_TAGS})(?: [a-z-]+=(?:\"[^\"<>]*\"|'[^'<>]*'))* ?>", ""),
    (r"&nbsp;|&#160;|&#[xX][aA]0;", " "),
    (r"&lt;|&#60;", "<"),
    (r"&gt;|&#62;", ">"),
    (r"&quot;|&#34;", '"'),
    (r"&apos;|&#0?39;|&#[xX]27;", "'"),
    (r"&#10;|&#13;", "\n"),
    (r"&amp;|&#38;", "&"),
)
_HINTS = ("&", "<", "_x00")


def without_remnants(text: str) -> str:
    """A text with remnants turned into what they stand for."""
    if not any(hint in text for hint in _HINTS):
        return text
    for pattern, stands_for in _STEPS:
        text = re.sub(pattern, lambda _: stands_for, text)  # noqa: B023 - used within the step
    return text


def without_remnants_sql(expression: str) -> str:
    """The same as SQL over a text; NULL stays NULL."""
    cleaned = expression
    for pattern, stands_for in _STEPS:
        cleaned = f"regexp_replace({cleaned}, {_literal(pattern)}, {_literal(stands_for)}, 'g')"
    found = " OR ".join(f"contains({expression}, '{hint}')" for hint in _HINTS)
    return f"CASE WHEN {found} THEN {cleaned} ELSE {expression} END"


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
