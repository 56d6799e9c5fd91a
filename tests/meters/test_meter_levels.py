"""Steps in daily loads: cut exactly, against noise measured from the days themselves."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.energy.meter_edges import edge_between
from pipeline.energy.meter_energy import measured_energies
from pipeline.energy.meter_layers import layers_of
from pipeline.energy.meter_levels import (
    PENALTY,
    Noise,
    level_medians,
    level_starts,
    noise_of,
    without_spikes,
    without_transitions,
)


def cost(day_kw: np.ndarray, starts: list[int], penalty: float) -> float:
    stretches = np.split(day_kw, starts[1:])
    return sum(float(((part - part.mean()) ** 2).sum()) + penalty for part in stretches)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-5, 5, width=32), min_size=4, max_size=9), st.sampled_from([0.3, 1.0, 2.0]))
def test_no_other_cut_of_a_short_series_costs_less(values: list[float], sd: float) -> None:
    """Against every cut there is."""
    day_kw = np.array(values, dtype=float)
    penalty = PENALTY * sd**2 * np.log(day_kw.size)
    cuts = [
        [0, *inner]
        for parts in range(day_kw.size // 2)
        for inner in combinations(range(1, day_kw.size), parts)
        if np.diff([0, *inner, day_kw.size]).min() >= 2
    ]
    best = min(cost(day_kw, starts, penalty) for starts in cuts)
    assert cost(day_kw, level_starts(day_kw, Noise(sd, 0.0), 2).tolist(), penalty) == pytest.approx(
        best, abs=1e-6
    )


@pytest.mark.parametrize("correlation", [0.0, 0.4, 0.7])
def test_noise_and_its_correlation_are_found_beside_steps(correlation: float) -> None:
    """A known autoregression with steps in it; tolerances: 10 % of the deviation, 0.12 of the correlation."""
    chance = np.random.default_rng(11)
    series = np.zeros(4000)
    for day in range(1, series.size):
        series[day] = correlation * series[day - 1] + chance.normal(0, np.sqrt(1 - correlation**2))
    series[1000:1400] += 20
    series[3000:3020] += 7
    noise = noise_of(series, 0.001)
    assert noise.sd_kw == pytest.approx(1.0, rel=0.10)
    assert noise.correlation == pytest.approx(correlation, abs=0.12)


def test_a_load_without_noise_still_shows_only_steps_of_the_least_size() -> None:
    flat = np.zeros(365)
    flat[100:110] = 0.04
    flat[200:202] = 0.06
    noise = noise_of(flat, 0.05)
    starts = level_starts(flat, noise, 2)
    assert level_medians(flat, starts).tolist() == [0.0, 0.04, 0.0, 0.06, 0.0]
    assert len(layers_of(level_medians(flat, starts), 0.05)) == 1


def test_a_single_day_is_no_level() -> None:
    flat = np.zeros(100)
    flat[50] = 3.0
    assert without_spikes(flat, Noise(0.1, 0.0)).tolist() == [0.0] * 100


def test_a_day_on_which_a_step_falls_has_no_level_of_its_own() -> None:
    day_kw = np.array([0.0] * 10 + [0.6, 0.6] + [1.0] * 10)
    assert without_transitions(day_kw, np.array([0, 10, 12]), 2).tolist() == [0, 10]
    peak = np.array([0.0] * 10 + [3.0, 3.0] + [1.0] * 10)
    assert without_transitions(peak, np.array([0, 10, 12]), 2).tolist() == [0, 10, 12]


@pytest.mark.parametrize(
    ("levels", "layers"),
    [
        ([0, 1, 0], [(1, 1.0, 2)]),
        ([0, 1, 1.5, 0.5, 0], [(1, 1.0, 3), (2, 0.5, 4)]),  # the first to come is the first to go
        ([0, 1, 1.5, 1, 0], [(1, 1.0, 4), (2, 0.5, 3)]),
        ([0, 1, 2, 1, 0], [(1, 1.0, 3), (2, 1.0, 4)]),  # of equal ones the oldest
        ([0, 2, 2.8, 0.8, 0], [(1, 2.0, 3), (2, 0.8, 4)]),
        ([0, 2, 1, 2, 1, 0], [(1, 1.0, 2), (1, 1.0, 4), (3, 1.0, 5)]),
        ([0, 1, 3, 0], [(1, 1.0, 3), (2, 2.0, 3)]),
        ([0, 3, 1, 0], [(1, 2.0, 2), (1, 1.0, 3)]),  # two that began at once
        ([1, 0], [(0, 1.0, 1)]),  # there when the data begin
        ([0, 1], [(1, 1.0, None)]),  # still there when they end
        ([0, 0.04, 0], []),
    ],
)
def test_levels_come_apart_into_what_began_and_ended(
    levels: list[float], layers: list[tuple[int, float, int | None]]
) -> None:
    found = [(layer.first, round(layer.size_kw, 6), layer.beyond) for layer in layers_of(levels, 0.05)]
    assert sorted(found, key=str) == sorted(layers, key=str)


@given(st.lists(st.floats(0, 10), min_size=1, max_size=12))
def test_layers_never_outlast_their_levels(levels: list[float]) -> None:
    for layer in layers_of(levels, 0.05):
        end = len(levels) if layer.beyond is None else layer.beyond
        assert layer.first < end
        assert min(levels[layer.first : end]) >= 0.05
        assert layer.size_kw > 0


def test_the_reading_at_which_a_level_begins_is_found_with_its_limits() -> None:
    kw = np.array([0.0] * 5 + [1.0] * 5)
    assert edge_between(kw, 0, 1, 1e-4) == type(edge_between(kw, 0, 1, 1e-4))(5, 5, 5)
    wide = edge_between(kw, 0, 1, 1.0)
    assert (wide.at, wide.first <= 2, wide.last >= 8) == (5, True, True)
    assert edge_between(np.zeros(4), 0, 1, 0.1).at == 4


def test_overlapping_stretches_share_what_was_measured() -> None:
    """By hand: 2 kW for 10 h and 3 kW for 10 h a day; the second stretch of 1 kW covers the last two days."""
    above = np.array([0.0, 2.0, 3.0, np.nan, 0.0])
    hours = np.full(5, 10.0)
    (one, two), shared = measured_energies(above, hours, [(1, 3), (2, 3)], [2.0, 1.0], 0.0)
    assert one.kwh == pytest.approx(20 + 20 + 20)
    assert two.kwh == pytest.approx(10 + 10)
    assert (one.filled_hours, two.filled_hours) == (10.0, 10.0)
    assert shared[:3].tolist() == [0.0, 2.0, 3.0]
    assert one.lower == one.kwh == one.upper
