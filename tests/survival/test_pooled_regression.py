"""Life regressions over several imputations, pooled by Rubin's rules."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student
from test_life_regression import lives_with

from pipeline.survival import CannotFit, fit_life_regression, fit_life_regression_imputed

COLUMNS = ["switching", "log_stress"]


def test_imputations_that_are_alike_give_the_plain_fit():
    lives = lives_with(0.5, 300, seed=1, exponent=0.4)
    plain, pooled = fit_life_regression(lives, COLUMNS), fit_life_regression_imputed([lives] * 3, COLUMNS)
    for column in ("life_ratio", "lower", "upper", "p_value"):
        assert pooled.life_ratios[column].tolist() == pytest.approx(
            plain.life_ratios[column].tolist(), rel=1e-6
        )
    assert pooled.shape == pytest.approx(plain.shape, rel=1e-6)
    assert pooled.shape_limits == pytest.approx(plain.shape_limits, rel=1e-6)
    assert (pooled.failures, pooled.imputations) == (plain.failures, 3)


def test_rubins_rules_by_hand():
    draws = [lives_with(0.5, 250, seed=seed, exponent=0.4) for seed in (1, 2, 3, 4)]
    fits = [fit_life_regression(draw, COLUMNS) for draw in draws]
    pooled = fit_life_regression_imputed(draws, COLUMNS)
    effect = np.array([np.log(fit.life_ratios["life_ratio"].iloc[0]) for fit in fits])
    z = norm.ppf(0.975)
    within = np.mean(
        [
            (np.log(f.life_ratios["upper"].iloc[0] / f.life_ratios["life_ratio"].iloc[0]) / z) ** 2
            for f in fits
        ]
    )
    between = (1 + 1 / 4) * effect.var(ddof=1)
    freedom = 3 * ((within + between) / between) ** 2
    width = student.ppf(0.975, freedom) * np.sqrt(within + between)
    row = pooled.life_ratios.iloc[0]
    assert np.log([row["life_ratio"], row["lower"], row["upper"]]).tolist() == pytest.approx(
        [effect.mean(), effect.mean() - width, effect.mean() + width], rel=1e-5
    )


def test_levels_are_compared_with_the_commonest_of_all_imputations():
    some, others = lives_with(0.5, 200, seed=5), lives_with(0.5, 200, seed=6)
    some["switching"] = np.where(np.arange(len(some)) % 2, "a", "b")
    others["switching"] = np.where(np.arange(len(others)) % 3, "a", "b")
    pooled = fit_life_regression_imputed([some, others], ["switching"])
    assert pooled.life_ratios["covariate"].tolist() == ["switching=b"]


def test_an_effect_that_one_imputation_cannot_tell_is_not_claimed():
    lives = lives_with(0.5, 200, seed=7)
    idle = lives.assign(failed=lives["failed"] & (lives["switching"] != "plain relay"))
    with pytest.raises(CannotFit, match="nothing with switching = plain relay failed"):
        fit_life_regression_imputed([lives, idle], ["switching"])
    with pytest.raises(ValueError, match="at least 2"):
        fit_life_regression_imputed([lives], ["switching"])
