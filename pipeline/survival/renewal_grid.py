"""What happened at a place before anybody watched: renewals drawn backwards on a grid of days."""

from __future__ import annotations

import numpy as np

from pipeline.survival.form import BoolArray, FloatArray
from pipeline.survival.renewal import renewals_from_new

_CELLS = 96
_TABLE_STEPS = 160


class RenewalGrid:
    """Cells of (0, watched from) for each of several places, with the renewals expected in each.

    Every place began with a new control at 0, and each failed one was replaced at once. ``watched_from``:
    (slots,) days. A renewal is drawn with the chance of a renewal in a cell times that of what followed it;
    the first control (a start at 0) has the weight 1 in place of a renewal.
    """

    def __init__(self, shape: float, log_scale: float, watched_from: FloatArray) -> None:
        self._shape, self._log_scale = shape, log_scale
        days = np.linspace(0.0, float(watched_from.max()), _TABLE_STEPS + 1)
        table = renewals_from_new(days, shape, log_scale)
        self._edges = watched_from[:, None] * np.linspace(0.0, 1.0, _CELLS + 1)[None, :]
        self._mass = np.diff(np.interp(self._edges, days, table), axis=1)

    def draw_before(
        self, end: FloatArray, latest: FloatArray, failed: BoolArray, rng: np.random.Generator
    ) -> FloatArray:
        """For each slot the start (0, or a renewal before ``latest``) of the life that ended at ``end``."""
        return self._draw(np.arange(end.size), end, latest, failed, rng)

    def lives_before(self, births: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Ages at failure of the lives that came one after another between 0 and each birth."""
        ages = []
        slots, later = np.flatnonzero(births > 0), births[births > 0]
        while slots.size:
            start = self._draw(slots, later, later, np.ones(slots.size, dtype=bool), rng)
            ages.append(later - start)
            slots, later = slots[start > 0], start[start > 0]
        return np.concatenate(ages) if ages else np.empty(0)

    def _draw(
        self,
        slots: np.ndarray,
        end: FloatArray,
        latest: FloatArray,
        failed: BoolArray,
        rng: np.random.Generator,
    ) -> FloatArray:
        low = self._edges[slots, :-1]
        width = self._edges[slots, 1:] - low
        part = np.clip((latest[:, None] - low) / width, 0.0, 1.0)  # of each cell, what lies before `latest`
        births = np.hstack([np.zeros((slots.size, 1)), low + part * width / 2])
        mass = np.hstack([np.ones((slots.size, 1)), self._mass[slots] * part])
        age = np.maximum(end[:, None] - births, 1e-9)
        with np.errstate(divide="ignore"):
            log_age = np.log(age) - self._log_scale
            # The density of a failed life also has shape / scale, alike for every start: it cancels.
            seen = -np.exp(np.minimum(self._shape * log_age, 600.0))
            weight = np.log(mass) + seen + np.where(failed[:, None], (self._shape - 1.0) * log_age, 0.0)
        cell = np.argmax(weight + rng.gumbel(size=weight.shape), axis=1)
        row, inner = np.arange(slots.size), np.maximum(cell - 1, 0)
        spread = (rng.random(slots.size) - 0.5) * (part * width)[row, inner]
        drawn = births[row, cell] + spread
        whole = np.maximum(np.rint(drawn), 1.0)  # whole days: lives then share ages, and fits stay fast
        drawn = np.where(whole < latest, whole, drawn)
        return np.asarray(np.where(cell > 0, drawn, 0.0), dtype=np.float64)
