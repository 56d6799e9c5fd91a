"""How many controls to keep on the shelf."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import poisson


def spares(expected: float, service_level: float) -> int:
    """Smallest stock that meets the demand of a period with the wanted probability.

    expected : failures expected in the time until the shelf is filled again, 0 or more.
    service_level : probability that the stock suffices, above 0 and below 1 (0.95).
    Demand is Poisson: many controls, each failing seldom and by itself. A batch that ages together or a
    fit with wide limits spreads more than that, so the stock is then a lower bound.
    """
    if not 0 <= expected < math.inf:
        raise ValueError(f"expected {expected} is not a number of failures, 0 or more")
    if not 0 < service_level < 1:
        raise ValueError(f"service_level {service_level} is not above 0 and below 1 (95 % is 0.95)")
    return int(poisson.ppf(service_level, expected))


def spares_from_counts(counts: ArrayLike, service_level: float) -> int:
    """Smallest stock that meets the demand in the wanted share of drawn years.

    counts : failures in each of many equally likely years, 0 or more; they hold what Poisson demand leaves out, the
        doubt about the life itself. service_level : as for ``spares``.
    """
    drawn = np.asarray(counts, dtype=np.float64)
    if not (drawn.size and (drawn >= 0).all() and np.isfinite(drawn).all()):
        raise ValueError("counts must be one number of failures or more, each 0 or more")
    if not 0 < service_level < 1:
        raise ValueError(f"service_level {service_level} is not above 0 and below 1 (95 % is 0.95)")
    return int(np.quantile(drawn, service_level, method="inverted_cdf"))
