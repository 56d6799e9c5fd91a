"""How many controls to keep on the shelf."""

from __future__ import annotations

import math

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
