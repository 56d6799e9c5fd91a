"""Monthly counts: growth, season, overdispersion, refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize

from pipeline.survival import CannotFit, fit_count_trend


def months(counts: object, exposure: object = None) -> pd.DataFrame:
    frame = pd.DataFrame({"count": counts})
    frame["month"] = pd.date_range("2018-01-01", periods=len(frame), freq="MS")
    return frame if exposure is None else frame.assign(exposure=exposure)


def simulated(seed: int, yearly: float = 1.15, spread: float = 0.0, number: int = 96) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    time = np.arange(number) / 12
    mean = 40 * yearly**time * (1 + 0.4 * np.sin(2 * np.pi * time))
    if spread:
        mean = mean * rng.gamma(1 / spread, spread, size=number)
    return months(rng.poisson(mean))


@pytest.mark.filterwarnings("ignore:Perfect separation")  # statsmodels' word for counts that fit exactly
def test_exact_growth_is_found_exactly() -> None:
    frame = months(np.zeros(48))
    years = (frame["month"] - frame["month"].iloc[0]).dt.days / 365.25
    season = np.tile([3.0, 1, 2, 5, 4, 1, 1, 2, 6, 2, 1, 3], 4)
    frame["count"] = 100 * season * 1.2**years  # a regression takes means as they are
    trend = fit_count_trend(frame)
    assert trend.yearly_ratio == pytest.approx(1.2, rel=1e-6)
    assert trend.season_removed


def test_the_poisson_fit_is_the_maximum_of_its_likelihood() -> None:
    """An independent maximisation of the same likelihood by scipy, without a season (18 months)."""
    frame = months(np.random.default_rng(3).poisson(20, size=18))
    years = ((frame["month"] - frame["month"].iloc[0]).dt.days / 365.25).to_numpy()
    counts = frame["count"].to_numpy()

    def negative(point: np.ndarray) -> float:
        log_mean = point[0] + point[1] * years
        return float(np.exp(log_mean).sum() - counts @ log_mean)

    best = minimize(negative, np.array([np.log(counts.mean()), 0.0]), method="BFGS", options={"gtol": 1e-8})
    trend = fit_count_trend(frame)
    assert (trend.model, trend.season_removed) == ("poisson", False)
    assert trend.yearly_ratio == pytest.approx(np.exp(best.x[1]), rel=1e-5)


@pytest.mark.parametrize(("spread", "model"), [(0.0, "poisson"), (0.15, "negative binomial")])
def test_limits_hold_the_true_growth_as_often_as_they_say(spread: float, model: str) -> None:
    """80 simulated logs of eight years: 95 % limits hold at least 70 times (binomial 99.5 %)."""
    fits = [fit_count_trend(simulated(seed, spread=spread)) for seed in range(80)]
    held = sum(fit.limits[0] <= 1.15 <= fit.limits[1] for fit in fits)
    assert held >= 70
    assert sum(fit.model == model for fit in fits) >= 70


def test_growth_of_the_exposure_is_not_growth_of_the_rate() -> None:
    frame = months(np.zeros(36))
    years = (frame["month"] - frame["month"].iloc[0]).dt.days / 365.25
    controls = 1000 * 1.3**years
    trend = fit_count_trend(months(np.round(controls * 0.05), controls))
    assert trend.yearly_ratio == pytest.approx(1.0, abs=0.01)


@pytest.mark.filterwarnings("ignore:Perfect separation")
def test_a_calendar_month_that_never_counts_does_not_spoil_the_fit() -> None:
    counts = np.tile([0.0] + [10.0] * 11, 3)
    trend = fit_count_trend(months(counts))
    assert trend.yearly_ratio == pytest.approx(1.0, rel=1e-6)
    assert trend.months == 33


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ([5] * 11, "too few for a trend"),
        ([0] * 24, "0 events are too few"),
        ([0] * 20 + [40], "too few months"),
    ],
)
def test_what_cannot_be_fitted_is_refused_in_words(counts: list[int], said: str) -> None:
    with pytest.raises(CannotFit, match=said):
        fit_count_trend(months(counts))


def test_impossible_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="below 0"):
        fit_count_trend(months([-1] + [3] * 20))
    with pytest.raises(ValueError, match="exposure is not above 0"):
        fit_count_trend(months([3] * 20, [0.0] * 20))
