"""Energy of stretches of day burning, from an account's loads by day; where several overlap, shared by their sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

_SDS_95 = 1.96


@dataclass(frozen=True)
class MeasuredEnergy:
    """Energy [kWh] of one stretch with its 95 % limits, and the hours off that had no readings [h]."""

    kwh: float
    lower: float
    upper: float
    filled_hours: float


def measured_energies(
    above_kw: Floats,
    off_hours: Floats,
    spans: Sequence[tuple[int, int]],
    sizes_kw: Sequence[float],
    long_run_kw: float,
) -> tuple[list[MeasuredEnergy], Floats]:
    """Energy of each stretch, and of each day the load that belongs to any [kW].

    above_kw : (days,) mean load by day above what is expected if nothing burns, NaN without readings; off_hours :
    (days,) hours in which lamps should be off. spans : first and last day of each stretch, both part of it;
    sizes_kw : their steps. A day's load is shared among the stretches that cover it by their sizes, so that energies
    add up to what was measured. A day without readings takes the stretch's own mean.

    The limits hold the noise of the daily loads (``long_run_kw``, see meter_levels) and the same of the expected
    load, taken as known from a month of days.
    """
    shared = np.zeros(above_kw.size)
    for (first, last), size in zip(spans, sizes_kw, strict=True):
        shared[first : last + 1] += size
    energies = []
    for (first, last), size in zip(spans, sizes_kw, strict=True):
        days = slice(first, last + 1)
        part_kw = above_kw[days] * size / shared[days]
        energies.append(_energy(part_kw, off_hours[days], size, size / shared[days], long_run_kw))
    return energies, np.where(shared > 0, above_kw, 0.0)


def _energy(part_kw: Floats, hours: Floats, size: float, share: Floats, long_run_kw: float) -> MeasuredEnergy:
    known = np.isfinite(part_kw)
    mean = float(np.mean(part_kw[known])) if known.any() else size
    kwh = float(np.sum(np.where(known, part_kw, mean) * hours))
    own = np.sum((hours * share) ** 2)
    expected = np.sum(hours * share) ** 2 / 30
    error = _SDS_95 * long_run_kw * float(np.sqrt(own + expected))
    return MeasuredEnergy(kwh, max(kwh - error, 0.0), kwh + error, float(np.sum(hours[~known])))
