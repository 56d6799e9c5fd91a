"""How long every site-day of a large portfolio takes, and how far the sun is from pvlib's own algorithm.

``python -m tests.benchmarks.energy_site_days [--sites 5000] [--years 10]``. The sun's apparent place is reckoned once
per day and its geometry once per site; times are printed, never asserted. The reference is pvlib's NREL Solar Position
Algorithm at some of the sites, on days whose sunrise and sunset share a UTC day (else pvlib gives the evening before,
moved by 24 h).
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import pandas as pd
from pvlib import spa

from pipeline.energy import lit_schedule
from pipeline.energy.sun import DELTA_T_S, SECONDS_PER_DAY, ephemeris, sun_times

FIRST = pd.Timestamp("2015-01-01", tz="UTC")
MARGIN_S = 900.0  # nearer to midnight, pvlib may take the place of the sun from the day beside


def main() -> None:
    """Print seconds for all site-days, and the largest difference in sunrise and sunset."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sites", type=int, default=5000)
    parser.add_argument("--years", type=int, default=10)
    parser.add_argument("--sample", type=int, default=12, help="sites compared with pvlib")
    asked = parser.parse_args()
    chance = np.random.default_rng(1)
    places = np.column_stack([chance.uniform(-60, 60, asked.sites), chance.uniform(-180, 180, asked.sites)])
    last = FIRST + pd.DateOffset(years=asked.years)
    began = time.perf_counter()
    hours = [_day_hours(latitude, longitude, last) for latitude, longitude in places]
    took_s = time.perf_counter() - began
    days = (last - FIRST).days
    print(f"{asked.sites:,} sites x {days:,} days = {asked.sites * days:,} site-days in {took_s:.1f} s")
    print(f"mean hours that lamps should be off: {np.mean(hours) / days:.4f} a day")
    errors = np.concatenate([_differences_s(*place, last) for place in places[: asked.sample]])
    print(f"largest difference from pvlib's SPA over {errors.size:,} events: {errors.max():.3f} s")


def _day_hours(latitude: float, longitude: float, last: pd.Timestamp) -> float:
    start, end = FIRST.to_pydatetime(), last.to_pydatetime()
    return float(lit_schedule(latitude, longitude, start, end, 15, 15).day_hours_between(start, end))


def _differences_s(latitude: float, longitude: float, last: pd.Timestamp) -> np.ndarray:
    """Absolute differences of sunrise and sunset from pvlib's [s], where both fall well inside one UTC day."""
    first = int(FIRST.timestamp() // SECONDS_PER_DAY)
    sun = ephemeris(first, first + (last - FIRST).days - 1)
    ours = sun_times(latitude, longitude, sun)
    _, sunrise, sunset = spa.transit_sunrise_sunset(sun.midnight_s, latitude, longitude, DELTA_T_S, 1)
    inside = (sunrise > sun.midnight_s + MARGIN_S) & (sunset < sun.midnight_s + SECONDS_PER_DAY - MARGIN_S)
    pairs = ((ours.sunrise_s, sunrise[inside]), (ours.sunset_s, sunset[inside]))
    return np.concatenate([_gaps(events, theirs) for events, theirs in pairs])


def _gaps(events: np.ndarray, at: np.ndarray) -> np.ndarray:
    """From each reference instant to the nearest of our events [s]; those beyond the ends of ours are left out."""
    at = at[(at > events[0] - 1) & (at < events[-1] + 1)]
    row = np.clip(np.searchsorted(events, at), 1, events.size - 1)
    return np.minimum(np.abs(events[row] - at), np.abs(events[row - 1] - at))


if __name__ == "__main__":
    main()
