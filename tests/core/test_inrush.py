"""Combined inrush: parallel drivers behind a supply, and the default of a driver whose peak is not known."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.inrush import default_peak_a, source_limited_peak_a

AMPS = st.floats(0.01, 5000)
VOLTS = st.floats(50, 500)
MOHM = st.floats(0, 5000)


def test_parallel_drivers_behind_a_supply_are_a_network_of_resistances() -> None:
    # Four drivers of 40 A at 277 V: 391.7 V / 40 A = 9.794 ohm each, four side by side 2.448 ohm, with 0.43 ohm before
    # them 2.878 ohm: 391.7 / 2.878 = 136.1 A.
    crest = 277 * math.sqrt(2)
    assert crest == pytest.approx(391.7, abs=0.05)
    assert source_limited_peak_a(4 * 40, 277, 430) == pytest.approx(
        crest / (0.43 + crest / 40 / 4), rel=1e-12
    )
    assert source_limited_peak_a(4 * 40, 277, 430) == pytest.approx(136.1, abs=0.1)


def test_a_stiff_supply_gives_the_plain_sum() -> None:
    assert source_limited_peak_a(160, 277, 0) == 160


@given(AMPS, VOLTS, MOHM)
def test_the_limited_peak_is_below_the_sum_and_below_what_the_supply_can_give(
    peaks: float, volts: float, mohm: float
) -> None:
    limited = source_limited_peak_a(peaks, volts, mohm)
    assert 0 < limited <= peaks
    assert limited * mohm / 1000 <= volts * math.sqrt(2) * (1 + 1e-12)
    assert source_limited_peak_a(2 * peaks, volts, mohm) >= limited


@pytest.mark.parametrize(
    ("steady_a", "volts", "peak_a"),
    # Points of NEMA 410's table, from memory, unverified.
    [
        (0.5, 277, 77),
        (5, 277, 320),
        (16, 277, 480),
        (1, 120, 107),
        (16, 120, 242),
        (5, 240, 320),
        (5, 110, 192),
    ],
)
def test_the_default_goes_through_its_table(steady_a: float, volts: float, peak_a: float) -> None:
    assert default_peak_a(steady_a, volts) == pytest.approx(peak_a, rel=1e-9)


@given(st.floats(0.001, 100), st.floats(0.001, 100), VOLTS)
def test_the_default_grows_with_the_running_current(one: float, other: float, volts: float) -> None:
    low, high = sorted((one, other))
    assert default_peak_a(low, volts) <= default_peak_a(high, volts) * (1 + 1e-12)


@pytest.mark.parametrize(
    ("steady_a", "volts"), [(0, 277), (-1, 277), (math.nan, 277), (1, 0), (math.inf, 120)]
)
def test_impossible_currents_and_voltages_are_refused(steady_a: float, volts: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        default_peak_a(steady_a, volts)


def test_an_impossible_supply_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        source_limited_peak_a(10, 277, -1)
