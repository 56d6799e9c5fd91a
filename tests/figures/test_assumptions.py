"""Assumptions and choices that a reader is shown."""

from __future__ import annotations

from figures.small_store import SETTINGS, small_store
from pipeline.figures.assumptions import assumptions_in_force
from pipeline.figures.choices import choices
from pipeline.settings import Settings
from pipeline.store import Store


def test_a_named_campaign_stands_among_the_settings() -> None:
    store = small_store()
    campaign = {"name": "Summer", "sites": ["north"], "from": "2023-06-01", "to": "2023-08-31"}
    page = Settings.model_validate(SETTINGS.model_dump() | {"campaigns": [campaign]})
    store.run("UPDATE build_info SET settings = ?", [page.model_dump_json()])
    shown = assumptions_in_force(store).set_index("setting")["value"]
    assert shown["campaigns.Summer.sites"] == "north"
    assert shown["campaigns.Summer.from"] == "2023-06-01"


def test_every_assumption_is_shown_with_its_unit(small: Store) -> None:
    shown = assumptions_in_force(small).set_index("setting")
    assert shown.loc["assumptions.detection_delay_days"].tolist() == ["14", "days"]
    assert shown.loc["prices.rated_control_cost.photocontrol"].tolist() == ["60", "USD"]
    assert shown.loc["tariffs.day.price_per_kwh"].tolist() == ["0.10", "USD/kWh"]
    assert shown.loc["payback.discount_rate_percent"].tolist() == ["3", "%"]
    assert shown.loc["default_grid_region"].tolist() == ["not set", ""]


def test_every_number_among_the_assumptions_has_a_unit(small: Store) -> None:
    shown = assumptions_in_force(small)
    numbers = shown[shown["value"].str.fullmatch(r"-?[\d.]+")]
    assert len(numbers) > 15
    assert numbers.loc[numbers["unit"] == "", "setting"].tolist() == []


def test_a_database_without_a_build_has_no_assumptions(empty: Store) -> None:
    assert assumptions_in_force(empty).empty


def test_sites_are_offered_by_name_and_kinds_by_the_register(small: Store) -> None:
    assert choices(small).sites == {"north": "North Yard", "south": "South Yard"}
    assert choices(small).kinds == ("photocontrol", "timer")


def test_an_empty_build_offers_nothing(empty: Store) -> None:
    assert choices(empty).sites == {}
    assert choices(empty).kinds == ()


def test_prices_by_time_are_listed_by_version_and_period() -> None:
    store = Store.create()
    peak = {"name": "peak", "price_per_kwh": "0.3", "hours": ["12:00 to 18:00"]}
    rest = {"name": "rest", "price_per_kwh": "0.1", "other_times": True}
    versions = [{"price_per_kwh": "0.2"}, {"since": "2024-01-01", "periods": [peak, rest]}]
    page = {
        "format": 1, "name": "x", "currency": "EUR", "time_zone": "UTC",
        "tariffs": {"t": {"taxes_included": True, "versions": versions}},
        "emissions": {"X": [{"year": year, "kg_co2e_per_kwh": 0.4, "source": "made up"} for year in (2023, 2024)]},
    }  # fmt: skip
    store.run(
        "INSERT INTO build_info (build_id, dayburn_version, portfolio_name, currency, fiscal_year_start, settings)"
        " VALUES ('b', '0', 'x', 'EUR', 1, ?)",
        [Settings.model_validate(page).model_dump_json()],
    )
    shown = assumptions_in_force(store).set_index("setting")
    for setting, expected in (
        ("tariffs.t.versions.0.price_per_kwh", ["0.2", "EUR/kWh"]),
        ("tariffs.t.versions.2024-01-01.periods.peak.price_per_kwh", ["0.3", "EUR/kWh"]),
        ("tariffs.t.versions.2024-01-01.periods.peak.hours", ["12:00 to 18:00", ""]),
        ("tariffs.t.taxes_included", ["yes", ""]),
        ("emissions.X.2024.kg_co2e_per_kwh", ["0.4", "kg CO2e/kWh"]),
    ):
        assert shown.loc[setting].tolist() == expected
    assert not [name for name in shown.index if name.endswith((".holidays", ".demand"))]
