"""Life-cycle cost against NIST's published sample, closed forms and identities."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.payback import life_cycle_cost, uniform_present_value

# NIST life-cycle cost sample project "FEMPEnergy" (reports of 1 September 2020): 15 years, 3 % real, amounts at
# the end of the year, electricity 0.08 USD/kWh with these yearly changes of price.
PRICE_CHANGES_PERCENT = (
    -1.47, -0.69, -0.46, 0.62, 0.92, 0.99, 0.53, -0.15, -0.38, -0.45, -0.76, -0.80, -0.08, -0.15, -0.66,
)  # fmt: skip
LCC_USD = 3.0  # the published price changes are rounded
SAVINGS_USD = 1.0


def _flows(*rows) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["year", "kind", "amount"])


def _yearly(kind, amounts):
    return [(year, kind, amount) for year, amount in enumerate(amounts, start=1)]


def _sample():
    price_per_kwh = 0.08 * np.cumprod(1 + np.array(PRICE_CHANGES_PERCENT) / 100)
    base = _flows(
        (0, "investment", 500), (0, "investment", 1000), (15, "residual", 150),
        (10, "replacement", 600), (15, "residual", 300), (10, "maintenance", 200),
        *_yearly("maintenance", [50] * 15), *_yearly("energy", 15_000 * price_per_kwh),
    )  # fmt: skip
    new = _flows(
        (0, "investment", 3000), (15, "residual", 750), (8, "maintenance", 600),
        *_yearly("maintenance", [100] * 15), *_yearly("energy", 10_250 * price_per_kwh),
    )  # fmt: skip
    return base, new


def test_the_published_sample_project():
    result = life_cycle_cost(*_sample(), years=15, discount_rate=0.03)
    assert result.base_lcc == pytest.approx(16_539, abs=LCC_USD)
    assert result.alternative_lcc == pytest.approx(13_845, abs=LCC_USD)
    assert result.net_savings == pytest.approx(2_693, abs=SAVINGS_USD)
    assert result.sir == pytest.approx(4.13, abs=0.005)
    assert result.airr == pytest.approx(0.1321, abs=0.00005)
    assert result.simple_payback_years == 5
    assert result.discounted_payback_years == 6
    assert result.undefined == {}


def test_the_published_sample_has_one_rate_of_return_although_its_eighth_year_is_negative():
    base, new = _sample()
    rate = life_cycle_cost(base, new, 15, 0.03).irr
    assert rate is not None
    assert 0.13 < rate < 0.25
    assert life_cycle_cost(base, new, 15, rate).net_savings == pytest.approx(0, abs=1e-6)


def test_a_single_level_saving_in_closed_form():
    # 1000 now against 150 a year for 10 years at 4 %: every measure has a formula.
    base = _flows(*_yearly("energy", [150] * 10))
    new = _flows((0, "investment", 1000))
    result = life_cycle_cost(base, new, 10, 0.04)
    worth = 150 * uniform_present_value(10, 0.04)
    assert result.net_savings == pytest.approx(worth - 1000, abs=1e-9)
    assert result.sir == pytest.approx(worth / 1000)
    assert result.airr == pytest.approx(1.04 * (worth / 1000) ** 0.1 - 1)
    assert result.simple_payback_years == 7  # 6.67 years
    assert result.discounted_payback_years == 8  # 150 * UPV(7) = 900.3, UPV(8) = 1009.9
    assert 150 * uniform_present_value(10, result.irr) == pytest.approx(1000, abs=1e-6)


def test_middle_of_year_discounting_moves_operating_amounts_by_half_a_year_and_nothing_else():
    base = _flows(*_yearly("energy", [100] * 5), *_yearly("maintenance", [50] * 5), (3, "replacement", 40))
    result = life_cycle_cost(base, _flows((0, "investment", 300)), 5, 0.05, timing="mid")
    assert result.base_lcc == pytest.approx(150 * uniform_present_value(5, 0.05) * 1.05**0.5 + 40 / 1.05**3)
    rate = result.irr
    expected = 150 * uniform_present_value(5, rate) * (1 + rate) ** 0.5 + 40 / (1 + rate) ** 3
    assert expected == pytest.approx(300, abs=1e-6)


def test_two_rates_of_return_are_none_with_the_reason():
    # -100 + 230/(1+r) - 132/(1+r)^2 = 0 at 10 % and at 20 %.
    result = life_cycle_cost(
        _flows((1, "energy", 230)), _flows((0, "investment", 100), (2, "replacement", 132)), 2, 0.0
    )
    assert result.irr is None
    assert "2 rates balance" in result.undefined["irr"]
    assert "10.0%, 20.0%" in result.undefined["irr"]


def test_a_payback_undone_by_a_later_cost_is_said():
    new = _flows((0, "investment", 100), (3, "replacement", 500))
    result = life_cycle_cost(_flows(*_yearly("energy", [100, 100, 100, 100])), new, 4, 0.0)
    assert result.simple_payback_years == 1
    assert any("from year 3" in caution for caution in result.cautions)


def test_an_alternative_that_never_pays():
    result = life_cycle_cost(_flows((1, "energy", 10)), _flows((0, "investment", 100)), 5, 0.03)
    assert result.net_savings < 0
    assert result.sir < 1
    assert result.airr < 0.03
    assert result.simple_payback_years is None
    assert "within the study period" in result.undefined["simple_payback_years"]
    assert result.irr == pytest.approx(-0.9)


def test_operating_costs_that_rise_leave_no_rate_of_return():
    result = life_cycle_cost(
        _flows((1, "energy", 10)), _flows((0, "investment", 100), (1, "energy", 20)), 5, 0.03
    )
    assert result.sir < 0
    assert result.airr is None
    assert result.irr is None
    assert set(result.undefined) == {"airr", "irr", "simple_payback_years", "discounted_payback_years"}


def test_an_alternative_without_extra_investment():
    base = _flows((0, "investment", 100), *_yearly("energy", [50] * 5))
    result = life_cycle_cost(base, _flows((0, "investment", 80), *_yearly("energy", [10] * 5)), 5, 0.03)
    assert result.net_savings > 0
    assert result.sir is None
    assert "no extra investment" in result.undefined["sir"]
    assert "nothing to pay back" in result.undefined["simple_payback_years"]


def test_an_alternative_against_itself_saves_nothing():
    base, _ = _sample()
    result = life_cycle_cost(base, base, 15, 0.03)
    assert result.net_savings == 0
    assert set(result.undefined) == {"sir", "airr", "irr", "simple_payback_years", "discounted_payback_years"}


def test_amounts_that_differ_by_rounding_alone_are_equal():
    thirds = _flows(*[(0, "investment", 0.1)] * 3)
    result = life_cycle_cost(_flows((0, "investment", 0.3), (1, "energy", 1)), thirds, 3, 0.03)
    assert result.sir is None
    paid = life_cycle_cost(_flows(*_yearly("energy", [0.1] * 3)), _flows((0, "investment", 0.3)), 3, 0.0)
    assert paid.simple_payback_years == 3


years_and_amounts = st.lists(
    st.tuples(
        st.integers(1, 12),
        st.sampled_from(["energy", "maintenance", "replacement", "residual"]),
        st.floats(0, 1e5),
    ),
    max_size=25,
)


@settings(max_examples=150, deadline=None)
@given(
    years_and_amounts,
    years_and_amounts,
    st.floats(1, 1e5),
    st.floats(0.001, 0.2),
    st.sampled_from(["end", "mid"]),
)
def test_the_measures_agree_with_each_other(base_rows, new_rows, cost, rate, timing):
    base = _flows(*base_rows)
    new = _flows((0, "investment", cost), *new_rows)
    result = life_cycle_cost(base, new, 12, rate, timing)
    assert result.net_savings == pytest.approx(result.base_lcc - result.alternative_lcc, abs=1e-6)
    back = life_cycle_cost(new, base, 12, rate, timing)
    assert back.net_savings == pytest.approx(-result.net_savings, abs=1e-6)
    assume(abs(result.net_savings) > 1e-3)
    if result.sir is not None:
        assert (result.sir > 1) == (result.net_savings > 0)
    if result.airr is not None:
        assert (result.airr > rate) == (result.net_savings > 0)
    if result.discounted_payback_years is not None and not result.cautions:
        assert result.net_savings > 0


@settings(max_examples=60, deadline=None)
@given(years_and_amounts, st.floats(0.0, 0.2), st.floats(0.1, 10))
def test_costs_scale_with_the_unit_of_money(rows, rate, factor):
    base = _flows(*rows)
    scaled = base.assign(amount=base["amount"].astype(float) * factor)
    plain = life_cycle_cost(base, _flows(), 12, rate).base_lcc
    assert life_cycle_cost(scaled, _flows(), 12, rate).base_lcc == pytest.approx(
        plain * factor, rel=1e-9, abs=1e-6
    )


def test_every_fault_of_the_frames_is_told_at_once():
    bad = pd.DataFrame(
        {
            "year": [0, 20, 1.5, 2, 3],
            "kind": ["investment", "energy", "energy", "labour", "residual"],
            "amount": [float("nan"), 1, 1, 1, -5],
        }
    )
    with pytest.raises(ValueError) as raised:
        life_cycle_cost(bad, pd.DataFrame({"year": [1]}), 15, 0.03)
    text = str(raised.value)
    assert "base row 2, 3: year is not a whole number from 0 to 15" in text
    assert "base row 4: kind is not one of investment, replacement, residual, energy, maintenance" in text
    assert "base row 1: amount is not a number" in text
    assert "base row 5: a residual is value received" in text
    assert "alternative has no column kind, amount" in text


@pytest.mark.parametrize(
    ("years", "rate", "timing", "message"),
    [
        (0, 0.03, "end", "years 0"),
        (2.5, 0.03, "end", "years 2.5"),
        (True, 0.03, "end", "years True"),
        (10, 3, "end", "3 % is 0.03"),
        (10, float("nan"), "end", "discount_rate nan"),
        (10, 0.03, "start", "timing 'start'"),
    ],
)
def test_unusable_arguments_are_refused(years, rate, timing, message):
    flows = _flows((0, "investment", 1))
    with pytest.raises(ValueError, match=message):
        life_cycle_cost(flows, flows, years, rate, timing)
