"""People in columns that are not meant for them, and in rows that slipped: nothing of them is kept or shown."""

from __future__ import annotations

from pathlib import Path

import small_portfolio

from pipeline.build import build
from pipeline.store import Store
from pipeline.tables import TABLES

CALLS = """\
Work Order,Reported,Completed,Status,Requester,Site,Asset,Problem,Action
101,2021-03-01 09:00,2021-03-05 15:00,Closed,Petra Lindqvane,North Yard,PC-0001,Lot light on all day,Replaced photocell
102,2021-04-01 09:00,2021-04-05 15:00,Waiting on 970-555-0134,Mirko Tannhofer,North Yard,PC-0002 ask Petra Lindqvane 970-555-0188,Pole light out,Replaced lamp
103,2021-05-01 09:00,,Closed,,Mirko Tannhofer,North Yard,PC-0002,Pole light out,Replaced lamp
"""  # noqa: E501 - rows of an export


def test_no_name_or_number_is_in_any_table_or_in_the_cache(tmp_path: Path) -> None:
    folder = small_portfolio.make(tmp_path / "yards", CALLS)
    store = Store.open(build(folder).database)
    assert store.count("rejected_rows") == 1  # the row with one cell too many
    stored = "\n".join(repr(row) for table in TABLES for row in store.rows(f'FROM "{table.name}"'))
    cached = "\n".join(
        repr(row)
        for path in sorted((folder / "cache").glob("*.parquet"))
        for row in Store.create().rows(f"FROM read_parquet('{path}')")
    )
    assert "Lot light on all day" in stored
    assert "Pole light out" in cached
    for person in ("Lindqvane", "Tannhofer", "555-0188", "555-0134"):
        assert person not in stored, person
        assert person not in cached, person
