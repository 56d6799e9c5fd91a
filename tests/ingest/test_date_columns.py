"""Dates read by their distinct days and hours are the dates read one by one, and prove the same."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.common_form import column_evidence
from pipeline.ingest.date_columns import DateColumn, gather_keys, read_keys
from pipeline.ingest.date_forms import DateOrder, formats_for
from pipeline.ingest.dates import DateEvidence, as_written_sql, read_evidence, timestamp_sql
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
    order=st.sampled_from(["month first", "day first", None]),
)
def test_reading_by_days_and_hours_changes_nothing(
    texts: list[str], zone: str, order: DateOrder | None
) -> None:
    with closing(Store.scratch()) as store:
        rows = [(row, text or None) for row, text in enumerate(texts)]
        store.run("CREATE TABLE written (row INTEGER, day VARCHAR)")
        store.fill_frame("written", pd.DataFrame(rows, columns=["row", "day"]).astype({"day": "object"}))
        evidence = column_evidence(store, "written", "day", order)
        one_by_one = read_evidence(store, "written", "day")
        assert replace(evidence, shapes={}) == replace(one_by_one, shapes={})
        assert sum(evidence.shapes.values()) == sum(one_by_one.shapes.values())
        formats = formats_for(list(one_by_one.shapes), order)

        def read(text: str) -> str:
            return timestamp_sql(text, formats, zone, serials=False, evidence=evidence)

        times = store.rows(f"SELECT row, {read('day')} FROM written ORDER BY row")
        # By the formats of all shapes, and by those alone that the quick look counted.
        for known in (formats, formats_for(list(evidence.shapes), order)):
            column = DateColumn(
                "dates_of_day", "day", lambda text, known=known: as_written_sql(text, known, evidence)
            )
            column_evidence(store, "written", "day", order)
            read_keys(store, column, read)
            read_so = store.rows(
                f"SELECT row, {column.time(read)}, {column.is_unread(read)} FROM written {column.join} ORDER BY row"
            )
            assert read_so == [(row, time, time is None) for row, time in times]


def test_a_column_of_many_rows_is_read_by_few_keys() -> None:
    with closing(Store.create()) as store:
        store.run(
            "CREATE TABLE written AS SELECT strftime(TIMESTAMP '2024-01-01' + to_seconds(n * 61), '%m/%d/%Y %H:%M:%S') "
            "AS day FROM range(20000) t(n)"
        )
        assert store.count(gather_keys(store, "written", "day").table) <= 14 * 24 * 4 + 24 * 4


def test_the_common_form_of_a_column_leaves_only_the_odd_rows_to_be_read_by_keys() -> None:
    with closing(Store.create()) as store:
        store.run(
            "CREATE TABLE written AS SELECT CASE WHEN n % 1000 = 7 THEN '7/4/' || (20 + n % 5) ELSE "
            "strftime(TIMESTAMP '2024-01-01' + to_seconds(n * 61), '%-m/%-d/%Y') END AS day FROM range(20000) t(n)"
        )
        evidence = column_evidence(store, "written", "day", None)
        assert evidence == read_evidence(store, "written", "day")
        assert evidence.shapes == {"d/d/y": 19_980, "d/d/d": 20}
        assert store.rows("SELECT count(*), sum(rows) FROM dates_of_day") == [(1, 20)]


def test_a_proof_far_below_the_first_rows_is_found() -> None:
    with closing(Store.create()) as store:
        store.run(
            "CREATE TABLE written AS SELECT CASE WHEN n = 24999 THEN '13/2/2024 14:00' ELSE '1/2/2024 3:00' END AS day "
            "FROM range(25000) t(n)"
        )
        evidence = column_evidence(store, "written", "day", None)
        assert evidence == read_evidence(store, "written", "day")
        assert (evidence.decided(), evidence.day_first_only, evidence.full_times) == ("day first", 1, 1)


def test_a_year_of_two_digits_is_never_one_of_antiquity() -> None:
    with closing(Store.create()) as store:
        store.run("CREATE TABLE written AS SELECT unnest(['7/4/2024', '7/5/2024', '7/4/24']) AS day")
        formats = formats_for(list(read_evidence(store, "written", "day").shapes), "month first")
        for read in (
            as_written_sql("day", formats, DateEvidence()),
            timestamp_sql("day", formats, "America/Denver", serials=False),
        ):
            assert store.rows(f"SELECT DISTINCT year({read}) FROM written") == [(2024,)]
