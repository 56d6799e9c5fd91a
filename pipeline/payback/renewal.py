"""Failures to expect, year by year, when every control that fails is replaced and the new one ages in turn.

The renewal equation M(t) = F(t) + integral of F(t - u) dM(u) is solved on a grid by the midpoint rule for
Riemann-Stieltjes integrals. Source: M. Xie, On the solution of renewal-type integral equations,
Communications in Statistics - Simulation and Computation 18 (1989) 281-293. A control already ``a`` old
fails first by the life left to it, F(a + t | alive at a), and renews from there.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

DAYS_PER_YEAR = 365.25
SHORTEST_SCALE_DAYS = 1.0
_STEPS_PER_SCALE = 100  # grid steps within the shortest characteristic life
_MIN_STEPS_PER_YEAR, _MAX_STEPS_PER_YEAR = 12, 366
MAX_YEARS = 60


def expected_failures_by_year(
    shape: npt.ArrayLike,
    scale_days: npt.ArrayLike,
    ages_days: npt.ArrayLike,
    quantities: npt.ArrayLike,
    years: int,
    renewed_shape: npt.ArrayLike | None = None,
    renewed_scale_days: npt.ArrayLike | None = None,
) -> Floats:
    """Expected failures of a whole population in each of the coming years, shape (years,).

    The sum over rows of ``expected_failures_by_row``, which see for the arguments.
    """
    by_row = expected_failures_by_row(
        shape, scale_days, ages_days, quantities, years, renewed_shape, renewed_scale_days
    )
    return np.asarray(by_row.sum(axis=0))


def expected_failures_by_row(
    shape: npt.ArrayLike,
    scale_days: npt.ArrayLike,
    ages_days: npt.ArrayLike,
    quantities: npt.ArrayLike,
    years: int,
    renewed_shape: npt.ArrayLike | None = None,
    renewed_scale_days: npt.ArrayLike | None = None,
) -> Floats:
    """Expected failures of each row of controls in each of the coming years, shape (rows, years).

    shape, scale_days : Weibull life of the controls in place; ages_days : their present ages [d];
    quantities : controls alike in the row. renewed_shape, renewed_scale_days : Weibull life of the
    controls that replace failed ones (default: like for like). Each is one number or one per row.
    A year is 365.25 days, the first begins today. Replacement is immediate. Within 0.5 % of the exact
    renewal function per year for shapes from 0.5 to 6 and scales above 100 days. Raises ValueError for
    values out of range.
    """
    if isinstance(years, bool) or years != int(years) or not 1 <= years <= MAX_YEARS:
        raise ValueError(f"years {years} is not a whole number from 1 to {MAX_YEARS}")
    rows = _rows(shape, scale_days, ages_days, quantities, renewed_shape, renewed_scale_days)
    if not rows.shape[1]:
        return np.zeros((0, years))
    own_shape, own_scale, age, quantity, new_shape, new_scale = rows
    steps = _steps_per_year(min(own_scale.min(), new_scale.min()))
    step_days = DAYS_PER_YEAR / steps
    lives, life_of_row = np.unique(np.stack([new_shape, new_scale]), axis=1, return_inverse=True)
    renewals = _renewal_function(lives[0], lives[1], step_days, steps * years)
    first = _first_failure(own_shape, own_scale, age, step_days, steps * years)
    cumulative = np.empty((age.size, years))
    for life in range(lives.shape[1]):
        members = np.ravel(life_of_row) == life
        cumulative[members] = _with_successors(first[members], renewals[life], steps)
    return np.asarray(np.diff(cumulative, prepend=0.0, axis=1) * quantity[:, None])


def _rows(
    shape: npt.ArrayLike,
    scale_days: npt.ArrayLike,
    ages_days: npt.ArrayLike,
    quantities: npt.ArrayLike,
    renewed_shape: npt.ArrayLike | None,
    renewed_scale_days: npt.ArrayLike | None,
) -> Floats:
    """The six arguments as one checked array, shape (6, rows)."""
    new_shape = shape if renewed_shape is None else renewed_shape
    new_scale = scale_days if renewed_scale_days is None else renewed_scale_days
    given = (shape, scale_days, ages_days, quantities, new_shape, new_scale)
    rows = np.stack(
        np.broadcast_arrays(*(np.atleast_1d(np.asarray(item, dtype=np.float64)) for item in given))
    )
    low = (0.0, SHORTEST_SCALE_DAYS, 0.0, 0.0, 0.0, SHORTEST_SCALE_DAYS)
    names = ("shape", "scale_days", "ages_days", "quantities", "renewed_shape", "renewed_scale_days")
    for name, values, least in zip(names, rows, low, strict=True):
        good = np.isfinite(values) & (values >= least) & ((values > 0) | (not name.endswith("shape")))
        if not good.all():
            row = int(np.flatnonzero(~good)[0])
            limit = "above 0" if name.endswith("shape") else f"{least:g} or more"
            raise ValueError(f"{name} {values[row]} of row {row + 1} is not {limit}")
    return rows


def _steps_per_year(shortest_scale_days: float) -> int:
    """Grid fine enough for the shortest life, and no finer."""
    wanted = math.ceil(DAYS_PER_YEAR * _STEPS_PER_SCALE / shortest_scale_days)
    return min(max(wanted, _MIN_STEPS_PER_YEAR), _MAX_STEPS_PER_YEAR)


def _renewal_function(shape: Floats, scale_days: Floats, step_days: float, steps: int) -> Floats:
    """Expected failures M of a new control and its successors at 0, h, 2h ... ; shape (lives, steps + 1)."""
    grid = np.arange(steps + 1) * step_days
    failed = -np.expm1(-((grid / scale_days[:, None]) ** shape[:, None]))
    middle = -np.expm1(-(((grid[1:] - step_days / 2) / scale_days[:, None]) ** shape[:, None]))
    total = np.zeros_like(failed)
    rise = np.zeros_like(failed)
    for i in range(1, steps + 1):
        earlier = (middle[:, i - 1 : 0 : -1] * rise[:, 1:i]).sum(axis=1)
        total[:, i] = (failed[:, i] + earlier - middle[:, 0] * total[:, i - 1]) / (1 - middle[:, 0])
        rise[:, i] = total[:, i] - total[:, i - 1]
    return total


def _first_failure(shape: Floats, scale_days: Floats, age: Floats, step_days: float, steps: int) -> Floats:
    """Chance that a control of that age has failed by 0, h, 2h ... from now; shape (rows, steps + 1)."""
    ahead = age[:, None] + np.arange(steps + 1) * step_days
    hazard = (ahead / scale_days[:, None]) ** shape[:, None]
    return -np.expm1(hazard[:, :1] - hazard)


def _with_successors(first: Floats, renewals: Floats, steps_per_year: int) -> Floats:
    """Expected failures by each year's end: the first, and those of its successors from then on."""
    middle = (renewals[:-1] + renewals[1:]) / 2
    chance = np.diff(first, axis=1)
    ends = np.arange(steps_per_year, first.shape[1], steps_per_year)
    successors = [chance[:, :end] @ middle[:end][::-1] for end in ends]
    return np.asarray(first[:, ends] + np.stack(successors, axis=1))
