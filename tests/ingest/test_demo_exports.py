"""The demo's exports: its saved layouts are what is proposed, every row is reconciled, and no person is left."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from pipeline.ingest import propose_layout
from pipeline.ingest.files import open_export
from pipeline.ingest.headers import ROWS_SEARCHED, find_header
from pipeline.ingest.layouts import Layout, read_layouts
from pipeline.ingest.rows import rows_of
from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import reconciles

DEMO = Path(__file__).parents[2] / "demo_data" / "portfolio"


@pytest.fixture
def demo(demo_folder: Path) -> Portfolio:
    """The demo, built once for the whole run."""
    return Portfolio.read(demo_folder)


@pytest.fixture
def store(demo_store: Store) -> Store:
    return demo_store


def _first_of_each_layout(demo: Portfolio) -> dict[str, Path]:
    first: dict[str, Path] = {}
    layouts = read_layouts(demo)
    for path in demo.export_files():
        export = open_export(path)
        sheet = export.sheets[0] if export.sheets else None
        rows = [row for row, _ in zip(rows_of(export, sheet), range(ROWS_SEARCHED), strict=False)]
        header = find_header(rows, layouts)
        assert header is not None, path
        first.setdefault(layouts[header.labels].name, path)
    return first


def test_the_saved_layouts_are_what_is_proposed(demo: Portfolio, tmp_path: Path) -> None:
    saved = {layout.name: layout for layout in read_layouts(demo).values()}
    assert len(saved) == 2
    bare = tmp_path / "bare"
    bare.mkdir()
    shutil.copy(demo.settings_file, bare)
    for name, path in _first_of_each_layout(demo).items():
        proposed = propose_layout(path, Portfolio.read(bare), source=saved[name].source).layout
        assert _reading(proposed) == _reading(saved[name])


def _reading(layout: Layout) -> dict[str, object]:
    """A layout but for the values seen in one file or another."""
    return layout.model_dump(exclude={"values"})


def test_both_layouts_speak_for_one_system_and_every_row_is_reconciled(store: Store) -> None:
    assert reconciles(store)
    assert store.value("SELECT count(DISTINCT source) FROM source_files") == 1
    assert store.rows("SELECT message FROM notices WHERE stage = 'ingest'") == []
    assert store.value("SELECT count(DISTINCT layout) FROM source_files") == 2
    # The workbooks carry title rows above their header.
    assert store.value("SELECT bool_and((header_row > 1) = (sheet IS NOT NULL)) FROM source_files")


def test_calls_in_both_exports_count_once(store: Store) -> None:
    latest, numbers = store.row(
        "SELECT count(*), count(DISTINCT call_number) FROM calls "
        "WHERE superseded_by IS NULL AND call_number IS NOT NULL"
    )
    assert latest == numbers
    assert store.value("SELECT sum(superseded) FROM source_files") > 0


def test_no_requester_telephone_or_address_is_left_in_any_stored_text(demo: Portfolio, store: Store) -> None:
    store.run(f"CREATE OR REPLACE TEMP TABLE kept AS FROM read_parquet('{demo.cache}/*.parquet')")
    texts = "concat_ws(' ', site_text, asset_text, address_text, problem_text, action_text, category_text)"
    stored = [
        str(text) for (text,) in store.rows(f"SELECT {texts} FROM calls UNION ALL SELECT {texts} FROM kept")
    ]
    stored += [str(raw) for (raw,) in store.rows("SELECT raw FROM rejected_rows")]
    people = _people(demo)
    assert len(people) > 20
    words = re.compile(r"[^\W\d_]+")
    assert not {word for text in stored for word in words.findall(text.lower())} & people
    assert not [text for text in stored if re.search(r"\b\d{3}-\d{4}\b|\w@\w", text)]
    assert any("[name]" in text for text in stored)


def _people(demo: Portfolio) -> set[str]:
    """Every word of the requesters' names in the exports themselves."""
    names: set[str] = set()
    layouts = read_layouts(demo)
    for path in demo.export_files():
        export = open_export(path)
        rows = [cells for _, cells in rows_of(export, export.sheets[0] if export.sheets else None)]
        header = find_header(list(enumerate(rows[:ROWS_SEARCHED], start=1)), layouts)
        assert header is not None
        for column in ("REQUESTOR", "Requested By"):
            if column in header.labels:
                place = header.labels.index(column)
                names |= {row[place] for row in rows[header.row_number :] if place < len(row)}
    return {word for name in names for word in re.findall(r"[^\W\d_]{3,}", name.lower())}
