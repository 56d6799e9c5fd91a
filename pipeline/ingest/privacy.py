"""Masking of people in free text, done before anything is stored.

Masked: e-mail addresses, telephone numbers, names after words such as "contact" or "reported by", full names that
occur in the file's own withheld columns, and single names from the row's own withheld columns. Everything outside the
masked spans stays exact. docs/layouts.md says what this cannot catch. Every pattern runs in DuckDB's RE2, so the time
is linear in the text, whatever it holds. Here are the patterns; pipeline/ingest/masking.py applies them to a file.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from pipeline.store import Store

PHONE, EMAIL, NAME = "[phone]", "[e-mail]", "[name]"
FEWEST_LETTERS = 3

# Marks of ours in a text that is being masked (private-use characters): a word that is no name follows; a name
# found by a cue, which may go on. Both are taken out again where they were put in.
_KEEP, _GOES_ON = "\ue000", "\ue001"
# The same for where each run of letters and digits starts and ends, while the names of a text are looked for.
START, END = "\ue002", "\ue003"
# And inside a run, before its end: a first name, a last name, the initials of either, a word of some name, a word of
# the row's own people.
FIRST, LAST, FIRST_INITIAL, LAST_INITIAL, SOME, OWN = "\ue004\ue005\ue006\ue007\ue008\ue009"
MARKS = FIRST + LAST + FIRST_INITIAL + LAST_INITIAL + SOME + OWN
RUN_END = f"[{MARKS}]*{END}"

_EMAIL = r"[A-Za-z0-9][A-Za-z0-9._%+'\-]*@[A-Za-z0-9\-]+(?:\.[A-Za-z0-9\-]+)*\.[A-Za-z]{2,}"
_EXTENSION = r"(?:\s*(?:x|ext\.?|extension)\s*[0-9]{1,6})?"
# North American numbers with any separators, local ones of seven digits, international ones with a plus sign, and
# bare digits where a word says that a telephone is meant. Neighbouring letters, digits and hyphens mean a tag.
_PHONES = (
    r"(?:\+?1[\-. ]?)?(?:\([2-9][0-9]{2}\)\s?|[2-9][0-9]{2}[\-–./ ]{1,3})[0-9]{3}[\-–./ ]{0,3}[0-9]{4}"
    + _EXTENSION,
    r"\+[0-9]{1,3}(?:[\-. ()]{0,2}[0-9]){6,13}",
    r"(?:x|ext\.?\s?)?[2-9][0-9]{2}[\-–.][0-9]{4}" + _EXTENSION,
)
_BARE_PHONE = (
    r"(?i)\b((?:phone|tel|telephone|cell|mobile|ph|fax|text|call|contact)[\s:#.]{1,3}(?:[A-Za-z.]+[\s:,]{1,2}){0,3})"
    r"\(?[0-9]{3}\)?[\s\-.]?[0-9]{3}[\s\-.]?[0-9]{4}\b"
)
# After a word that means only a telephone, six digits and more in any groups: other countries part them otherwise.
_PHONE_NAMES = "tel|telephone|telefon|telefono|teléfono|téléphone|phone|mobile|mobil|móvil|handy|fax"
_PHONE_WORD = rf"\b((?i:{_PHONE_NAMES})\b[\s:#./]{{0,3}})"
_ANY_PHONE = _PHONE_WORD + r"\(?[0-9](?:[ ()/.\-]{0,2}[0-9]){5,14}\b"


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


def in_steps(text: str, steps: Sequence[tuple[str, str]]) -> str:
    """SQL: a text after replacements in order."""
    for pattern, replacement in steps:
        text = f"regexp_replace({text}, {literal(pattern)}, {literal(replacement)}, 'g')"
    return text


def _apart(pattern: str) -> str:
    """The pattern where no letter, digit or hyphen adjoins; groups 1 and 2 are what stands beside it."""
    return rf"(^|[^\pL\pN\-.])(?:{pattern})($|[^\pL\pN\-])"


# What stands between a name and the masked number or address at which the person is reached.
_REACHED_BY_WORD = r"\s+(?i:at|on)\s+\[(?:phone|e-mail)\]"
_REACHED_DIRECTLY = r"\s*[@:,(\-]?\s*\[(?:phone|e-mail)\]"
_REACHED = f"(?:{_REACHED_BY_WORD}|{_REACHED_DIRECTLY})"
_REACHED_IN_RUNS = rf"(?:\s+{START}(?i:at|on){RUN_END}\s+\[(?:phone|e-mail)\]|{_REACHED_DIRECTLY})"

# What a text must hold for any of the steps below to change it: one look spares most texts the steps.
MAY_HOLD_CONTACT = r"@|\+[0-9]|[0-9]{3}\)?[\s\-.]?[0-9]{3}[\s\-.]?[0-9]{4}|[0-9]{3}[\-–./ ]{0,3}[0-9]{4}"
MAY_HOLD_CONTACT += "|" + _PHONE_WORD + r"\(?[0-9]"


@cache
def may_hold_cue() -> str:
    """The pattern that a text must match for ``cue_steps`` to change it."""
    words = _words()
    cues = _any_of(words["strong_cues"] + words["weak_cues"])
    return rf"\b(?i:{cues})[\s:,\-]{{1,3}}\pL|\[(?:phone|e-mail)\]|[{_KEEP}{_GOES_ON}]"


def contact_steps() -> list[tuple[str, str]]:
    """Replacements that mask e-mail addresses and telephone numbers."""
    steps = [(_EMAIL, EMAIL)]
    for pattern in _PHONES:
        steps += [(_apart(f"(?i:{pattern})"), rf"\1{PHONE}\2")] * 2
    # Twice: a neighbour shared by two spans is consumed by the first.
    return [*steps, (_BARE_PHONE, rf"\1{PHONE}"), (_ANY_PHONE, rf"\1{PHONE}")]


def cue_steps() -> list[tuple[str, str]]:
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


def masked_sql(text: str) -> str:
    """SQL: a text that belongs to no file of calls, without numbers, addresses and names beside them or after cues."""
    reached = in_steps(text, contact_steps())
    return (
        f"CASE WHEN regexp_matches({text}, {literal(MAY_HOLD_CONTACT)}) "
        f"OR regexp_matches({text}, {literal(may_hold_cue())}) THEN {in_steps(reached, cue_steps())} ELSE {text} END"
    )


def looks_like_name_sql(cell: str) -> str:
    """SQL: the cell of a name column when it can be a person's name (letters only, not all ordinary words)."""
    return f"CASE WHEN NOT regexp_matches({cell}, '[@0-9]') THEN {cell} END"


@cache
def ordinary_words() -> frozenset[str]:
    """Words that are never taken for a name by themselves."""
    return frozenset(_words()["not_names"]) | frozenset(_words()["titles"])


def own_words_sql(columns: Sequence[str]) -> str:
    """SQL: the names in a row's cells as a list of lower-case words that are no ordinary words."""
    cells = ", ".join(looks_like_name_sql(column) for column in columns)
    split = rf"string_split_regex(lower(concat_ws(' ', {cells})), '[^\pL''’\-]+')"
    ordinary = ", ".join(map(literal, sorted(ordinary_words())))
    return (
        f"list_filter(list_distinct(list_transform({split}, lambda w: trim(w, '''’-'))), "
        f"lambda w: length(w) >= {FEWEST_LETTERS} AND NOT list_contains([{ordinary}], w))"
    )


def names_in(store: Store, table: str, columns: Sequence[str]) -> list[list[str]]:
    """Full names in columns of a table, as lists of 2 to 4 lower-case words in the order first … last."""
    if not columns:
        return []
    cells = " UNION ".join(f"SELECT DISTINCT {column} AS cell FROM {table}" for column in columns)  # noqa: S608 - names of ours
    names = set()
    # Nothing is filtered in SQL: the filter would run before the DISTINCT, on every row.
    for (name,) in store.rows(f"SELECT DISTINCT lower({looks_like_name_sql('cell')}) FROM ({cells})"):  # noqa: S608
        last, comma, first = (name or "").partition(",")
        words = tuple(
            re.findall(r"[^\W\d_][^\W\d_'’\-]*(?:['’\-][^\W\d_]+)*", f"{first} {last}" if comma else last)
        )
        if 2 <= len(words) <= 4 and not set(words) <= ordinary_words():
            names.add(words)
    return [list(words) for words in sorted(names)]


def in_runs(word: str, end: str = END) -> str:
    """A word as a pattern for a text in which the start and end of every run of letters and digits is marked."""
    parts = re.split(r"([^\W_]+)", word)
    return "".join(
        f"{START}{part}{end}" if place % 2 else re.escape(part) for place, part in enumerate(parts)
    )


def name_pattern(words: Sequence[str]) -> str:
    """The whole name, first and last (an initial between), last first, initial and last, first and initial.

    For a text with marked runs: no class of letters is needed, and the pattern is compiled in microseconds.
    """
    first, last, inner = in_runs(words[0]), in_runs(words[-1]), r"\s+".join(map(in_runs, words))
    return (
        rf"{first}(?:\s+{START}[a-z]{END}\.?)?\s+{last}|{inner}|{last},?\s+{first}"
        rf"|{in_runs(words[0][0])}(?:\.\s*|\s+){last}|{first}\s+{in_runs(words[-1][0])}\.?"
    )


def apart_in_runs(pattern: str) -> str:
    """A name's pattern where no hyphen or full stop adjoins, in a text with marked runs."""
    return rf"(^|[^\-.])(?i:{pattern})($|[^\-{START}])"


def reached_in_runs(words: str) -> str:
    """One of some words next to a masked number or address, in a text with marked runs."""
    return rf"({START}|[0-9])(?i:{words}){RUN_END}({_REACHED_IN_RUNS})"


MAY_BE_REACHED = rf"\pL{END}{_REACHED_IN_RUNS}"
