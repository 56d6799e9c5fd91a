from __future__ import annotations

from collections.abc import Iterator

import pytest

from figures.small_store import small_store
from pipeline import figures
from pipeline.figures import Behind, Filters
from pipeline.store import Store


@pytest.fixture
def own() -> Iterator[Store]:
    """A small portfolio that a test may change."""
    store = small_store()
    yield store
    store.close()


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


def test_rejected_rows_are_told_by_reason_with_their_rows(own: Store) -> None:
    own.run(
        "INSERT INTO rejected_rows SELECT file_id, 100 + n, 'no date', '{}' FROM source_files, range(12) t(n)"
    )
    told = figures.rejected_reasons(own)
    assert told[["source_file", "reason", "rows"]].to_numpy().tolist() == [["orders.csv", "no date", 13]]
    assert told["row_numbers"][0] == "12, 100, 101, 102, 103, 104, 105, 106 and 5 more"


def test_reasons_that_quote_different_cells_are_one(own: Store) -> None:
    own.run("DELETE FROM rejected_rows")
    own.run(
        "INSERT INTO rejected_rows SELECT file_id, n, 'report date ''' || n || ''' is not a date', '{}' "
        "FROM source_files, range(2) t(n)".replace("\\'\\'", "''")
    )
    assert figures.rejected_reasons(own)[["reason", "rows"]].to_numpy().tolist() == [
        ["report date '…' is not a date", 2]
    ]


def test_shares_of_calls_with_each_field_are_counted_by_hand(own: Store) -> None:
    (row,) = figures.coverage(own).to_dict("records")
    calls = own.frame("SELECT * FROM calls WHERE superseded_by IS NULL")
    assert row["calls"] == len(calls)
    for share, column in (
        ("with_site", "site_text"),
        ("with_completion", "completed_at"),
        ("with_action", "action_text"),
    ):
        assert row[share] == pytest.approx(calls[column].notna().mean())
    own.run("UPDATE calls SET site_text = NULL")
    assert figures.coverage(own)["with_site"][0] == 0


def test_ties_are_shares_of_the_lighting_calls_that_hold_a_finding(own: Store) -> None:
    before = figures.coverage(own).iloc[0]
    assert before["lighting_with_finding"] == own.value(
        "SELECT count(DISTINCT call_id) FROM findings JOIN calls USING (call_id) WHERE is_lighting"
    )
    own.run(
        "DELETE FROM findings WHERE call_id = (SELECT min(call_id) FROM findings WHERE site_id IS NOT NULL)"
    )
    after = figures.coverage(own).iloc[0]
    assert after["lighting_calls"] == before["lighting_calls"]
    assert after["lighting_with_finding"] == before["lighting_with_finding"] - 1
    assert after["lighting_at_a_site"] == before["lighting_at_a_site"] == 1


def test_flags_are_told_with_their_rows(own: Store) -> None:
    own.run("UPDATE calls SET flags = ['date to check'] WHERE call_id IN ('k08', 'k09')")
    told = figures.flagged_reasons(own)
    assert told[["flag", "calls", "row_numbers"]].to_numpy().tolist() == [["date to check", 2, "9, 10"]]


def test_register_rows_left_out_are_told_by_reason(own: Store) -> None:
    own.run(
        "INSERT INTO register_rows_left_out "
        "SELECT 'controls', 'registers/a.csv', n, 'no control_id', '{}' FROM range(2, 5) t(n)"
    )
    assert figures.left_out_reasons(own).to_numpy().tolist() == [
        ["registers/a.csv", "no control_id", 3, "2, 3, 4"]
    ]
