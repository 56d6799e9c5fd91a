"""The statement for a year: its amounts, its sites, what it covers, and what moved since the build before."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures.small_store import small_store
from pipeline import figures
from pipeline.figures import Filters, Period
from pipeline.store import Store

YEAR = Period("2024", date(2024, 1, 1), date(2024, 12, 31), complete=False)


@pytest.fixture
def own() -> Iterator[Store]:
    store = small_store()
    yield store
    store.close()


def amount(store: Store, key: str, year: Period = YEAR) -> dict[str, object]:
    (row,) = figures.statement(store, year).amounts.query("key == @key").to_dict("records")
    return row


def test_a_years_amounts_are_those_of_its_months(own: Store) -> None:
    months = figures.energy_by(own, "month", Filters(start=YEAR.start, end=YEAR.end))
    assert amount(own, "kwh")["central"] == float(months["kwh_central"].sum()) == 460
    assert amount(own, "kwh")["low"] == float(months["kwh_low"].sum())
    assert amount(own, "co2e_t")["central"] == pytest.approx(float(months["co2e_kg_central"].sum()) / 1000)
    assert amount(own, "cost")["unit"] == "USD"


def test_what_is_not_known_is_left_out_and_not_zero(own: Store) -> None:
    assert "co2e_market_kg" not in set(figures.statement(own, YEAR).amounts["key"])


def test_sites_have_shares_of_the_year_and_the_largest_comes_first(own: Store) -> None:
    sites = figures.statement(own, YEAR).sites
    assert sites["share"].sum() == pytest.approx(1)
    assert sites["kwh_central"].astype(float).is_monotonic_decreasing


def test_a_year_without_energy_has_no_amounts_and_no_sites(own: Store) -> None:
    told = figures.statement(own, Period("1999", date(1999, 1, 1), date(1999, 12, 31), complete=False))
    assert told.amounts.empty
    assert told.sites.empty
    assert told.incidents == 0


def test_notes_name_the_factors_of_the_year_the_assumptions_and_whether_prices_hold_taxes(own: Store) -> None:
    own.run("DELETE FROM factors_in_force")
    own.run(
        "INSERT INTO factors_in_force BY NAME SELECT 'location-based' AS method, 'R1' AS applies_to,"
        " y AS year, 0.5 AS value, 'kg CO2e/kWh' AS unit, 'E1' AS edition, 2023 AS factor_year, 'a table' AS source,"
        " CASE WHEN y = 2024 THEN '2023' ELSE '' END AS stands_in FROM range(2023, 2026) t(y)"
    )
    notes = {note.about: note.says for note in figures.statement_notes(own, figures.statement(own, YEAR))}
    assert notes["Factors"] == "location-based, R1, 2024: 0.5 kg CO2e/kWh (E1, standing in)."
    assumed = figures.facts(own).assumptions
    assert f"{assumed.detection_delay_days:g} days" in notes["Assumptions"]
    assert f"{assumed.onset_cap_days:g} days before its first report" in notes["Assumptions"]
    assert {"Method", "Boundary", "Uncertainty", "Coverage"} <= set(notes)


def test_a_year_without_a_factor_says_that_no_emissions_are_reckoned(own: Store) -> None:
    own.run("DELETE FROM factors_in_force")
    notes = {note.about: note.says for note in figures.statement_notes(own, figures.statement(own, YEAR))}
    assert "no emissions are reckoned" in notes["Factors"]


def test_a_year_that_the_log_covers_in_part_says_so(own: Store) -> None:
    (last,) = [year for year in figures.periods(own) if year.label == "2024"]
    assert "this is no whole year" in figures.statement(own, last).coverage
    whole = next(year for year in figures.periods(own) if year.complete)
    assert figures.statement(own, whole).coverage == "The log covers the whole year."


@settings(max_examples=4, deadline=None)
@given(st.integers(1, 12))
def test_fiscal_years_that_begin_in_any_month_add_up_to_all_energy(month: int) -> None:
    store = small_store()
    store.run("UPDATE build_info SET fiscal_year_start = ?", [month])
    years = figures.energy_by(store, "fiscal year")["kwh_central"].sum()
    assert years == figures.energy_by(store, "all")["kwh_central"].iloc[0]
    stated = [
        float(one["central"])
        for told in figures.statements(store, "fiscal year" if month != 1 else "calendar year")
        for one in told.amounts.query("key == 'kwh'").to_dict("records")
    ]
    assert sum(stated) == pytest.approx(float(years))
    store.close()


def test_all_years_at_once_state_what_each_states_alone(own: Store) -> None:
    for told in figures.statements(own, "fiscal year"):
        alone = figures.statement(own, told.year)
        pd.testing.assert_frame_equal(told.amounts, alone.amounts, check_dtype=False)
        assert (told.incidents, told.coverage) == (alone.incidents, alone.coverage)


def test_a_range_of_years_together_is_narrower_than_their_ranges_added(own: Store) -> None:
    months = figures.energy_by(own, "month")
    total = figures.energy_by(own, "all").iloc[0]
    assert total["kwh_p95"] - total["kwh_p5"] <= (months["kwh_p95"] - months["kwh_p5"]).sum() + 1e-9


def test_years_that_moved_name_both_builds_and_the_difference() -> None:
    before = _years({"2023": (10.0, 1.0, 4.0), "2024": (20.0, 2.0, 8.0)})
    now = _years({"2024": (25.0, 2.5, 10.0), "2025": (5.0, 0.5, 2.0), "2023": (10.0, 1.0, 4.0)})
    moved = figures.changed_years(before, now).set_index("part")
    assert list(moved.index) == ["2024", "2025"]
    assert moved.loc["2024", ["kwh_before", "kwh_now", "kwh_change"]].tolist() == [20, 25, 5]
    assert moved.loc["2025", ["cost_before", "cost_now", "cost_change"]].tolist() == [0, 0.5, 0.5]
    assert figures.changed_years(before, before).empty


def _years(values: dict[str, tuple[float, float, float]]) -> pd.DataFrame:
    rows = [
        {"part": part, "kwh_central": kwh, "cost_central": cost, "co2e_kg_central": kg}
        for part, (kwh, cost, kg) in values.items()
    ]
    return pd.DataFrame(rows)


def test_inputs_that_differ_are_named_file_setting_register_and_decision(own: Store) -> None:
    before = figures.inputs_read(own)
    assert before["what"].is_unique
    assert figures.changed_inputs(before, before).empty
    own.run("UPDATE build_info SET settings = replace(settings, '\"confidence\":0.95', '\"confidence\":0.9')")
    own.run("INSERT INTO source_files BY NAME SELECT * REPLACE ('calls/more.csv' AS name, 'more' AS file_id,"
            " 'abc' AS sha256) FROM source_files LIMIT 1")  # fmt: skip
    own.run("INSERT INTO decisions VALUES (2, '2024-01-01', 'x', 'finding', 'k', 'control_failed', 'yes', 'w',"
            " 'in force', 1, 1)")  # fmt: skip
    differ = figures.changed_inputs(before, figures.inputs_read(own)).set_index("what")
    assert differ.loc["file calls/more.csv", "now"] == "abc"
    assert pd.isna(differ.loc["file calls/more.csv", "before"])
    assert differ.loc["decisions in force"].tolist() == ["0", "1"]
    assert set(differ.index) == {
        "file calls/more.csv",
        "decisions in force",
        "setting assumptions.confidence",
    }
