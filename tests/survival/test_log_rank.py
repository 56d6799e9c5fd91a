"""The log-rank test."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from published_lives import AML_MAINTAINED, AML_NOT_MAINTAINED, NIST, simulated_lives
from r_outputs import as_lives, r_data, r_values
from scipy.stats import binom
from statsmodels.duration.survfunc import survdiff
from statsmodels.stats.multitest import multipletests

from pipeline.survival import CannotFit, ImpossibleLives, LifeMargins, log_rank

AML = pd.concat([AML_MAINTAINED.assign(arm="kept"), AML_NOT_MAINTAINED.assign(arm="not")], ignore_index=True)


def test_aml_maintenance():
    # R survival 3.5.8: survdiff on aml: chi-square 3.4 on 1 degree of freedom, p 0.07 (3.3963886989776 in full).
    test = log_rank(AML, "arm")
    assert test.statistic == pytest.approx(3.3963886989776, abs=1e-10)
    assert test.degrees_of_freedom == 1
    assert test.p_value == pytest.approx(0.0653393220405051, abs=1e-10)
    assert test.groups["expected"].tolist() == pytest.approx([10.6893359923007, 7.31066400769928], abs=1e-10)


@pytest.mark.parametrize(
    ("name", "data", "by", "age"),
    [
        ("logrank_lung_sex", "lung", "sex", "time"),
        ("logrank_lung_ecog", "lung", "ph_ecog", "time"),
        ("logrank_ties", "ties", "z1", "x"),
    ],
)
def test_equals_r(name, data, by, age):
    # R survival 3.5.8, survdiff; tolerance 1e-9 of chi-square.
    lives = as_lives(r_data(data), age=age).dropna(subset=[by]).reset_index(drop=True)
    test, expected = log_rank(lives, by), r_values(name)
    assert test.statistic == pytest.approx(expected["chisq"], abs=1e-9)
    assert test.degrees_of_freedom == expected["df"]
    assert test.p_value == pytest.approx(expected["p"], rel=1e-9)


def test_delayed_entry_equals_statsmodels():
    lives = simulated_lives(2.0, 1500, 500, seed=12)
    lives["kind"] = np.random.default_rng(1).choice(["a", "b", "c"], len(lives))
    chi_square, p_value = survdiff(
        lives.exit_days, lives.failed.astype(int), lives.kind, entry=lives.entry_days.to_numpy()
    )
    test = log_rank(lives, "kind")
    assert test.statistic == pytest.approx(chi_square, rel=1e-8)
    assert test.p_value == pytest.approx(p_value, rel=1e-8)


def test_pairs_are_tested_and_adjusted_by_holm():
    lives = pd.concat(
        [simulated_lives(2.0, scale, 200, seed).assign(kind=kind)
         for seed, (kind, scale) in enumerate([("a", 1500), ("b", 1550), ("c", 700)])],
        ignore_index=True,
    )  # fmt: skip
    pairs = log_rank(lives, "kind").pairs
    assert list(pairs.columns) == ["group_a", "group_b", "statistic", "p_value", "p_value_holm", "sooner"]
    assert pairs["sooner"].tolist()[1:] == ["c", "c"]
    assert pairs[["group_a", "group_b"]].to_numpy().tolist() == [["a", "b"], ["a", "c"], ["b", "c"]]
    assert pairs["p_value_holm"].to_numpy() == pytest.approx(
        multipletests(pairs["p_value"], method="holm")[1], rel=1e-12
    )
    alone = log_rank(lives[lives.kind != "c"], "kind")
    assert pairs.loc[0, "statistic"] == pytest.approx(alone.statistic, rel=1e-12)


def test_margins_in_which_an_age_stands_twice_count_it_twice():
    lives = AML.assign(quantity=2)
    whole = {arm: LifeMargins.from_lives(part) for arm, part in lives.groupby("arm")}
    halves = {
        arm: replace(
            part,
            failure_days=np.concatenate([part.failure_days] * 2),
            failure_counts=np.concatenate([part.failure_counts / 2] * 2),
        )
        for arm, part in whole.items()
    }
    assert log_rank(halves).statistic == pytest.approx(log_rank(whole).statistic, rel=1e-12)


def test_quantities_count_as_rows_do():
    lives = AML.assign(quantity=2)
    twice = pd.concat([AML, AML], ignore_index=True)
    assert log_rank(lives, "arm").statistic == pytest.approx(log_rank(twice, "arm").statistic, rel=1e-12)


def test_a_group_never_at_risk_at_a_failure_takes_a_degree_of_freedom():
    early = pd.DataFrame(
        {"entry_days": [0.0], "exit_days": [1.0], "failed": [False], "quantity": [4], "arm": ["early"]}
    )
    test = log_rank(pd.concat([AML, early], ignore_index=True), "arm")
    assert test.degrees_of_freedom == 1
    assert test.statistic == pytest.approx(3.3963886989776, abs=1e-9)
    # A pair that never shares an age at risk has no p value, and does not count in the adjustment.
    assert test.pairs["p_value"].isna().tolist() == [True, True, False]
    assert test.pairs["p_value_holm"].iloc[2] == test.pairs["p_value"].iloc[2]


def test_equal_groups_are_called_different_as_often_as_chance_says():
    runs, called = 250, 0
    for seed in range(runs):
        lives = simulated_lives(1.5, 1500, 60, seed)
        lives["kind"] = np.where(np.arange(len(lives)) % 2, "odd", "even")
        called += log_rank(lives, "kind").p_value < 0.05
    assert binom.ppf(0.0005, runs, 0.04) <= called <= binom.ppf(0.9995, runs, 0.065)


@pytest.mark.parametrize(
    ("lives", "by", "error", "reason"),
    [
        (AML, "colour", ImpossibleLives, "column colour: is missing"),
        (
            AML.assign(arm=["a", None] + ["b"] * (len(AML) - 2)),
            "arm",
            ImpossibleLives,
            "row 1: arm is missing",
        ),
        (AML.assign(arm="one"), "arm", CannotFit, "at least two"),
        (AML.assign(failed=False), "arm", CannotFit, "None of the lives failed"),
        (
            AML.assign(exit_low_days=AML.exit_days.where(~AML.failed, AML.exit_days - 1)),
            "arm",
            CannotFit,
            "interval",
        ),
    ],
)
def test_refusals_say_why(lives, by, error, reason):
    with pytest.raises(error, match=reason):
        log_rank(lives, by)


def test_an_impossible_row_is_named():
    with pytest.raises(ImpossibleLives, match="row 3: quantity 0"):
        log_rank(NIST.assign(arm="a", quantity=[1, 1, 1, 0] + [1] * 16), "arm")


def test_groups_counted_elsewhere_give_the_same_test():
    lives = simulated_lives(2.0, 1500, 500, seed=12)
    lives["kind"] = np.random.default_rng(1).choice(["a", "b", "c"], len(lives))
    rows = log_rank(lives, "kind")
    counted = log_rank({name: LifeMargins.from_lives(part) for name, part in lives.groupby("kind")})
    assert counted.statistic == pytest.approx(rows.statistic, rel=1e-12)
    pd.testing.assert_frame_equal(counted.pairs, rows.pairs)
