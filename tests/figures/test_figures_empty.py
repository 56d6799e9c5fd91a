from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import get_args

import pandas as pd
import pytest

from pipeline import figures
from pipeline.figures import Filters
from pipeline.figures.energy import By
from pipeline.store import Store

NARROW = Filters(sites=("x",), kinds=("timer",), start=date(2020, 1, 1), end=date(2020, 12, 31))
FRAMES: list[Callable[[Store, Filters], pd.DataFrame]] = [
    figures.burning_now,
    figures.monthly_activity,
    figures.time_to_restore,
    lambda store, filters: figures.failure_groups(store, "model and lamp", filters),
    lambda store, filters: figures.curve(store, "kind", "timer", filters),
    figures.options_table,
    lambda store, filters: figures.cash_flow_table(store, None, filters),
    figures.business_case,
    figures.energy_left_out,
    *[lambda store, filters, by=by: figures.energy_by(store, by, filters) for by in get_args(By)],
    *[
        lambda store, filters, key=key: figures.calls_behind(store, key, filters)
        for key in figures.headline_keys()
    ],
]


@pytest.mark.parametrize("filters", [Filters(), NARROW], ids=["everything", "narrow"])
def test_an_empty_database_gives_empty_frames_with_their_columns(empty: Store, filters: Filters) -> None:
    for frame in FRAMES:
        shown = frame(empty, filters)
        assert shown.empty
        assert len(shown.columns) > 0


@pytest.mark.parametrize("filters", [Filters(), NARROW], ids=["everything", "narrow"])
def test_an_empty_database_gives_headlines_that_say_why_they_have_no_value(
    empty: Store, filters: Filters
) -> None:
    for figure in figures.headline(empty, filters):
        assert figure.text() == "not available"
        assert figure.note


def test_an_empty_database_has_no_periods_forecast_or_span(empty: Store) -> None:
    assert figures.periods(empty) == []
    assert figures.next_year(empty) is None
    assert figures.facts(empty).log_to is None


def test_tables_about_files_are_empty_too(empty: Store) -> None:
    for table in (figures.files_read, figures.rejected, figures.checks, figures.notices):
        assert table(empty).empty
