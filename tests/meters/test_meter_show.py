"""What figures, pages, documents and commands show of meters."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import dashboard
from dashboard import charts
from dashboard.data import PORTFOLIO_VARIABLE
from pipeline import figures
from pipeline.figures import Filters
from pipeline.report.content import ORDER
from pipeline.report.meter_section import meters
from pipeline.report.statement_section import statements
from pipeline.store import Store
from pipeline.summary import check_summary
from pipeline.summary_text import show_summary


def test_reconciliation_counts_each_side_and_says_what_is_in_the_total(store: Store) -> None:
    frame = figures.meter_reconciliation(store)
    assert frame[["finding", "in_total", "incidents", "episodes"]].to_numpy().tolist() == [
        ["called in and on the meter", True, 1, 1],
        ["called in, not on the meter", True, 1, 0],
        ["called in, no readings then", True, 1, 0],
        ["found by the meter, never called in", False, 0, 1],
    ]
    in_total = float(frame.loc[frame["in_total"], "kwh"].sum())
    assert in_total == pytest.approx(float(figures.energy_by(store, "all")["kwh_central"].iloc[0]), abs=0.001)
    assert (frame["kwh_lower"] <= frame["kwh"]).all()
    assert (frame["kwh"] <= frame["kwh_upper"]).all()


def test_unreported_energy_is_a_figure_of_its_own_beside_the_boundary(store: Store) -> None:
    figure = figures.unreported_energy(store)
    assert figure.value is not None
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low < figure.value < figure.high
    assert "Not part of the reported total" in figure.note
    (wasted,) = [one for one in figures.headline(store) if one.key == "wasted_energy"]
    assert figures.unreported_text(store) in wasted.note


def test_sites_and_period_choose_stretches(store: Store) -> None:
    assert len(figures.meter_episodes(store)) == 2
    assert figures.meter_episodes(store, Filters(sites=("S2",))).empty
    may = Filters(start=date(2021, 5, 1), end=date(2021, 5, 31))
    assert figures.meter_episodes(store, may)["found"].tolist() == ["never called in"]
    assert figures.meter_reconciliation(store, may)["finding"].tolist() == [
        "found by the meter, never called in"
    ]


def test_without_meters_every_figure_says_what_to_add() -> None:
    empty = Store.create()
    assert figures.meter_reconciliation(empty).empty
    assert figures.unreported_energy(empty).value is None
    assert "meters/" in figures.unreported_energy(empty).note
    assert figures.unreported_text(empty) == ""


def test_check_names_each_meter_file_and_what_is_kept_out(
    store: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    summary = check_summary(store)
    show_summary(summary)
    said = capsys.readouterr().out
    assert "meters/readings.csv: 25" in said.replace("\u202f", "")
    assert "2 accounts, intervals of 15 min (inferred), offsets times, 2021-01-19 to 2021-05-31" in said
    assert "1 reading of AC-2 kept out: between two intervals" in said.replace("\u202f", "")
    assert summary.intake is not None
    assert summary.intake.meter_gaps[0]["reason"] == "between two intervals"


def test_charts_carry_units_and_mark_what_was_found(store: Store) -> None:
    days, episodes = figures.account_days(store, "AC-1"), figures.meter_episodes(store)
    lines = charts.measured_days(days, episodes)
    assert lines.layout.yaxis.title.text == "Mean load in hours off, kW"
    assert [note.text for note in lines.layout.annotations] == ["C", "N"]
    hours = figures.account_hours(store, "AC-1", date(2021, 5, 1), date(2021, 5, 10))
    heat = charts.measured_hours(hours, days)
    assert heat.layout.yaxis.title.text == "Hour of the day, local time, h"
    assert heat.data[0].colorbar.title.text == "kW"
    assert len(hours) == 240


def test_the_page_shows_meters_beside_the_calls(
    metered_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(PORTFOLIO_VARIABLE, str(metered_folder))
    app = AppTest.from_file(str(Path(dashboard.__file__).with_name("app.py")), default_timeout=60).run()
    app.switch_page("screens/wasted_energy.py").run()
    assert not app.exception, [one.value for one in app.exception]
    assert "What the meters say" in [header.value for header in app.header]
    (found,) = [grid.value for grid in app.dataframe if "finding" in grid.value.columns]
    assert len(found) == 4
    assert [box.label for box in app.selectbox if "draw" in box.label] == [
        "Account to draw", "Stretch to draw hour by hour",
    ]  # fmt: skip


def test_every_document_holds_the_reconciliation(store: Store) -> None:
    """A workbook has a sheet for each table of its sections."""
    assert all("meters" in order for order in ORDER.values())
    section = meters(store)
    assert [table.key for table in section.tables] == [
        "meter_reconciliation", "meter_episodes", "meter_incidents", "meter_accounts", "detection_delays",
        "meter_files", "meter_gaps",
    ]  # fmt: skip
    assert section.tables[0].texts()[0][:3] == ["called in and on the meter", "1", "1"]
    assert section.tables[1].texts()[1][7] == "never called in"
    assert [row[4] for row in section.tables[2].texts()] == ["both", "not on the meter", "no readings then"]
    assert section.tables[6].texts()[0][1:4] == ["AC-2", "between two intervals", "25346"]
    assert section.charts
    assert "Not part of the reported total" in section.lead


def test_a_document_without_meters_says_what_to_add() -> None:
    section = meters(Store.create())
    assert "meters/" in section.lead
    assert "meters/" in section.tables[0].if_empty
    assert section.charts == ()


def test_the_statement_of_each_year_says_what_meters_found_beside_it(store: Store) -> None:
    section = statements(store, figures.facts(store), None)
    assert figures.unreported_text(store) in section.lead
    assert "its energy is the meter's" in section.lead


def test_a_meter_file_is_an_input_whose_change_can_be_seen(store: Store) -> None:
    assert "file meters/readings.csv" in figures.inputs_read(store)["what"].tolist()
