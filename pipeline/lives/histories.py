"""The lives at places with open findings as one drawing leaves them, and their redrawing group by group."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.survival.form import BoolArray, FloatArray
from pipeline.survival.member_draws import MemberDraws
from pipeline.survival.places import Places

IntArray = NDArray[np.int64]
NONE = -1


class Lived(NamedTuple):
    """Lives of one drawing, ages on their place's clock: ``begun_by``, ``ended_by`` are findings, or -1.

    ``placed``, ``convicted``: of every finding, whether it ended a life, and by failure.
    """

    place: IntArray
    birth: FloatArray
    end: FloatArray
    failed: BoolArray
    begun_by: IntArray
    ended_by: IntArray
    placed: BoolArray
    convicted: BoolArray


class Histories(MemberDraws):
    """``MemberDraws`` for places of several groups at once, each with the shape and scale of its own."""

    def __init__(self, places: Places, hazard_per_day: FloatArray, rng: np.random.Generator) -> None:
        """``hazard_per_day``: mean failures per control-day of each place's group."""
        super().__init__(places, 1.0, rng)
        self._mean = np.repeat(np.log(hazard_per_day), places.quantity)
        self._parameters = np.empty((2, 0))

    def redraw(self, shape: FloatArray, log_scale: FloatArray) -> None:
        """Redraw every finding once, given the shape and log scale (days) that hold at each place."""
        self._parameters = np.repeat(np.array([shape, log_scale]), self.places.quantity, axis=1)
        self.sweep(1.0, 0.0)

    def _weights(
        self, lives: IntArray, event: IntArray, window_end: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        # Places come in order, so the slots in question are always the first ones.
        self._shape, self._log_scale = self._parameters[:, : lives.size]
        self._log_mean_hazard = self._mean[: lives.size]  # type: ignore[assignment]
        return super()._weights(lives, event, window_end)

    def lived(self) -> Lived:
        """The lives as they stand, those that never came under observation left out."""
        placed = self._before != NONE
        own = np.flatnonzero(placed)
        place_of_event = np.repeat(np.arange(self.places.quantity.size), np.diff(self.places.event_start))
        which = np.concatenate([np.arange(self._slots), self._slots + own])
        place = np.concatenate([self._place_of_slot, place_of_event[own]])
        end, failed = self._ends(self._next[which], self.places.exit[place])
        birth = self._birth[which]
        seen = end > np.maximum(birth, self.places.entry[place])
        begun_by = np.where(which < self._slots, NONE, which - self._slots)
        return Lived(
            place[seen], birth[seen], end[seen], failed[seen], begun_by[seen], self._next[which][seen],
            placed, self._failed & placed,
        )  # fmt: skip
