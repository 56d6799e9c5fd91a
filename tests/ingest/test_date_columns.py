"""Dates read by their distinct days and hours are the dates read one by one, and prove the same."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.date_columns import evidence_of, gather_keys, read_keys
from pipeline.ingest.date_forms import DateOrder, formats_for
from pipeline.ingest.dates import as_written_sql, read_evidence, timestamp_sql
from pipeline.store import Store

# Days around a clock change (Denver and, by half an hour, Lord Howe in October), ends of months, and no days at all.
DAYS = st.sampled_from(["3/10/2024", "10/6/2024", "7/4/24", "31/12/2023", "2/30/2024", "2024-03-10", "20240704",
                        "4-Jul-2024", "soon", ""])  # fmt: skip
CLOCKS = st.one_of(
    st.tuples(st.integers(0, 25), st.integers(0, 61)).map(lambda clock: f" {clock[0]}:{clock[1]:02d}"),
    st.tuples(st.integers(0, 24), st.integers(0, 59), st.integers(0, 61)).map(
        lambda clock: f" {clock[0]:02d}:{clock[1]:02d}:{clock[2]:02d}"
    ),
    st.sampled_from(["", " 0:00", " 00:00", " 24:00", " 24:30", " 2:3", " 1:005", " 1430", " 2:15Z", " 02:45+00:00",
                     " 02:45 EST", " 02:10:59.5", ":", " :30", " 5:٣٣", " 1:0é"]),
)  # fmt: skip
HALVES = st.sampled_from(["", "", " AM", " pm", " P.M.", "a"])
COLUMNS = st.lists(st.tuples(DAYS, CLOCKS, HALVES).map("".join), min_size=1, max_size=150)


@settings(max_examples=10, deadline=None)
@given(
    texts=COLUMNS,
    zone=st.sampled_from(["America/Denver", "Australia/Lord_Howe"]),
    order=st.sampled_from(["month first", "day first"]),
)
def test_reading_by_days_and_hours_changes_nothing(texts: list[str], zone: str, order: DateOrder) -> None:
    with closing(Store.scratch()) as store:
        rows = [(row, text or None) for row, text in enumerate(texts)]
        store.run("CREATE TABLE written (row INTEGER, day VARCHAR)")
        store.fill_frame("written", pd.DataFrame(rows, columns=["row", "day"]).astype({"day": "object"}))
        column = gather_keys(store, "written", "day")
        evidence = read_evidence(store, "written", "day")
        assert evidence_of(store, column) == evidence
        formats = formats_for(list(evidence.shapes), order)

        def read(text: str) -> str:
            return timestamp_sql(text, formats, zone, serials=False, evidence=evidence)

        one_by_one = store.rows(f"SELECT row, {read('day')} FROM written ORDER BY row")
        quick = replace(column, written=lambda text: as_written_sql(text, formats, evidence))
        for one in (column, quick):
            gather_keys(store, "written", "day")
            read_keys(store, one, read)
            read_so = store.rows(
                f"SELECT row, {one.time(read)}, {one.is_unread(read)} FROM written {one.join} ORDER BY row"
            )
            assert read_so == [(row, time, time is None) for row, time in one_by_one]


def test_a_column_of_many_rows_is_read_by_few_keys() -> None:
    with closing(Store.create()) as store:
        store.run(
            "CREATE TABLE written AS SELECT strftime(TIMESTAMP '2024-01-01' + to_seconds(n * 61), '%m/%d/%Y %H:%M:%S') "
            "AS day FROM range(20000) t(n)"
        )
        column = gather_keys(store, "written", "day")
        assert store.count(column.table) <= 14 * 24 * 4 + 24 * 4
