"""Weibull fits where it is unknown which member of a batch failed, or whether a finding was a failure."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, chisquare, norm
from simulated_places import batches, ended_by_rule, lives_by, misread_places

from pipeline.survival import CannotFit, ImpossibleLives, fit_weibull, fit_weibull_imputed, forecast
from pipeline.survival.member_draws import MemberDraws
from pipeline.survival.places import arrange, check_places
from pipeline.survival.renewal import renewals_from_new, renewals_of_fleet

B10 = 1500 * (-math.log(0.9)) ** (1 / 2.5)


def places(*rows):
    return pd.DataFrame(rows, columns=["place_id", "entry_days", "exit_days", "quantity"])


def events(*rows, columns=("place_id", "age_days")):
    return pd.DataFrame(rows, columns=list(columns))


def test_with_nothing_left_open_it_is_the_plain_fit():
    where, found, lives = batches(2.0, 900, 60, 1, 1500, seed=1)
    plain, imputed = fit_weibull(lives), fit_weibull_imputed(where, found)
    assert imputed.shape == pytest.approx(plain.shape, rel=1e-9)
    assert imputed.scale_days == pytest.approx(plain.scale_days, rel=1e-9)
    assert imputed.missing_information == pytest.approx((0, 0), abs=1e-9)
    width = norm.ppf(0.975) * math.sqrt(plain.log_covariance[0, 0])
    assert imputed.shape_limits == pytest.approx(
        (plain.shape * math.exp(-width), plain.shape * math.exp(width)), rel=1e-5
    )


def weibull_log_likelihood(lives, shape, scale):
    total = 0.0
    for entry, exit_, failed in lives:
        total -= (exit_ / scale) ** shape - (entry / scale) ** shape
        if failed:
            total += math.log(shape / scale) + (shape - 1) * math.log(exit_ / scale)
    return total


def test_members_are_drawn_with_their_exact_probabilities():
    # Three members, failures at 400, 500 and 900 of 1000 days: every way that members can have failed in turn, its
    # probability written out in full, against 3000 draws, every third one (chi-square, 0.1 %).
    shape, scale, ages, end = 2.5, 800.0, (400.0, 500.0, 900.0), 1000.0

    def lives_when(members):
        born, lives = [0.0] * 3, []
        for member, age in zip(members, ages, strict=True):
            lives.append((0.0, age - born[member], True))
            born[member] = age
        return lives + [(0.0, end - birth, False) for birth in born]

    weight: dict[tuple[float, ...], float] = {}
    for members in itertools.product(range(3), repeat=3):
        lives = lives_when(members)
        key = tuple(sorted(life[1] for life in lives if life[2]))
        weight[key] = weight.get(key, 0.0) + math.exp(weibull_log_likelihood(lives, shape, scale))
    arranged = arrange(*check_places(places(("A", 0, end, 3)), events(*(("A", age) for age in ages))))
    draws = MemberDraws(arranged, 1 / scale, np.random.default_rng(5))
    seen = dict.fromkeys(weight, 0)
    for sweep in range(9_000):
        draws.sweep(shape, math.log(scale))
        if sweep % 3 == 2:
            _, exit_, failed, _ = draws.lives()
            seen[tuple(sorted(exit_[failed]))] += 1
    expected = np.array(list(weight.values())) / sum(weight.values()) * 3000
    assert (expected > 5).all()
    assert len(expected) >= 4
    assert chisquare(list(seen.values()), expected).pvalue > 0.001


def test_verdicts_are_drawn_with_their_exact_probabilities():
    # One control watched for 1000 days, a finding at 300 (30 %) after which it would go on, and one at 700 (60 %)
    # at which it was replaced all the same. Four histories, weighted by verdict, hazard over mean hazard, and survival.
    shape, scale, mean_hazard = 2.5, 800.0, 1 / 700
    weight = {}
    for first, second in itertools.product((True, False), repeat=2):
        lives = [(0.0, 300.0, True), (0.0, 400.0, second)] if first else [(0.0, 700.0, second)]
        lives.append((0.0, 300.0, False))
        prior = (0.3 / mean_hazard if first else 0.7) * (0.6 / mean_hazard if second else 0.4)
        weight[first, second] = prior * math.exp(weibull_log_likelihood(lives, shape, scale))
    found = events(
        ("A", 300, 0.3, "goes on"),
        ("A", 700, 0.6, "ends"),
        columns=("place_id", "age_days", "failed_probability", "if_not_failed"),
    )
    draws = MemberDraws(
        arrange(*check_places(places(("A", 0, 1000, 1)), found)), mean_hazard, np.random.default_rng(6)
    )
    seen = dict.fromkeys(weight, 0)
    for _ in range(5_000):
        draws.sweep(shape, math.log(scale))
        _, exit_, failed, _ = draws.lives()
        first = 700.0 not in exit_
        seen[first, bool(failed[exit_ == (400.0 if first else 700.0)].any())] += 1
    total = sum(weight.values())
    for key, value in weight.items():
        chance = value / total
        # four standard errors, doubled for dependence between draws
        assert seen[key] / 5_000 == pytest.approx(chance, abs=8 * math.sqrt(chance * (1 - chance) / 5_000)), (
            key
        )


def test_every_draw_keeps_the_controls_and_their_time():
    where, found, _ = batches(2.5, 900, 25, 8, 2000, seed=3)
    fit = fit_weibull_imputed(where, found, seed=4)
    lives = fit.lives
    watched = ((where["exit_days"] - where["entry_days"]) * where["quantity"]).sum()
    assert ((lives["exit_days"] - lives["entry_days"]) * lives["quantity"]).sum() == pytest.approx(
        watched, rel=1e-12
    )
    assert lives["failed"].sum() == len(found)
    assert lives["imputed"].tolist() == lives["place_id"].isin(found["place_id"]).tolist()
    assert fit.failures == len(found)
    by_place = lives.groupby("place_id")["failed"].sum()
    assert (
        by_place.to_dict() == found.groupby("place_id").size().reindex(by_place.index, fill_value=0).to_dict()
    )


def test_the_true_shape_of_a_batch_is_recovered_where_simple_rules_are_wrong():
    shapes = {"drawn": [], "oldest": [], "random": [], "known": []}
    for seed in range(5):
        where, found, truth = batches(2.5, 1500, 30, 10, 3000, seed)
        shapes["drawn"].append(fit_weibull_imputed(where, found, seed=seed).shape)
        shapes["known"].append(fit_weibull(truth).shape)
        for rule in ("oldest", "random"):
            shapes[rule].append(fit_weibull(ended_by_rule(where, found, rule, seed)).shape)
    mean = {name: float(np.mean(values)) for name, values in shapes.items()}
    assert mean["drawn"] == pytest.approx(2.5, rel=0.06)
    assert mean["drawn"] == pytest.approx(mean["known"], rel=0.06)
    assert mean["oldest"] > 3.2
    assert mean["random"] < 1.8


def covered(runs, fit_of):
    truth = {"shape": 2.5, "scale": 1500.0, "b10": B10, "mean": 1500 * math.gamma(1.4)}
    hits = dict.fromkeys(truth, 0)
    for seed in range(runs):
        fit = fit_of(seed)
        limits = (fit.shape_limits, fit.scale_limits, fit.b_life_limits(10), fit.mean_life_limits)
        for name, (low, high) in zip(truth, limits, strict=True):
            hits[name] += low <= truth[name] <= high
    return hits


def test_limits_for_batches_cover_the_truth():
    runs = 25
    hits = covered(
        runs, lambda seed: fit_weibull_imputed(*batches(2.5, 1500, 10, 8, 2500, 100 + seed)[:2], seed=seed)
    )
    # 95 % limits; 200 runs apart from this test gave 93 to 97 %. Allow 92 % and 0.1 % of binomial scatter.
    assert all(count >= binom.ppf(0.001, runs, 0.92) for count in hits.values()), hits


def test_what_happened_before_the_log_follows_renewal_theory():
    # 4000 controls whose log begins after many lives and lasts a moment: age then has the mean
    # E(T^2) / (2 E(T)), and the failures before it are days / E(T) + (E(T^2) / E(T)^2 - 2) / 2
    # (Cox, Renewal Theory (1962), chapters 4 and 5; from memory). Tolerance: four standard errors.
    shape, scale, days, units = 2.5, 1000.0, 6000.0, 4000
    first, second = scale * math.gamma(1 + 1 / shape), scale**2 * math.gamma(1 + 2 / shape)
    where = places(("A", days, days + 0.01, units)).assign(start_known=False)
    draws = MemberDraws(arrange(*check_places(where, events())), 1 / first, np.random.default_rng(2))
    draws.sweep(shape, math.log(scale))
    entry, _, _, _ = draws.lives()
    whole, exits, failed = draws.for_fit()
    assert entry.mean() == pytest.approx(second / (2 * first), abs=4 * entry.std() / math.sqrt(units))
    spread = math.sqrt(days * (second - first**2) / first**3 / units)
    assert failed.sum() / units == pytest.approx(days / first + (second / first**2 - 2) / 2, abs=4 * spread)
    assert (whole == 0).all()
    # Nothing is lost: whole histories add up to all control-days since the beginning.
    assert exits.sum() == pytest.approx(units * (days + 0.01), rel=1e-12)


def test_renewals_of_one_life_are_those_of_the_general_table():
    days = np.linspace(0, 4000, 161)
    one = renewals_from_new(days, 2.5, math.log(1500))
    at = pd.DataFrame({"age_days": 0.0, "days": days[[40, 100, 160]], "quantity": 1})
    life = (np.array([2.5]), np.array([math.log(1500)]))
    assert one[[40, 100, 160]] == pytest.approx(renewals_of_fleet(at, life, life, 160)[:, 0], rel=2e-3)
    # A constant hazard renews evenly.
    assert renewals_from_new(days, 1.0, math.log(500)) == pytest.approx(days / 500, rel=1e-3, abs=1e-3)


def test_batches_older_than_the_log_have_their_histories_drawn():
    runs = 3
    fits = []

    def fit_of(seed):
        where, found, lives = batches(2.5, 1500, 12, 8, 1200, 300 + seed, 4000)
        fits.append(fit_weibull_imputed(where, found, seed=seed))
        assert fits[-1].failures == lives["failed"].sum() == len(found)
        return fits[-1]

    hits = covered(runs, fit_of)
    assert all(count >= binom.ppf(0.001, runs, 0.92) for count in hits.values()), hits
    assert np.mean([math.log(fit.shape / 2.5) for fit in fits]) == pytest.approx(0, abs=0.2)
    assert np.mean([math.log(fit.b_life(10) / B10) for fit in fits]) == pytest.approx(0, abs=0.2)
    assert fits[0].missing_information[0] > 0.5


def test_drawn_verdicts_remove_the_bias_of_misreading():
    imputed, hard, known = [], [], []
    for seed in range(8):
        where, found = misread_places(2.5, 1500, 500, 2200, seed)
        imputed.append(math.log(fit_weibull_imputed(where, found, seed=seed).b_life(10) / B10))
        hard.append(math.log(fit_weibull(lives_by(where, found[found["verdict"]])).b_life(10) / B10))
        known.append(math.log(fit_weibull(lives_by(where, found[found["real"]])).b_life(10) / B10))
    assert np.mean(hard) < -0.06  # about -9 % at precision and recall of .95
    assert np.mean(imputed) == pytest.approx(np.mean(known), abs=0.025)
    assert abs(np.mean(imputed)) < 0.04


def test_limits_with_drawn_verdicts_cover_the_truth():
    runs = 25

    def fit_of(seed):
        where, found = misread_places(2.5, 1500, 100, 2200, 700 + seed)
        return fit_weibull_imputed(where, found, seed=seed)

    hits = covered(runs, fit_of)
    assert all(count >= binom.ppf(0.001, runs, 0.93) for count in hits.values()), hits


def test_a_batch_may_hold_findings_of_doubtful_verdict():
    where, found, truth = batches(2.5, 1500, 40, 8, 2500, seed=11)
    sure = fit_weibull_imputed(where, found, seed=1)
    doubtful = fit_weibull_imputed(where, found.assign(failed_probability=0.8), seed=1)
    assert doubtful.failures == pytest.approx(0.8 * len(found), rel=0.1)
    assert doubtful.scale_days > sure.scale_days
    assert doubtful.missing_information[1] > sure.missing_information[1]
    assert truth["failed"].sum() == len(found)


def test_known_lives_count_beside_the_places():
    where, found, _ = batches(2.5, 1500, 10, 8, 2500, seed=12)
    lives = batches(2.5, 1500, 400, 1, 2500, seed=13)[2]
    together, alone = fit_weibull_imputed(where, found, lives=lives), fit_weibull_imputed(where, found)
    assert together.failures == pytest.approx(alone.failures + lives["failed"].sum())
    assert np.diff(together.shape_limits) < np.diff(alone.shape_limits)


def test_a_replacement_put_in_later_is_not_at_risk_before():
    found = events(("A", 500, 620), ("A", 900, 900), columns=("place_id", "age_days", "renewed_days"))
    where = places(("A", 0, 1000, 1))
    draws = MemberDraws(arrange(*check_places(where, found)), 1e-3, np.random.default_rng(0))
    draws.sweep(2.0, math.log(800))
    entry, exit_, failed, _ = draws.lives()
    assert sorted(zip(exit_.tolist(), failed.tolist(), strict=True)) == [
        (100, False),
        (280, True),
        (500, True),
    ]
    assert entry.tolist() == [0, 0, 0]


def test_it_repeats_for_a_seed_and_can_be_forecast_with():
    where, found, _ = batches(2.5, 1500, 20, 8, 2500, seed=14)
    one, two, other = (fit_weibull_imputed(where, found, seed=seed) for seed in (1, 1, 2))
    assert (one.shape, one.shape_limits) == (two.shape, two.shape_limits)
    assert one.shape != other.shape
    low, high = one.survival_limits(900)
    assert low < one.survival(900) < high
    result = forecast(one, pd.DataFrame({"age_days": [500.0], "quantity": [100]}), 365)
    assert result.lower < result.expected < result.upper


@pytest.mark.parametrize("seed", range(14))
def test_whatever_the_places_a_fit_is_finite_or_refused(seed):
    rng = np.random.default_rng(seed)
    where, found = [], []
    for place in range(int(rng.integers(2, 6))):
        entry = float(rng.choice([0, 0, 300]))
        end = entry + float(rng.integers(200, 1500))
        where.append((place, entry, end, int(rng.integers(1, 12))))
        for _ in range(int(rng.integers(0, 5))):
            age = float(rng.integers(entry + 1, end + 1))
            found.append(
                (place, age, float(rng.choice([1, 1, 0.9, 0.3, 0])), str(rng.choice(["goes on", "ends"])))
            )
    columns = ("place_id", "age_days", "failed_probability", "if_not_failed")
    try:
        fit = fit_weibull_imputed(places(*where), events(*found, columns=columns), seed=seed, imputations=2)
    except (CannotFit, ImpossibleLives):
        return
    assert 0 < fit.shape < 500
    assert 0 < fit.shape_limits[0] <= fit.shape <= fit.shape_limits[1]
    assert fit.b_life_limits(10)[0] <= fit.b_life(10) <= fit.b_life_limits(10)[1]
    assert (fit.lives["exit_days"] > fit.lives["entry_days"]).all()


GOOD_PLACES = places(("A", 0, 1000, 2), ("B", 100, 900, 1))
GOOD_EVENTS = events(("A", 400), ("B", 500))


@pytest.mark.parametrize(
    ("where", "found", "reason"),
    [
        (GOOD_PLACES.assign(entry_days=[0, 950]), GOOD_EVENTS, "places row 1: exit_days 900 is not after"),
        (GOOD_PLACES.assign(entry_days=[-1, 0]), GOOD_EVENTS, "places row 0: entry_days -1 is negative"),
        (GOOD_PLACES.assign(quantity=[0, 1]), GOOD_EVENTS, "places row 0: quantity 0 is not a whole number"),
        (GOOD_PLACES.assign(quantity=[np.nan, 1]), GOOD_EVENTS, "places row 0: quantity is missing"),
        (GOOD_PLACES.assign(place_id="A"), GOOD_EVENTS, "places row 1: place_id is missing or stands twice"),
        (GOOD_PLACES, events(("A", 400), ("C", 500)), "events row 1: place_id 'C' is no place"),
        (GOOD_PLACES, events(("A", 400), ("B", 50)), "events row 1: age_days 50 is not after 100 and by 900"),
        (GOOD_PLACES, events(("A", 400), ("B", np.nan)), "events row 1: age_days is missing"),
        (GOOD_PLACES, GOOD_EVENTS.assign(failed_probability=[1.0, 1.5]), "events row 1: failed_probability 1.5"),
        (GOOD_PLACES, GOOD_EVENTS.assign(if_not_failed=["ends", "maybe"]), "events row 1: if_not_failed 'maybe'"),
        (GOOD_PLACES, GOOD_EVENTS.assign(renewed_days=[400, 400]), "events row 1: renewed_days 400 is before"),
        (GOOD_PLACES, events(*[("A", 400)] * 3), "events of place A: 3 at 400 days, but there are 2"),
        (GOOD_PLACES.drop(columns="quantity"), GOOD_EVENTS, "places, column quantity: is missing"),
    ],
)  # fmt: skip
def test_impossible_rows_are_refused_with_row_and_reason(where, found, reason):
    with pytest.raises(ImpossibleLives, match=reason):
        fit_weibull_imputed(where, found)


def test_too_little_to_draw_from_is_refused_in_a_sentence():
    with pytest.raises(CannotFit, match=r"Only 0\.7 failures are expected"):
        fit_weibull_imputed(
            places(("A", 0, 1000, 2)),
            events(("A", 400, 0.7), columns=("place_id", "age_days", "failed_probability")),
        )
    with pytest.raises(CannotFit, match="leaves no fit"):
        fit_weibull_imputed(places(("A", 0, 1000, 1), ("B", 0, 1000, 1)), events(("A", 400), ("B", 400)))
    with pytest.raises(ValueError, match="imputations must be at least 2"):
        fit_weibull_imputed(GOOD_PLACES, GOOD_EVENTS, imputations=1)
