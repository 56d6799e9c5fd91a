"""Hours to energy, money and emissions."""

from __future__ import annotations

import random
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.energy import co2e_kg, cost_of, energy_kwh, input_watts, total

amounts = st.floats(0, 1e6)


def test_energy_is_watts_times_hours_over_a_thousand():
    assert float(energy_kwh(250, 8)) == 2.0


def test_a_published_tariff_row_gives_the_input_watts_of_a_150_w_sodium_light():
    # Valley Electric Association: a 150 W high-pressure sodium light, 806 kWh a year at 4,380 h: 184.0 W.
    drawn_w = 806 / 4380 * 1000
    assert drawn_w == pytest.approx(184.0, abs=0.1)
    ours = float(energy_kwh(input_watts(150, "lamp", "HPS"), 4380))
    assert ours == pytest.approx(806, rel=0.025)  # the default factor 1.2 against the tariff's 1.227


def test_only_ballasted_lamp_watts_are_raised():
    basis = ["input", "lamp", "unknown", "lamp", "lamp"]
    watts = input_watts([100, 100, 100, 100, 100], basis, ["HPS", "HPS", "HPS", "LED", ""])
    assert watts.tolist() == [100, 120, 100, 100, 120]


def test_an_unmetered_account_costs_nothing_but_emits_the_same():
    kwh = np.array([10.0, 10.0])
    assert cost_of(kwh, 0.12, [True, False]).tolist() == [pytest.approx(1.2), 0.0]
    assert co2e_kg(kwh, 0.4).tolist() == [4.0, 4.0]


@given(st.lists(st.tuples(amounts, amounts), min_size=1, max_size=10))
def test_an_array_equals_its_numbers_one_by_one(pairs):
    watts, hours = np.array(pairs).T
    assert energy_kwh(watts, hours).tolist() == [float(energy_kwh(w, h)) for w, h in pairs]


@given(st.lists(st.floats(-1e9, 1e9), max_size=50), st.randoms(use_true_random=False))
def test_a_total_does_not_depend_on_the_order(values, shuffler: random.Random):
    shuffled = values.copy()
    shuffler.shuffle(shuffled)
    assert total(values) == total(shuffled)


def test_a_total_of_tenths_is_exact():
    assert total([0.1] * 10) == Decimal("1.000000")
    assert total([]) == 0
    assert total([Decimal("0.005"), 0.25], places=2) == Decimal("0.25")  # half to even


def test_unusable_values_are_refused():
    with pytest.raises(ValueError, match="'nameplate' is not one of input, lamp, unknown"):
        input_watts(100, "nameplate")
    with pytest.raises(ValueError, match="negative"):
        input_watts(-1, "input")
    with pytest.raises(ValueError, match="below 1"):
        input_watts(100, "lamp", ballast_factor_hid=0.9)
    with pytest.raises(ValueError, match="1 of 2 values are missing"):
        total([1.0, float("nan")])
