"""How far lives can be trusted, and repeat calls, in the documents: the figures' own numbers and sentences."""

from __future__ import annotations

from html import escape
from pathlib import Path

import pytest
from figures.test_rates_and_trends import watched
from openpyxl import load_workbook

from pipeline import figures
from pipeline.report import write_report
from pipeline.report.life_sections import causes, repeats, trust
from pipeline.store import Store


def test_the_page_says_what_the_figures_say(tmp_path: Path) -> None:
    store = watched()
    write_report(store, tmp_path / "r.html", "director")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    for sentence in (
        figures.group_differences(store).sentence,
        figures.repeat_calls(store).sentences[0],
        figures.weibull_check(store, "model and lamp", "A / LED").sentences[0],
        figures.life_causes(store, "photocontrol").sentences[0],
    ):
        assert escape(sentence) in page
    assert "chart-weibull-paper" in page
    assert "chart-repeats" in page


def test_the_workbook_holds_every_pair_group_and_site(tmp_path: Path) -> None:
    store = watched()
    write_report(store, tmp_path / "r.xlsx", "contractor")
    book = load_workbook(tmp_path / "r.xlsx")
    pairs = list(book["group pairs"].values)
    assert len(pairs) == 1 + 3
    adjusted = figures.group_differences(store).pairs["p_value_holm"]
    assert pairs[1][3] == pytest.approx(adjusted.iloc[0])
    assert {row[0] for row in list(book["weibull checks"].values)[1:]} == {"A / LED", "B / HPS", "T / LED"}
    assert [row[:2] for row in list(book["repeat calls"].values)[1:]] == [
        ("North Yard", 5),
        ("South Yard", 4),
    ]


def test_nothing_to_judge_is_a_sentence(empty: Store) -> None:
    assert trust(empty).lead.startswith("No group of controls can be followed here")
    assert not trust(empty).charts
    assert "No site's log was kept" in repeats(empty).lead
    assert all(table.frame.empty and table.if_empty for table in causes(empty).tables)
    assert not repeats(empty).charts
