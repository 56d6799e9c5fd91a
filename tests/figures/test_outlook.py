"""The next twelve months by site and model, and the spares they ask for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from figures.small_store import SETTINGS, add, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.figures.forecasting import most_without_failures
from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store


def test_sites_and_models_add_up_to_the_total(small: Store) -> None:
    found = figures.outlook(small)
    assert found.total is not None
    for frame in (found.sites, found.models):
        assert frame["expected"].sum() == pytest.approx(found.total.expected, rel=1e-9)
        assert frame["controls"].sum() == 13
        assert (frame["lower"] <= frame["expected"]).all()
        assert (frame["expected"] <= frame["upper"]).all()
    assert list(found.sites["site"]) == ["North Yard", "South Yard"]
    assert list(found.models["model"]) == ["A", "B", "T"]


def test_a_sites_row_is_what_the_forecast_of_that_site_says(small: Store) -> None:
    row = figures.outlook(small).sites.set_index("site_id").loc["north"]
    alone = figures.next_year(small, Filters(sites=("north",)))
    assert alone is not None
    assert (row["expected"], row["lower"], row["upper"]) == pytest.approx(
        (alone.expected, alone.lower, alone.upper), rel=1e-12
    )
    assert (row["by_age"], row["by_rate"]) == (2, 10)


def test_the_forecast_of_the_demo_adds_up_and_is_narrower_than_all_sites_at_their_worst(
    demo_store: Store,
) -> None:
    found = figures.outlook(demo_store)
    assert found.total is not None
    assert found.sites["expected"].sum() == pytest.approx(found.total.expected, rel=1e-9)
    assert found.models["expected"].sum() == pytest.approx(found.total.expected, rel=1e-9)
    assert found.total.upper < 0.9 * found.sites["upper"].sum()
    assert found.sites["controls"].sum() == found.total.controls_by_age + found.total.controls_by_rate


def test_an_open_failure_in_a_batch_is_not_at_risk() -> None:
    store = small_store()
    before = figures.next_year(store)
    store.run("UPDATE incidents SET is_open = true WHERE incident_id = 'i06'")  # three of the batch of ten
    after = figures.next_year(store)
    assert before is not None
    assert after is not None
    assert (before.controls_by_rate, after.controls_by_rate) == (10, 7)
    assert after.expected_by_rate == pytest.approx(0.7 * before.expected_by_rate, rel=1e-9)


def test_stock_suffices_for_the_service_level_and_grows_with_it() -> None:
    stocks = {}
    for level in (0.5, 0.95, 0.99):
        store = small_store()
        page = SETTINGS.model_dump()
        page["assumptions"]["spares_service_level"] = level
        store.run("UPDATE build_info SET settings = ?", [Settings.model_validate(page).model_dump_json()])
        found = figures.outlook(store)
        assert found.service_level == level
        stocks[level] = found.models.set_index("model")["stock"]
    assert (stocks[0.5] <= stocks[0.95]).all()
    assert (stocks[0.95] <= stocks[0.99]).all()
    assert stocks[0.95]["A"] >= np.floor(
        figures.outlook(small_store()).models.set_index("model")["expected"]["A"]
    )


def test_controls_of_which_nothing_is_known_are_counted_and_not_forecast() -> None:
    store = small_store()
    for table in ("life_fits", "failure_rates"):
        store.run(f"DELETE FROM {table}")
    found = figures.outlook(store)
    assert found.total is not None
    assert found.total.unforeseen == 13
    assert found.models["expected"].isna().all()
    assert found.models["stock"].isna().all()


def test_a_control_without_a_model_stands_under_its_own_heading() -> None:
    store = small_store()
    add(
        store, "lives", life_id="x", segment=1, control_id="C9", position="p", site_id="south", kind="timer",
        switching="unknown", register_case="keeps removed", entered_on="2023-01-01", ended_on="2024-06-30",
        failed=False, end_reason="in service", quantity=4, imputed=False, excluded_reason="installation date unknown",
    )  # fmt: skip
    models = figures.outlook(store).models.set_index("model")
    assert models.loc["model unknown", "controls"] == 4
    assert models.loc["model unknown", "by_rate"] == 4


def test_an_empty_database_has_no_outlook(empty: Store) -> None:
    found = figures.outlook(empty)
    assert found.total is None
    assert found.sites.empty
    assert list(found.models.columns)[:3] == ["kind", "model", "controls"]


def test_a_control_for_which_no_life_speaks_is_reckoned_by_rate() -> None:
    store = small_store()
    store.run("DELETE FROM life_fits")  # as where every failure is of unknown age: a rate, but no life
    found = figures.outlook(store)
    assert found.total is not None
    assert (found.total.controls_by_age, found.total.unforeseen) == (0, 0)
    rate = store.value(
        "SELECT failures / control_years FROM failure_rates WHERE grouping = 'model and lamp' AND group_name = 'B / "
        "HPS'"
    )
    assert found.models.set_index("model").loc["B", "expected"] == pytest.approx(rate, rel=1e-3)


def test_where_nothing_has_failed_the_time_worked_bounds_next_years_failures() -> None:
    store = small_store()
    store.run("UPDATE lives SET failed = false, end_reason = 'in service', incident_id = NULL")
    store.run("DELETE FROM incidents")
    for table in ("life_fits", "life_fits_as_read", "life_curves", "failure_rates"):
        store.run(f"DELETE FROM {table}")
    fill_groups(store, SETTINGS.assumptions, Silent())
    most = most_without_failures(store)
    figure = next(one for one in figures.headline(store) if one.key == "expected_next_12_months")
    assert figure.value is None
    assert figure.high == most
    assert figure.text().startswith("at most ")
    # By hand, the life's lower limit: with a shape of 2, exposure A = sum of (exit^2 - entry^2), the rate is below
    # -log(0.025) / A with 97.5 %, and the mean of next year that rate times sum of ((a + year)^2 - a^2).
    lives = store.frame("SELECT entry_days, exit_days, quantity FROM lives WHERE excluded_reason IS NULL")
    shape = SETTINGS.assumptions.shape_when_few
    exposure = ((lives["exit_days"] ** shape - lives["entry_days"] ** shape) * lives["quantity"]).sum()
    ahead = (((lives["exit_days"] + 365.25) ** shape - lives["exit_days"] ** shape) * lives["quantity"]).sum()
    mean = -np.log(0.025) / exposure * ahead
    assert most is not None
    assert mean <= most + 1
    assert most <= poisson.ppf(0.999, mean)


def test_a_failure_of_unknown_age_is_no_absence_of_failures() -> None:
    store = small_store()
    store.run("UPDATE lives SET failed = false, end_reason = 'in service', incident_id = NULL")
    assert most_without_failures(store) is None  # the rates still count failures
