"""The next twelve months against direct simulation: each control's failures drawn one by one, thousands of years."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np
import pytest

from figures.small_store import LOG_TO, SETTINGS, add
from figures.test_life_checks import weibull_fleet
from pipeline import figures
from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.store import Store
from pipeline.survival import fit_weibull

YEAR_DAYS, YEARS = 365.25, 6000
UNKNOWN = 80
# Ends of intervals are whole numbers from 2000 drawn years (0.3 of a failure), and the normal law around the fit is
# not the likelihood itself (0.5); half-widths here are 7 to 17 failures.
NEAR = 2


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    """Two models at two sites, and a batch of the first whose ages nobody knows."""
    made = Store.create()
    add(made, "build_info", build_id="b", dayburn_version="0", portfolio_name="p", currency="USD", fiscal_year_start=1,
        log_from=date(2015, 1, 1), log_to=LOG_TO, settings=SETTINGS.model_dump_json())  # fmt: skip
    weibull_fleet(900.0, 2.5, "short", 1, made)
    weibull_fleet(1600.0, 1.4, "long", 2, made)
    made.run("UPDATE lives SET site_id = 'south' WHERE right(life_id, 1) IN ('0', '3', '7')")
    add(
        made, "lives", life_id="batch", segment=1, control_id="batch", position="p", site_id="south",
        kind="photocontrol", model="short", switching="plain relay", lamp="LED", register_case="keeps removed",
        entered_on=date(2023, 7, 1), ended_on=LOG_TO, failed=False, end_reason="in service", quantity=UNKNOWN,
        imputed=False, excluded_reason="installation date unknown",
    )  # fmt: skip
    fill_groups(made, SETTINGS.assumptions, Silent())
    yield made
    made.close()


def counts_of_years(
    ages: np.ndarray, shape: np.ndarray, scale: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Failures in each simulated year (its own shape and scale) of controls at these ages, replaced as they fail."""
    a, b, eta = ages[None, :], shape[:, None], scale[:, None]
    when = eta * ((a / eta) ** b + rng.exponential(size=(shape.size, ages.size))) ** (1 / b) - a
    counts = np.zeros(shape.size)
    while (inside := when <= YEAR_DAYS).any():
        counts += inside.sum(axis=1)
        when = np.where(inside, when + eta * rng.weibull(np.broadcast_to(b, when.shape)), np.inf)
    return counts


def simulated(store: Store, model: str, site: str | None, certain: bool) -> np.ndarray:
    """Counts of simulated years, at the fitted life (``certain``) or with lives drawn from a normal law around it."""
    rng = np.random.default_rng(len(model))
    rows = store.frame(
        "SELECT entry_days, exit_days, failed, quantity FROM lives WHERE model = ? AND quantity = 1", [model]
    )
    fit = fit_weibull(rows)
    point, width = np.log([fit.shape, fit.scale_days]), np.zeros((2, 2)) if certain else fit.log_covariance
    shape, scale = np.exp(rng.multivariate_normal(point, width, YEARS)).T
    ages = store.frame(
        "SELECT exit_days FROM lives WHERE model = ? AND NOT failed AND quantity = 1 AND site_id = coalesce(?, "
        "site_id)",
        [model, site],
    )
    counts = counts_of_years(ages["exit_days"].to_numpy(float), shape, scale, rng)
    if model == "short" and site != "north":
        # Ages unknown: the rate alone, as failures over time at risk, its doubt by the gamma law.
        failures, years = store.rows(
            "SELECT failures, control_years FROM failure_rates WHERE grouping = 'model and lamp' AND group_name = "
            "'short / LED'"
        )[0]
        rate = np.full(YEARS, failures / years) if certain else rng.gamma(failures, 1 / years, YEARS)
        counts = counts + rng.poisson(UNKNOWN * rate)
    return counts


def assert_near(row: Mapping[str, float], low: float, high: float) -> None:
    assert row["lower"] == pytest.approx(low, abs=NEAR)
    assert row["upper"] == pytest.approx(high, abs=NEAR)


@pytest.mark.parametrize("model", ["short", "long"])
def test_expected_interval_and_spares_of_a_model(store: Store, model: str) -> None:
    row = figures.outlook(store).models.set_index("model").loc[model]
    certain, doubtful = (simulated(store, model, None, certain) for certain in (True, False))
    assert row["expected"] == pytest.approx(
        certain.mean(), abs=4 * certain.std() / np.sqrt(YEARS) + 0.005 * certain.mean()
    )
    low, high = np.quantile(doubtful, [0.025, 0.975])
    assert_near(row, low, high)
    stock = np.quantile(doubtful, SETTINGS.assumptions.spares_service_level)
    assert row["stock"] == pytest.approx(stock, abs=NEAR)


def test_expected_and_interval_of_the_sites_and_the_whole(store: Store) -> None:
    found = figures.outlook(store)
    assert found.total is not None
    drawn = {
        site: sum(simulated(store, model, site, False) for model in ("short", "long"))
        for site in ("north", "south")
    }
    certain = {
        site: sum(simulated(store, model, site, True) for model in ("short", "long")) for site in drawn
    }
    for site, row in found.sites.set_index("site_id").iterrows():
        assert row["expected"] == pytest.approx(certain[site].mean(), rel=0.01)
        low, high = np.quantile(drawn[site], [0.025, 0.975])
        assert_near(row, low, high)
    whole = sum(simulated(store, model, None, False) for model in ("short", "long"))
    low, high = np.quantile(whole, [0.025, 0.975])
    assert_near({"lower": found.total.lower, "upper": found.total.upper}, low, high)
