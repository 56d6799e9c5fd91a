"""What onset and end may have been: the laws that are drawn from, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.energy.draws import DRAWS, drawn_between, drawn_delays, shared_factors, uniforms
from pipeline.noticing import Noticing, stretches_before

KNOWN = np.ones(DRAWS)  # the mean delay is known exactly


def test_the_mean_delay_lies_within_its_spread_in_90_percent_of_the_draws() -> None:
    factors = shared_factors(2.5, 2000)
    inside = (factors >= 1 / 2.5) & (factors <= 2.5)
    assert inside.mean() == pytest.approx(0.90, abs=0.001)
    assert np.median(factors) == pytest.approx(1, abs=0.001)
    assert shared_factors(1.0).tolist() == [1.0] * DRAWS


@pytest.mark.parametrize(("mean", "window"), [(9.0, 60.0), (9.0, 6.0), (0.001, 60.0), (5000.0, 10.0)])
def test_delays_follow_the_exponential_cut_off_at_the_window(mean: float, window: float) -> None:
    chance = np.vstack([(np.arange(DRAWS) + 0.5) / DRAWS] * 3)
    lengths, delays = stretches_before(Noticing(mean), [100.5, 200.0, 300.9], window)
    drawn = drawn_delays(np.full(3, window), lengths, delays, KNOWN, chance)
    expected = mean - window / np.expm1(min(window / mean, 700))  # mean of a truncated exponential
    assert drawn.mean(axis=1) == pytest.approx([expected] * 3, rel=0.02)
    assert drawn.min() >= 0
    assert drawn.max() <= window


def test_an_incident_seen_good_at_its_report_has_no_delay() -> None:
    lengths, delays = stretches_before(Noticing(9.0), [50.25], 0.0)
    assert drawn_delays(np.zeros(1), lengths, delays, KNOWN, uniforms(["i"])[0]).max() == 0


def test_delays_by_kind_of_day_are_those_of_a_simulated_school_year() -> None:
    """Faults at all times alike, noticed by a Poisson process that is slow in summer: delays seen from the reports."""
    noticing = Noticing(5.0, ((("06-05 to 08-14",), (), 40.0), ((), ("sat", "sun"), 15.0)))
    chance = np.random.default_rng(7)
    first = np.datetime64("2021-01-01").astype(int)
    days = first + np.arange(4 * 365)
    hazard = np.concatenate([[0.0], np.cumsum(1 / noticing.on(days.astype("datetime64[D]")))])
    onset = chance.uniform(0, 3 * 365, 200_000)
    grid = np.arange(hazard.size)
    noticed = np.interp(np.interp(onset, grid, hazard) + chance.exponential(size=onset.size), hazard, grid)
    for day in ("2022-08-20", "2022-05-16", "2022-08-01"):
        at = np.datetime64(day).astype(int) - first
        same = np.floor(noticed) == at
        seen = (noticed - onset)[same]
        wide = np.full(400, 365.0)
        lengths, delays = stretches_before(noticing, np.linspace(first + at, first + at + 0.999, 400), 365.0)
        drawn = drawn_delays(wide, lengths, delays, KNOWN, uniforms([f"{day} {n}" for n in range(400)])[0])
        error = 4 * seen.std() / np.sqrt(seen.size)  # four standard errors of the simulated mean
        assert drawn.mean() == pytest.approx(seen.mean(), abs=error)
        assert noticing.mean_before(np.array([day], "datetime64[D]"))[0] == pytest.approx(
            seen.mean(), abs=error
        )


def test_one_delay_for_all_days_is_the_mean_before_any_report() -> None:
    days = np.array(["2024-02-29", "2024-07-01"], "datetime64[D]")
    assert Noticing(9.0).mean_before(days).tolist() == [9.0, 9.0]
    same = Noticing(9.0, (((), ("mon",), 9.0),))
    assert same.mean_before(days) == pytest.approx([9.0, 9.0], rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(share=st.floats(0.02, 0.98), width=st.floats(0.1, 1e6))
def test_ends_lie_between_their_bounds_with_the_central_one_as_mean(share: float, width: float) -> None:
    low, chance = np.array([3.0]), ((np.arange(4000) + 0.5) / 4000)[None]
    central, high = low + share * width, low + width
    drawn = drawn_between(low, central, high, chance)
    assert drawn.min() >= low[0]
    assert drawn.max() <= high[0] + 1e-9 * width
    assert drawn.mean() == pytest.approx(central[0], abs=0.005 * width)


def test_a_certain_end_is_not_moved() -> None:
    seven = np.array([7.0])
    assert set(drawn_between(seven, seven, seven, uniforms(["i"])[1]).ravel()) == {7.0}


def test_draws_follow_from_the_incidents_id_alone() -> None:
    together, alone = uniforms(["a", "b"]), uniforms(["b"])
    for both, one in zip(together, alone, strict=True):
        assert both[1].tolist() == one[0].tolist()
        assert both[0].tolist() != both[1].tolist()
        assert sorted((both * DRAWS).astype(int)[0]) == list(range(DRAWS))  # one in each stretch of 1/200
