"""Draws of what the log leaves open: which member of a batch failed, and whether a doubtful finding was a failure.

Data augmentation over the whole portfolio at once: findings are drawn given the life of each place's group, then each
group's life given the drawn lives, in turn (Tanner and Wong, JASA 82, 1987; stochastic EM: Celeux and Diebolt, 1985;
both from memory). Every analysis reads the same draws, so that groups, filters and forecast agree.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.lives.histories import Histories, IntArray, Lived
from pipeline.lives.odds import Cases, Odds
from pipeline.lives.open_places import OpenPlace
from pipeline.lives.warm_fits import fit_near
from pipeline.survival import CannotFit, LifeMargins, WeibullFit
from pipeline.survival.form import BoolArray, FloatArray
from pipeline.survival.margins import count_by_age
from pipeline.survival.places import Places

IMPUTATIONS = 20
BURN_IN_ROUNDS, ROUNDS_BETWEEN = 20, 2


@dataclass(frozen=True)
class KnownLives:
    """Lives that no draw changes, and the group of lives that each belongs to: arrays of one length."""

    group: IntArray
    entry_days: FloatArray
    exit_days: FloatArray
    failed: BoolArray
    quantity: FloatArray


@dataclass(frozen=True)
class Drawn:
    """One imputation: lives at the open places, in ``lived``; ``differs`` marks places not as the verdicts stand."""

    lived: Lived
    differs: BoolArray


class Imputer:
    """Draws for ``places``, whose groups are ``group`` (numbers from 0), beside the lives that are known.

    ``informs``: whether a place's lives take part in the fit of its group. A group with fewer than
    ``few_failures`` expected failures keeps a constant hazard. ``cases``: what is known of the odds of every rule
    of the verdict; each imputation draws its own odds. Seeded from what is drawn, so that the same
    portfolio gives the same draws.
    """

    def __init__(
        self,
        places: Sequence[OpenPlace],
        group: IntArray,
        informs: BoolArray,
        known: KnownLives,
        few_failures: int,
        cases: Mapping[str, Cases],
    ) -> None:
        # Those with most findings first: the form that the drawing needs.
        order = sorted(range(len(places)), key=lambda i: -len(places[i].findings))
        self.places = [places[i] for i in order]
        self._group, self._informs = group[order], informs[order]
        arranged = _arranged(self.places)
        self._known = [
            _margins_of(known, number)
            for number in range(int(max(group.max(), known.group.max(initial=0))) + 1)
        ]
        self._rates, enough = self._expected(arranged, few_failures)
        self._fitted = np.flatnonzero(enough)
        self._rng = np.random.default_rng(zlib.crc32(_content(arranged)))
        self._histories = Histories(arranged, self._rates[self._group], self._rng)
        findings = [found for place in self.places for found in place.findings]
        self._odds = Odds(arranged.chance, [found.rule for found in findings], cases)
        self._as_read = np.array([found.stay is not None for found in findings])
        self._place_of_finding = np.repeat(
            np.arange(len(self.places)), [len(p.findings) for p in self.places]
        )
        self._read_failed = np.array([found.read_failed for found in findings], dtype=bool)
        self._single = np.array([place.quantity == 1 for place in self.places])

    def draws(self) -> Iterator[Drawn]:
        """The imputations, one after the other."""
        points = np.column_stack([np.ones(self._rates.size), -np.log(self._rates)])
        fits: dict[int, WeibullFit] = {}
        for count in range(BURN_IN_ROUNDS + ROUNDS_BETWEEN * IMPUTATIONS):
            if count % ROUNDS_BETWEEN == 0:
                self._histories.weigh(self._odds.draw(self._rng))
            self._histories.redraw(points[self._group, 0], points[self._group, 1])
            lived = self._histories.lived()
            for group in self._fitted.tolist():
                self._update(group, lived, points, fits)
            if count >= BURN_IN_ROUNDS and (count - BURN_IN_ROUNDS) % ROUNDS_BETWEEN == ROUNDS_BETWEEN - 1:
                yield Drawn(lived, self._differs(lived))

    def _update(self, group: int, lived: Lived, points: FloatArray, fits: dict[int, WeibullFit]) -> None:
        """Draw a group's shape and scale around the fit of its lives; where there is none, keep what was."""
        own = (self._group[lived.place] == group) & self._informs[lived.place]
        margins = _joined(self._known[group], lived, own, self._entries)
        try:
            fit = fit_near(margins, fits.get(group), 0.95)
            drawn = self._rng.multivariate_normal(
                [math.log(fit.shape), math.log(fit.scale_days)], fit.log_covariance, method="cholesky"
            )
        except (CannotFit, np.linalg.LinAlgError):
            return
        fits[group] = fit
        points[group] = math.exp(drawn[0]), drawn[1]

    def _differs(self, lived: Lived) -> BoolArray:
        other = (lived.placed != self._as_read) | (lived.convicted != self._read_failed)
        count = np.bincount(self._place_of_finding, weights=other, minlength=len(self.places))
        return np.asarray((count > 0) | ~self._single, dtype=np.bool_)

    @property
    def _entries(self) -> FloatArray:
        return self._histories.places.entry

    def _expected(self, arranged: Places, few_failures: int) -> tuple[FloatArray, BoolArray]:
        """Mean failures per control-day of each group, and whether it expects enough of them for a fit."""
        groups = len(self._known)
        chance = np.add.reduceat(arranged.chance, arranged.event_start[:-1]) * self._informs
        days = (arranged.exit - arranged.entry) * arranged.quantity * self._informs
        failures = np.bincount(self._group, weights=chance, minlength=groups)
        failures = failures + np.array([margins.failures for margins in self._known])
        at_risk = np.bincount(self._group, weights=days, minlength=groups)
        at_risk = at_risk + np.array([margins.days_at_risk for margins in self._known])
        return np.maximum(failures, 0.5) / np.maximum(at_risk, 1.0), failures >= max(few_failures, 2)


def _arranged(places: Sequence[OpenPlace]) -> Places:
    quantity = np.array([place.quantity for place in places], dtype=np.int64)
    number = np.array([len(place.findings) for place in places], dtype=np.int64)
    findings = [found for place in places for found in place.findings]
    return Places(
        entry=np.array([place.entry_days for place in places]),
        exit=np.array([place.exit_days for place in places]),
        quantity=quantity,
        known=np.ones(len(places), dtype=bool),
        slot_start=np.concatenate([[0], np.cumsum(quantity)]),
        event_start=np.concatenate([[0], np.cumsum(number)]),
        event_days=np.array([found.age_days for found in findings]),
        renewed_days=np.array([found.renewed_days for found in findings]),
        chance=np.array([found.probability for found in findings]),
        ends=np.array([found.certain_end for found in findings], dtype=bool),
        labels=np.arange(len(places)),
    )


def _content(places: Places) -> bytes:
    parts = (
        places.entry,
        places.exit,
        places.quantity,
        places.event_days,
        places.renewed_days,
        places.chance,
        places.ends,
    )
    return b"".join(np.ascontiguousarray(part).tobytes() for part in parts)


def _margins_of(known: KnownLives, group: int) -> LifeMargins:
    own = known.group == group
    fails = own & known.failed
    return LifeMargins(
        *count_by_age(known.exit_days[fails], known.quantity[fails]),
        *count_by_age(known.exit_days[own], known.quantity[own]),
        *count_by_age(known.entry_days[own], known.quantity[own]),
    )


def _joined(margins: LifeMargins, lived: Lived, own: BoolArray, entries: FloatArray) -> LifeMargins:
    """Margins with drawn lives counted in, at whole and half days."""
    birth, failed = lived.birth[own], lived.failed[own]
    exit_days = np.maximum(np.floor(2 * (lived.end[own] - birth)) / 2, 0.5)
    entry = np.minimum(np.maximum(entries[lived.place[own]] - birth, 0.0), exit_days - 0.5)
    ones = np.ones(exit_days.size)
    return LifeMargins(
        *_more(margins.failure_days, margins.failure_counts, exit_days[failed], ones[failed]),
        *_more(margins.exit_days, margins.exit_counts, exit_days, ones),
        *_more(margins.entry_days, margins.entry_counts, entry, ones),
    )


def _more(
    ages: FloatArray, counts: FloatArray, more: FloatArray, number: FloatArray
) -> tuple[FloatArray, FloatArray]:
    return count_by_age(np.concatenate([ages, more]), np.concatenate([counts, number]))
