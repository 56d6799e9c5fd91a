"""Steps in a daily series of loads: where its level changes, against noise that days share with their neighbours.

Change points by optimal partitioning: of all ways to cut the series into stretches of at least some days, the one with
the least sum of squares about the stretches' means plus a penalty per stretch, found exactly by dynamic programming
(B. Jackson et al., An algorithm for optimal partitioning of data on an interval, IEEE Signal Processing Letters 12,
2005). The penalty is ``PENALTY`` times the long-run variance times the logarithm of the number of days: 2 is the
Schwarz criterion for a level and its place (Y.-C. Yao, Statistics & Probability Letters 6, 1988), 3 is ours, for fewer
false steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

PENALTY = 3.0
_MAD_TO_SD = 1.4826
_MOST_CORRELATION = 0.8
_SPIKE_SDS = 4.0


@dataclass(frozen=True)
class Noise:
    """Standard deviation of single days [kW], correlation of neighbours, and the same with that correlation counted."""

    sd_kw: float
    correlation: float

    @property
    def long_run_kw(self) -> float:
        """Standard deviation [kW] that a mean of n days has times the root of n, for many days."""
        return self.sd_kw * float(np.sqrt((1 + self.correlation) / (1 - self.correlation)))


def noise_of(day_kw: Floats, least_kw: float) -> Noise:
    """Noise of a daily series about its level, steps left aside: from differences over one day and over seven.

    For a first-order autoregression of correlation r, differences over k days have the variance 2 s²(1 - r^k): over
    seven days nearly 2 s². Both variances by the median absolute deviation, which a few steps do not move. Never
    below what makes a step of ``least_kw`` that lasts two days just worth its penalty.
    """
    known = day_kw[np.isfinite(day_kw)]
    floor = least_kw / np.sqrt(PENALTY * np.log(max(known.size, 3)))
    one, week = (_robust_variance(known[lag:] - known[:-lag]) for lag in (1, 7))
    if min(one, week) <= 0:
        return Noise(float(max(floor, np.sqrt(max(one, week) / 2))), 0.0)
    correlation = float(np.clip(1 - one / week, 0, _MOST_CORRELATION))
    sd = np.sqrt(week / (2 * (1 - correlation**7)))
    return Noise(float(max(sd, floor)), correlation)


def _robust_variance(differences: Floats) -> float:
    if not differences.size:
        return 0.0
    return float((_MAD_TO_SD * np.median(np.abs(differences - np.median(differences)))) ** 2)


def without_spikes(day_kw: Floats, noise: Noise) -> Floats:
    """The series with single days far from both neighbours put to the median of the three: tests and visits by day."""
    if day_kw.size < 3:
        return day_kw
    middle = np.median(np.stack([day_kw[:-2], day_kw[1:-1], day_kw[2:]]), axis=0)
    mended = day_kw.copy()
    far = np.abs(day_kw[1:-1] - middle) > _SPIKE_SDS * noise.sd_kw
    mended[1:-1][far] = middle[far]
    return mended


def level_starts(day_kw: Floats, noise: Noise, least_days: int) -> Whole:
    """First index of each stretch of one level, rising from 0; day_kw : finite, (days,). Stretches have at least
    ``least_days`` days."""
    days = day_kw.size
    if days < 2 * least_days:
        return np.zeros(1, dtype=np.int64)
    penalty = PENALTY * noise.long_run_kw**2 * np.log(days)
    centred = day_kw - day_kw.mean()
    sums = np.concatenate([[0.0], np.cumsum(centred)])
    squares = np.concatenate([[0.0], np.cumsum(centred**2)])
    best = np.full(days + 1, np.inf)
    best[0] = 0.0
    came_from = np.zeros(days + 1, dtype=np.int64)
    for end in range(least_days, days + 1):
        starts = np.arange(0, end - least_days + 1)
        cost = squares[end] - squares[starts] - (sums[end] - sums[starts]) ** 2 / (end - starts)
        total = best[starts] + cost + penalty
        came_from[end] = int(np.argmin(total))
        best[end] = total[came_from[end]]
    return _followed_back(came_from, days)


def _followed_back(came_from: Whole, end: int) -> Whole:
    starts = []
    while end > 0:
        end = int(came_from[end])
        starts.append(end)
    return np.array(starts[::-1], dtype=np.int64)


def level_medians(day_kw: Floats, starts: Whole) -> Floats:
    """Median of each stretch [kW]: days on which a step falls, and which lie in between, do not move it."""
    stretches = np.split(day_kw, starts[1:])
    return np.array([np.median(stretch) for stretch in stretches], dtype=np.float64)


def without_transitions(day_kw: Floats, starts: Whole, least_days: int) -> Whole:
    """The stretches without those of the least length on the way from one level to the next: a step in the middle of a
    day leaves a day in between, which has no level of its own. Each goes to the stretch whose level is nearer."""
    kept = list(starts.tolist())
    at = 1
    while at < len(kept) - 1:
        levels = level_medians(day_kw, np.array(kept, dtype=np.int64))
        before, here, after = levels[at - 1 : at + 2]
        if kept[at + 1] - kept[at] <= least_days and min(before, after) < here < max(before, after):
            del kept[at if abs(here - before) < abs(here - after) else at + 1]
        else:
            at += 1
    return np.array(kept, dtype=np.int64)


def least_step_kw(noise: Noise, days: int, lasting_days: float = 7.0) -> float:
    """The step that just pays its penalty when it lasts so many days and then goes back [kW]: it starts and ends two
    stretches."""
    return float(np.sqrt(2 * PENALTY * np.log(max(days, 3)) / lasting_days) * noise.long_run_kw)
