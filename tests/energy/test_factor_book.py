"""Which emission factor holds for a place, an account and a year, and what is said where none is the year's own."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from energy.test_energy_stage import SETTINGS, burning, control, fixtures, store
from pipeline.energy import stage
from pipeline.energy.factor_book import FactorBook
from pipeline.faults import InputFaults
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings, read_settings
from pipeline.store import Store

__all__ = ["store"]

KG_PER_KWH = 0.45359237 / 1000  # of a pound a megawatt-hour
OWN = {"kg_co2e_per_kwh": 0.5, "year": 2023, "source": "made up for this test"}


def book(**page: Any) -> FactorBook:
    return FactorBook(settings(**page))


def settings(**page: Any) -> Settings:
    return Settings.model_validate(SETTINGS.model_dump(mode="json") | page)


@pytest.mark.parametrize(
    ("year", "lb_per_mwh", "edition", "stands_in"),
    [
        # US EPA, total output emission rates: eGRID2022 (30 January 2024), eGRID2023 revision 2 (12 June 2025).
        (2022, 1131.7, "eGRID2022", ""),
        (2023, 1042.539, "eGRID2023", ""),
        (2025, 1042.539, "eGRID2023", "no value of 2025: that of 2023 stands in (the nearest earlier one)"),
        (
            2020,
            1131.7,
            "eGRID2022",
            "no value of 2020: that of 2022 stands in (none is earlier, so the first)",
        ),
    ],
)
def test_each_year_takes_its_own_edition_or_the_nearest_earlier(
    year: int, lb_per_mwh: float, edition: str, stands_in: str
) -> None:
    found = book().location("RMPA", year)
    assert found is not None
    assert found.value == pytest.approx(lb_per_mwh * KG_PER_KWH, rel=1e-12)
    assert (found.edition, found.stands_in) == (edition, stands_in)


def test_a_named_edition_holds_for_all_years() -> None:
    for year in (2020, 2022, 2025):
        found = book(emission_edition="eGRID2023").location("RMPA", year)
        assert found is not None
        assert found.edition == "eGRID2023"
    assert book(emission_edition="eGRID2023").location("UK", 2025) is None


def test_factors_of_ones_own_come_before_the_published() -> None:
    own = book(emissions={"RMPA": [OWN, OWN | {"year": 2024, "kg_co2e_per_kwh": 0.4}]})
    values = [own.location("RMPA", year) for year in (2022, 2023, 2024, 2025)]
    assert [found and found.value for found in values] == [0.5, 0.5, 0.4, 0.4]
    assert [bool(found and found.stands_in) for found in values] == [True, False, False, True]


def test_a_suppliers_factor_holds_for_its_own_year_alone() -> None:
    own = book(supplier_emissions={"A": OWN})
    assert [bool(own.supplier("A", year)) for year in (2022, 2023, 2024)] == [False, True, False]
    assert own.supplier("B", 2023) is None


def test_grid_losses_only_where_given_or_published() -> None:
    # US EPA, eGRID2022 summary tables: grid gross loss 5.1 %, for the United States.
    published = book().loss("US", 2022)
    assert published is not None
    assert (published.value, published.unit) == (5.1, "%")
    assert book().loss("RMPA", 2022) is None
    given = book(grid_losses={"RMPA": {"loss_percent": 4, "year": 2022, "source": "made up"}}).loss(
        "RMPA", 2023
    )
    assert given is not None
    assert given.value == 4


def test_one_year_twice_and_a_loss_of_half_are_faults(tmp_path: Path) -> None:
    page = tmp_path / "portfolio.toml"
    factor = 'kg_co2e_per_kwh = 0.4\nyear = 2023\nsource = "made up"\n'
    page.write_text(
        'format = 1\nname = "x"\ncurrency = "EUR"\ntime_zone = "UTC"\n'
        + f"[[emissions.X]]\n{factor}[[emissions.X]]\n{factor}"
        + '[grid_losses.X]\nloss_percent = 50\nyear = 2023\nsource = "made up"\n'
        + f"[supplier_emissions.A]\n{factor.replace('0.4', '-1')}"
    )
    with pytest.raises(InputFaults) as caught:
        read_settings(page)
    faults = [str(fault) for fault in caught.value.faults]
    assert len(faults) == 3
    for said in (
        "emissions.X: gives 2023 twice",
        "grid_losses.X.0.loss_percent",
        "supplier_emissions.A.0.kg_co2e",
    ):
        assert any(said in fault for fault in faults), (said, faults)


def run(store: Store, tmp_path: Path, **page: Any) -> None:
    stage.run(store, Portfolio(tmp_path, settings(**page)), Silent())


def two_accounts(store: Store) -> None:
    """1 kW of account A and 0.5 kW of account B, lit for six hours of daylight in June 2024: 6 and 3 kWh."""
    control(store, "C")
    fixtures(store, "F", "C", 1000.0, bill_account_id="A")
    fixtures(store, "G", "C", 500.0, bill_account_id="B", metered=False)
    burning(store, "i", "C", "2024-06-04 14:00", "2024-06-04 20:00")


def test_market_based_stands_beside_location_based(store: Store, tmp_path: Path) -> None:
    two_accounts(store)
    run(store, tmp_path, supplier_emissions={"A": OWN | {"year": 2024, "kg_co2e_per_kwh": 0.1}})
    location, market, covered = store.row(
        "SELECT co2e_kg_central, co2e_market_kg_central, supplied_kwh_central FROM burn_episodes"
    )
    assert location == Decimal("4.5")  # 9 kWh at 0.5
    assert market == Decimal("2.1")  # 6 kWh at 0.1; the 3 kWh without a supplier's factor at the grid's 0.5
    assert covered == 6


def test_without_a_suppliers_factor_there_is_no_market_based_figure(store: Store, tmp_path: Path) -> None:
    two_accounts(store)
    run(store, tmp_path)
    names = "co2e_market_kg_central, supplied_kwh_central, co2e_losses_kg_central"
    assert store.row(f"SELECT {names} FROM burn_episodes") == (None, None, None)


def test_grid_losses_are_a_figure_of_their_own(store: Store, tmp_path: Path) -> None:
    two_accounts(store)
    run(store, tmp_path, grid_losses={"HOME": {"loss_percent": 10, "year": 2024, "source": "made up"}})
    location, losses = store.row("SELECT co2e_kg_central, co2e_losses_kg_central FROM burn_episodes")
    assert location == Decimal("4.5")
    assert losses == Decimal("0.5")  # to use 9 kWh, 10 must be fed in: 1 kWh at 0.5


def test_a_year_takes_the_factor_of_its_own_months(store: Store, tmp_path: Path) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 1000.0)
    burning(store, "i", "C", "2023-12-31 16:00", "2023-12-31 20:00")
    burning(store, "j", "C", "2024-06-04 14:00", "2024-06-04 20:00")
    run(store, tmp_path, emissions={"HOME": [OWN, OWN | {"year": 2024, "kg_co2e_per_kwh": 0.25}]})
    kg = dict(store.rows("SELECT incident_id, co2e_kg_central FROM burn_episodes"))
    assert kg == {"i": Decimal("2"), "j": Decimal("1.5")}
    assert store.rows("SELECT year, value FROM factors_in_force ORDER BY year") == [(2023, 0.5), (2024, 0.25)]


def test_a_factor_that_stands_in_is_told(store: Store, tmp_path: Path) -> None:
    store.run("UPDATE sites SET grid_region = 'RMPA'")
    two_accounts(store)
    run(store, tmp_path)
    said = store.value("SELECT message FROM notices WHERE place = 'emission factors'")
    assert "for grid region RMPA there is no factor of 2024: that of eGRID2023 stands in" in said
