"""Cost by tariff period, demand charges and both carbon figures, as screens and documents show them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from energy.test_burn_costs import DEMAND, OFF_PEAK, PEAK, lamp
from energy.test_energy_stage import SETTINGS, burning, fixtures, store
from pipeline import figures
from pipeline.energy import stage
from pipeline.figures import Filters
from pipeline.figures.carbon import NO_LOSSES, NO_MARKET
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.report.content import document
from pipeline.settings import Settings
from pipeline.store import Store

__all__ = ["store"]


def run(store: Store, tmp_path: Path, tariff: dict[str, Any], **page: Any) -> None:
    settings = Settings.model_validate(
        SETTINGS.model_dump(mode="json") | {"tariffs": {"flat": tariff}} | page
    )
    store.run("UPDATE build_info SET settings = ?", [settings.model_dump_json()])
    stage.run(store, Portfolio(tmp_path, settings), Silent())


TIMED = {"periods": [PEAK, OFF_PEAK], "taxes_included": False, "tax_percent": 8, "demand": DEMAND}


@pytest.fixture
def burnt(store: Store) -> Store:
    """A weekday's and a Saturday's six hours of daylight in June 2024 at 1 kW metered and 0.5 kW not."""
    lamp(store, bill_account_id="A")
    fixtures(store, "G", "C", 500.0, bill_account_id="B", metered=False)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    burning(store, "j", "C", "2024-06-08 14:00", "2024-06-08 20:00")
    return store


def test_cost_by_period_says_when_each_price_holds_and_what_taxes_it_holds(
    burnt: Store, tmp_path: Path
) -> None:
    run(burnt, tmp_path, TIMED)
    rows = figures.cost_by_period(burnt).set_index("period")
    assert list(rows.index) == ["peak", "off-peak", "unmetered"]
    assert rows.loc["peak", "when"] == "mon, tue, wed, thu, fri 12:00 to 18:00"
    assert rows.loc["off-peak", "when"] == "at all other times"
    assert [float(cost) for cost in rows["cost_central"]] == [
        1.2,
        0.8,
        0.0,
    ]  # 4 h at 0.30; 2 h and 6 h at 0.10
    assert [float(kwh) for kwh in rows["kwh_central"]] == [4, 8, 6]
    assert rows["tax_cost_central"].tolist()[:2] == pytest.approx([0.096, 0.064])  # 8 % on top
    assert set(rows["taxes"][:2]) == {"taxes not in (8 %)"}
    total = figures.energy_by(burnt, "all").iloc[0]
    assert sum(rows["cost_central"]) == total["cost_central"]


def test_the_price_of_savings_is_shown_by_tariff(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, TIMED)
    (row,) = figures.savings_prices(burnt).to_dict("records")
    assert (row["tariff"], row["sites"], row["sites_without_price"]) == ("flat", 1, 0)
    assert 0.1 < row["price_per_kwh_least"] == row["price_per_kwh_most"] < 0.3


def test_taxes_within_a_price_are_taken_out_of_it(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, {"price_per_kwh": "1.08", "taxes_included": True, "tax_percent": 8})
    row = figures.cost_by_period(burnt).iloc[0]
    assert float(row["cost_central"]) == pytest.approx(12.96)  # 12 kWh
    assert row["tax_cost_central"] == pytest.approx(0.96)
    assert figures.taxes_statement(burnt) == "Prices hold taxes of 8 %."


def test_a_tariff_that_does_not_speak_of_taxes_says_so(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, {"price_per_kwh": "1"})
    assert figures.taxes_statement(burnt) == "It is not said whether prices hold taxes."
    cost = next(f for one in figures.headline(burnt) for f in one.flat() if f.key == "wasted_cost")
    assert cost.note == "Metered accounts only. It is not said whether prices hold taxes."


def test_periods_follow_the_filters(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, TIMED)
    assert figures.cost_by_period(burnt, Filters(sites=("elsewhere",))).empty
    assert figures.demand_by_tariff(burnt, Filters(kinds=("timer",))).empty


def test_demand_charges_stand_apart(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, TIMED)
    (row,) = figures.demand_by_tariff(burnt).to_dict("records")
    assert (row["tariff"], row["months"], float(row["demand_cost_central"])) == ("flat", 1, 9.5)
    assert row["when"] == "mon, tue, wed, thu, fri 15:00 to 18:00"
    assert figures.has_demand_charge(burnt)


def test_both_carbon_figures_stand_side_by_side_in_kilograms_and_tonnes(burnt: Store, tmp_path: Path) -> None:
    factor = {"kg_co2e_per_kwh": 0.1, "year": 2024, "source": "made up for this test"}
    loss = {"loss_percent": 10, "year": 2024, "source": "made up for this test"}
    run(burnt, tmp_path, TIMED, supplier_emissions={"A": factor}, grid_losses={"HOME": loss})
    row = figures.carbon_by(burnt, "all").iloc[0]
    assert float(row["co2e_kg_central"]) == 9.0  # 18 kWh at 0.5
    assert row["co2e_t_central"] == pytest.approx(0.009)
    assert float(row["co2e_market_kg_central"]) == pytest.approx(1.2 + 3)  # 12 kWh at 0.1, 6 at 0.5
    assert float(row["supplied_kwh_central"]) == 12
    assert row["co2e_losses_kg_central"] == pytest.approx(1)
    assert row["co2e_market_kg_p5"] == pytest.approx(4.2, rel=1e-5)  # onset and end are known here
    methods = figures.factors_in_force(burnt)[["method", "applies_to", "for_years", "value", "edition"]]
    assert methods.values.tolist() == [
        ["location-based", "HOME", "2024", 0.5, "portfolio.toml"],
        ["market-based", "A", "2024", 0.1, "portfolio.toml"],
        ["grid losses", "HOME", "2024", 10, "portfolio.toml"],
    ]
    market = next(f for one in figures.headline(burnt) for f in one.flat() if f.key == "wasted_co2e_market")
    assert market.value == pytest.approx(4.2)


def test_the_report_says_what_is_not_given(burnt: Store, tmp_path: Path) -> None:
    run(burnt, tmp_path, {"price_per_kwh": "1"})
    energy = next(part for part in document(burnt, "sustainability").sections if part.key == "energy")
    tables = {table.key: table for table in energy.tables}
    said = tables["emissions_by_calendar_year"].note
    assert NO_MARKET in said
    assert NO_LOSSES in said
    assert tables["demand_charges"].frame.empty
    assert "No tariff gives a demand charge" in tables["demand_charges"].if_empty
    assert "It is not said whether prices hold taxes." in tables["cost_by_tariff_period"].note
