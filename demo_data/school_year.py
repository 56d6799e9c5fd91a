"""Who is there to notice: the school calendar as a daily rate of noticing.

A fault is noticed at the first event of a Poisson process whose rate depends on the kind of day.
The rates are scaled so that the mean delay, for onsets spread evenly over the years, is the stated one.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from demo_data.model import LOG_DAYS, LOG_START, MEAN_DAY_BURNING_DELAY_DAYS, MEAN_OUT_DELAY_DAYS

Floats = NDArray[np.float64]

# Relative chance per day that somebody notices, by kind of day.
BY_DAY = {"school day": 1.0, "staff day": 0.55, "weekend": 0.35, "summer weekday": 0.40}
BY_EVENING = {"school day": 1.0, "staff day": 0.40, "weekend": 0.30, "summer weekday": 0.30}
_TAIL_DAYS = 400


def kind_of_day(day: date) -> str:
    """School day, staff day (a holiday in term), weekend or summer weekday."""
    if day.weekday() >= 5:
        return "weekend"
    if (6, 5) <= (day.month, day.day) <= (8, 14):
        return "summer weekday"
    winter = (day.month, day.day) >= (12, 21) or (day.month, day.day) <= (1, 4)
    spring = day.month == 3 and 18 <= day.day <= 24
    autumn = day.month == 11 and 23 <= day.day <= 29
    return "staff day" if winter or spring or autumn else "school day"


def mean_delay_days(rates_per_day: Floats) -> float:
    """Mean time to the first event for an onset uniform over the days, last rate going on for ever.

    With rate r in a day and mean remaining time M at its end, the mean from its start is
    (1 - exp(-r))/r + exp(-r) M, and from a uniform moment in it (1 - q)/r + q M, q = (1 - exp(-r))/r.
    """
    remaining, total = 1.0 / rates_per_day[-1], 0.0
    for rate in rates_per_day[::-1]:
        share = -np.expm1(-rate) / rate
        total += (1.0 - share) / rate + share * remaining
        remaining = share + np.exp(-rate) * remaining
    return total / len(rates_per_day)


class Noticing:
    """Draws when a fault is noticed."""

    def __init__(self, weights: dict[str, float], mean_days: float) -> None:
        days = (LOG_START + timedelta(days=n) for n in range(LOG_DAYS + _TAIL_DAYS))
        relative = np.array([weights[kind_of_day(day)] for day in days])
        factor = brentq(lambda f: mean_delay_days(relative * f) - mean_days, 1e-3, 5.0, xtol=1e-12)
        self.rates_per_day: Floats = relative * factor
        self._cumulative: Floats = np.concatenate([[0.0], np.cumsum(self.rates_per_day)])

    def noticed(self, onset_day: float, rng: np.random.Generator, slowness: float = 1.0) -> float:
        """Day (with fraction) on which a fault begun at ``onset_day`` is noticed."""
        grid = np.arange(len(self._cumulative), dtype=float)
        target = np.interp(onset_day, grid, self._cumulative) + slowness * rng.exponential()
        if target >= self._cumulative[-1]:
            return float(len(grid) + 30)
        return float(np.interp(target, self._cumulative, grid))


@lru_cache(maxsize=1)
def noticing_by_day() -> Noticing:
    """Day burning: seen by anyone on site in daylight."""
    return Noticing(BY_DAY, MEAN_DAY_BURNING_DELAY_DAYS)


@lru_cache(maxsize=1)
def noticing_by_evening() -> Noticing:
    """Dark, cycling or flickering lights: seen by evening staff and visitors."""
    return Noticing(BY_EVENING, MEAN_OUT_DELAY_DAYS)


def next_working_moment(day: float, rng: np.random.Generator) -> float:
    """The first weekday working hour at or after ``day`` at which a crew finishes a job."""
    whole = int(day)
    while (LOG_START + timedelta(days=whole)).weekday() >= 5:
        whole += 1
    at = whole + float(rng.uniform(8.0, 15.5)) / 24
    return at if at > day else next_working_moment(whole + 1, rng)


def month_end_moment(day: float) -> float:
    """17:00 on the last day of the month in which ``day`` falls: when some sites close their orders."""
    on = LOG_START + timedelta(days=int(day))
    first_of_next = (on.replace(day=1) + timedelta(days=32)).replace(day=1)
    closing = (first_of_next - LOG_START).days - 1 + 17 / 24
    return closing if closing > day else day
