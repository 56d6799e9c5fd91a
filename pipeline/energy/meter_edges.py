"""When within a few days a load stepped from one level to another, from the readings themselves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_HALF_CHI_SQUARE_95 = 1.9207  # half the 95 % quantile of chi-square with one degree of freedom


@dataclass(frozen=True)
class Edge:
    """The reading at which the new level begins, and the first and last at which it may (95 %); the number of
    readings where it begins after all of them."""

    at: int
    first: int
    last: int


def edge_between(kw: Floats, before_kw: float, after_kw: float, variance_kw2: float) -> Edge:
    """Where a row of readings goes over from one level to another, by least squares.

    variance_kw2 : of one reading, for the limits: those places whose sum of squares lies within the profile
    likelihood's 95 % of the best. Readings of one day share their noise, so it should be that of a day's mean
    times the readings of a day where that is more.
    """
    old, new = (kw - before_kw) ** 2, (kw - after_kw) ** 2
    cost = np.concatenate([[0.0], np.cumsum(old)]) + np.concatenate([np.cumsum(new[::-1])[::-1], [0.0]])
    best = int(np.argmin(cost))
    near = np.flatnonzero(cost <= cost[best] + 2 * _HALF_CHI_SQUARE_95 * variance_kw2)
    return Edge(best, int(near[0]), int(near[-1]))
