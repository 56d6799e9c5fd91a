"""For any table, in any supported format: no row is lost, and with masking off every text comes back exact.

Exact means: what other programs left in it (``&amp;``, ``<br>``, ``_x000D_``) is turned into what it stands for, and
nothing else is changed. With masking on, the same holds outside of the masked spans.
"""

from __future__ import annotations

import csv
import json
import re
import tempfile
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.ingest import run
from pipeline.ingest.layouts import Layout, write_layout
from pipeline.ingest.remnants import without_remnants
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio, reconciles, write_csv
from .odd_files import make_gzip, make_ods, make_xls, make_xlsx, make_zip, ods_table

HEADER = ("Number", "Day", "Said", "Done", "Nobody's")
COLUMNS = {
    "call_number": ("Number",), "reported_at": ("Day",), "problem_text": ("Said",), "action_text": ("Done",),
}  # fmt: skip
Rows = list[list[str]]
Write = Callable[[Path, Rows], object]


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


def _packed(pack: Callable[[Path, bytes], object], write: Write, inner: str) -> Write:
    """The table written as a file of the inner name, and that file packed."""

    def packed(path: Path, rows: Rows) -> None:
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / inner
            write(file, rows)
            pack(path, file.read_bytes())

    return packed


def _zipped(write: Write, inner: str) -> Write:
    return _packed(lambda path, content: make_zip(path, {f"any/{inner}": content}), write, inner)


def _in(encoding: str, rows: Rows) -> Rows:
    """The table as far as an old encoding has its signs; each row with some that show that it is no UTF-8."""
    marks = "\xe9 \xe8 \x81" if encoding == "latin-1" else "\xe9 \xe8 \u20ac"
    return [[*(cell.encode(encoding, "ignore").decode(encoding) for cell in row[:4]), marks] for row in rows]


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

# No two files have the same bytes inside: such ones are read once.
FORMATS: dict[str, Write] = {
    "any.csv": _csv,
    "any.tsv": lambda path, rows: _csv(path, rows, delimiter="\t"),
    "semicolons.csv": lambda path, rows: _csv(path, rows, delimiter=";", encoding="utf-8-sig"),
    "pipes.txt": lambda path, rows: _csv(path, rows, delimiter="|", encoding="utf-16"),
    "returns.csv": lambda path, rows: _csv(path, rows, lineterminator="\r", quoting=csv.QUOTE_ALL),
    "cp1252.csv": lambda path, rows: _csv(path, _in("cp1252", rows), encoding="cp1252"),
    "latin-1.csv": lambda path, rows: _csv(path, _in("latin-1", rows), encoding="latin-1"),
    "any.json": _write_json,
    "any.jsonl": _write_json_lines,
    "any.zip": _zipped(lambda path, rows: _csv(path, rows, quoting=csv.QUOTE_ALL), "calls.csv"),
    "any.csv.gz": _packed(make_gzip, lambda path, rows: _csv(path, rows, delimiter=";"), "calls.csv"),
}  # fmt: skip
BOOKS: dict[str, Write] = {
    "any.xlsx": lambda path, rows: make_xlsx(path, [HEADER, *rows]),
    "any.xlsm": lambda path, rows: make_xlsx(path, [HEADER, *rows], "Macros"),
    "any.xls": lambda path, rows: make_xls(path, [HEADER, *rows]),
    "any.ods": lambda path, rows: make_ods(path, ods_table([HEADER, *rows])),
    "book.zip": _zipped(lambda path, rows: make_ods(path, ods_table([HEADER, *rows], "Packed")), "calls.ods"),
    "book.xlsx.gz": _packed(make_gzip, lambda path, rows: make_xlsx(path, [HEADER, *rows], "Packed"), "calls.xlsx"),
}  # fmt: skip
DAYS = st.one_of(
    st.dates(date(2020, 1, 1), date(2024, 12, 31)).map(str),
    st.sampled_from(["", " ", "soon", "2024-02-31", "Total"]),
)
NUMBERS = st.one_of(st.integers(1, 6).map(str), st.just(""), st.just("00012"), st.just("1E5"))


def _tables(texts: st.SearchStrategy[str]) -> st.SearchStrategy[Rows]:
    return st.lists(st.tuples(NUMBERS, DAYS, texts, texts, texts).map(list), min_size=1, max_size=25)


def _visible(text: str) -> bool:
    """Whether RE2's \\S, by which blank cells are told, finds anything (it knows ASCII blanks only)."""
    return bool(text.strip(" \t\n\f\r"))


def _read(
    formats: Mapping[str, Write], rows: Rows, privacy: str, check: Callable[[Store, str, str], None]
) -> None:
    """Write the table in every format, run the stage on all of them at once, and check what came of each file."""
    with tempfile.TemporaryDirectory() as folder:
        portfolio = make_portfolio(Path(folder) / "p", privacy)
        # The names in JSON objects have no order, so that their layout has them sorted.
        for name, header in (("any", HEADER), ("sorted", tuple(sorted(HEADER)))):
            write_layout(portfolio, Layout(name=name, source="any", header=header, columns=COLUMNS))
        for name, write in formats.items():
            write(portfolio.calls / name, rows)
        with closing(Store.create()) as store:
            run(store, portfolio, Silent())
            assert reconciles(store)
            files = store.rows("SELECT file_id, name FROM source_files")
            assert len(files) == len(formats)
            for file_id, name in files:
                check(store, str(file_id), str(name))


def _first_row(name: str) -> int:
    """The row number of a table's first row in a file."""
    return 1 if "json" in name else 2


MASKING_OFF = "[privacy]\nmask_free_text = false\n"
_MANY = settings(max_examples=3, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@_MANY
@given(rows=_tables(TEXTS))
def test_no_row_of_a_text_or_json_file_is_lost_and_no_text_is_changed(rows: Rows) -> None:
    _read(FORMATS, rows, MASKING_OFF, lambda store, file, name: _check(store, file, name, rows))


@_MANY
@given(rows=_tables(BOOK_TEXTS))
def test_no_row_of_a_workbook_is_lost_and_no_text_is_changed(rows: Rows) -> None:
    _read(BOOKS, rows, MASKING_OFF, lambda store, file, name: _check(store, file, name, rows))


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


@settings(_MANY, max_examples=2)
@given(
    rows=st.lists(st.tuples(st.just("1"), st.just("2024-01-13"), PEOPLE_TEXTS, PEOPLE_TEXTS, st.just("")).map(list),
                  min_size=4, max_size=16),
)  # fmt: skip
def test_with_masking_on_texts_are_exact_outside_the_masked_spans(rows: Rows) -> None:
    def check(store: Store, file: str, name: str) -> None:
        for number, *texts in _calls(store, file):
            for written, text in zip(rows[number - _first_row(name)][2:4], texts, strict=True):
                plain = without_remnants(written)
                kept = [re.escape(piece) for piece in re.split(r"\[(?:phone|e-mail|name)\]", text or "")]
                assert re.fullmatch(".+?".join(kept), plain if text else "", re.DOTALL)
                assert bool(text) == _visible(written)
                assert "303-555-0142" not in (text or "")
                assert "@" not in (text or "")

    formats = FORMATS | BOOKS
    names = (
        "any.csv",
        "pipes.txt",
        "any.json",
        "any.xlsx",
        "any.ods",
    )  # masking comes after what tells formats apart
    _read({name: formats[name] for name in names}, rows, "", check)


def _calls(store: Store, file: str) -> list[tuple[int, str | None, str | None]]:
    """Row number and texts of a file's calls, earlier states included."""
    sql = "SELECT row_number, problem_text, action_text FROM calls WHERE file_id = ?"
    return [(int(number), problem, action) for number, problem, action in store.rows(sql, [file])]


def _check(store: Store, file: str, name: str, written_rows: Rows) -> None:
    first = _first_row(name)
    encoding = next((one for one in ("cp1252", "latin-1") if one in name), None)
    rows = _in(encoding, written_rows) if encoding else written_rows
    rows_read, not_data = store.row("SELECT rows_read, not_data FROM source_files WHERE file_id = ?", [file])
    blank_at_the_end = len(rows) + 1 - rows_read - not_data
    # A workbook does not keep rows that hold nothing at its end.
    assert blank_at_the_end >= 0
    assert not any(any(row) for row in rows[len(rows) - blank_at_the_end :])
    calls = _calls(store, file)
    for number, problem, action in calls:
        written = rows[number - first]
        assert problem == (without_remnants(written[2]) if _visible(written[2]) else None)
        assert action == (without_remnants(written[3]) if _visible(written[3]) else None)
    days = {(date(2020, 1, 1) + timedelta(days=n)).isoformat() for n in range(1827)}
    usable = {
        number
        for number, row in enumerate(rows, start=first)
        if row[1] in days and (row[0] or _visible(row[2]) or _visible(row[3]))
    }
    found = {number for number, *_ in calls}
    assert found == usable
    # What is neither a call nor rejected is blank or a total without a report date; nothing else is set aside.
    rejected = {
        number for (number,) in store.rows("SELECT row_number FROM rejected_rows WHERE file_id = ?", [file])
    }
    for number, row in enumerate(rows, start=first):
        if number not in found | rejected:
            assert not row[1].strip()
            assert not row[0]
