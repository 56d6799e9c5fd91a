"""Inrush of drivers that are switched on together: the combined peak, with and without the supply's own impedance.

A driver's capacitors charge towards the crest of the line. Alone on a stiff supply it draws its stated peak, as if it
had an impedance of crest / peak. Several in parallel share one supply: their impedances lie side by side, that of the
supply before all of them.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

# Peak inrush (A) by steady current (A) of a switched load of electronic drivers: NEMA 410 at 120 V and 277 V, from
# memory and unverified. What rests on it is marked so.
_STEADY_A = (0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 10.0, 12.0, 15.0, 16.0)
_PEAK_A = {
    120: (75.0, 107.0, 144.0, 166.0, 192.0, 221.0, 230.0, 235.0, 239.0, 242.0),
    277: (77.0, 131.0, 205.0, 258.0, 320.0, 370.0, 430.0, 440.0, 458.0, 480.0),
}
NO_PEAK = "driver peak, and watts or voltage for a default, are not known"
ORIGIN = "default by running current, from memory of NEMA 410: unverified"


def default_peak_a(steady_a: float, voltage_v: float) -> float:
    """Peak inrush (A) to suppose of a driver whose own is not known, from its running current (A, above 0).

    Read off the table of the nearer of 120 V and 277 V (in proportion), straight between its points on log scales;
    below its first and above its last point the same slope goes on.
    """
    if not (0 < steady_a < math.inf and 0 < voltage_v < math.inf):
        raise ValueError(f"steady_a {steady_a} and voltage_v {voltage_v} must be numbers above 0")
    nearer = min(_PEAK_A, key=lambda volts: abs(math.log(voltage_v / volts)))
    steady, peak = np.log(_STEADY_A), np.log(_PEAK_A[nearer])
    at = math.log(steady_a)
    if at < steady[0] or at > steady[-1]:
        one, two = (0, 1) if at < steady[0] else (-2, -1)
        slope = (peak[two] - peak[one]) / (steady[two] - steady[one])
        return float(math.exp(peak[one] + slope * (at - steady[one])))
    return float(math.exp(np.interp(at, steady, peak)))


def source_limited_peak_a(sum_of_peaks_a: float, voltage_v: float, source_impedance_mohm: float) -> float:
    """Combined peak (A) behind a supply of so many milliohms: crest / (source + crest / sum of the peaks).

    Never above the plain sum, nor above crest / source. All as resistances, switched at the crest: the worst instant.
    """
    if not (sum_of_peaks_a >= 0 and 0 < voltage_v < math.inf and source_impedance_mohm >= 0):
        raise ValueError("peaks and impedance must be 0 or more, and voltage_v above 0")
    crest_v = voltage_v * math.sqrt(2)
    return sum_of_peaks_a / (1 + sum_of_peaks_a * source_impedance_mohm / 1000 / crest_v)


def driver_peaks(groups: pd.DataFrame) -> pd.DataFrame:
    """Fixture groups with drivers (rows of ``driver_groups``) with what their drivers draw together.

    Adds ``peak_a`` (A; the drivers' peaks added up, NaN where nothing gives one), ``unverified`` (a peak is the default
    by running current, or the drivers are not counted) and ``supposed`` (the same in words; '' where all is known).
    """
    numbers = ["drivers", "peak_a_each", "watts_each", "voltage_v"]
    groups = groups.assign(**{name: groups[name].astype(float) for name in numbers})
    stated, counted = groups["peak_a_each"].notna(), ~groups["drivers_supposed"].astype(bool)
    can = ~stated & (groups["watts_each"] > 0) & (groups["voltage_v"] > 0)
    each = groups["peak_a_each"].copy()
    each[can] = _defaults(groups.loc[can, "watts_each"], groups.loc[can, "voltage_v"])
    peak_said = np.where(stated, "", np.where(can, f"driver peak is a {ORIGIN}", NO_PEAK))
    drivers_said = np.where(counted, "", "drivers are not counted: one for each luminaire is supposed")
    supposed = ["; ".join(filter(None, said)) for said in zip(drivers_said, peak_said, strict=True)]
    return groups.assign(peak_a=each * groups["drivers"], unverified=~(stated & counted), supposed=supposed)


def _defaults(watts: pd.Series[float], volts: pd.Series[float]) -> list[float]:
    """Default peaks (A) of drivers of so many watts at so many volts; power factor taken as 1."""
    found: dict[tuple[float, float], float] = {}
    for pair in zip(watts, volts, strict=True):
        if pair not in found:
            found[pair] = default_peak_a(pair[0] / pair[1], pair[1])
    return [found[pair] for pair in zip(watts, volts, strict=True)]
