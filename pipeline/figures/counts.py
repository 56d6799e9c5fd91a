"""Control failures counted: as the texts are read (expected) and by their threshold (hard)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from scipy.signal import fftconvolve
from scipy.stats import betabinom, binom

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store
from pipeline.survival.form import FloatArray

_ROUNDING = 1e-12  # of the transform: far below any tail that is asked for


@dataclass(frozen=True)
class FailureCount:
    """Controls that failed in a span. Limits hold the doubt in reading the texts, nothing else."""

    first: date
    last: date
    incidents: int
    expected: float
    lower: int
    upper: int
    hard: int


def failures_between(store: Store, first: date, last: date, filters: Filters = EVERYTHING) -> FailureCount:
    """Control failures first reported from ``first`` to ``last``, both included; sites and kinds of ``filters``.

    Each incident counts with the controls it concerns, times the probability that they failed.
    """
    span = Filters(filters.sites, filters.kinds, first, last)
    verdicts = query.frame(store, "failure_verdicts", span)
    lower, upper = reading_limits(verdicts, facts(store).confidence)
    return FailureCount(
        first=first,
        last=last,
        incidents=len(verdicts),
        expected=float((verdicts["failed_probability"] * verdicts["units"]).sum()),
        lower=lower,
        upper=upper,
        hard=int(verdicts.loc[verdicts["control_failed"].astype(bool), "units"].sum()),
    )


def reading_limits(verdicts: pd.DataFrame, confidence: float) -> tuple[int, int]:
    """Limits of the number of failed controls, if each incident is a failure with its own probability.

    ``verdicts``: failed_probability, units, and cases_failed and cases_not_failed behind the odds of its rule
    (missing: the probability is taken as known). Yes/no outcomes, each worth its units. Those of one rule share
    unknown odds, whose law is a beta distribution: so alike ones add up to a beta-binomial count, others to a
    binomial one, and the counts are convolved. (0, 0) for an empty frame.
    """
    chances = np.ones(1)
    kinds = ["failed_probability", "units", "cases_failed", "cases_not_failed"]
    alike = verdicts.round({"failed_probability": 9}).value_counts(kinds, dropna=False).reset_index()
    for probability, units, failed, not_failed, count in alike.to_numpy(float).tolist():
        outcome = np.zeros(int(count * units) + 1)
        outcome[:: int(units)] = _count_law(int(count), probability, failed, not_failed)
        chances = fftconvolve(chances, outcome)
    below = np.cumsum(chances)
    tail = (1 - confidence) / 2
    return int(np.searchsorted(below, tail)), int(np.searchsorted(below, 1 - tail - _ROUNDING))


def _count_law(count: int, probability: float, failed: float, not_failed: float) -> FloatArray:
    """Chances of 0 to ``count`` failures among findings judged alike."""
    numbers = np.arange(count + 1)
    if failed > 0 and not_failed > 0:  # false for missing ones too
        return np.asarray(betabinom.pmf(numbers, count, failed, not_failed))
    return np.asarray(binom.pmf(numbers, count, probability))
