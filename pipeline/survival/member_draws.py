"""Which control a finding ended, and whether it ended one at all: drawn given a Weibull life."""

from __future__ import annotations

import numpy as np

from pipeline.survival.form import BoolArray, FloatArray
from pipeline.survival.places import Places
from pipeline.survival.renewal_grid import RenewalGrid

_NONE = -1


class MemberDraws:
    """One state of the lives at all places, redrawn finding by finding (Gibbs sampling).

    A life is known by what began it: a slot (the first control there) or an event (the control put in
    afterwards). Each event in turn is taken out, so that the life it ended and the one it began are one
    again, and put back: into any life that spans it, or nowhere, each with the probability that the life's
    hazard, the rest of the lives and the verdict give it together. Forward drawing by the hazard alone
    would ignore what happens later to the control chosen.
    """

    def __init__(self, places: Places, mean_hazard: float, rng: np.random.Generator) -> None:
        self.places, self._rng = places, rng
        self._log_mean_hazard = float(np.log(mean_hazard))
        slots, events = int(places.slot_start[-1]), places.event_days.size
        self._slots = slots
        self._place_of_slot = np.repeat(np.arange(places.quantity.size), places.quantity)
        self._exit_of_slot = places.exit[self._place_of_slot]
        self._birth = np.concatenate([np.zeros(slots), places.renewed_days])
        self._next = np.full(slots + events, _NONE)
        self._before = np.full(events, _NONE)
        self._failed = np.zeros(events, dtype=bool)
        self.weigh(places.chance)
        self._unseen = np.empty(0)
        self.unplaced = 0

    def weigh(self, chance: FloatArray) -> None:
        """Take these chances that each event was a failure from now on."""
        with np.errstate(divide="ignore"):
            self._log_chance = np.log(chance)
            self._log_other = np.log1p(-chance)

    def sweep(self, shape: float, log_scale: float) -> None:
        """Redraw every event once, and the unknown starts of batches older than their observation."""
        self._shape, self._log_scale = shape, log_scale
        self.unplaced = 0
        if not self.places.known.all():
            self._draw_starts()
        number = np.diff(self.places.event_start)
        current = np.arange(self._slots)
        for step in range(int(number.max(initial=0))):
            active = int(np.searchsorted(-number, -step, side="left"))  # places with more than `step` events
            self._redraw(self.places.event_start[:active] + step, current)

    def for_fit(self) -> tuple[FloatArray, FloatArray, BoolArray]:
        """Entry, exit and failed of the lives that shape and scale are fitted to.

        Where the start is unknown, the whole drawn history counts from age 0: the drawn ages as the log begins
        say something of shape and scale too, and leaving that out would make the limits too narrow.
        """
        entry, exit_, failed, place = self.lives()
        known = self.places.known[place]
        born_before = ~known & (entry > 0)
        entry = np.where(born_before, 0.0, entry)
        unseen = self._unseen
        return (
            np.concatenate([entry, np.zeros(unseen.size)]),
            np.concatenate([exit_, unseen]),
            np.concatenate([failed, np.ones(unseen.size, dtype=bool)]),
        )

    def lives(self) -> tuple[FloatArray, FloatArray, BoolArray, np.ndarray]:
        """Entry and exit ages in days, failed, and the place of every life within the watch of its place."""
        own = np.flatnonzero(self._before != _NONE)
        slot_place = self._place_of_slot
        event_place = np.repeat(np.arange(self.places.quantity.size), np.diff(self.places.event_start))
        which = np.concatenate([np.arange(self._slots), self._slots + own])
        place = np.concatenate([slot_place, event_place[own]])
        birth, following = self._birth[which], self._next[which]
        end, failed = self._ends(following, self.places.exit[place])
        entry = np.maximum(self.places.entry[place], birth) - birth
        seen = end - birth > entry
        return entry[seen], (end - birth)[seen], failed[seen], place[seen]

    def _ends(self, following: np.ndarray, window_end: FloatArray) -> tuple[FloatArray, BoolArray]:
        there = following != _NONE
        end = np.where(there, self._at(self.places.event_days, following), window_end)
        return end, there & self._at(self._failed, following).astype(bool)

    @staticmethod
    def _at(values: np.ndarray, index: np.ndarray) -> np.ndarray:
        return values[np.maximum(index, 0)] if values.size else np.zeros(index.size, dtype=values.dtype)

    def _redraw(self, events: np.ndarray, current: np.ndarray) -> None:
        self._take_out(events)
        places = self.places
        starts = places.slot_start[: events.size]
        slots = int(places.slot_start[events.size])
        event = np.repeat(events, places.quantity[: events.size])
        log_kept, log_failed = self._weights(current[:slots], event, self._exit_of_slot[:slots])
        with np.errstate(divide="ignore"):
            noisy = np.logaddexp(log_failed, log_kept) + self._rng.gumbel(size=slots)
        best = np.maximum.reduceat(noisy, starts)
        nowhere = np.where(
            places.ends[events], -np.inf, self._log_other[events] + np.log(places.quantity[: events.size])
        )
        aside = nowhere + self._rng.gumbel(size=events.size)
        placed = best > aside
        self.unplaced += int((~placed & (aside == -np.inf)).sum())
        top = np.flatnonzero((noisy == np.repeat(best, places.quantity[: events.size])) & (noisy > -np.inf))
        slot = top[np.searchsorted(top, starts[placed])] if top.size else top
        chance = np.exp(log_failed[slot] - np.logaddexp(log_failed[slot], log_kept[slot]))
        self._put_in(events[placed], slot, self._rng.random(slot.size) < chance, current)

    def _take_out(self, events: np.ndarray) -> None:
        placed = events[self._before[events] != _NONE]
        life, following = self._before[placed], self._next[self._slots + placed]
        self._next[life] = following
        linked = following != _NONE
        self._before[following[linked]] = life[linked]
        self._next[self._slots + placed] = _NONE
        self._before[placed] = _NONE
        self._failed[placed] = False

    def _put_in(self, events: np.ndarray, slot: np.ndarray, failed: BoolArray, current: np.ndarray) -> None:
        life, fresh = current[slot], self._slots + events
        following = self._next[life]
        self._next[fresh] = following
        linked = following != _NONE
        self._before[following[linked]] = fresh[linked]
        self._next[life] = events
        self._before[events], self._failed[events] = life, failed
        current[slot] = fresh

    def _weights(
        self, lives: np.ndarray, event: np.ndarray, window_end: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Log weights of ending each life at its event: as no failure (replaced anyway), and as a failure."""
        birth, following = self._birth[lives], self._next[lives]
        days, renewed = self.places.event_days[event], self.places.renewed_days[event]
        end, failed = self._ends(following, window_end)
        able = (birth < days) & ((following == _NONE) | (end > renewed))
        age = np.where(able, days - birth, 1.0)
        whole, rest = np.where(able, end - birth, 1.0), np.where(able, np.maximum(end - renewed, 0.0), 0.0)
        ratio = self._hazard_sum(whole) - self._hazard_sum(age) - self._hazard_sum(rest)
        later = np.where(rest > 0, rest, 1.0)
        ratio += np.where(failed, (self._shape - 1.0) * (np.log(later) - np.log(whole)), 0.0)
        ratio = np.where(able, ratio, -np.inf)
        log_hazard = (
            np.log(self._shape) - self._log_scale + (self._shape - 1.0) * (np.log(age) - self._log_scale)
        )
        as_failure = ratio + self._log_chance[event] + log_hazard - self._log_mean_hazard
        kept = np.where(self.places.ends[event], ratio + self._log_other[event], -np.inf)
        return kept, as_failure

    def _hazard_sum(self, ages: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore"):
            power = np.exp(np.minimum(self._shape * (np.log(ages) - self._log_scale), 600.0))
        return np.asarray(power, dtype=np.float64)

    def _draw_starts(self) -> None:
        """Draw when each control began that worked as the observation of an older batch began, and all before it.

        It is the first one, or one put in after earlier failures that nobody saw: the chance of the latter is
        the renewal density of this life times what was seen of it since. The unseen lives before it are
        drawn backwards in the same way, so that shape and scale can be drawn given whole histories.
        """
        slots = np.flatnonzero(~self.places.known[self._place_of_slot])
        entry = self.places.entry[self._place_of_slot[slots]]
        grid = RenewalGrid(self._shape, self._log_scale, entry)
        end, failed = self._ends(self._next[slots], self._exit_of_slot[slots])
        self._birth[slots] = grid.draw_before(end, entry, failed, self._rng)
        self._unseen = grid.lives_before(self._birth[slots], self._rng)
