"""Stock for a wanted service level."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.payback import spares
from pipeline.payback.spares import spares_from_counts


@pytest.mark.parametrize(("expected", "stock"), [(1, 3), (2, 5), (4, 8), (10, 15)])
def test_poisson_stock_at_95_percent(expected, stock):
    # Smallest k with P(Poisson(m) <= k) >= 0.95, from the Poisson distribution's tables.
    assert spares(expected, 0.95) == stock


@given(st.floats(0, 60), st.floats(0.01, 0.999))
def test_the_stock_is_the_smallest_that_suffices(expected, service_level):
    def chance(stock: int) -> float:
        return sum(math.exp(-expected) * expected**k / math.factorial(k) for k in range(stock + 1))

    stock = spares(expected, service_level)
    assert stock >= 0
    assert chance(stock) >= service_level - 1e-9
    assert stock == 0 or chance(stock - 1) < service_level + 1e-9


def test_no_failures_need_no_spares():
    assert spares(0, 0.99) == 0


@pytest.mark.parametrize(
    ("expected", "service_level", "message"),
    [(-1, 0.9, "expected -1"), (1, 95, "95 % is 0.95"), (1, 1, "service_level 1")],
)
def test_unusable_arguments_are_refused(expected, service_level, message):
    with pytest.raises(ValueError, match=message):
        spares(expected, service_level)


def test_stock_of_drawn_years_is_the_smallest_that_suffices_in_that_share_of_them():
    assert spares_from_counts([0, 1, 2, 3, 4, 5, 6, 7, 8, 9], 0.8) == 7  # 8 of 10 years need 7 or fewer
    assert spares_from_counts([5], 0.95) == 5


@pytest.mark.parametrize(("counts", "level"), [([], 0.9), ([-1], 0.9), ([float("nan")], 0.9), ([1], 1)])
def test_unusable_years_are_refused(counts, level):
    with pytest.raises(ValueError, match=r"counts must be|service_level"):
        spares_from_counts(counts, level)
