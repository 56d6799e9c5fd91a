"""How far the detection delays are from the assumed ones: one factor on all of them, by maximum likelihood.

Times are counted in assumed mean delays, so that seasons and weekdays keep their proportions. With the factor f, a
fault is noticed after an exponential time of mean f. Four kinds of faults speak:

- its onset is measured and it was called in after t: density exp(-t/f) / f;
- its onset is measured and it ended, or the log did, after t without a call (right-censored): exp(-t/f);
- it was called in g after a round by day that found its place in order, so its delay lies between 0 and g
  (interval-censored): 1 - exp(-g/f);
- a round by day found it first, g after the round before: nobody had noticed it since it began, at all times between
  the rounds alike: f (1 - exp(-g/f)) / g.

The last two are what faults that begin at all times alike leave behind between rounds. Limits are those of the profile
likelihood. Sources: J. D. Kalbfleisch and R. L. Prentice, The Statistical Analysis of Failure Time Data, 2nd ed. 2002,
section 3.2 (censored likelihoods; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import chi2

Floats = npt.NDArray[np.float64]

CONFIDENCE = 0.90
_WIDEST = float(np.log(1000.0))
_LEAST = 1e-9


@dataclass(frozen=True)
class Noticed:
    """Times in assumed mean delays, as described above: four arrays, of any length."""

    measured: Floats
    unreported: Floats
    round_reports: Floats
    round_finds: Floats

    @property
    def speaking(self) -> int:
        """Faults whose delay was seen to end, or lies between rounds."""
        return self.measured.size + self.round_reports.size + self.round_finds.size


@dataclass(frozen=True)
class DelayFactor:
    """Factor on the assumed delays with its 90 % limits."""

    factor: float
    lower: float
    upper: float


def estimated_factor(noticed: Noticed, fewest: int) -> DelayFactor | str:
    """The factor, or in words why it cannot be estimated. ``fewest`` : faults that must speak."""
    if noticed.speaking < fewest:
        speak = "1 fault speaks" if noticed.speaking == 1 else f"{noticed.speaking} faults speak"
        return f"{speak} of the delay, and {fewest} are needed"
    if not noticed.measured.size and not (noticed.round_reports.size and noticed.round_finds.size):
        missing = "found by a round" if noticed.round_reports.size else "called in between rounds"
        return f"no fault was {missing}, so the rounds bound the delay from one side only"

    def against(log_factor: float) -> float:
        return -log_likelihood(noticed, float(np.exp(log_factor)))

    best = minimize_scalar(against, bounds=(-_WIDEST, _WIDEST), method="bounded", options={"xatol": 1e-8})
    allowed = float(best.fun) + float(chi2.ppf(CONFIDENCE, 1)) / 2

    def beyond(log_factor: float) -> float:
        return against(log_factor) - allowed

    if beyond(-_WIDEST) <= 0 or beyond(_WIDEST) <= 0:
        return "what is known leaves the delay open by more than a factor of 1000"
    lower, upper = brentq(beyond, -_WIDEST, best.x), brentq(beyond, best.x, _WIDEST)
    return DelayFactor(float(np.exp(best.x)), float(np.exp(lower)), float(np.exp(upper)))


def log_likelihood(noticed: Noticed, factor: float) -> float:
    """Of a factor, up to a constant."""
    reports, finds = (
        np.maximum(times, _LEAST) / factor for times in (noticed.round_reports, noticed.round_finds)
    )
    return float(
        -noticed.measured.size * np.log(factor)
        - (noticed.measured.sum() + noticed.unreported.sum()) / factor
        + np.log(-np.expm1(-reports)).sum()
        + np.log(-np.expm1(-finds) / finds).sum()
    )
