from __future__ import annotations

from datetime import date

import pytest

from pipeline import figures
from pipeline.figures import Facts, Filters, fiscal_year
from pipeline.store import Store


def test_a_fiscal_year_is_named_by_the_year_in_which_it_ends() -> None:
    assert fiscal_year(Facts(fiscal_year_start=7), 2024) == (date(2023, 7, 1), date(2024, 6, 30))
    assert fiscal_year(Facts(fiscal_year_start=3), 2024) == (date(2023, 3, 1), date(2024, 2, 29))
    assert fiscal_year(Facts(fiscal_year_start=1), 2024) == (date(2024, 1, 1), date(2024, 12, 31))


def test_periods_are_the_years_that_the_log_covers_and_say_whether_wholly(small: Store) -> None:
    found = {period.label: period.complete for period in figures.periods(small)}
    assert found == {
        "2024": False,
        "2023": True,
        "2022": True,
        "FY 2024 (Jul 2023 to Jun 2024)": True,
        "FY 2023 (Jul 2022 to Jun 2023)": True,
        "FY 2022 (Jul 2021 to Jun 2022)": False,
    }


def test_filters_choose_sites_and_kinds(small: Store) -> None:
    assert list(figures.burning_now(small, Filters(sites=("south",)))["incident_id"]) == ["i08"]
    assert list(figures.burning_now(small, Filters(kinds=("timer",)))["incident_id"]) == []
    assert set(figures.burning_now(small, Filters(kinds=("timer", "photocontrol")))["incident_id"]) == {
        "i07",
        "i08",
    }


def test_a_period_includes_its_first_and_last_day(small: Store) -> None:
    whole = figures.failures_between(small, date(2024, 1, 15), date(2024, 3, 1))
    inside = figures.failures_between(small, date(2024, 1, 16), date(2024, 2, 29))
    assert (whole.incidents, inside.incidents) == (2, 0)


@pytest.mark.parametrize("text", ["'; DROP TABLE calls; --", "north' OR '1'='1", "%"])
def test_a_filter_is_a_value_and_never_sql(small: Store, text: str) -> None:
    filters = Filters(sites=(text,), kinds=(text,))
    assert figures.burning_now(small, filters).empty
    assert figures.failure_groups(small, "kind", filters).empty
    assert small.count("calls") == 10


def test_a_grouping_that_does_not_exist_is_refused(small: Store) -> None:
    with pytest.raises(ValueError, match="model and lamp"):
        figures.failure_groups(small, "kind; DROP TABLE calls")
    with pytest.raises(ValueError, match="fiscal year"):
        figures.energy_by(small, "week")  # type: ignore[arg-type]
