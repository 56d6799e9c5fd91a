"""Mean number of repeat failures by age."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from r_outputs import r_data, r_values
from scipy.stats import binom

from pipeline.survival import CannotFit, ImpossibleLives, mean_cumulative_function

# Documentation of the Python package `reliability`: five systems, the last number of each its end of observation.
SYSTEMS = [[5, 10, 15, 17], [6, 13, 17, 19], [12, 20, 25, 26], [13, 15, 24], [16, 22, 25, 28]]


def tables(systems):
    events = [(f"S{i}", float(age)) for i, ages in enumerate(systems) for age in ages[:-1]]
    spans = [(f"S{i}", 0.0, float(ages[-1])) for i, ages in enumerate(systems)]
    return (
        pd.DataFrame(events, columns=["unit", "age_days"]),
        pd.DataFrame(spans, columns=["unit", "entry_days", "exit_days"]),
    )


def test_five_systems():
    # Same documentation: .2 at 5, .8 at 12, 1.2 at 13, 2.0 at 17, 2.33333 at 20, 3.66667 at 25.
    curve = mean_cumulative_function(*tables(SYSTEMS))
    assert list(curve.columns) == ["age_days", "mean_count", "lower", "upper"]
    found = curve.set_index("age_days")["mean_count"]
    assert found[[5, 12, 13, 17, 20, 25]].tolist() == pytest.approx(
        [0.2, 0.8, 1.2, 2.0, 2.33333, 3.66667], abs=5e-6
    )


def test_estimate_and_robust_error_equal_r():
    # R survival 3.5.8: survfit(Surv(start, x, event) ~ 1, id = i), std.chaz; tolerance 1e-9.
    data, expected = r_data("mettas_zhao"), r_values("mcf_mettas_zhao")
    events = data[data.c == 0].rename(columns={"i": "unit", "x": "age_days"})
    exposure = data[data.c == 1].rename(columns={"i": "unit", "x": "exit_days"}).assign(entry_days=0.0)
    curve = mean_cumulative_function(events, exposure).set_index("age_days")
    at = (
        pd.DataFrame({k: v for k, v in expected.items() if isinstance(v, list)})
        .set_index("time")
        .loc[curve.index]
    )
    assert curve["mean_count"].to_numpy() == pytest.approx(at["cumhaz"].to_numpy(), abs=1e-9)
    error = np.log(curve["upper"] / curve["mean_count"]) * curve["mean_count"] / 1.959963984540054
    assert error.to_numpy() == pytest.approx(at["std_chaz"].to_numpy(), abs=1e-9)


def test_one_event_each_is_the_nelson_aalen_estimate_under_delayed_entry():
    from lifelines import NelsonAalenFitter

    rng = np.random.default_rng(2)
    entry = rng.uniform(0, 50, 80)
    exit_ = entry + rng.uniform(1, 100, 80)
    happened = rng.random(80) < 0.6
    events = pd.DataFrame({"unit": np.flatnonzero(happened), "age_days": exit_[happened]})
    exposure = pd.DataFrame({"unit": np.arange(80), "entry_days": entry, "exit_days": exit_})
    curve = mean_cumulative_function(events, exposure)
    oracle = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(exit_, happened, entry=entry)
    expected = oracle.cumulative_hazard_.loc[curve["age_days"]].iloc[:, 0].to_numpy()
    assert curve["mean_count"].to_numpy() == pytest.approx(expected, rel=1e-9)


def test_a_gap_in_observation_is_no_time_at_risk():
    events = pd.DataFrame({"unit": ["A", "B"], "age_days": [5.0, 15.0]})
    exposure = pd.DataFrame(
        {"unit": ["A", "A", "B"], "entry_days": [0.0, 20.0, 0.0], "exit_days": [10.0, 30.0, 30.0]}
    )
    assert mean_cumulative_function(events, exposure)["mean_count"].tolist() == [0.5, 1.5]


def test_splitting_a_span_changes_nothing():
    events, exposure = tables(SYSTEMS)
    halves = pd.concat(
        [
            exposure.assign(exit_days=exposure.exit_days / 2),
            exposure.assign(entry_days=exposure.exit_days / 2),
        ]
    )
    pd.testing.assert_frame_equal(
        mean_cumulative_function(events, halves.reset_index(drop=True)),
        mean_cumulative_function(events, exposure),
    )


def test_robust_limits_cover_the_truth_where_units_differ():
    # Units with unlike rates (gamma, mean 1 event per 100 days): a Poisson variance would be far too small.
    runs, hits = 180, 0
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        rates = rng.gamma(2.0, 0.5, 60)
        number = rng.poisson(rates * 3)
        events = pd.DataFrame(
            {"unit": np.repeat(np.arange(60), number), "age_days": rng.uniform(0, 300, number.sum())}
        )
        exposure = pd.DataFrame({"unit": np.arange(60), "entry_days": 0.0, "exit_days": 300.0})
        last = mean_cumulative_function(events, exposure, confidence=0.9).iloc[-1]
        hits += last["lower"] <= 3.0 <= last["upper"]
    assert binom.ppf(0.001, runs, 0.87) <= hits <= binom.ppf(0.999, runs, 0.92)


def test_a_single_unit_has_no_limits():
    curve = mean_cumulative_function(*tables([[5, 10, 20]]))
    assert curve["mean_count"].tolist() == [1, 2]
    assert curve[["lower", "upper"]].isna().all().all()


def test_no_events_give_an_empty_curve():
    events, exposure = tables(SYSTEMS)
    assert len(mean_cumulative_function(events.iloc[:0], exposure)) == 0


@pytest.mark.parametrize(
    ("events", "reason"),
    [
        ([("S0", 18.0)], "events row 0: unit 'S0' was not under observation at 18 days"),
        ([("S0", 5.0), ("S9", 5.0)], "events row 1: unit 'S9' was not under observation"),
        ([("S0", 0.0)], "events row 0: unit 'S0' was not under observation at 0 days"),
        ([("S0", np.nan)], "events row 0: age_days is missing"),
    ],
)
def test_events_that_cannot_have_been_seen_are_refused(events, reason):
    with pytest.raises(ImpossibleLives, match=reason):
        mean_cumulative_function(pd.DataFrame(events, columns=["unit", "age_days"]), tables(SYSTEMS)[1])


def test_impossible_exposure_is_refused():
    events, exposure = tables(SYSTEMS)
    with pytest.raises(ImpossibleLives, match="exposure row 0: exit_days 0 is not after"):
        mean_cumulative_function(events, exposure.assign(exit_days=[0.0, 19, 26, 24, 28]))
    with pytest.raises(ImpossibleLives, match="overlaps"):
        mean_cumulative_function(events, pd.concat([exposure, exposure], ignore_index=True))
    with pytest.raises(ImpossibleLives, match="exposure, column unit: is missing"):
        mean_cumulative_function(events, exposure.drop(columns="unit"))
    with pytest.raises(CannotFit, match="no unit"):
        mean_cumulative_function(events.iloc[:0], exposure.iloc[:0])
