"""The payback stage on a few rows: what each option pays, and which lives it reckons with."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from pipeline.payback import expected_failures_by_year, life_cycle_cost, stage
from pipeline.payback.flows import LIKE_FOR_LIKE, REPLACE_NOW, yearly_costs
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

SETTINGS = Settings.model_validate(
    {
        "format": 1,
        "name": "x",
        "currency": "USD",
        "time_zone": "UTC",
        "prices": {
            "repair_visit_cost": "100",
            "planned_replacement_labour_cost": "40",
            "control_cost": {"photocontrol": "20"},
            "rated_control_cost": {"photocontrol": "60"},
        },
        "payback": {"years": 10, "discount_rate_percent": 3.0, "rated_life_ratio": 3.0},
    }
)
SHAPE, SCALE_DAYS = 2.0, 2000.0


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def in_service(store: Store, control_id: str, started: date | None, **values: Any) -> None:
    row = {"model": "A", "switching": "plain relay", "lamp": "LED", "quantity": 1} | values
    add(
        store, "controls", control_id=control_id, site_id="S", position=f"S / {control_id}", kind="photocontrol",
        model=row["model"], switching=row["switching"], quantity=row["quantity"], row_number=2,
    )  # fmt: skip
    add(
        store, "fixtures", fixture_id=control_id, control_id=control_id, lamp="LED", luminaires=1.0,
        watts_basis="input", input_watts_each=500.0, tariff="flat", row_number=2,
    )  # fmt: skip
    add(
        store, "lives", life_id=control_id, segment=1, control_id=control_id, position=f"S / {control_id}", site_id="S",
        kind="photocontrol", register_case="keeps removed", started_on=started, entered_on=date(2024, 1, 1),
        ended_on=date(2024, 12, 31), failed=False, end_reason="in service", imputed=False, **row,
    )  # fmt: skip


def fit(store: Store, grouping: str, name: str, scale_days: float, failures: int = 50) -> None:
    add(
        store, "life_fits", grouping=grouping, group_name=name, units=100, failures=failures, control_years=500.0,
        method="weibull", shape=SHAPE, scale_days=scale_days, scale_days_lower=0.8 * scale_days,
        scale_days_upper=1.25 * scale_days, confidence=0.95,
    )  # fmt: skip


def few(store: Store, grouping: str, name: str, scale_days: float) -> None:
    """One failure: the shape is borrowed and the scale bounded from below only."""
    add(
        store, "life_fits", grouping=grouping, group_name=name, units=100, failures=1, control_years=500.0,
        method="fixed shape", shape=SHAPE, scale_days=scale_days, scale_days_lower=0.5 * scale_days, confidence=0.95,
    )  # fmt: skip


@pytest.fixture
def store() -> Store:
    store = Store.create()
    add(
        store, "build_info", build_id="b", dayburn_version="0", portfolio_name="x", currency="USD",
        fiscal_year_start=1, log_from=date(2024, 1, 1), log_to=date(2024, 12, 31), settings="{}",
    )  # fmt: skip
    add(store, "sites", site_id="S", time_zone="UTC", grid_region="RMPA")
    add(store, "waste_prices", site_id="S", kind="photocontrol", tariff="flat", price_per_kwh=0.2)
    return store


def options(store: Store, tmp_path: Any) -> dict[str, dict[str, Any]]:
    stage.run(store, Portfolio(tmp_path, SETTINGS), Silent())
    return {row["option"]: row for row in store.frame("FROM options").to_dict("records")}


def test_both_options_are_what_the_pure_functions_say(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    in_service(store, "C2", date(2020, 12, 31))
    fit(store, "model and lamp", "A / LED", SCALE_DAYS)
    found = options(store, tmp_path)
    ages = [(date(2024, 12, 31) - date(year, 12, 31)).days for year in (2022, 2020)]
    like = expected_failures_by_year(SHAPE, SCALE_DAYS, ages, [1, 1], 10)
    new = expected_failures_by_year(SHAPE, 3 * SCALE_DAYS, [0, 0], [1, 1], 10)
    assert found[LIKE_FOR_LIKE]["expected_failures"] == pytest.approx(like.sum())
    assert found[REPLACE_NOW]["expected_failures"] == pytest.approx(new.sum())
    nothing = np.zeros(1)
    base = yearly_costs(like[None, :], 120.0, nothing, nothing).frame()
    alternative = yearly_costs(new[None, :], 160.0, nothing, nothing, investment=200.0).frame()
    expected = life_cycle_cost(base, alternative, 10, 0.03)
    row = found[REPLACE_NOW]
    assert float(row["investment"]) == 200.0
    assert float(row["net_savings"]) == pytest.approx(expected.net_savings, abs=0.001)
    assert float(row["lcc"]) == pytest.approx(expected.alternative_lcc, abs=0.001)
    assert float(found[LIKE_FOR_LIKE]["lcc"]) == pytest.approx(expected.base_lcc, abs=0.001)
    assert row["sir"] == pytest.approx(expected.sir)
    assert row["net_savings_lower"] < row["net_savings"] < row["net_savings_upper"]


def test_an_assumed_life_says_so_and_a_fitted_one_names_its_controls(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "model and lamp", "A / LED", SCALE_DAYS)
    assert "assumed 3 times the present life" in options(store, tmp_path)[REPLACE_NOW]["basis"]
    for table in ("options", "cash_flows"):
        store.run(f"DELETE FROM {table}")
    in_service(store, "Z", date(2023, 12, 31), model="Z", switching="zero-cross")
    fit(store, "model and lamp", "Z / LED", 5000.0, failures=12)
    by_model = store.frame("FROM options")
    assert by_model.empty
    stage.run(store, Portfolio(tmp_path, SETTINGS), Silent())
    rows = store.rows("SELECT model, option, basis FROM options ORDER BY model, option")
    assert [(model, option) for model, option, _ in rows] == [
        ("A", LIKE_FOR_LIKE), ("A", REPLACE_NOW), ("Z", LIKE_FOR_LIKE),
    ]  # fmt: skip
    assert "fitted to Z / LED (12 failures) in this portfolio" in rows[1][2]


def test_a_fitted_rated_life_brings_its_own_limits_and_both_doubts_are_joined_as_independent(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "model and lamp", "A / LED", SCALE_DAYS)
    in_service(store, "Z", date(2023, 12, 31), model="Z", switching="zero-cross")
    fit(store, "model and lamp", "Z / LED", 5000.0, failures=12)
    stage.run(store, Portfolio(tmp_path, SETTINGS), Silent())
    row = store.frame("FROM options WHERE model = 'A' AND option = $1", [REPLACE_NOW]).iloc[0]
    at = {
        scale: expected_failures_by_year(SHAPE, scale, [0], [1], 10).sum()
        for scale in (4000.0, 5000.0, 6250.0)
    }
    assert row["expected_failures"] == pytest.approx(at[5000.0])
    assert row["expected_failures_lower"] == pytest.approx(at[6250.0])
    assert row["expected_failures_upper"] == pytest.approx(at[4000.0])

    age = (date(2024, 12, 31) - date(2022, 12, 31)).days

    def saved(present_days: float, rated_days: float) -> float:
        nothing = np.zeros(1)
        like, new = (
            expected_failures_by_year(SHAPE, scale, [start], [1], 10)
            for scale, start in ((present_days, age), (rated_days, 0))
        )
        base = yearly_costs(like[None, :], 120.0, nothing, nothing).frame()
        rated = yearly_costs(new[None, :], 160.0, nothing, nothing, investment=100.0).frame()
        return life_cycle_cost(base, rated, 10, 0.03).net_savings

    main = saved(SCALE_DAYS, 5000.0)
    below = np.hypot(main - saved(1.25 * SCALE_DAYS, 5000.0), main - saved(SCALE_DAYS, 4000.0))
    above = np.hypot(saved(0.8 * SCALE_DAYS, 5000.0) - main, saved(SCALE_DAYS, 6250.0) - main)
    assert float(row["net_savings_lower"]) == pytest.approx(main - below, abs=0.001)
    assert float(row["net_savings_upper"]) == pytest.approx(main + above, abs=0.001)


def test_one_failure_does_not_speak_for_controls_whose_kind_has_a_full_fit(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    few(store, "model and lamp", "A / LED", 90_000.0)
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    age = (date(2024, 12, 31) - date(2022, 12, 31)).days
    expected = expected_failures_by_year(SHAPE, SCALE_DAYS, [age], [1], 10).sum()
    assert row["expected_failures"] == pytest.approx(expected)
    assert row["basis"].startswith(
        "Present controls: fitted to every photocontrol, models mixed (50 failures)."
    )


def test_a_few_failures_of_a_rated_control_do_not_take_the_place_of_the_stated_assumption(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "model and lamp", "A / LED", SCALE_DAYS)
    in_service(store, "Z", date(2023, 12, 31), model="Z", switching="zero-cross")
    few(store, "model and lamp", "Z / LED", 90_000.0)
    assert "assumed 3 times the present life" in options(store, tmp_path)[REPLACE_NOW]["basis"]


def test_a_failure_costs_the_energy_that_failures_of_its_kind_have_wasted(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    for number, hours in enumerate((300.0, 100.0)):
        add(
            store, "incidents", incident_id=f"i{number}", control_id="C1", symptom="day burning", component="control",
            action="replaced", failed_probability=1.0, control_failed=True, units=1,
            first_reported_at=date(2024, 5, 1), onset_low=date(2024, 5, 1), onset_central=date(2024, 5, 1),
            onset_high=date(2024, 5, 1), is_open=False, calls=1, callbacks=0, no_fault_found=False,
        )  # fmt: skip
        add(store, "burn_episodes", incident_id=f"i{number}", excess_hours_central=hours)
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    assert row["kwh"] == pytest.approx(row["expected_failures"] * 200 * 0.5)  # mean 200 h at 500 W
    energy = store.value(
        "SELECT sum(amount) FROM cash_flows WHERE kind = 'energy' AND option_id LIKE '%like'"
    )
    assert float(energy) == pytest.approx(row["kwh"] * 0.2, abs=0.01)


def test_unknown_ages_fail_at_one_per_mean_life(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", None)
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    mean_life_days = SCALE_DAYS * np.sqrt(np.pi) / 2
    found = options(store, tmp_path)[LIKE_FOR_LIKE]["expected_failures"]
    assert found == pytest.approx(10 * 365.25 / mean_life_days)


def test_controls_without_any_fitted_life_are_left_out_and_it_is_said(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    assert options(store, tmp_path) == {}
    assert "no option is priced" in store.value("SELECT message FROM notices")


def failed(store: Store, control_id: str, hours: float | None) -> None:
    """One failure of a control, with the hours it was lit by day; None: they could not be reckoned."""
    add(
        store, "incidents", incident_id=f"of {control_id}", control_id=control_id, symptom="day burning",
        component="control", action="replaced", failed_probability=1.0, control_failed=True, units=1,
        first_reported_at=date(2024, 5, 1), onset_low=date(2024, 5, 1), onset_central=date(2024, 5, 1),
        onset_high=date(2024, 5, 1), is_open=False, calls=1, callbacks=0, no_fault_found=False,
    )  # fmt: skip
    reason = "no load with watts" if hours is None else None
    add(
        store,
        "burn_episodes",
        incident_id=f"of {control_id}",
        excess_hours_central=hours,
        left_out_reason=reason,
    )


def test_an_unknown_load_wastes_an_unknown_energy_and_not_none(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    failed(store, "C1", 200.0)
    store.run("DELETE FROM fixtures")
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    assert np.isnan([row["kwh"], row["co2e_kg"], row["connected_w"]]).all()
    assert row["controls_without_energy"] == 1
    assert "Left out, as not known: the energy of 1 of 1 controls, or its price." in row["basis"]
    assert store.rows("SELECT DISTINCT kind FROM cash_flows WHERE option_id LIKE '%like'") == [
        ("maintenance",)
    ]


def test_a_part_of_the_loads_unknown_leaves_the_energy_of_the_known_and_says_so(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    in_service(store, "C2", date(2022, 12, 31), lamp=None)
    store.run("DELETE FROM fixtures WHERE control_id = 'C2'")
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    failed(store, "C1", 200.0)
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    assert row["kwh"] == pytest.approx(row["expected_failures"] / 2 * 200 * 0.5)
    assert row["controls_without_energy"] == 1
    assert "the energy of 1 of 2 controls" in row["basis"]


def test_hours_that_no_failure_of_a_kind_tells_are_unknown_and_not_none(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    failed(store, "C1", None)
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    assert np.isnan(row["kwh"])
    assert row["controls_without_energy"] == 1
    assert "hours that a failure wastes are unknown" in store.value("SELECT message FROM notices")


def test_an_unknown_price_leaves_the_energy_and_no_money_for_it(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    store.run("UPDATE fixtures SET tariff = NULL")
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    failed(store, "C1", 200.0)
    row = options(store, tmp_path)[LIKE_FOR_LIKE]
    assert row["kwh"] == pytest.approx(row["expected_failures"] * 200 * 0.5)
    assert row["controls_without_energy"] == 1
    assert store.value("SELECT count(*) FROM cash_flows WHERE kind = 'energy'") == 0


def test_a_part_without_a_price_leaves_the_life_cycle_cost_unknown(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    prices = SETTINGS.prices.model_copy(update={"control_cost": {}})
    stage.run(store, Portfolio(tmp_path, SETTINGS.model_copy(update={"prices": prices})), Silent())
    ((option, cost, basis),) = store.rows("SELECT option, lcc, basis FROM options")
    assert (option, cost) == (LIKE_FOR_LIKE, None)
    assert "prices.control_cost names no cost of a photocontrol" in basis
    assert store.value("SELECT count(*) FROM cash_flows WHERE kind = 'maintenance'") == 0


def test_a_region_without_a_factor_has_no_emissions_rather_than_none(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    store.run("UPDATE sites SET grid_region = NULL")
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    failed(store, "C1", 200.0)
    options(store, tmp_path)
    kwh, kg = store.row("SELECT kwh, co2e_kg FROM options LIMIT 1")
    assert kwh > 0
    assert kg is None


def test_controls_of_unknown_kind_are_left_out_and_it_is_said(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    in_service(store, "C2", date(2022, 12, 31))
    store.run("UPDATE lives SET kind = NULL WHERE control_id = 'C2'")
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    assert options(store, tmp_path)[LIKE_FOR_LIKE]["controls"] == 1
    messages = [message for (message,) in store.rows("SELECT message FROM notices")]
    assert any(
        "no option is priced for 1 control in service of unknown kind" in message for message in messages
    )


def test_a_life_bounded_from_below_bounds_failures_from_above_only(store: Store, tmp_path: Any) -> None:
    in_service(store, "C1", date(2022, 12, 31))
    few(store, "model and lamp", "A / LED", SCALE_DAYS)
    found = options(store, tmp_path)
    for option in (LIKE_FOR_LIKE, REPLACE_NOW):
        assert np.isnan(found[option]["expected_failures_lower"])
        assert found[option]["expected_failures_upper"] > found[option]["expected_failures"]
    lower, upper = store.row(
        "SELECT net_savings_lower, net_savings_upper FROM options WHERE net_savings IS NOT NULL"
    )
    assert lower is None
    assert upper is not None


def test_sites_and_models_whose_names_hold_the_separator_keep_their_own_options(
    store: Store, tmp_path: Any
) -> None:
    in_service(store, "C1", date(2022, 12, 31), model="B / photocontrol / X")
    in_service(store, "C2", date(2022, 12, 31), model="X")
    add(store, "sites", site_id="S / photocontrol / B", time_zone="UTC", grid_region="RMPA")
    for table in ("controls", "lives"):
        store.run(f"UPDATE {table} SET site_id = 'S / photocontrol / B' WHERE control_id = 'C2'")
    fit(store, "kind", "photocontrol", SCALE_DAYS)
    options(store, tmp_path)
    assert store.row("SELECT count(*), count(DISTINCT option_id) FROM options") == (4, 4)
