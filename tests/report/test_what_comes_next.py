"""What comes next, in the documents: the same numbers as the figures, on the page and in the workbook."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from figures.test_campaigns import yards
from figures.test_inrush_list import with_drivers
from openpyxl import load_workbook

from pipeline import figures
from pipeline.report import write_report
from pipeline.report.content import ORDER, document
from pipeline.store import Store


@pytest.fixture(scope="module")
def driven() -> Iterator[Store]:
    """The small portfolio with drivers behind its controls; read only by agreement."""
    store = with_drivers()
    yield store
    store.close()


@pytest.mark.parametrize("reader", ORDER)
def test_every_reader_gets_every_section_once(driven: Store, reader: str) -> None:
    keys = [section.key for section in document(driven, reader).sections]
    assert sorted(keys) == sorted(ORDER["director"])
    assert {"inrush", "next year", "rates", "campaigns"} <= set(keys)


def test_the_workbook_holds_every_circuit_and_every_part(driven: Store, tmp_path: Path) -> None:
    write_report(driven, tmp_path / "r.xlsx", "director")
    book = load_workbook(tmp_path / "r.xlsx")
    circuits = list(book["inrush circuits"].values)
    control = circuits[0].index("Control")
    assert {row[control] for row in circuits[1:]} == {"C1", "C3", "C4", "C5"}
    models = list(book["forecast by model"].values)
    assert models[0][:2] == ("Model", "Spares")
    expected = figures.outlook(driven).models
    assert [row[:3] for row in models[1:]] == [
        (row["model"], row["stock"], pytest.approx(row["expected"])) for row in expected.to_dict("records")
    ]
    assert {"forecast by site", "rates by site", "growth", "campaign results"} <= set(book.sheetnames)


def test_the_page_says_what_a_campaign_did_and_what_is_supposed(driven: Store, tmp_path: Path) -> None:
    store = yards()
    (result,) = figures.campaign_results(store)
    write_report(store, tmp_path / "r.html", "director")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert result.effect is not None
    assert result.effect.sentence.replace("'", "&#39;") in page
    write_report(driven, tmp_path / "s.html", "contractor")
    stressed = (tmp_path / "s.html").read_text(encoding="utf-8")
    assert "Circuits above their control&#39;s rated peak" in stressed
    assert "Only 0 failed controls have a known inrush stress" in stressed
