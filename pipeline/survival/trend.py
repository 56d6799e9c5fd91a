"""Do repeated failures at one place come faster or slower as time goes on?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import chi2, norm

from pipeline.survival.form import FloatArray
from pipeline.survival.refusals import CannotFit, check_confidence
from pipeline.survival.weibull_life import exp_or_inf


@dataclass(frozen=True)
class Trend:
    """Trend of a sequence of failures.

    ``laplace_z`` > 0: failures come faster towards the end; ``p_value`` is two-sided. The power law's
    expected number of failures by time t is rate * t**power_law_shape: a shape above 1 means growing
    failures. ``estimator`` says how both were had; ``mean_time_between_failures`` is the power law's at ``end``.
    """

    laplace_z: float
    p_value: float
    power_law_shape: float
    power_law_shape_limits: tuple[float, float]
    power_law_rate: float
    mean_time_between_failures: float
    failures: int
    failure_terminated: bool
    estimator: str


def trend_test(times: ArrayLike, end: float, confidence: float = 0.95) -> Trend:
    """Laplace's test for trend, and the power-law (Crow-AMSAA) shape, of failure times of one system.

    ``times``: times of failure since the system began, each > 0 and <= ``end``, in any order and any one
    unit. ``end``: when observation ended. If it equals the last time, observation is taken to have ended
    *with* that failure: the last time is then no news, and is left out of Laplace's statistic and of the
    shape's sum. Shape by maximum likelihood: n / sum(log(end / time)), not the unbiased variant. Its limits are
    exact for a power-law process: twice that sum times the true shape is chi-square on twice the informative times.

    Refuses with fewer than two informative times. Laplace's statistic is near normal from about four.
    Source: Cox and Lewis, The Statistical Analysis of Series of Events (1966); Crow (1974), AMSAA; also
    NIST/SEMATECH e-Handbook 8.2.3.4 and 8.3.2.2 (cited from memory).
    """
    check_confidence(confidence)
    ordered = _times(times, end)
    failure_terminated = bool(ordered.size and ordered[-1] == end)
    informative = ordered[:-1] if failure_terminated else ordered
    if informative.size < 2:
        raise CannotFit(
            f"{ordered.size} failure times are too few for a trend: two are needed before the one that ended "
            "the observation, or two before its end."
        )
    count = informative.size
    z = (float(informative.mean()) / end - 0.5) * math.sqrt(12.0 * count)
    logs = float(np.log(end / informative).sum())
    if logs <= 0:
        raise CannotFit("All failures fall at the very end of observation, so the trend has no measure.")
    shape = ordered.size / logs
    low, high = (float(chi2.ppf((1 + side * confidence) / 2, 2 * count)) / (2.0 * logs) for side in (-1, 1))
    kind = "failure-terminated" if failure_terminated else "time-terminated"
    return Trend(
        laplace_z=z,
        p_value=2.0 * float(norm.sf(abs(z))),
        power_law_shape=shape,
        power_law_shape_limits=(low, high),
        power_law_rate=exp_or_inf(math.log(ordered.size) - shape * math.log(end)),
        mean_time_between_failures=end / (ordered.size * shape),
        failures=int(ordered.size),
        failure_terminated=failure_terminated,
        estimator=f"{kind}; maximum likelihood from {ordered.size} failures",
    )


def _times(times: ArrayLike, end: float) -> FloatArray:
    if not (math.isfinite(end) and end > 0):
        raise ValueError(f"end must be a number above 0; got {end!r}")
    values = np.sort(np.atleast_1d(np.asarray(times, dtype=np.float64)))
    bad = ~np.isfinite(values) | (values <= 0) | (values > end)
    if bad.any():
        raise ValueError(
            f"each failure time must lie above 0 and not after end ({end:g}); got {values[bad][0]:g}"
        )
    return values
