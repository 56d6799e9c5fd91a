"""The age at which replacing a control before it fails costs least.

Source: R. E. Barlow and F. Proschan, Mathematical Theory of Reliability (1965), age replacement; the
cost rate follows from the renewal-reward theorem.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq
from scipy.special import gamma, gammainc

# An age that fewer controls than this would live to see is no policy: it is running to failure.
_FEWEST_REPLACED_IN_TIME = 1e-6


@dataclass(frozen=True)
class AgeReplacement:
    """Best age in the unit of the scale (None = never), and costs per control and unit of that time."""

    best_age: float | None
    cost_rate: float
    run_to_failure_rate: float
    reason: str = ""


def age_replacement(shape: float, scale: float, planned_cost: float, failure_cost: float) -> AgeReplacement:
    """Age at which to replace a control whose life is Weibull, by least long-run cost per unit of time.

    shape, scale : of the life, scale in any unit of time. planned_cost : of replacing it while it works;
    failure_cost : of replacing it after a failure, everything included.
    Replacing at age t costs (planned * R(t) + failure * F(t)) / integral of R from 0 to t. A least value
    exists only where shape > 1 and failure_cost > planned_cost; otherwise best_age is None, with a
    reason, and the cost rate is that of running to failure. Raises ValueError for values not above 0.
    """
    values = {"shape": shape, "scale": scale, "planned_cost": planned_cost, "failure_cost": failure_cost}
    wrong = [f"{name} {value} is not above 0" for name, value in values.items() if not 0 < value < math.inf]
    if wrong:
        raise ValueError("; ".join(wrong))
    run_to_failure = failure_cost / (scale * float(gamma(1 + 1 / shape)))
    if shape <= 1:
        return _never(run_to_failure, "an older control is no likelier to fail than a new one (shape <= 1)")
    if failure_cost <= planned_cost:
        return _never(run_to_failure, "a failure costs no more than a planned replacement")
    age = _best_age(shape, planned_cost / (failure_cost - planned_cost))
    if math.exp(-(age**shape)) < _FEWEST_REPLACED_IN_TIME:
        return _never(run_to_failure, "the best age is beyond that which one control in a million reaches")
    # At the best age the cost rate equals the extra cost of a failure times the hazard.
    cost_rate = (failure_cost - planned_cost) * shape * age ** (shape - 1) / scale
    return AgeReplacement(age * scale, cost_rate, run_to_failure)


def _never(rate: float, reason: str) -> AgeReplacement:
    return AgeReplacement(None, rate, rate, reason)


def _mean_time_in_service(age: float, shape: float) -> float:
    """Integral of exp(-u^shape) from 0 to ``age``, age in units of the scale."""
    return float(gamma(1 + 1 / shape) * gammainc(1 / shape, age**shape))


def _best_age(shape: float, cost_ratio: float) -> float:
    """Where hazard * mean time in service - F equals planned / (failure - planned); the left side rises."""

    def excess(age: float) -> float:
        failed = -math.expm1(-float(age**shape))
        hazard = float(shape * age ** (shape - 1))
        return hazard * _mean_time_in_service(age, shape) - failed - cost_ratio

    upper = 1.0
    while excess(upper) < 0 and upper < 1e12:
        upper *= 2
    if excess(upper) < 0:
        return upper
    return float(brentq(excess, 0.0, upper, xtol=1e-12, rtol=1e-12))
