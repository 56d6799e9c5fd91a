"""What onset and end of each incident may have been, drawn many times: from these come the ranges of totals.

In each draw one factor multiplies the mean detection delay of all incidents alike, for the mean is what nobody knows;
then each incident takes a delay and an end of its own. Drawing them independently throughout would make the errors
cancel in a total: a range of a few per cent, and false.

Draw k of every incident belongs to draw k of every other, so draws may be added over any choice of incidents and
months. They follow from the incident's id alone: the same at every build, whatever else is in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b

import numpy as np
import numpy.typing as npt
from scipy.stats import norm

Floats = npt.NDArray[np.float64]

DRAWS = 200
RANGE = (0.05, 0.95)
"""The quantiles of a 90 % range."""
_CHUNK = 512  # incidents at once: bounds the memory
_STEEPEST = 200.0
_TILTS = np.concatenate([-np.geomspace(_STEEPEST, 1e-3, 400), [0.0], np.geomspace(1e-3, _STEEPEST, 400)])


def shared_factors(spread: float, draws: int = DRAWS) -> Floats:
    """The factor on the mean delay in each draw, rising: log-normal about 1.

    spread : with a chance of 90 % the true mean lies between the stated one divided by this and times this (>= 1).
    """
    levels = (np.arange(draws) + 0.5) / draws
    return np.asarray(np.exp(norm.ppf(levels) * np.log(spread) / norm.ppf(RANGE[1])), dtype=np.float64)


def uniforms(ids: Sequence[str], draws: int = DRAWS) -> tuple[Floats, Floats]:
    """Two tables (ids, draws) of numbers evenly spread over 0 to 1 in an order of chance, made from each id."""
    both = np.empty((2, len(ids), draws))
    for row, name in enumerate(ids):
        seed = int.from_bytes(blake2b(name.encode(), digest_size=8).digest(), "big")
        chance = np.random.Generator(np.random.PCG64(seed))
        for table in both:
            table[row] = (chance.permutation(draws) + chance.random(draws)) / draws
    return both[0], both[1]


def drawn_delays(
    windows_days: Floats, lengths_days: Floats, delays_days: Floats, factors: Floats, chance: Floats
) -> Floats:
    """Days from onset to first report, (incidents, draws), each within its window.

    windows_days : (n,) how far back the onset can lie. lengths_days, delays_days : (n, stretches) stretches of days
    before the report, newest first, and the mean delay in each (pipeline.noticing). factors : (draws,) on the means.
    chance : (n, draws) evenly spread over 0 to 1. The density is proportional to exp(-hazard since the onset).
    """
    pieces = []
    for at in range(0, windows_days.size, _CHUNK):
        rows = slice(at, at + _CHUNK)
        pieces.append(
            _delays(windows_days[rows], lengths_days[rows], delays_days[rows], factors, chance[rows])
        )
    return np.concatenate(pieces) if pieces else np.empty((0, factors.size))


def _delays(
    windows_days: Floats, lengths_days: Floats, delays_days: Floats, factors: Floats, chance: Floats
) -> Floats:
    begins = np.cumsum(lengths_days, axis=1) - lengths_days
    lengths = np.clip(windows_days[:, None] - begins, 0, lengths_days)
    hazards = lengths / delays_days
    before = np.cumsum(hazards, axis=1) - hazards
    found = np.empty(chance.shape)
    for k, factor in enumerate(factors):
        means = delays_days * factor
        left = np.exp(-before / factor)
        mass = left * means * -np.expm1(-lengths / means)
        reached = np.cumsum(mass, axis=1)
        aim = chance[:, k] * reached[:, -1]
        at = np.minimum((reached <= aim[:, None]).sum(axis=1), reached.shape[1] - 1)[:, None]
        here = [np.take_along_axis(part, at, axis=1)[:, 0] for part in (reached - mass, left, means, begins)]
        share = np.clip((aim - here[0]) / np.maximum(here[1] * here[2], 1e-300), 0, 1 - 1e-15)
        found[:, k] = here[3] - here[2] * np.log1p(-share)
    return np.clip(found, 0, windows_days[:, None])


def drawn_between(low: Floats, central: Floats, high: Floats, chance: Floats) -> Floats:
    """Values between low and high whose mean is the central one, (n, draws); low, central, high : (n,), in order.

    Of all laws on an interval with a given mean, the least committal (greatest entropy) is the exponential cut off at
    both ends; with the mean in the middle it is the even one.
    """
    width = high - low
    middle = np.divide(central - low, width, out=np.full(width.shape, 0.5), where=width > 0)
    tilt = np.interp(middle, _means(_TILTS), _TILTS)[:, None]
    steep = np.abs(tilt) > 1e-6
    safe = np.where(steep, tilt, 1.0)
    # log(1 + u (exp(t) - 1)) / t, written so that a large t does not overflow
    rising = 1 + np.log(np.maximum(chance + (1 - chance) * np.exp(-np.abs(safe)), 1e-300)) / np.abs(safe)
    falling = -np.log(np.maximum(1 - chance + chance * np.exp(-np.abs(safe)), 1e-300)) / np.abs(safe)
    share = np.where(steep, np.where(safe > 0, rising, falling), chance)
    return np.asarray(low[:, None] + width[:, None] * np.clip(share, 0, 1))


def _means(tilts: Floats) -> Floats:
    """Mean on 0 to 1 of the density proportional to exp(tilt x)."""
    safe = np.where(tilts == 0, 1.0, tilts)
    return np.where(tilts == 0, 0.5, -1 / np.expm1(-safe) - 1 / safe)
