"""docs/data-model.md says what the tables are."""

from __future__ import annotations

from pathlib import Path

from pipeline.store import Store
from pipeline.tables import TABLES
from pipeline.tables.page import data_model_page

PAGE = Path(__file__).parents[2] / "docs" / "data-model.md"


def test_the_page_is_what_the_tables_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == data_model_page()


def test_every_table_can_be_made_and_carries_its_meaning() -> None:
    store = Store.create()
    made = dict(
        store.rows(
            "SELECT table_name, comment FROM duckdb_tables()"
            " UNION SELECT view_name, comment FROM duckdb_views() WHERE NOT internal"
        )
    )
    assert set(made) == {table.name for table in TABLES}
    assert all(comment.startswith("a row is ") for comment in made.values())
    bare = store.rows(
        "SELECT table_name, column_name FROM duckdb_columns() WHERE comment IS NULL AND NOT internal"
    )
    assert bare == []


def test_a_view_has_the_columns_that_its_page_says() -> None:
    store = Store.create()
    views = [table for table in TABLES if table.view_of]
    assert views
    for view in views:
        has = [(row[0], row[1]) for row in store.rows(f"DESCRIBE {view.name}")]
        assert has == [(column.name, column.type) for column in view.columns]
