from __future__ import annotations

from datetime import date

import pytest

from figures.small_store import small_store
from pipeline import figures
from pipeline.figures import Figure, Filters
from pipeline.store import Store


@pytest.fixture(scope="module")
def shown(small: Store) -> dict[str, Figure]:
    return {part.key: part for figure in figures.headline(small) for part in figure.flat()}


def test_the_six_figures_come_in_their_order(small: Store) -> None:
    assert [figure.key for figure in figures.headline(small)] == [
        "burning_now",
        "failures_12_months",
        "soonest_to_fail",
        "expected_next_12_months",
        "wasted_energy",
        "net_savings",
    ]


def test_burning_now_counts_controls_and_their_cost_per_day(shown: dict[str, Figure]) -> None:
    assert shown["burning_now"].value == 3  # i07 one control, i08 two
    assert shown["burning_cost_per_day"].value == pytest.approx(1.40)
    assert shown["burning_kwh_per_day"].value == pytest.approx(19.6)


def test_failures_of_the_last_twelve_months_stand_beside_those_before(shown: dict[str, Figure]) -> None:
    assert shown["failures_12_months"].value == pytest.approx(5.45)
    assert shown["failures_12_months_hard"].value == 8
    assert shown["failures_12_months_before"].value == pytest.approx(0.9 + 0.8)
    assert shown["failures_12_months_before_hard"].value == 2


def test_the_soonest_and_the_longest_lived_group_are_named(shown: dict[str, Figure]) -> None:
    assert shown["soonest_to_fail"].label.endswith("A / LED")
    assert shown["longest_lived"].label.endswith("B / HPS")
    assert shown["soonest_to_fail"].value < shown["longest_lived"].value  # type: ignore[operator]


def test_money_energy_and_emissions_are_the_sums_of_their_tables(shown: dict[str, Figure]) -> None:
    wasted = shown["wasted_energy"]
    assert wasted.value == 710
    # draws evenly from half to double: 5 % and 95 % of the way, within the rounding of 200 draws
    assert (wasted.low, wasted.high) == pytest.approx((710 * 0.575, 710 * 1.925), rel=0.01)
    assert shown["wasted_cost"].low == pytest.approx(65 * 0.575, rel=0.01)
    assert shown["wasted_co2e"].high == pytest.approx(284 * 1.925, rel=0.01)
    bounds = shown["wasted_bounds"]
    assert (bounds.low, bounds.value, bounds.high) == (355, None, 1420)
    assert (shown["wasted_cost"].value, shown["wasted_cost"].unit) == (65, "USD")
    assert shown["wasted_co2e"].value == 284
    assert (shown["net_savings"].low, shown["net_savings"].value, shown["net_savings"].high) == (
        300,
        900,
        1500,
    )
    assert shown["paying_groups"].value == 1


def test_every_statement_about_day_burning_names_its_boundary(shown: dict[str, Figure]) -> None:
    for key in ("burning_now", "wasted_energy"):
        assert "nobody reported is outside" in shown[key].note


def test_a_year_asked_for_moves_the_twelve_months(small: Store) -> None:
    year = Filters(start=date(2023, 1, 1), end=date(2023, 12, 31))
    recent = figures.headline(small, year)[1]
    assert recent.value == pytest.approx(0.8 + 0.6 + 0.1)
    assert "31 Dec 2023" in recent.label


def test_a_filter_on_sites_reaches_every_figure(small: Store) -> None:
    south = {
        part.key: part
        for figure in figures.headline(small, Filters(sites=("south",)))
        for part in figure.flat()
    }
    assert south["burning_now"].value == 2
    assert south["failures_12_months"].value == pytest.approx(0.6 + 0.1 + 1.4)
    assert south["soonest_to_fail"].value is None
    assert south["wasted_energy"].value == 60
    assert south["net_savings"].value is None  # no rated timer is priced


def test_where_nothing_pays_the_savings_are_zero_and_say_so(small: Store) -> None:
    losing = Filters(sites=("north",))
    only_b = small_store()
    only_b.run("DELETE FROM options WHERE model = 'A'")
    savings = figures.headline(only_b, losing)[5]
    assert savings.value == 0
    assert "In no group" in savings.note


def test_a_log_that_begins_later_has_no_year_before(small: Store) -> None:
    shown = figures.headline(small, Filters(end=date(2022, 6, 30)))
    early = {part.key: part for figure in shown for part in figure.flat()}
    assert "The log begins only on 1 Jan 2022" in early["failures_12_months"].note
    assert early["failures_12_months_before"].value is None
    assert "begins later" in early["failures_12_months_before"].note
