"""Day burning in the daily loads of one account: its usual load by day, and the layers above it that lighting explains.

Lamps that burn by day raise the load by day and no longer switch at dusk and dawn: the load's step there falls by as
much. Another load that comes on raises the day alone. A layer counts as day burning only if the switching step agrees.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import statsmodels.api as sm
from statsmodels.tools.sm_exceptions import ConvergenceWarning

from pipeline.energy.meter_layers import Layer, layers_of
from pipeline.energy.meter_levels import (
    Noise,
    least_step_kw,
    level_medians,
    level_starts,
    noise_of,
    without_spikes,
    without_transitions,
)

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LEAST_DAYS_OF_DATA = 28
OTHER_LOAD_SHARE = (
    0.25  # standing load by day above this share of the night's: the account carries other load
)
_OUTAGE_SHARE = 0.2
_LEAST_DAYS_OF_A_LEVEL = 7
_FLANK_DAYS = 30
_FEWEST_FLANK_DAYS = 5
_AGREES = 0.5  # the switching step must fall by at least this share of the layer, within its error

TOO_SHORT = "it has fewer than 28 days with enough readings by day"
NO_LIGHTING = "no lighting load can be told: its load does not step at dusk and dawn"
TOO_NOISY = "its lighting cannot be told from its other load: by day that moves by more than all lighting that switches"


@dataclass(frozen=True)
class DailyLoads:
    """Mean loads of an account by solar day, in order, NaN where readings do not suffice; all (days,).

    day_number : days since 1970-01-01 of the local date; day_kw, night_kw : well inside the hours off and on;
    switch_kw : rise at dusk and fall at dawn, their mean.
    """

    day_number: npt.NDArray[np.int64]
    day_kw: Floats
    night_kw: Floats
    switch_kw: Floats


@dataclass(frozen=True)
class Burning:
    """A layer of day burning: first day and the day after its last (indices), size [kW], and whether it was there
    before the data began or after they end."""

    first: int
    beyond: int
    size_kw: float
    begins_before_data: bool
    is_open: bool


@dataclass(frozen=True)
class Found:
    """What was found in an account. ``expected_kw`` (days,): load by day if nothing burns; NaN where ``refused``."""

    standing_kw: float
    night_kw: float
    switch_kw: float
    other_load: bool
    noise: Noise
    least_step_kw: float
    expected_kw: Floats
    burning: tuple[Burning, ...]
    refused: str = ""


def search(loads: DailyLoads, least_kw: float, least_days: int) -> Found:
    """Search an account for day burning of at least ``least_kw`` that lasts ``least_days`` or more."""
    known = np.flatnonzero(np.isfinite(loads.day_kw))
    night, switch = (_median(values) for values in (loads.night_kw, loads.switch_kw))
    nothing = np.full(loads.day_kw.size, np.nan)
    found = Found(np.nan, night, switch, False, Noise(np.nan, 0.0), np.nan, nothing, ())
    if known.size < LEAST_DAYS_OF_DATA:
        return replace(found, refused=TOO_SHORT)
    if not switch >= least_kw:
        return replace(found, refused=NO_LIGHTING)
    day_kw = loads.day_kw[known]
    standing = float(np.quantile(day_kw, 0.05))
    other_load = standing > OTHER_LOAD_SHARE * night
    usual = seasonal_load(loads.day_number[known], day_kw) if other_load else np.zeros(known.size)
    noise = noise_of(day_kw - usual, least_kw)
    least = max(least_kw, least_step_kw(noise, known.size))
    found = replace(found, standing_kw=standing, other_load=other_load, noise=noise, least_step_kw=least)
    if other_load and least > switch:
        return replace(found, refused=TOO_NOISY)
    return _layered(loads, known, usual, found, least_kw, least_days)


def _layered(
    loads: DailyLoads,
    known: npt.NDArray[np.int64],
    usual: Floats,
    found: Found,
    least_kw: float,
    least_days: int,
) -> Found:
    """Levels, layers, and which of them lighting explains."""
    smooth = without_spikes(loads.day_kw[known] - usual, found.noise)
    starts = without_transitions(smooth, level_starts(smooth, found.noise, least_days), least_days)
    levels = level_medians(smooth, starts)
    dark = np.asarray(loads.night_kw[known] < _OUTAGE_SHARE * found.night_kw)
    ground = 0.0 if found.other_load else _ground(levels, starts, smooth.size, dark, least_kw)
    edges = np.append(known[starts], loads.day_kw.size)
    # season and weekday never fit to the last watt: what lies within the account's own least step is no level
    layers = layers_of(levels - ground, found.least_step_kw if found.other_load else least_kw)
    spans = [(layer, int(edges[layer.first]), int(edges[layer.beyond or starts.size])) for layer in layers]
    burning: list[Burning] = []
    expected = np.interp(np.arange(loads.day_kw.size), known, usual) + ground
    for layer, first, beyond in spans:
        if _lighting_explains(loads.switch_kw, spans, layer, found.noise, found.other_load):
            burning.append(Burning(first, beyond, layer.size_kw, layer.first == 0, layer.beyond is None))
        else:
            expected[first:beyond] += layer.size_kw
    if found.other_load:
        expected, burning = _levelled(loads.day_kw, expected, burning)
    return replace(found, expected_kw=expected, burning=tuple(burning))


def _levelled(day_kw: Floats, expected: Floats, burning: list[Burning]) -> tuple[Floats, list[Burning]]:
    """The expected load of each stretch as it is in the month before and after, and its step above that."""
    burns = np.zeros(day_kw.size, dtype=bool)
    for one in burning:
        burns[one.first : one.beyond] = True
    quiet = np.where(burns, np.nan, day_kw - expected)
    levelled, kept = expected.copy(), []
    for one in burning:
        beside = np.concatenate([
            quiet[max(one.first - _FLANK_DAYS, 0) : one.first], quiet[one.beyond : one.beyond + _FLANK_DAYS],
        ])  # fmt: skip
        offset = float(np.nanmedian(beside)) if np.isfinite(beside).any() else 0.0
        levelled[one.first : one.beyond] = expected[one.first : one.beyond] + offset
        kept.append(replace(one, size_kw=max(one.size_kw - offset, one.size_kw / 2)))
    return levelled, kept


def seasonal_load(day_number: npt.NDArray[np.int64], day_kw: Floats) -> Floats:
    """The load by day that weekday and season explain, by a robust regression (Huber's, statsmodels): the weekdays, and
    two harmonics of the year where the data cover most of one."""
    angle = 2 * np.pi * day_number / 365.2425
    weekdays = np.eye(7)[(day_number + 3) % 7]
    harmonics = (
        [wave(k * angle) for k in (1, 2) for wave in (np.cos, np.sin)] if np.ptp(day_number) >= 300 else []
    )
    design = np.column_stack([weekdays[:, weekdays.any(axis=0)], *harmonics])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)  # a load without any noise fits perfectly
        fitted = sm.RLM(day_kw, design, M=sm.robust.norms.HuberT()).fit()
    return np.asarray(fitted.fittedvalues, dtype=np.float64)


def _ground(levels: Floats, starts: npt.NDArray[np.int64], days: int, dark: Flags, least_kw: float) -> float:
    """The level of nothing burning: the lowest that holds a week, and all within the least step of it."""
    counts = np.diff(np.append(starts, days))
    alive = np.add.reduceat(~dark, starts) > counts / 2
    held = alive & (counts >= _LEAST_DAYS_OF_A_LEVEL)
    chosen = held if held.any() else np.ones(levels.size, dtype=bool)
    near = chosen & (levels < levels[chosen].min() + least_kw)
    return float(np.average(levels[near], weights=counts[near]))


def _lighting_explains(
    switch_kw: Floats, spans: list[tuple[Layer, int, int]], layer: Layer, noise: Noise, other_load: bool
) -> bool:
    """Whether the switching step fell with this layer, the other layers' falls put back.

    On an account of lighting alone a layer is refused only where the step plainly did not fall; on one with other
    load it must plainly have fallen.
    """
    whole = switch_kw.copy()
    inside = np.zeros(switch_kw.size, dtype=bool)
    for other, first, beyond in spans:
        if other is layer:
            inside[first:beyond] = True
        else:
            whole[first:beyond] += other.size_kw
    within = whole[inside]
    at = np.flatnonzero(inside)
    low, high = max(at[0] - _FLANK_DAYS, 0), at[-1] + _FLANK_DAYS + 1
    beside = np.concatenate([whole[low : at[0]], whole[at[-1] + 1 : high]])
    within, beside = within[np.isfinite(within)], beside[np.isfinite(beside)]
    if beside.size < _FEWEST_FLANK_DAYS or within.size < 2:
        return not other_load
    fall = float(np.median(beside) - np.median(within))
    error = 2 * float(np.hypot(_error(within, noise), _error(beside, noise)))
    if other_load:
        return fall >= _AGREES * layer.size_kw and fall > error
    return fall + error >= _AGREES * layer.size_kw


def _error(values: Floats, noise: Noise) -> float:
    """Standard error of a median [kW]."""
    spread = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    return 1.2533 * max(spread, noise.sd_kw / 2) / float(np.sqrt(values.size))


def _median(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0
