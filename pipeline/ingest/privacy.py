"""Masking of people in free text, done before anything is stored.

Masked: e-mail addresses, telephone numbers, names after words such as "contact" or "reported by", full names that
occur in the file's own withheld columns, and single names from the row's own withheld columns. Everything outside the
masked spans stays exact. docs/layouts.md says what this cannot catch. Every pattern runs in DuckDB's RE2, so the time
is linear in the text, whatever it holds.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from pipeline.settings import Privacy
from pipeline.store import Store

PHONE, EMAIL, NAME = "[phone]", "[e-mail]", "[name]"
_NAMES_PER_PATTERN = 400
_FEWEST_LETTERS = 3

# Marks of ours in a text that is being masked (private-use characters): a word that is no name follows; a name
# found by a cue, which may go on. Both are taken out again where they were put in.
_KEEP, _GOES_ON = "\ue000", "\ue001"

_EMAIL = r"[A-Za-z0-9][A-Za-z0-9._%+'\-]*@[A-Za-z0-9\-]+(?:\.[A-Za-z0-9\-]+)*\.[A-Za-z]{2,}"
_EXTENSION = r"(?:\s*(?:x|ext\.?|extension)\s*[0-9]{1,6})?"
# North American numbers with any separators, local ones of seven digits, international ones with a plus sign, and
# bare digits where a word says that a telephone is meant. Neighbouring letters, digits and hyphens mean a tag.
_PHONES = (
    r"(?:\+?1[\-. ]?)?(?:\([2-9][0-9]{2}\)\s?|[2-9][0-9]{2}[\-./ ]{1,2})[0-9]{3}[\-. ]?[0-9]{4}" + _EXTENSION,
    r"\+[0-9]{1,3}(?:[\-. ()]{0,2}[0-9]){6,13}",
    r"(?:x|ext\.?\s?)?[2-9][0-9]{2}[\-.][0-9]{4}" + _EXTENSION,
)
_BARE_PHONE = (
    r"(?i)\b((?:phone|tel|telephone|cell|mobile|ph|fax|text|call|contact)[\s:#.]{1,3}(?:[A-Za-z.]+[\s:,]{1,2}){0,3})"
    r"\(?[0-9]{3}\)?[\s\-.]?[0-9]{3}[\s\-.]?[0-9]{4}\b"
)


@cache
def _words() -> dict[str, tuple[str, ...]]:
    text = files("pipeline.ingest").joinpath("privacy.toml").read_text(encoding="utf-8")
    return {name: tuple(words) for name, words in tomllib.loads(text).items()}


def _any_of(words: Sequence[str]) -> str:
    """A pattern for any of some words, longest first, inner spaces flexible."""
    escaped = (re.escape(word).replace(r"\ ", r"\s+") for word in sorted(words, key=len, reverse=True))
    return "(?:" + "|".join(escaped) + ")"


def literal(text: str) -> str:
    """A text as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def _replace(text: str, pattern: str, replacement: str) -> str:
    return f"regexp_replace({text}, {literal(pattern)}, {literal(replacement)}, 'g')"


def _apart(pattern: str) -> str:
    """The pattern where no letter, digit or hyphen adjoins; groups 1 and 2 are what stands beside it."""
    return rf"(^|[^\pL\pN\-.])(?:{pattern})($|[^\pL\pN\-])"


def _twice(text: str, pattern: str, mask: str) -> str:
    """Replace spans set apart. Twice: a neighbour shared by two spans is consumed by the first."""
    return _replace(_replace(text, _apart(pattern), rf"\1{mask}\2"), _apart(pattern), rf"\1{mask}\2")


# What stands between a name and the masked number or address at which the person is reached.
_REACHED_BY_WORD = r"\s+(?i:at|on)\s+\[(?:phone|e-mail)\]"
_REACHED_DIRECTLY = r"\s*[@:,(\-]?\s*\[(?:phone|e-mail)\]"
_REACHED = f"(?:{_REACHED_BY_WORD}|{_REACHED_DIRECTLY})"


def _contact_steps() -> list[tuple[str, str]]:
    """Replacements that mask e-mail addresses and telephone numbers."""
    steps = [(_EMAIL, EMAIL)]
    for pattern in _PHONES:
        steps += [(_apart(f"(?i:{pattern})"), rf"\1{PHONE}\2")] * 2
    return [*steps, (_BARE_PHONE, rf"\1{PHONE}")]


def _cue_steps() -> list[tuple[str, str]]:
    """Replacements that mask names after cues, and next to a masked number or address."""
    words = _words()
    strong, weak, no_names = (_any_of(words[key]) for key in ("strong_cues", "weak_cues", "not_names"))
    cues = f"(?i:{_any_of(words['strong_cues'] + words['weak_cues'])})"
    title = rf"(?i:(?:the\s+)?{_any_of(words['titles'])}\.?\s+)?"
    gap = r"[\s:,\-]{1,3}"
    capital, mixed = r"\p{Lu}(?:\.|[\pL'’\-]+)", r"\p{Lu}(?:\.|[\p{Ll}'’\-]+(?:\p{Lu}\p{Ll}+)?)"
    return [
        # Any word or two between a cue and a masked number is the person who answers it.
        (rf"\b({cues}{gap})\pL+(?:\s+\pL[\pL.]*)??({_REACHED})", rf"\1{NAME}\2"),
        # A name found in a name column may be followed by a misspelt surname.
        (rf"\[name\]\s+\pL[\pL.'’\-]*({_REACHED_BY_WORD})", rf"{NAME}\1"),
        (rf"\[name\]\s+\pL[\pL'’\-]{{2,}}({_REACHED_DIRECTLY})", rf"{NAME}\1"),
        (rf"\b((?i:{no_names}))({_REACHED})", rf"\1{_KEEP}\2"),
        (rf"(^|[^\pL])\p{{Lu}}\p{{Ll}}+\s+\p{{Lu}}[\p{{Ll}}'’\-]+({_REACHED})", rf"\1{NAME}\2"),
        (_KEEP, ""),
        (rf"\b({cues})({gap}{title}(?i:{no_names}))($|[^\pL])", rf"\1{_KEEP}\2\3"),
        (rf"\b((?i:{strong}){gap}{title}){capital}", rf"\1{NAME}{_GOES_ON}"),
        (rf"\b((?i:{weak}){gap}{title}){mixed}", rf"\1{NAME}{_GOES_ON}"),
        (_KEEP, ""),
        (rf"{_GOES_ON}(\s+(?i:{no_names}))($|[^\pL])", r"\1\2"),
        (rf"{_GOES_ON}\s+{capital}", ""),
        (_GOES_ON, ""),
    ]


def looks_like_name_sql(cell: str) -> str:
    """SQL: the cell of a name column when it can be a person's name (letters only, not all ordinary words)."""
    return f"CASE WHEN NOT regexp_matches({cell}, '[@0-9]') THEN {cell} END"


def _own_words_sql(columns: Sequence[str]) -> str:
    """SQL: the row's own names as a list of lower-case words that are no ordinary words."""
    if not columns:
        return "[]::VARCHAR[]"
    cells = ", ".join(looks_like_name_sql(column) for column in columns)
    split = rf"string_split_regex(lower(concat_ws(' ', {cells})), '[^\pL''’\-]+')"
    return (
        f"list_filter(list_distinct({split}), lambda w: length(w) >= {_FEWEST_LETTERS} "
        f"AND NOT list_contains(ordinary_words(), w))"
    )


def _names_in(store: Store, columns: Sequence[str]) -> list[list[str]]:
    """Full names in withheld columns of ``raw``, as lists of 2 to 4 lower-case words in the order first … last."""
    if not columns:
        return []
    cells = " UNION ".join(
        f"SELECT {looks_like_name_sql(column)} AS name FROM raw"  # noqa: S608 - columns are c1, c2 …
        for column in columns
    )
    ordinary = set(_words()["not_names"]) | set(_words()["titles"])
    names = set()
    for (name,) in store.rows(f"SELECT DISTINCT lower(name) FROM ({cells}) WHERE name IS NOT NULL"):  # noqa: S608
        last, comma, first = str(name).partition(",")
        words = tuple(
            re.findall(r"[^\W\d_][^\W\d_'’\-]*(?:['’\-][^\W\d_]+)*", f"{first} {last}" if comma else last)
        )
        if 2 <= len(words) <= 4 and not set(words) <= ordinary:
            names.add(words)
    return [list(words) for words in sorted(names)]


def _name_pattern(words: Sequence[str]) -> str:
    """The whole name, first and last (an initial between), last first, initial and last, first and initial."""
    first, last, inner = re.escape(words[0]), re.escape(words[-1]), r"\s+".join(map(re.escape, words))
    return (
        rf"{first}(?:\s+[a-z]\.?)?\s+{last}|{inner}|{last},?\s+{first}"
        rf"|{re.escape(words[0][0])}(?:\.\s*|\s+){last}|{first}\s+{re.escape(words[-1][0])}\.?"
    )


def _in_parts(patterns: list[str]) -> list[list[str]]:
    """Patterns in lists short enough for one alternation."""
    starts = range(0, len(patterns), _NAMES_PER_PATTERN)
    return [patterns[start : start + _NAMES_PER_PATTERN] for start in starts]


def prepare_masks(
    store: Store, privacy: Privacy, withheld: Sequence[str], technicians: Sequence[str]
) -> None:
    """Define ``mask(text, own)`` for the table ``raw`` of a scratch store; with masking off it gives the text back.

    ``withheld`` and ``technicians`` are column names of ``raw`` (c1, c2 …).
    """
    words = sorted(set(_words()["not_names"]) | set(_words()["titles"]))
    store.run(f"CREATE MACRO ordinary_words() AS [{', '.join(map(literal, words))}]")
    if not privacy.mask_free_text:
        store.run("CREATE MACRO mask(t, own) AS t")
        return
    initials = technicians if privacy.keep_technician_initials else ()
    text = "t"
    for pattern, replacement in _contact_steps():
        text = _replace(text, pattern, replacement)
    for name in _names_in(store, initials):
        shown = "".join(word[0].upper() + "." for word in (name[0], name[-1]))
        text = _twice(text, f"(?i:{_name_pattern(name)})", f"[{shown}]")
    names = _names_in(store, [column for column in withheld if column not in initials])
    for several in _in_parts([_name_pattern(name) for name in names]):
        text = _twice(text, f"(?i:{'|'.join(several)})", NAME)
    for several in _in_parts(sorted({word for name in names for word in name} - set(words))):
        # One name of a person of the file, next to a number or address that was masked.
        text = _replace(
            text, rf"(^|[^\pL])(?i:{'|'.join(map(re.escape, several))})({_REACHED})", rf"\1{NAME}\2"
        )
    store.run(f"CREATE MACRO mask_file(t) AS {text}")
    text = "t"
    for pattern, replacement in _cue_steps():
        text = _replace(text, pattern, replacement)
    store.run(f"CREATE MACRO mask_cues(t) AS {text}")
    own = r"'(?i)(^|[^\pL\pN])(?:' || array_to_string(own, '|') || ')($|[^\pL\pN])'"
    once = rf"regexp_replace(t, {own}, '\1{NAME}\2', 'g')"
    store.run(
        f"CREATE MACRO mask_own(t, own) AS CASE WHEN list_has_any(string_split_regex(lower(t), "
        rf"'[^\pL''’\-]+'), own) THEN {once.replace('(t,', '(' + once + ',', 1)} ELSE t END"
    )
    # The lambda keeps the long mask_file from being written out wherever mask_own uses its text.
    store.run(
        "CREATE MACRO mask(t, own) AS "
        "mask_cues(list_transform([mask_file(t)], lambda x: mask_own(x, own))[1])"
    )


def own_names_sql(withheld: Sequence[str], privacy: Privacy) -> str:
    """SQL: the row's own names to mask, for ``mask``'s second argument."""
    return _own_words_sql(withheld if privacy.mask_free_text else ())
