"""True excess burning: day hours of a failed-on light, by the sun, and the energy that took.

Computed here with pvlib alone, not with the pipeline, so that the two can be compared.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from demo_data.events import Incident
from demo_data.model import (
    BALLAST_FACTOR_HID,
    LIGHTS_OFF_BEFORE_SUNRISE_MIN,
    LIGHTS_ON_AFTER_SUNSET_MIN,
    LOG_DAYS,
    LOG_START,
)
from demo_data.world import FixtureGroup, Site

ZONE = "America/Denver"
Floats = NDArray[np.float64]


class DayLight:
    """When a site's lights should be off: from a little before sunrise to a little after sunset, local clock."""

    def __init__(self, site: Site) -> None:
        days = pd.date_range(LOG_START, periods=LOG_DAYS + 1, tz=ZONE)
        sun = pvlib.solarposition.sun_rise_set_transit_spa(days, site.latitude, site.longitude)
        start = pd.Timestamp(LOG_START)
        rise, fall = (
            ((sun[name].dt.tz_localize(None) - start) / pd.Timedelta(days=1)).to_numpy(float)
            for name in ("sunrise", "sunset")
        )
        self.off: Floats = rise - LIGHTS_OFF_BEFORE_SUNRISE_MIN / 1440
        self.on: Floats = fall + LIGHTS_ON_AFTER_SUNSET_MIN / 1440

    def hours(self, begins: float, ends: float) -> float:
        """Hours between two days of the log in which the lights should have been off."""
        days = slice(max(int(begins) - 1, 0), int(ends) + 2)
        lit = np.minimum(self.on[days], ends) - np.maximum(self.off[days], begins)
        return float(np.clip(lit, 0.0, None).sum() * 24)


def input_watts(group: FixtureGroup) -> float:
    """Watts of the group at its terminals, ballast included."""
    factor = BALLAST_FACTOR_HID if group.watts_basis == "lamp" and group.lamp in ("HPS", "MH") else 1.0
    return group.luminaires * group.watts_each * factor


def burn_by_year(incident: Incident, light: DayLight) -> dict[int, tuple[float, float, float]]:
    """Day-burning hours, kWh and unmetered kWh of one incident in each calendar year of the log."""
    place = incident.place
    if incident.symptom != "day burning" or place is None:
        return {}
    carrier = place.switched_by or place
    until = LOG_DAYS if incident.restored is None else min(incident.restored, LOG_DAYS)
    found: dict[int, tuple[float, float, float]] = {}
    for year in range(LOG_START.year, LOG_START.year + 8):
        first, last = ((pd.Timestamp(y, 1, 1) - pd.Timestamp(LOG_START)).days for y in (year, year + 1))
        hours = light.hours(max(incident.onset, first), min(until, last))
        kwh = unmetered = 0.0
        for group in carrier.fixtures:
            span = max(incident.onset, first, group.begins), min(until, last, group.ends)
            if span[0] < span[1]:
                part = light.hours(*span) * input_watts(group) / place.quantity / 1000
                kwh += part
                unmetered += part if group.account.endswith("-AREA") else 0.0
        if hours > 0:
            found[year] = hours, kwh, unmetered
    return found
