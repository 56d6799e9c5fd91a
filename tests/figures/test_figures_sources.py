from __future__ import annotations

import pytest

from pipeline import figures
from pipeline.figures import Behind, Filters
from pipeline.store import Store


def test_every_headline_figure_opens_down_to_calls_with_file_and_row(small: Store) -> None:
    calls = figures.calls_behind(small, "burning_now")
    assert list(calls["call_id"]) == ["k08", "k09"]
    assert list(calls["source_file"]) == ["orders.csv"] * 2
    assert list(calls["row_number"]) == [9, 10]


def test_how_much_stands_behind_a_figure_is_counted(small: Store) -> None:
    assert figures.behind(small, "failures_12_months") == Behind(incidents=6, calls=6)
    assert figures.behind(small, "failures_12_months_before") == Behind(incidents=2, calls=3)
    assert figures.behind(small, "wasted_energy") == Behind(incidents=5, calls=6)
    assert figures.behind(small, "soonest_to_fail") == Behind(incidents=1, calls=1)
    assert figures.behind(small, "longest_lived") == Behind(incidents=0, calls=0)


def test_the_incidents_behind_savings_lie_in_the_groups_where_it_pays(small: Store) -> None:
    assert set(figures.incidents_behind(small, "net_savings")) == {"i01", "i05", "i06"}


def test_calls_behind_chosen_incidents(small: Store) -> None:
    calls = figures.calls_behind(small, ["i01"])
    assert list(calls["call_id"]) == ["k01", "k02"]
    assert figures.calls_behind(small, []).empty


def test_a_site_filter_leaves_out_the_calls_of_others(small: Store) -> None:
    assert list(figures.calls_behind(small, "burning_now", Filters(sites=("south",)))["call_id"]) == ["k09"]


def test_a_key_without_calls_is_refused_naming_those_that_have(small: Store) -> None:
    with pytest.raises(ValueError, match="wasted_energy"):
        figures.calls_behind(small, "weather")


def test_files_rejected_rows_checks_and_notices_are_shown(small: Store) -> None:
    assert list(figures.files_read(small)["rows_read"]) == [11]
    assert figures.rejected(small)[["source_file", "row_number", "reason"]].to_numpy().tolist() == [
        ["orders.csv", 12, "no date"]
    ]
    assert list(figures.checks(small)["holds"]) == [False, True]
    assert list(figures.notices(small)["stage"]) == ["lives"]


def test_every_headline_key_opens(small: Store) -> None:
    for key in figures.headline_keys():
        assert len(figures.calls_behind(small, key)) >= figures.behind(small, key).calls
