"""Expected failures, and their variance, within a horizon: with and without replacement of what fails."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.survival.form import FloatArray

Moments = tuple[FloatArray, FloatArray]


def first_failure_chance(
    ages: FloatArray | float, days_ahead: FloatArray | float, shape: FloatArray, log_scale: FloatArray
) -> FloatArray:
    """Chance that a control working at an age fails within so many days. Arguments broadcast together."""
    now = _cumulative_hazard(ages, shape, log_scale)
    then = _cumulative_hazard(ages + days_ahead, shape, log_scale)
    return np.asarray(-np.expm1(now - then), dtype=np.float64)


def _cumulative_hazard(ages: FloatArray | float, shape: FloatArray, log_scale: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", over="ignore"):
        power = np.exp(np.minimum(shape * (np.log(ages) - log_scale), 600.0))
    return np.asarray(power, dtype=np.float64)


def moments_without_renewal(
    ages: FloatArray, quantity: FloatArray, horizon: float, shape: FloatArray, log_scale: FloatArray
) -> Moments:
    """Mean and variance of first failures in a fleet, for each pair of parameters (both shape (draws,))."""
    chance = first_failure_chance(ages[None, :], horizon, shape[:, None], log_scale[:, None])
    return chance @ quantity, (chance * (1.0 - chance)) @ quantity


def moments_with_renewal(
    ages: FloatArray,
    quantity: FloatArray,
    horizon: float,
    first: tuple[FloatArray, FloatArray],
    later: tuple[FloatArray, FloatArray],
    steps: int,
) -> Moments:
    """As ``moments_without_renewal``, each failed control replaced at once by one of the ``later`` life.

    ``first`` and ``later`` are (shape, log scale) of shape (draws,). The renewal equation is solved on
    ``steps`` equal steps by Riemann-Stieltjes sums with the renewal function averaged over each step
    (the idea of Xie, Communications in Statistics - Simulation 18 (1989) 281-293; cited from memory).
    """
    mean, variance = unit_moments_with_renewal(ages, horizon, first, later, steps)
    return quantity @ mean, quantity @ variance


def unit_moments_with_renewal(
    ages: FloatArray,
    horizon: float,
    first: tuple[FloatArray, FloatArray],
    later: tuple[FloatArray, FloatArray],
    steps: int,
) -> Moments:
    """The same for one control of each age: mean and variance, both (ages, draws)."""
    days = np.linspace(0.0, horizon, steps + 1)
    mean, square = _from_new(days, *later)
    # What a control has still to give if it first fails in step j: averaged over the step, latest first.
    after_mean = _middle(mean)[:, ::-1]
    after_square = _middle(square)[:, ::-1]
    shape = (ages.size, mean.shape[0])
    unit_mean, variance = np.zeros(shape), np.zeros(shape)
    for number, age in enumerate(ages.tolist()):
        reached = first_failure_chance(age, days[None, :], first[0][:, None], first[1][:, None])
        step = np.diff(reached, axis=1)
        unit_mean[number] = (step * (1.0 + after_mean)).sum(axis=1)
        unit_square = (step * (1.0 + 2.0 * after_mean + after_square)).sum(axis=1)
        variance[number] = np.maximum(unit_square - unit_mean[number] ** 2, 0.0)
    return unit_mean, variance


def renewals_of_fleet(
    rows: pd.DataFrame,
    first: tuple[FloatArray, FloatArray],
    later: tuple[FloatArray, FloatArray],
    most_steps: int,
) -> FloatArray:
    """Expected failures of each row of ``age_days, days, quantity`` within its own days: (rows, draws).

    What fails is replaced at once by one of the ``later`` life. Rows share one table of new controls, on
    ``most_steps`` equal steps over the longest span, and each reads its own part of it.
    """
    table_days = np.linspace(0.0, float(rows["days"].max()), most_steps + 1)
    new = _from_new(table_days, *later)[0]
    result = np.zeros((len(rows), first[0].size))
    ages, days = rows["age_days"].to_numpy(np.float64), rows["days"].to_numpy(np.float64)
    distinct, place = np.unique(np.column_stack([ages, days]), axis=0, return_inverse=True)
    for number, (age, span) in enumerate(distinct.tolist()):
        result[place.reshape(-1) == number] = _expected_of(age, span, table_days, new, first)
    return np.asarray(result * rows["quantity"].to_numpy(np.float64)[:, None], dtype=np.float64)


def _expected_of(
    age: float, days: float, table_days: FloatArray, new: FloatArray, first: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Expected failures within ``days`` of a control of an age, for each draw."""
    steps = max(int(np.ceil((table_days.size - 1) * days / table_days[-1])), 20)
    edges = np.linspace(0.0, days, steps + 1)
    reached = first_failure_chance(age, edges[None, :], first[0][:, None], first[1][:, None])
    left = days - (edges[1:] + edges[:-1]) / 2
    at = np.clip(left / table_days[1], 0, table_days.size - 1)
    below = np.minimum(at.astype(np.int64), table_days.size - 2)
    share = at - below
    after = new[:, below] * (1 - share) + new[:, below + 1] * share
    return np.asarray((np.diff(reached, axis=1) * (1.0 + after)).sum(axis=1), dtype=np.float64)


def renewals_from_new(days: FloatArray, shape: float, log_scale: float) -> FloatArray:
    """Expected failures up to each day of a place that began with a new control; ``days`` equal steps from 0.

    As ``_from_new``, for one life and without the mean square.
    """
    reached = first_failure_chance(0.0, days, np.array(shape), np.array(log_scale))
    step = np.diff(reached)
    mean, middle = np.zeros(days.size), np.zeros(days.size)
    for k in range(1, days.size):
        known = reached[k] + step[0] * mean[k - 1] / 2.0 + step[1:k] @ middle[: k - 1][::-1]
        mean[k] = known / (1.0 - step[0] / 2.0)
        middle[k - 1] = (mean[k - 1] + mean[k]) / 2.0
    return mean


def _from_new(days: FloatArray, shape: FloatArray, log_scale: FloatArray) -> Moments:
    """Mean, and mean square, of failures up to each day of a chain that begins with a new control."""
    reached = first_failure_chance(0.0, days[None, :], shape[:, None], log_scale[:, None])
    step = np.diff(reached, axis=1)
    mean, square = np.zeros_like(reached), np.zeros_like(reached)
    implicit = 1.0 - step[:, 0] / 2.0
    for k in range(1, days.size):
        mean[:, k] = (reached[:, k] + _convolve(step, mean, k)) / implicit
        known = reached[:, k] + 2.0 * (_convolve(step, mean, k) + step[:, 0] * mean[:, k] / 2.0)
        square[:, k] = (known + _convolve(step, square, k)) / implicit
    return mean, square


def _convolve(step: FloatArray, values: FloatArray, k: int) -> FloatArray:
    """Sum over first failures in steps 1..k of ``values`` at the time left, bar half of values[k]."""
    shortest = step[:, 0] * values[:, k - 1] / 2.0
    if k == 1:
        return shortest
    middle = _middle(values[:, :k])[:, ::-1]
    return np.asarray(shortest + (step[:, 1:k] * middle).sum(axis=1), dtype=np.float64)


def _middle(values: FloatArray) -> FloatArray:
    return np.asarray((values[:, 1:] + values[:, :-1]) / 2.0, dtype=np.float64)
