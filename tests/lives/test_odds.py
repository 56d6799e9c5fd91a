"""The odds of rules, drawn once an imputation and shared by all findings of a rule."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lives.odds import Odds

CASES = {"checked": (970.0, 30.0), "assumed": (9.7, 0.3), "never": (0.0, 10.0)}


def test_findings_of_one_rule_share_its_odds_and_rules_differ() -> None:
    odds = Odds(np.array([0.97, 0.97, 0.97, 0.97]), ["assumed", "checked", "assumed", "checked"], CASES)
    rng = np.random.default_rng(1)
    draws = np.array([odds.draw(rng) for _ in range(500)])
    np.testing.assert_array_equal(draws[:, 0], draws[:, 2])
    np.testing.assert_array_equal(draws[:, 1], draws[:, 3])
    assert np.corrcoef(draws[:, 0], draws[:, 1])[0, 1] == pytest.approx(0, abs=0.2)


def test_draws_have_the_mean_and_spread_of_the_beta_law() -> None:
    # Variance of Beta(a, b): m (1 - m) / (a + b + 1); 4000 draws, five standard errors.
    odds = Odds(np.array([0.97, 0.97]), ["assumed", "checked"], CASES)
    rng = np.random.default_rng(2)
    draws = np.array([odds.draw(rng) for _ in range(4000)])
    for column, cases in ((0, 10.0), (1, 1000.0)):
        spread = (0.97 * 0.03 / (cases + 1)) ** 0.5
        assert draws[:, column].mean() == pytest.approx(0.97, abs=5 * spread / 4000**0.5)
        assert draws[:, column].std() == pytest.approx(spread, rel=0.15)


@given(st.lists(st.sampled_from([0.0, 0.3, 0.97, 1.0]), min_size=1, max_size=8), st.integers(0, 5))
def test_certain_findings_and_those_of_no_rule_keep_their_probability(given_: list[float], seed: int) -> None:
    rules = [None if at % 2 else "assumed" for at in range(len(given_))]
    chance = Odds(np.array(given_), rules, CASES).draw(np.random.default_rng(seed))
    for value, rule, drawn in zip(given_, rules, chance, strict=True):
        assert 0 <= drawn <= 1
        if rule is None or value in (0.0, 1.0):
            assert drawn == value
        else:
            assert 0 < drawn < 1


def test_a_rule_without_a_case_of_one_kind_keeps_its_probability() -> None:
    assert Odds(np.array([0.2]), ["never"], CASES).draw(np.random.default_rng(0)) == pytest.approx([0.2])
