from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from pipeline import figures
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival import fit_count_trend


def by_key(store: Store, filters: Filters = EVERYTHING) -> dict[str, figures.Figure]:
    return {part.key: part for figure in figures.log_summary(store, filters) for part in figure.flat()}


def test_calls_incidents_and_months_are_those_of_the_log(small: Store) -> None:
    found = by_key(small)
    lighting = small.value("SELECT count(*) FROM calls WHERE is_lighting AND superseded_by IS NULL")
    assert found["lighting_calls"].value == lighting
    assert found["lighting_calls_by_text"].value <= lighting
    assert found["incidents"].value == 9
    assert found["incidents_open"].value == 2
    assert found["calls_per_month"].value == pytest.approx(10 / 30)  # ten calls, January 2022 to June 2024


def test_time_to_restore_is_that_of_its_own_table(small: Store) -> None:
    found = by_key(small)
    table = figures.time_to_restore(small)
    whole = table[(table["year"] == "all") & (table["symptom"] == "all")].iloc[0]
    assert found["time_to_restore"].value == whole["median_days"]


def test_a_period_narrows_the_summary(small: Store) -> None:
    year = Filters(start=date(2023, 1, 1), end=date(2023, 12, 31))
    assert by_key(small, year)["incidents"].value == 3


def test_growth_is_that_of_the_count_trend_over_whole_months(small: Store) -> None:
    found = by_key(small)["calls_growth"]
    activity = figures.monthly_activity(small)
    months = pd.DataFrame(
        {"month": pd.to_datetime(activity["month"]), "count": activity["lighting_calls"].astype(float)}
    )
    trend = fit_count_trend(months)
    assert found.value == pytest.approx(100 * (trend.yearly_ratio - 1))
    assert (found.low, found.high) == pytest.approx(tuple(100 * (limit - 1) for limit in trend.limits))


def test_a_short_period_says_why_it_has_no_growth(small: Store) -> None:
    found = by_key(small, Filters(start=date(2023, 1, 1), end=date(2023, 6, 30)))["calls_growth"]
    assert found.value is None
    assert "too few" in found.note
