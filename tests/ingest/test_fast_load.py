"""DuckDB's reading of a text file is that of the streaming reader, cell by cell, or is not used."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import duckdb
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.faults import InputFaults
from pipeline.ingest import load
from pipeline.ingest.fast_load import load_fast
from pipeline.ingest.files import Export, open_export
from pipeline.ingest.headers import Header
from pipeline.ingest.load import Counts, load_rows
from pipeline.store import Row, Store

HEADER = Header(1, ("Number", "Date 1", "Said"))
# Cells of everything that tells readers apart, well and badly written; rows that are no data; ragged rows.
ODD = st.lists(st.sampled_from([*'ab5", \n;\\é\t\r', "\r\n"]), max_size=5).map("".join)
WORDS = st.sampled_from(["", "x", " ", "\xa0", "Total", "Total 5 calls", "Page 1", "3 records", "Number", "Date 1",
                         "Said", "1/2/2024", "sum", "NULL", "_x000D_", "&amp;", "#"])  # fmt: skip


def _written(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if any(sign in cell for sign in '",\r\n') else cell


GOOD = st.one_of(WORDS, ODD).map(_written)
QUOTED = WORDS.map(lambda cell: f'"{cell}"')
CELLS = st.one_of(GOOD, GOOD, GOOD, QUOTED, ODD)
GOOD_ROWS = st.lists(st.one_of(GOOD, QUOTED), min_size=3, max_size=3)
ANY_ROWS = st.one_of(GOOD_ROWS, st.lists(CELLS, max_size=5))
ENDS = st.sampled_from(["\n", "\r\n"])


def _load(export: Export, header: Header, way: Callable[[Store], Counts]) -> tuple[list[Row], Counts] | str:
    with closing(Store(duckdb.connect())) as store:  # without our tables: many are opened
        try:
            counts = way(store)
        except InputFaults as error:
            return str(error)
        return store.rows("SELECT * FROM raw ORDER BY row_number"), counts


def _both_ways(text: str, encoding: str = "utf-8", header: Header = HEADER) -> tuple[object, object, bool]:
    """What is loaded as it comes and by the streaming reader alone; and whether the fast way took it."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patched:
        path = Path(folder) / "calls.csv"
        path.write_bytes(text.encode(encoding))
        export = open_export(path)
        taken = []

        def fast(*arguments: object) -> object:
            taken.append(load_fast(*arguments))  # type: ignore[arg-type]
            return taken[-1]

        patched.setattr(load, "load_fast", fast)
        as_it_comes = _load(export, header, lambda store: load_rows(store, export, None, header, [1], [1, 2]))
        patched.setattr(load, "load_fast", lambda *_: None)
        streamed = _load(export, header, lambda store: load_rows(store, export, None, header, [1], [1, 2]))
    return as_it_comes, streamed, taken[-1] is not None


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=st.lists(ANY_ROWS, max_size=6), end=ENDS, last=st.sampled_from(["", "\n", "\r\n\r\n", " "]))
def test_any_text_is_loaded_as_by_the_streaming_reader(rows: list[list[str]], end: str, last: str) -> None:
    text = end.join(",".join(cells) for cells in [["Number", "Date 1", "Said"], *rows]) + last
    as_it_comes, streamed, _ = _both_ways(text)
    assert as_it_comes == streamed


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=st.lists(GOOD_ROWS, min_size=1, max_size=8), end=ENDS, last=st.booleans())
def test_well_written_text_is_loaded_the_fast_way(rows: list[list[str]], end: str, last: bool) -> None:
    lines = [",".join(cells) for cells in [["Number", "Date 1", "Said"], *rows]]
    text = end.join(lines) + (end if last else "")
    as_it_comes, streamed, was_fast = _both_ways(text)
    assert as_it_comes == streamed
    alone = "\r" in text.replace("\r\n", "")
    assert was_fast or alone


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_other_encodings_go_the_fast_way(encoding: str) -> None:
    rows = "".join(f'{n},1/{n % 12 + 1}/2024,"Café pole {n}\nout"\r\n' for n in range(2000))
    as_it_comes, streamed, was_fast = _both_ways(f"Number,Date 1,Said\r\n{rows}\r\n\r\n", encoding)
    assert was_fast
    assert as_it_comes == streamed


def test_titles_over_the_header_count_as_rows() -> None:
    text = 'Calls of\n"the\nyear ""24"""\nNumber,Date 1,Said\n1,1/2/2024,out\nTotal,,1\n2,1/3/2024,on\n'
    as_it_comes, streamed, was_fast = _both_ways(text, header=Header(3, HEADER.labels))
    assert was_fast
    assert as_it_comes == streamed


@pytest.mark.parametrize("end", ["7,,\n", "7,,\n9,,\n", "7,,\n,,\nPage 1 of 1,,\n", '"7\n8",,\n', "7,,"])
def test_totals_without_a_label_at_the_end_are_found_alike(end: str) -> None:
    as_it_comes, streamed, was_fast = _both_ways(f"Number,Date 1,Said\n5,,\n1,1/2/2024,out\n{end}")
    assert was_fast
    assert as_it_comes == streamed
    rows, counts = as_it_comes  # type: ignore[misc]
    assert [row[0] for row in rows] == [2, 3]  # what looks like a total among the calls is none
    assert counts.unlabelled_totals == ([4, 5] if "9" in end else [4])


@pytest.mark.parametrize(
    "row", ['1, "1/2/2024",out', '"1" ,1/2/2024,out', "1,1/2/2024", "1,1/2/2024,out,more", "", "1,\r,x"]
)
def test_what_the_two_readers_could_take_differently_is_streamed(row: str) -> None:
    as_it_comes, streamed, was_fast = _both_ways(f"Number,Date 1,Said\n{row}\n2,1/3/2024,on\n")
    assert not was_fast
    assert as_it_comes == streamed


def test_row_numbers_follow_the_file_over_many_blocks() -> None:
    # Several of DuckDB's scanning blocks, with line breaks in cells at their seams.
    with tempfile.TemporaryDirectory() as folder, closing(Store.create()) as store:
        path = Path(folder) / "calls.csv"
        rows = (f'{n},1/2/2024,"{"far " * 40}\nout {n}"\n' for n in range(2, 500_002))
        with path.open("w", encoding="utf-8", newline="") as file:
            file.write("Number,Date 1,Said\n")
            file.writelines(rows)
        assert load_fast(store, open_export(path), HEADER, [1])
        assert store.row("SELECT count(*), count(*) FILTER (c1 <> row_number::VARCHAR) FROM raw") == (
            500_000,
            0,
        )


def test_a_row_that_duckdb_loses_is_noticed_by_the_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "calls.csv"
    path.write_text("Number,Date 1,Said\n1,1/2/2024,out\n2,1/3/2024,on\n", encoding="utf-8")
    run = Store.run

    def lose_one(store: Store, sql: str, *more: object) -> None:
        run(
            store,
            sql.replace("FROM read_csv(", "FROM (FROM read_csv(") + " LIMIT 1)" if "read_csv" in sql else sql,
            *more,
        )

    monkeypatch.setattr(Store, "run", lose_one)
    with closing(Store.create()) as store:
        assert load_fast(store, open_export(path), HEADER, [1]) is None


def test_a_row_that_is_not_well_formed_is_told_far_down_too(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_text("Number,Date 1,Said\n" + "1,1/2/2024,out\n" * 500 + '2,"a"b,on\n', encoding="utf-8")
    with (
        closing(Store.create()) as store,
        pytest.raises(InputFaults, match=r"row 502 .line 502.: is not a well-formed"),
    ):
        load_rows(store, open_export(path), None, HEADER, [1])
