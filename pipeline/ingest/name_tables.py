"""The names of a file's people as tables: full names, the two words that find each, and single words."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd

from pipeline.ingest.privacy import NAME, RUN_END, START, in_runs, name_pattern
from pipeline.store import Store

# Letters that RE2 takes for one when case does not count, though lower-casing leaves them apart.
_FOLDED = ("ſςϐϵϑϰϖϱϕµẛ", "sσβεθκπρφμṡ")


def folded(text: str, bare: str | None = None) -> str:
    """SQL: a text in one case, as RE2 compares; ``bare`` is the same text where marks were set into this one."""
    # As many bytes as characters: ASCII, which has none of these letters.
    is_ascii = f"strlen({bare or text}) = length({bare or text})"
    return f"CASE WHEN {is_ascii} THEN lower({text}) ELSE translate(lower({text}), '{_FOLDED[0]}', '{_FOLDED[1]}') END"


def key_of(word: str) -> str:
    """By what a word of a name is found: its longest run of letters and digits, in one case."""
    runs = re.findall(r"[^\W_]+", word)
    return max(runs, key=len).translate(str.maketrans(*_FOLDED)) if runs else ""


def offer_names(
    store: Store, kept: list[list[str]], names: list[list[str]], ordinary: frozenset[str]
) -> None:
    """Tables of full names (those ``kept`` as initials first), of the two words that find each, and of single words."""
    _write(
        store, "people_names", _name_rows(kept, names),
        "rank BIGINT, pattern VARCHAR, shown VARCHAR, first VARCHAR, last VARCHAR",
    )  # fmt: skip
    _write(
        store,
        "people_pairs",
        _pair_rows(kept + names),
        "x VARCHAR, y VARCHAR, rank BIGINT, adjoining BOOLEAN",
    )
    words = sorted({word for name in names for word in name} - ordinary)
    singles = [
        (
            key_of(word),
            None if word.isalpha() else in_runs(word, RUN_END).removeprefix(START).removesuffix(RUN_END),
        )
        for word in words
    ]
    _write(store, "people_words", singles, "key VARCHAR, pattern VARCHAR")


def _name_rows(
    kept: list[list[str]], names: list[list[str]]
) -> list[tuple[int, str, str, str | None, str | None]]:
    """Every full name with its pattern, what stands for it, and its words where they are two plain ones."""
    initials = ["[" + "".join(word[0].upper() + "." for word in (name[0], name[-1])) + "]" for name in kept]
    shown = initials + [NAME] * len(names)
    return [
        (rank, name_pattern(name), mask, *(_plain_words(name) or (None, None)))
        for rank, (name, mask) in enumerate(zip(kept + names, shown, strict=True))
    ]


def _plain_words(name: Sequence[str]) -> tuple[str, str] | None:
    """The keys of a first and a last name of one run of letters each, or None."""
    if len(name) != 2 or not all(word.isalpha() and len(word) > 1 for word in name):
        return None
    first, last = map(key_of, name)
    return (first, last) if first != last else None


def _pair_rows(names: list[list[str]]) -> list[tuple[str, str, int, bool]]:
    """Two words that a text must hold for a name's pattern to match: both names, or one and then the other's initial.

    The last item: whether nothing may stand between them but blanks and signs, or a single letter.
    """
    rows = []
    for rank, name in enumerate(names):
        first, last = key_of(name[0]), key_of(name[-1])
        is_plain = _plain_words(name) is not None
        rows += [
            (first, last, rank, is_plain),
            (first, key_of(name[-1][0]), rank, is_plain),
            (last, key_of(name[0][0]), rank, is_plain),
        ]
    return rows


def _write(store: Store, table: str, rows: Sequence[tuple[object, ...]], columns: str) -> None:
    """A temporary table of some rows."""
    store.run(f"CREATE TEMP TABLE {table} ({columns})")
    names = [column.split()[0] for column in columns.split(", ")]
    store.fill_frame(table, pd.DataFrame(rows, columns=names, dtype=object))
