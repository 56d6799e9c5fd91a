"""docs/data-model.md says what the tables are."""

from __future__ import annotations

from pathlib import Path

from pipeline.store import Store
from pipeline.tables import TABLES
from pipeline.tables.page import data_model_page

PAGE = Path(__file__).parents[2] / "docs" / "data-model.md"


def test_the_page_is_what_the_tables_say() -> None:
    assert PAGE.read_text(encoding="utf-8") == data_model_page()


def test_every_table_can_be_made_and_carries_its_meaning_in_a_file(tmp_path: Path) -> None:
    store = Store.create(tmp_path / "made.duckdb")
    made = dict(
        store.rows(
            "SELECT table_name, comment FROM duckdb_tables()"
            " UNION SELECT view_name, comment FROM duckdb_views() WHERE NOT internal"
        )
    )
    assert set(made) == {table.name for table in TABLES}
    assert all(comment.startswith("a row is ") for comment in made.values())
    told = store.rows("SELECT table_name, column_name, comment FROM duckdb_columns() WHERE NOT internal")
    meant = {(table.name, column.name): column.meaning for table in TABLES for column in table.columns}
    assert {(table, column): comment for table, column, comment in told} == meant
    store.close()


def test_a_view_has_the_columns_that_its_page_says() -> None:
    store = Store.create()
    views = [table for table in TABLES if table.view_of]
    assert views
    for view in views:
        has = [(row[0], row[1]) for row in store.rows(f"DESCRIBE {view.name}")]
        assert has == [(column.name, column.type) for column in view.columns]
