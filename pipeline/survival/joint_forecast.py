"""Failures of several parts of a fleet that share one life: drawn together, so that parts add up to their whole."""

from __future__ import annotations

import math
from typing import NamedTuple
from zlib import crc32

import numpy as np
import pandas as pd

from pipeline.survival.forecasting import LifeModel, draw_counts
from pipeline.survival.form import FloatArray, require_columns
from pipeline.survival.renewal import unit_moments_with_renewal

DRAWS = 2000
_AGE_STEP_DAYS = (
    90.0  # ages between two of these are read off the line between them, for the drawn counts only
)
_STEPS_DRAWN, _STEPS_EXPECTED = 24, 100


class DrawnCounts(NamedTuple):
    """``parts``: their names. ``expected`` (parts,) at the estimate. ``counts`` (parts, DRAWS): what may be seen."""

    parts: list[str]
    expected: FloatArray
    counts: FloatArray


class Interval(NamedTuple):
    """An expected number with a prediction interval for the number that will be seen."""

    expected: float
    lower: int
    upper: int


def draw_part_counts(life: LifeModel, fleet: pd.DataFrame, horizon_days: float, seed: int = 0) -> DrawnCounts:
    """Failures within ``horizon_days`` in each part of a fleet whose controls all live alike.

    ``fleet``: part (a name), age_days (>= 0) and quantity (>= 1). What fails is replaced at once by a control of the
    same life, which may fail again.

    Column d of ``counts`` is one possible year: a single draw of the life's parameters, shared by all parts, and given
    those a count of each part with the mean and variance that they imply. So the columns of several parts may be
    added, and quantiles of the sums hold both chance and the uncertainty of the fit. A part's draws depend
    on its own controls and the life alone, not on which other parts are asked for.
    """
    require_columns(fleet, ("part", "age_days", "quantity"), "fleet")
    names = sorted(set(fleet["part"]))
    row = fleet["part"].map({name: number for number, name in enumerate(names)}).to_numpy()
    expected = np.zeros(len(names))
    ages, quantity = (fleet[name].to_numpy(np.float64) for name in ("age_days", "quantity"))
    np.add.at(expected, row, quantity * _expected(life, ages, horizon_days))
    mean, variance = _drawn_moments(life, row, ages, quantity, len(names), horizon_days, seed)
    counts = np.array(
        [
            draw_counts(mean[number], variance[number], np.random.default_rng([seed, crc32(name.encode())]))
            for number, name in enumerate(names)
        ]
    )
    return DrawnCounts(names, expected, counts.reshape(len(names), DRAWS))


def interval(expected: float, counts: FloatArray, confidence: float) -> Interval:
    """Expected number and the interval of drawn counts (DRAWS,) that holds ``confidence`` of them."""
    tail = (1.0 - confidence) / 2
    lower, upper = np.quantile(counts, [tail, 1.0 - tail], method="inverted_cdf")
    return Interval(
        expected, min(int(lower), math.floor(expected)), max(int(upper), math.ceil(expected - 1e-9))
    )


def _expected(life: LifeModel, ages: FloatArray, horizon: float) -> FloatArray:
    """Expected failures of one control of each age, at the estimate; 0 where nothing ever failed."""
    if life.scale_days is None:
        return np.zeros(ages.size)
    point = np.array([life.shape]), np.array([math.log(life.scale_days)])
    distinct, place = np.unique(ages, return_inverse=True)
    mean, _ = unit_moments_with_renewal(distinct, horizon, point, point, _STEPS_EXPECTED)
    return np.asarray(mean[:, 0][place.reshape(-1)], dtype=np.float64)


def _drawn_moments(
    life: LifeModel,
    row: np.ndarray,
    ages: FloatArray,
    quantity: FloatArray,
    parts: int,
    horizon: float,
    seed: int,
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of each part's count, both (parts, DRAWS)."""
    drawn = life.draw_parameters(DRAWS, np.random.default_rng(seed))
    below = np.floor(ages / _AGE_STEP_DAYS).astype(np.int64)
    share = ages / _AGE_STEP_DAYS - below
    knots, place = np.unique(np.concatenate([below, below + 1]), return_inverse=True)
    weight = np.zeros((parts, knots.size))
    np.add.at(weight, (row, place[: ages.size]), quantity * (1.0 - share))
    np.add.at(weight, (row, place[ages.size :]), quantity * share)
    used = weight.any(axis=0)
    knots, weight = knots[used], weight[:, used]
    mean, variance = unit_moments_with_renewal(knots * _AGE_STEP_DAYS, horizon, drawn, drawn, _STEPS_DRAWN)
    return weight @ mean, weight @ variance
