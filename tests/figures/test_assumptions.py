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
