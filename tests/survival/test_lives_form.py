"""The lives form: what is accepted, and what is refused with its row and reason."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.survival import ImpossibleLives, LifeMargins, check_lives


def lives(**columns):
    base = {"entry_days": [0.0, 10.0], "exit_days": [5.0, 30.0], "failed": [True, False], "quantity": [1, 3]}
    return pd.DataFrame({**base, **columns})


def test_a_good_frame_comes_back_in_normal_form_with_its_other_columns():
    given = lives(entry_days=[0, 10], model=["A", "B"])
    checked = check_lives(given)
    assert checked["entry_days"].dtype == np.float64
    assert checked["failed"].dtype == bool
    assert checked["quantity"].tolist() == [1, 3]
    assert checked["model"].tolist() == ["A", "B"]
    assert given["entry_days"].dtype == np.int64  # the caller's frame is left alone


@pytest.mark.parametrize(
    ("column", "values", "reason"),
    [
        ("entry_days", [0.0, np.nan], "row 1: entry_days is missing"),
        ("entry_days", [-1.0, 0.0], "row 0: entry_days -1 is negative"),
        ("entry_days", ["0", 1.0], "row 0: entry_days '0' is not a number"),
        ("exit_days", [np.nan, 20.0], "row 0: exit_days is missing"),
        ("exit_days", [np.inf, 20.0], "row 0: exit_days is infinite"),
        ("exit_days", [0.0, 20.0], "row 0: exit_days 0 is not after entry_days 0"),
        ("exit_days", [5.0, 10.0], "row 1: exit_days 10 is not after entry_days 10"),
        ("exit_days", [5.0, 9.0], "row 1: exit_days 9 is not after entry_days 10"),
        ("exit_days", pd.to_datetime(["2020-01-01", "2021-01-01"]), "row 0: exit_days .* is not a number"),
        ("failed", [1, 0], "row 0: failed .*1.* is neither True nor False"),
        ("failed", ["yes", "no"], "row 1: failed 'no' is neither True nor False"),
        ("failed", [True, None], "row 1: failed None is neither True nor False"),
        ("quantity", [0, 1], "row 0: quantity 0 is less than 1"),
        ("quantity", [1, -2], "row 1: quantity -2 is less than 1"),
        ("quantity", [1, np.nan], "row 1: quantity is missing"),
        ("quantity", [1e19, 1], "row 0: quantity 1e\\+19 is more controls than can be counted"),
        ("quantity", [1.5, 1], "row 0: quantity 1.5 is not a whole number"),
        ("exit_low_days", [6.0, np.nan], "row 0: exit_low_days 6 is not between"),
        ("exit_low_days", [np.nan, 5.0], "row 1: exit_low_days 5 is not between"),
        ("exit_low_days", [np.nan, 20.0], "row 1: exit_low_days 20 .* did not fail"),
    ],
)
def test_the_impossible_is_refused_naming_row_and_reason(column, values, reason):
    with pytest.raises(ImpossibleLives, match=reason):
        check_lives(lives(**{column: values}))


@pytest.mark.parametrize("column", ["entry_days", "exit_days", "failed", "quantity"])
def test_a_missing_column_is_named(column):
    with pytest.raises(ImpossibleLives, match=f"column {column}: is missing"):
        check_lives(lives().drop(columns=column))


def test_every_fault_is_reported_at_once_and_names_the_life():
    frame = lives(entry_days=[-1.0, 40.0], quantity=[0, 1], life_id=["L7", "L8"])
    with pytest.raises(ImpossibleLives) as caught:
        check_lives(frame)
    assert len(caught.value.faults) == 3
    assert "row 0 (life L7)" in str(caught.value)
    assert "row 1 (life L8)" in str(caught.value)


def test_a_refusal_is_a_value_error_for_callers_who_catch_that():
    with pytest.raises(ValueError, match="quantity 0"):
        check_lives(lives(quantity=[0, 1]))


def test_a_long_list_of_faults_is_cut_and_says_so():
    frame = pd.DataFrame({"entry_days": 0.0, "exit_days": 0.0, "failed": True, "quantity": [1] * 500})
    with pytest.raises(ImpossibleLives, match="480 more faults"):
        check_lives(frame)


def test_nullable_columns_without_gaps_are_accepted():
    frame = lives().astype({"entry_days": "Float64", "failed": "boolean", "quantity": "Int64"})
    assert check_lives(frame)["failed"].tolist() == [True, False]


def test_an_exit_low_of_nothing_but_gaps_means_exact_ages():
    margins = LifeMargins.from_lives(lives(exit_low_days=[None, None]))
    assert not margins.has_intervals
    assert margins.failures == 1


def test_margins_count_lives_failures_and_time_at_risk():
    margins = LifeMargins.from_lives(lives())
    assert (margins.units, margins.failures) == (4, 1)
    assert margins.days_at_risk == 5 + 3 * 20


@pytest.mark.parametrize(
    ("failures", "exits", "entries", "reason"),
    [
        (([5], [1]), ([5], [1]), ([0], [2]), "2 lives enter but 1 end"),
        (([5], [1]), ([6], [1]), ([0], [1]), "must include every failure"),
        (([5], [2]), ([5], [1]), ([0], [1]), "must include every failure"),
        (([], []), ([5], [1]), ([9], [1]), "more lives end at 5 days"),
        (([], []), ([5], [0]), ([0], [1]), "count is not above 0"),
        (([], []), ([-5], [1]), ([0], [1]), "negative"),
    ],
)
def test_margins_that_no_lives_can_have_are_refused(failures, exits, entries, reason):
    with pytest.raises(ValueError, match=reason):
        LifeMargins.from_counts(failures, exits, entries)


def test_interval_margins_must_run_upward():
    with pytest.raises(ValueError, match="below high"):
        LifeMargins.from_counts(([], []), ([], []), ([0], [1]), ([5], [5], [1]))
