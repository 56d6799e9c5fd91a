"""Lives counted by age: all that a likelihood with censoring and delayed entry needs to know of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from pipeline.survival.form import FloatArray, check_lives


def _none() -> FloatArray:
    return np.empty(0, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class LifeMargins:
    """Three counts by age, and the interval-censored failures apart.

    - ``failure_days``, ``failure_counts``: failures at a known age
    - ``exit_days``, ``exit_counts``: every life that ends at a known age, failed or still working
    - ``entry_days``, ``entry_counts``: every life at the age where it came under observation (0 included)
    - ``interval_low_days``, ``interval_high_days``, ``interval_counts``: failures between two ages

    An age may stand more than once; counts are then added. Ages are in days. The log-likelihood of any
    parametric life with hazard h and cumulative hazard H is a sum over these margins:
    sum of log h over failures, less H over exits, plus H over entries, plus log(S(low) - S(high)) over the
    intervals. That is why lives may be grouped (in SQL, say) before they get here: nothing is lost.
    """

    failure_days: FloatArray
    failure_counts: FloatArray
    exit_days: FloatArray
    exit_counts: FloatArray
    entry_days: FloatArray
    entry_counts: FloatArray
    interval_low_days: FloatArray = field(default_factory=_none)
    interval_high_days: FloatArray = field(default_factory=_none)
    interval_counts: FloatArray = field(default_factory=_none)

    @classmethod
    def from_lives(cls, lives: pd.DataFrame) -> LifeMargins:
        """Count a lives frame (see ``check_lives``) by age. Raises ImpossibleLives."""
        checked = check_lives(lives)
        entry = checked["entry_days"].to_numpy(dtype=np.float64)
        exit_ = checked["exit_days"].to_numpy(dtype=np.float64)
        failed = checked["failed"].to_numpy(dtype=bool)
        quantity = checked["quantity"].to_numpy(dtype=np.float64)
        between = np.zeros(len(checked), dtype=bool)
        low = exit_
        if "exit_low_days" in checked.columns:
            given = checked["exit_low_days"].to_numpy(dtype=np.float64)
            between = failed & (given < exit_)
            low = given
        at_age = failed & ~between
        return cls(
            *count_by_age(exit_[at_age], quantity[at_age]),
            *count_by_age(exit_[~between], quantity[~between]),
            *count_by_age(entry, quantity),
            low[between],
            exit_[between],
            quantity[between],
        )

    @classmethod
    def from_counts(
        cls,
        failures: tuple[ArrayLike, ArrayLike],
        exits: tuple[ArrayLike, ArrayLike],
        entries: tuple[ArrayLike, ArrayLike],
        intervals: tuple[ArrayLike, ArrayLike, ArrayLike] = ((), (), ()),
    ) -> LifeMargins:
        """Margins that were counted elsewhere, as (ages in days, counts); intervals as (low, high, counts).

        Exits include the failures at a known age; entries include lives that enter at 0 and those that end
        in an interval. Raises ValueError where the counts cannot come from any lives.
        """
        margins = cls(
            *count_by_age(_array(failures[0]), _array(failures[1])),
            *count_by_age(_array(exits[0]), _array(exits[1])),
            *count_by_age(_array(entries[0]), _array(entries[1])),
            *(_array(part) for part in intervals),
        )
        _check_counts(margins)
        return margins

    @cached_property
    def units(self) -> int:
        """Lives, counted with their quantity."""
        return round(float(self.entry_counts.sum()))

    @cached_property
    def failures(self) -> int:
        """Failures, at a known age or within an interval."""
        return round(float(self.failure_counts.sum() + self.interval_counts.sum()))

    @property
    def has_intervals(self) -> bool:
        """True where some failure is only known to lie between two ages."""
        return self.interval_counts.size > 0

    @cached_property
    def net_exits(self) -> tuple[FloatArray, FloatArray]:
        """Ages > 0 and, at each, exits less entries: the weights of the cumulative hazard.

        A failure in an interval counts as an exit at its low end; what follows is the interval's own term,
        log(1 - S(high) / S(low)).
        """
        ages, counts = count_by_age(
            np.concatenate([self.exit_days, self.interval_low_days, self.entry_days]),
            np.concatenate([self.exit_counts, self.interval_counts, -self.entry_counts]),
        )
        keep = (ages > 0) & (counts != 0)
        return ages[keep], counts[keep]

    @cached_property
    def days_at_risk(self) -> float:
        """Unit-days under observation; an interval-censored failure counts to the middle of its interval."""
        middle = (self.interval_low_days + self.interval_high_days) / 2
        ends = float(self.exit_days @ self.exit_counts + middle @ self.interval_counts)
        return ends - float(self.entry_days @ self.entry_counts)

    def at_risk(self, ages_days: FloatArray) -> FloatArray:
        """Lives under observation just before each age: entered before it, and not ended before it."""
        entered = _cumulative(self.entry_days, self.entry_counts, ages_days)
        left = _cumulative(self.exit_days, self.exit_counts, ages_days)
        if self.has_intervals:
            left = left + np.array(
                [self.interval_counts[self.interval_high_days < age].sum() for age in ages_days],
                dtype=np.float64,
            )
        return entered - left


def margins_of(lives: pd.DataFrame | LifeMargins) -> LifeMargins:
    """The margins themselves, or those of a lives frame."""
    return lives if isinstance(lives, LifeMargins) else LifeMargins.from_lives(lives)


def count_by_age(ages_days: FloatArray, counts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distinct ages in ascending order, and the sum of the counts at each."""
    ages, place = np.unique(ages_days, return_inverse=True)
    return ages, np.bincount(place, weights=counts, minlength=ages.size).astype(np.float64)


def _array(values: ArrayLike) -> FloatArray:
    return np.atleast_1d(np.asarray(values, dtype=np.float64))


def _cumulative(ages: FloatArray, counts: FloatArray, before: FloatArray) -> FloatArray:
    """Sum of counts at ages strictly before each of ``before``; ``ages`` ascending."""
    sums = np.concatenate([[0.0], np.cumsum(counts)])
    return np.asarray(sums[np.searchsorted(ages, before, side="left")], dtype=np.float64)


def _check_counts(margins: LifeMargins) -> None:
    """Refuse margins that no set of lives can have."""
    low, high, counts = margins.interval_low_days, margins.interval_high_days, margins.interval_counts
    if not low.size == high.size == counts.size:
        raise ValueError("interval margins: low, high and counts differ in length")
    for name in ("failure", "exit", "entry"):
        ages, number = getattr(margins, f"{name}_days"), getattr(margins, f"{name}_counts")
        if not (np.isfinite(ages).all() and (ages >= 0).all()):
            raise ValueError(f"{name} margin: an age is negative or not finite")
        if not (np.isfinite(number).all() and (number > 0).all()):
            raise ValueError(f"{name} margin: a count is not above 0")
    if not (np.isfinite(counts).all() and (counts > 0).all() and np.isfinite(high).all()):
        raise ValueError("interval margin: a count is not above 0, or an age is not finite")
    if not ((low >= 0).all() and (low < high).all()):
        raise ValueError("interval margin: low must be at least 0 and below high")
    entered, left = margins.entry_counts.sum(), margins.exit_counts.sum() + counts.sum()
    if not np.isclose(entered, left, rtol=1e-12):
        raise ValueError(f"margins: {entered:g} lives enter but {left:g} end")
    _check_risk_sets(margins)


def _check_risk_sets(margins: LifeMargins) -> None:
    ends = np.unique(np.concatenate([margins.exit_days, margins.interval_high_days]))
    leaving = np.zeros(ends.size)
    np.add.at(leaving, np.searchsorted(ends, margins.exit_days), margins.exit_counts)
    np.add.at(leaving, np.searchsorted(ends, margins.interval_high_days), margins.interval_counts)
    short = margins.at_risk(ends) < leaving
    if short.any():
        raise ValueError(
            f"margins: more lives end at {ends[short][0]:g} days than are under observation then"
        )
    at = np.searchsorted(margins.exit_days, margins.failure_days)
    known = at < margins.exit_days.size
    same = np.zeros(at.size, dtype=bool)
    same[known] = margins.exit_days[at[known]] == margins.failure_days[known]
    if (
        not same.all()
        or (margins.failure_counts > margins.exit_counts[np.minimum(at, margins.exit_days.size - 1)]).any()
    ):
        raise ValueError("margins: the exits must include every failure at its age")
