"""Present-value factors against published tables."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.payback import single_present_value, uniform_present_value

PRINTED_PLACES = 0.00005


@pytest.mark.parametrize(
    ("years", "spv", "upv"), [(10, 0.7441, 8.5302), (15, 0.6419, 11.9379), (20, 0.5537, 14.8775)]
)
def test_factors_at_three_percent(years, spv, upv):
    # NIST Handbook 135 / 10 CFR 436 subpart A, discount factors at 3 % real.
    assert float(single_present_value(years, 0.03)) == pytest.approx(spv, abs=PRINTED_PLACES)
    assert uniform_present_value(years, 0.03) == pytest.approx(upv, abs=PRINTED_PLACES)


def test_closed_form_of_the_uniform_factor():
    for rate in (-0.02, 0.01, 0.08):
        assert uniform_present_value(25, rate) == pytest.approx((1 - (1 + rate) ** -25) / rate, rel=1e-12)


def test_without_discounting_a_year_is_worth_one():
    assert uniform_present_value(12, 0) == 12
    assert np.array_equal(single_present_value([0, 5, 9], 0), [1, 1, 1])


def test_a_percentage_given_as_a_fraction_is_refused():
    with pytest.raises(ValueError, match=r"3 % is 0\.03"):
        single_present_value(1, 3)
    with pytest.raises(ValueError, match="negative"):
        uniform_present_value(-1, 0.03)
