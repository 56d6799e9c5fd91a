"""Where the lighting of each account stands, and when it should be off there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.energy.instants import utc_seconds_from_local
from pipeline.energy.schedule import LitSchedule, lit_schedule
from pipeline.settings import Assumptions
from pipeline.store import Store

_WITHIN_KM = 200.0  # farther apart, the sun sets some ten minutes apart
_KM_PER_DEGREE = 111.2
NO_SITE = "no site names it as its account: add account_id to sites.csv or fixtures.csv"
NO_COORDINATES = "none of its sites has coordinates, so its daylight is unknown"
SEVERAL_ZONES = "its sites lie in several time zones"
FAR_APART = "its sites lie more than 200 km apart, so they have no daylight in common"


@dataclass(frozen=True)
class AccountPlace:
    """An account with readings: its sites, its zone, the middle of its sites, and why it cannot be searched."""

    account_id: str
    sites: tuple[str, ...]
    time_zone: str
    latitude: float
    longitude: float
    refused: str = ""


def account_places(store: Store) -> list[AccountPlace]:
    """Every account with a reading that is used, in order."""
    rows = store.frame(
        """
        SELECT a.account_id, z.time_zone AS account_zone, s.site_id, s.latitude, s.longitude, s.time_zone
        FROM (SELECT DISTINCT account_id FROM meter_readings WHERE reason IS NULL) a
        JOIN account_zones z USING (account_id)
        LEFT JOIN account_sites USING (account_id)
        LEFT JOIN sites s USING (site_id)
        ORDER BY a.account_id, s.site_id
        """
    )
    return [_place(str(account), sites) for account, sites in rows.groupby("account_id")]


def _place(account: str, sites: pd.DataFrame) -> AccountPlace:
    named, known = sites.dropna(subset="site_id"), sites.dropna(subset=["latitude", "longitude"])
    latitude, longitude = float(known["latitude"].mean()), float(known["longitude"].mean())
    apart_km = _KM_PER_DEGREE * np.hypot(
        known["latitude"] - latitude, (known["longitude"] - longitude) * np.cos(np.radians(latitude))
    )
    if named.empty:
        refused = NO_SITE
    elif known.empty:
        refused = NO_COORDINATES
    elif named["time_zone"].nunique() > 1:
        refused = SEVERAL_ZONES
    else:
        refused = FAR_APART if (apart_km > _WITHIN_KM / 2).any() else ""
    zone = str(sites["account_zone"].iloc[0])
    return AccountPlace(account, tuple(named["site_id"]), zone, latitude, longitude, refused)


def off_schedule(place: AccountPlace, first_s: float, last_s: float, assumptions: Assumptions) -> LitSchedule:
    """When lamps of the account should be off, for a span of instants [UTC s]."""
    return lit_schedule(
        place.latitude, place.longitude, first_s, last_s,
        assumptions.lights_on_after_sunset_min, assumptions.lights_off_before_sunrise_min,
    )  # fmt: skip


def solar_days(place: AccountPlace, schedule: LitSchedule) -> pd.DataFrame:
    """The schedule by day, from the middle of one night to that of the next.

    Columns: account_id, day (local date of the middle of its hours off), begins_s, off_s, on_s, ends_s (UTC s), off_at,
    on_at (local wall clock).
    """
    off_s, on_s = schedule.off_at_s, schedule.on_at_s
    night_s = (on_s[:-1] + off_s[1:]) / 2
    frame = pd.DataFrame(
        {"begins_s": night_s[:-1], "off_s": off_s[1:-1], "on_s": on_s[1:-1], "ends_s": night_s[1:]}
    )
    for name in ("off", "on"):
        frame[f"{name}_at"] = _local(frame[f"{name}_s"], place.time_zone)
    frame["day"] = _local((frame["off_s"] + frame["on_s"]) / 2, place.time_zone).dt.normalize()
    return frame.drop_duplicates("day").assign(account_id=place.account_id)


def _local(instants_s: pd.Series, zone: str) -> pd.Series:
    aware = pd.to_datetime(instants_s.round(), unit="s", utc=True).dt.tz_convert(zone)
    return aware.dt.tz_localize(None)


def local_times(instants_s: list[float], zone: str) -> list[pd.Timestamp]:
    """Instants [UTC s] on the wall clock of a zone."""
    return list(_local(pd.Series(instants_s, dtype=float), zone))


def instants(local: pd.Series, zone: str) -> np.ndarray:
    """Wall-clock times as instants [UTC s]."""
    return utc_seconds_from_local(local, zone)
