"""What comes next: the four parts in their order, their empty states, and the way down to calls."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from dashboard_folders import publish
from opening import Open
from reading import tables, words

sys.path.append(str(Path(__file__).parents[1]))

from figures.test_campaigns import yards
from figures.test_inrush_list import with_drivers
from figures.test_rates_and_trends import watched

from pipeline import figures


@pytest.fixture(scope="module")
def stressed_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("portfolios") / "stressed"
    publish(with_drivers(), folder)
    return folder


@pytest.fixture(scope="module")
def yards_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("portfolios") / "yards"
    publish(yards(), folder)
    return folder


def test_the_four_parts_stand_in_their_order_with_the_cautions_beside_the_list(
    open_page: Open, stressed_folder: Path
) -> None:
    app = open_page(stressed_folder, "next_year")
    assert [header.value for header in app.header if header.value != "Filters"] == [
        "Circuits above rated inrush", "The next twelve months", "Rates and growth, ages known or not",
        "Did campaigns work?",
    ]  # fmt: skip
    said = words(app)
    assert "de-energise, lock out and verify" in said
    assert "1 circuit" in said
    assert "Only 0 failed controls have a known inrush stress" in said


def test_every_circuit_can_be_shown(open_page: Open, stressed_folder: Path) -> None:
    app = open_page(stressed_folder, "next_year")
    assert tables(app)[0]["control_id"].tolist() == ["C1"]
    app.toggle(key="every_circuit").set_value(True).run()
    assert set(tables(app)[0]["control_id"]) == {"C1", "C3", "C4", "C5"}


def test_forecast_tables_are_those_of_the_figures(open_page: Open, stressed_folder: Path) -> None:
    expected = figures.outlook(with_drivers())
    spares, sites = tables(open_page(stressed_folder, "next_year"))[1:3]
    assert spares["stock"].tolist() == expected.models["stock"].tolist()
    assert spares["expected"].tolist() == pytest.approx(expected.models["expected"].tolist())
    assert sites["expected"].tolist() == pytest.approx(expected.sites["expected"].tolist())


def test_rates_can_be_seen_by_site_and_open_to_calls(
    open_page: Open, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("portfolios") / "watched"
    publish(watched(), folder)
    app = open_page(folder, "next_year")
    app.selectbox(key="rates_by").set_value("site").run()
    assert set(tables(app)[-1]["label"]) == {"North Yard", "South Yard"}
    app.selectbox(key="open_site_next").set_value("south").run()
    app.button(key="go_site_next").click().run()
    assert "Control failures of South Yard" in words(app)
    (calls,) = tables(app)
    assert set(calls["incident_id"]) == {"i03", "i08"}


def test_a_campaign_is_told_in_words(open_page: Open, yards_folder: Path) -> None:
    (result,) = figures.campaign_results(yards())
    said = words(open_page(yards_folder, "next_year"))
    assert " ".join(result.sentence.split()) in said
    assert "20 controls of R / LED at Yard 0" in said
    assert "(found in the data)" in said


def test_without_a_campaign_the_page_says_how_to_name_one(open_page: Open, stressed_folder: Path) -> None:
    said = words(open_page(stressed_folder, "next_year"))
    assert "No campaign is on record here." in said
    assert "[[campaigns]]" in said
