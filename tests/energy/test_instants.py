"""Wall clock to UTC, and spans cut at local month ends."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.energy import split_by_month, utc_seconds, utc_seconds_from_local
from pipeline.energy.instants import doubtful_clock_times

EASTERN = "America/New_York"


def _local(*texts: str) -> np.ndarray:
    return utc_seconds_from_local(pd.DatetimeIndex(list(texts)), EASTERN)


def _utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def test_standard_and_daylight_time():
    got = _local("2023-01-15 12:00", "2023-07-15 12:00")
    assert got.tolist() == [_utc("2023-01-15T17:00"), _utc("2023-07-15T16:00")]


def test_an_hour_that_happens_twice_is_its_first_occurrence():
    assert _local("2023-11-05 01:30").tolist() == [_utc("2023-11-05T05:30")]


def test_an_hour_that_does_not_exist_becomes_the_first_instant_after_it():
    assert _local("2023-03-12 02:30").tolist() == [_utc("2023-03-12T07:00")]


@given(st.lists(st.datetimes(datetime(2000, 1, 1), datetime(2040, 1, 1)), min_size=2, max_size=20))
@settings(max_examples=100, deadline=None)
def test_the_order_of_the_wall_clock_is_kept(times):
    seconds = utc_seconds_from_local(pd.DatetimeIndex(sorted(times)), EASTERN)
    assert np.all(np.diff(seconds) >= 0)


def test_missing_times_stay_missing():
    assert np.isnan(_local("2023-01-15 12:00", "NaT")[1])
    assert np.isnan(utc_seconds(np.array(["NaT"], dtype="datetime64[s]"))[0])
    assert np.isnan(utc_seconds(pd.NaT))


def test_every_accepted_form_names_the_same_instant():
    aware = datetime(2023, 7, 15, 16, tzinfo=UTC)
    expected = aware.timestamp()
    local = pd.Timestamp("2023-07-15 12:00", tz=EASTERN)
    forms = [aware, local, pd.Series([local]), pd.DatetimeIndex([local])]
    forms += [np.datetime64("2023-07-15T16:00"), expected]
    assert [float(np.ravel(utc_seconds(form))[0]) for form in forms] == [expected] * len(forms)


def test_naive_and_aware_are_not_confused():
    with pytest.raises(ValueError, match="use utc_seconds_from_local"):
        utc_seconds(pd.Series(pd.to_datetime(["2023-07-15"])))
    with pytest.raises(ValueError, match="no time zone"):
        utc_seconds(pd.Timestamp("2023-07-15"))
    with pytest.raises(ValueError, match="carry a time zone already"):
        utc_seconds_from_local(pd.DatetimeIndex(["2023-07-15"], tz=EASTERN), EASTERN)
    with pytest.raises(ValueError, match="cannot read"):
        utc_seconds(np.array(["2023-07-15"]))


def test_a_span_is_cut_where_the_local_month_ends():
    start_s, end_s = _local("2023-01-30 00:00"), _local("2023-03-02 00:00")
    parts = split_by_month(start_s, end_s, EASTERN)
    assert parts.month.astype(str).tolist() == ["2023-01", "2023-02", "2023-03"]
    assert ((parts.end_s - parts.start_s) / 86400).tolist() == [2.0, 28.0, 1.0]


def test_a_month_with_a_clock_change_is_an_hour_short_or_long():
    parts = split_by_month(_local("2023-03-01", "2023-11-01"), _local("2023-04-01", "2023-12-01"), EASTERN)
    assert ((parts.end_s - parts.start_s) / 3600).tolist() == [31 * 24 - 1.0, 30 * 24 + 1.0]


def test_a_span_of_no_length_keeps_one_part():
    start_s = _local("2023-02-01", "2023-02-10")
    parts = split_by_month(start_s, start_s, EASTERN)
    assert parts.span.tolist() == [0, 1]
    assert parts.month.astype(str).tolist() == ["2023-02", "2023-02"]
    assert (parts.end_s - parts.start_s).tolist() == [0.0, 0.0]


def test_no_spans_give_no_parts():
    assert split_by_month(np.array([]), np.array([]), EASTERN).span.size == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 4e9), st.floats(0, 1e8)), min_size=1, max_size=20))
def test_parts_add_up_to_their_span_and_stay_in_their_month(pairs):
    start_s = np.array([start for start, _ in pairs])
    end_s = start_s + np.array([length for _, length in pairs])
    parts = split_by_month(start_s, end_s, EASTERN)
    assert np.all(parts.end_s >= parts.start_s)
    summed = np.bincount(parts.span, weights=parts.end_s - parts.start_s, minlength=start_s.size)
    np.testing.assert_allclose(summed, end_s - start_s, rtol=0, atol=1e-3)
    # by the standard library: it knows summer time after 2037, when tables of clock changes end
    middle = [datetime.fromtimestamp(at, ZoneInfo(EASTERN)) for at in (parts.start_s + parts.end_s) / 2]
    local_month = np.array([f"{at:%Y-%m}" for at in middle], dtype="datetime64[M]")
    inside = parts.end_s - parts.start_s > 1
    assert np.array_equal(local_month[inside], parts.month[inside])


def test_a_span_with_a_missing_time_or_turned_around_is_refused():
    with pytest.raises(ValueError, match="span 1 has a missing time"):
        split_by_month(np.array([0.0, np.nan]), np.array([1.0, 2.0]), EASTERN)
    with pytest.raises(ValueError, match="span 0"):
        split_by_month(np.array([5.0]), np.array([1.0]), EASTERN)


def test_times_that_happen_twice_or_not_at_all_are_known() -> None:
    # Denver 2024: clocks skip 02:00 to 03:00 on 10 March, and 01:00 to 02:00 comes twice on 3 November.
    texts = [
        "2024-03-10 02:30",
        "2024-03-10 03:00",
        "2024-11-03 01:00",
        "2024-11-03 02:00",
        "2024-06-01 01:30",
        None,
    ]
    twice, skipped = doubtful_clock_times(pd.Series(pd.to_datetime(texts)), "America/Denver")
    assert twice.tolist() == [False, False, True, False, False, False]
    assert skipped.tolist() == [True, False, False, False, False, False]
