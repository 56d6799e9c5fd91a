"""Fits near one another and fits pooled over draws, against the survival functions themselves."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.lives.pooled_life import pooled, pooled_fixed_shape
from pipeline.lives.warm_fits import fit_near
from pipeline.survival import CannotFit, LifeMargins, WeibullFit, fit_weibull, fit_weibull_fixed_shape


def lives(seed: int, controls: int = 300, width_days: float = 60.0) -> pd.DataFrame:
    """Weibull lives (shape 2, scale 2000 days) under delayed entry until age 2500, failures seen up to 60 days late."""
    rng = np.random.default_rng(seed)
    age = 2000.0 * rng.weibull(2.0, 4 * controls)
    entry = np.floor(rng.uniform(0, 1200, 4 * controls))
    seen = np.flatnonzero(age > entry + 1)[:controls]
    age, entry = age[seen], entry[seen]
    failed = age < 2500
    exit_ = np.where(failed, np.ceil(age + width_days / 2), 2500.0)
    low = np.where(failed, np.maximum(exit_ - width_days, entry), np.nan)
    return pd.DataFrame(
        {"entry_days": entry, "exit_days": exit_, "exit_low_days": low, "failed": failed, "quantity": 1}
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_fit_begun_near_another_is_the_full_searchs(seed: int) -> None:
    start = fit_weibull(lives(seed + 100))
    margins = LifeMargins.from_lives(lives(seed))
    near, full = fit_near(margins, start, 0.95), fit_weibull(margins)
    assert near.shape == pytest.approx(full.shape, rel=1e-7)
    assert near.scale_days == pytest.approx(full.scale_days, rel=1e-7)
    assert near.log_likelihood == pytest.approx(full.log_likelihood, rel=1e-10)


def test_a_fit_begun_near_another_refuses_what_the_full_search_refuses() -> None:
    start = fit_weibull(lives(1))
    none = lives(1).assign(failed=False, exit_low_days=np.nan)
    with pytest.raises(CannotFit, match="None of the"):
        fit_near(LifeMargins.from_lives(none), start, 0.95)


def limits(fit: WeibullFit) -> list[tuple[float, float]]:
    return [fit.shape_limits, fit.scale_limits, fit.b_life_limits(10), fit.mean_life_limits]


def test_imputations_that_agree_have_the_profile_limits_of_the_one_fit() -> None:
    fit = fit_weibull(lives(4))
    life = pooled([fit] * 20)
    assert (life.shape, life.scale_days) == pytest.approx((fit.shape, fit.scale_days))
    found = [life.shape_limits, life.scale_limits, life.b_life_limits(10), life.mean_life_limits]
    for pair, own in zip(found, limits(fit), strict=True):
        assert pair == pytest.approx(own, rel=1e-6)
    assert life.missing_information == pytest.approx(0.0, abs=1e-12)


def test_disagreeing_imputations_widen_the_limits_as_rubins_rules_say() -> None:
    fits = [fit_weibull(lives(seed)) for seed in range(20)]
    life = pooled(fits)
    points = np.array([np.log([fit.shape, fit.scale_days]) for fit in fits])
    within = np.mean([fit.log_covariance for fit in fits], axis=0)
    total = within + (1 + 1 / 20) * np.cov(points.T, ddof=1)
    shape, log_scale = life.draw_parameters(20_000, np.random.default_rng(1))
    drawn = np.cov(np.array([np.log(shape), log_scale]))
    assert np.sqrt(np.diag(drawn)) == pytest.approx(np.sqrt(np.diag(total)), rel=0.05)
    low, high = np.log(life.scale_limits)
    assert high - low == pytest.approx(
        2 * 1.96 * np.sqrt(total[1, 1]), rel=0.1
    )  # t of some 80 degrees, skewed
    assert life.missing_information > 0.3


def test_a_stated_shape_pooled_over_like_draws_is_the_one_fits_and_lies_between_unlike_ones() -> None:
    few = lives(5, controls=12)
    one = fit_weibull_fixed_shape(few, 2.0)
    alike = pooled_fixed_shape([one] * 20)
    assert alike.scale_lower_days == pytest.approx(one.scale_lower_days, rel=1e-9)
    assert alike.scale_days == pytest.approx(one.scale_days)
    none = fit_weibull_fixed_shape(few.assign(failed=False, exit_low_days=np.nan), 2.0)
    mixed = pooled_fixed_shape([one] * 10 + [none] * 10)
    assert one.scale_lower_days < mixed.scale_lower_days < none.scale_lower_days
    assert pooled_fixed_shape([none] * 20).scale_days is None
