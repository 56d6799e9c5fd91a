"""For any table, in any supported format: no row is lost, and with masking off every text comes back exact.

Exact means: what other programs left in it (``&amp;``, ``<br>``, ``_x000D_``) is turned into what it stands for, and
nothing else is changed. With masking on, the same holds outside of the masked spans.
"""

from __future__ import annotations

import csv
import gzip
import json
import re
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.ingest import run
from pipeline.ingest.layouts import Layout, write_layout
from pipeline.ingest.remnants import without_remnants
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio, reconciles, write_csv
from .odd_files import make_ods, make_xls, make_xlsx, make_zip, ods_table

HEADER = ("Number", "Day", "Said", "Done", "Nobody's")
COLUMNS = {
    "call_number": ("Number",), "reported_at": ("Day",), "problem_text": ("Said",), "action_text": ("Done",),
}  # fmt: skip
Rows = list[list[str]]


def _write_json(path: Path, rows: Rows) -> None:
    """An array of objects; blank cells are left out, null or empty, but for the first object, which shows all names."""
    objects = [dict(zip(HEADER, row, strict=True)) for row in rows]
    for number, one in enumerate(objects[1:]):
        for name in [name for name, text in one.items() if not text][number % 3 :]:
            one[name] = None  # type: ignore[assignment]
            if number % 2:
                del one[name]
    path.write_text(json.dumps(objects, ensure_ascii=len(rows) % 2 == 0), encoding="utf-8")


def _write_json_lines(path: Path, rows: Rows) -> None:
    lines = (json.dumps(dict(zip(HEADER, row, strict=True)), ensure_ascii=False) for row in rows)
    path.write_text("\n".join(lines), encoding="utf-8")


def _csv(path: Path, rows: Rows, **how: object) -> Path:
    return write_csv(path, [HEADER, *rows], **how)


def _zip_of_csv(path: Path, rows: Rows) -> None:
    content = _csv(path.with_suffix(".csv"), rows).read_bytes()
    path.with_suffix(".csv").unlink()
    make_zip(path, {"any/calls.csv": content})


# What each format can carry. All: no lone surrogates, no NUL, and so few control characters that text is not taken
# for binary. XML, of which XLSX and ODS are made, has no control characters but tab and line feed, and its readers turn
# a carriage return into a line feed (XML 1.0, 2.2 and 2.11); XLS is read like the other workbooks.
_BASE = st.characters(exclude_categories=("Cs", "Cc", "Co", "Cn"), include_characters="\t\n")
_REMNANTS = st.sampled_from(
    ["&amp;", "&nbsp;", "&#39;", "<br>", "</p>", "_x000D_\n", "<b>", "&lt;", "_", "<", "&"]
)
BOOK_TEXTS = st.one_of(
    st.text(_BASE, max_size=30),
    st.lists(st.one_of(_REMNANTS, st.text(_BASE, max_size=5)), max_size=5).map("".join),
)
TEXTS = st.one_of(
    BOOK_TEXTS, st.lists(st.one_of(st.just("\r"), st.text(_BASE, max_size=5)), max_size=5).map("".join)
)

FORMATS: dict[str, Callable[[Path, Rows], object]] = {
    "any.csv": _csv,
    "any.tsv": lambda path, rows: _csv(path, rows, delimiter="\t"),
    "semicolons.csv": lambda path, rows: _csv(path, rows, delimiter=";", encoding="utf-8-sig"),
    "pipes.txt": lambda path, rows: _csv(path, rows, delimiter="|", encoding="utf-16"),
    "old.csv": lambda path, rows: _csv(path, rows, lineterminator="\r", quoting=csv.QUOTE_ALL),
    "any.json": _write_json,
    "any.jsonl": _write_json_lines,
    "any.zip": _zip_of_csv,
    "any.csv.gz": lambda path, rows: path.write_bytes(
        gzip.compress(_csv(path, rows).read_bytes())
    ),
}  # fmt: skip
BOOKS: dict[str, Callable[[Path, Rows], object]] = {
    "any.xlsx": lambda path, rows: make_xlsx(path, [HEADER, *rows]),
    "any.xls": lambda path, rows: make_xls(path, [HEADER, *rows]),
    "any.ods": lambda path, rows: make_ods(path, ods_table([HEADER, *rows])),
}
DAYS = st.one_of(
    st.dates(date(2020, 1, 1), date(2024, 12, 31)).map(str),
    st.sampled_from(["", " ", "soon", "2024-02-31", "Total"]),
)
NUMBERS = st.one_of(st.integers(1, 6).map(str), st.just(""), st.just("00012"), st.just("1E5"))


def _tables(texts: st.SearchStrategy[str]) -> st.SearchStrategy[Rows]:
    return st.lists(st.tuples(NUMBERS, DAYS, texts, texts, texts).map(list), min_size=1, max_size=12)


def _visible(text: str) -> bool:
    """Whether RE2's \\S, by which blank cells are told, finds anything (it knows ASCII blanks only)."""
    return bool(text.strip(" \t\n\f\r"))


def _read(name: str, rows: Rows, privacy: str, check: Callable[[Store], None]) -> None:
    """Write the table in its format, run the stage on it alone, and check what came of it."""
    write = FORMATS.get(name) or BOOKS[name]
    with tempfile.TemporaryDirectory() as folder:
        portfolio = make_portfolio(Path(folder) / "p", privacy)
        # The names in JSON objects have no order, so that their layout has them sorted.
        header = tuple(sorted(HEADER)) if "json" in name else HEADER
        write_layout(portfolio, Layout(name="any", source="any", header=header, columns=COLUMNS))
        write(portfolio.calls / name, rows)
        with closing(Store.create()) as store:
            run(store, portfolio, Silent())
            check(store)


MASKING_OFF = "[privacy]\nmask_free_text = false\n"
_MANY = settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.mark.parametrize("name", FORMATS)
@_MANY
@given(rows=_tables(TEXTS))
def test_no_row_of_a_text_or_json_file_is_lost_and_no_text_is_changed(rows: Rows, name: str) -> None:
    _read(name, rows, MASKING_OFF, lambda store: _check(store, rows, first=1 if "json" in name else 2))


@pytest.mark.parametrize("name", BOOKS)
@_MANY
@given(rows=_tables(BOOK_TEXTS))
def test_no_row_of_a_workbook_is_lost_and_no_text_is_changed(rows: Rows, name: str) -> None:
    _read(name, rows, MASKING_OFF, lambda store: _check(store, rows, first=2))


_PEOPLE = st.sampled_from(
    [
        "call 303-555-0142",
        "mail b.oak@example.org",
        "contact Dana Birch",
        "lamp out",
        "pole 12",
        "&amp;",
        "\n",
        "é",
    ]
)
PEOPLE_TEXTS = st.lists(_PEOPLE, max_size=6).map(" ".join)


@settings(_MANY, max_examples=8)
@given(
    rows=st.lists(st.tuples(st.just("1"), st.just("2024-01-13"), PEOPLE_TEXTS, PEOPLE_TEXTS, st.just("")).map(list),
                  min_size=1, max_size=6),
    name=st.sampled_from([*FORMATS, *BOOKS]),
)  # fmt: skip
def test_with_masking_on_texts_are_exact_outside_the_masked_spans(rows: Rows, name: str) -> None:
    def check(store: Store) -> None:
        assert reconciles(store)
        first = 1 if "json" in name else 2
        for number, *texts in store.rows("SELECT row_number, problem_text, action_text FROM calls"):
            for written, text in zip(rows[number - first][2:4], texts, strict=True):
                plain = without_remnants(written)
                kept = [re.escape(piece) for piece in re.split(r"\[(?:phone|e-mail|name)\]", text or "")]
                assert re.fullmatch(".+?".join(kept), plain if text else "", re.DOTALL)
                assert bool(text) == _visible(written)
                assert "303-555-0142" not in (text or "")
                assert "@" not in (text or "")

    _read(name, rows, "", check)


def _check(store: Store, rows: Rows, first: int) -> None:
    """``first``: the row number of the table's first row."""
    assert reconciles(store)
    rows_read, not_data = store.row("SELECT rows_read, not_data FROM source_files")
    blank_at_the_end = len(rows) + 1 - rows_read - not_data
    # A workbook does not keep rows that hold nothing at its end.
    assert blank_at_the_end >= 0
    assert not any(any(row) for row in rows[len(rows) - blank_at_the_end :])
    for number, problem, action in store.rows("SELECT row_number, problem_text, action_text FROM calls"):
        written = rows[number - first]
        assert problem == (without_remnants(written[2]) if _visible(written[2]) else None)
        assert action == (without_remnants(written[3]) if _visible(written[3]) else None)
    days = {(date(2020, 1, 1) + timedelta(days=n)).isoformat() for n in range(1827)}
    calls = {number for (number,) in store.rows("SELECT row_number FROM calls")}
    usable = {
        number
        for number, row in enumerate(rows, start=first)
        if row[1] in days and (row[0] or _visible(row[2]) or _visible(row[3]))
    }
    assert calls == usable
    # What is neither a call nor rejected is blank or a total without a report date; nothing else is set aside.
    rejected = {number for (number,) in store.rows("SELECT row_number FROM rejected_rows")}
    for number, row in enumerate(rows, start=first):
        if number not in calls | rejected:
            assert not row[1].strip()
            assert not row[0]
