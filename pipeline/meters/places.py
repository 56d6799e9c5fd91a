"""Where the lighting of each account stands, and when it should be off there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.energy.instants import utc_seconds_from_local
from pipeline.energy.placing import schedule_at
from pipeline.energy.schedule import LitSchedule, off_in_all
from pipeline.energy.sun import SECONDS_PER_DAY
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

_WITHIN_KM = 200.0  # farther apart, the sun sets some ten minutes apart
_KM_PER_DEGREE = 111.2
NO_SITE = "no site names it as its account: add account_id to sites.csv or fixtures.csv"
NO_COORDINATES = "none of its sites has coordinates, so its daylight is unknown"
SEVERAL_ZONES = "its sites lie in several time zones"
NEVER_OFF = "by the timetables of its lamps there is no day on which all of them should be off"
FAR_APART = "its sites lie more than 200 km apart, so they have no daylight in common"


_LONGEST_OFF_S = 36 * 3_600.0


@dataclass(frozen=True)
class AccountPlace:
    """An account with readings: its sites, the site and kind of control (None: unknown) of each of its lamps, its zone,
    the middle of its sites, and why it cannot be searched."""

    account_id: str
    sites: tuple[str, ...]
    lamps: tuple[tuple[str, str | None], ...]
    time_zone: str
    latitude: float
    longitude: float
    refused: str = ""


def account_places(store: Store) -> list[AccountPlace]:
    """Every account with a reading that is used, in order."""
    rows = store.frame(sql_text("pipeline.meters", "account_places"))
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
    lamps = tuple(
        (site, kind)
        for site, kinds in zip(named["site_id"], named["kinds"], strict=True)
        for kind in (list(kinds) or [None])
    )
    return AccountPlace(account, tuple(named["site_id"]), lamps, zone, latitude, longitude, refused)


def off_schedule(place: AccountPlace, first_s: float, last_s: float, settings: Settings) -> LitSchedule:
    """When all lamps of the account should be off, by their timetables or the sun, for a span of instants [UTC s]."""
    held = {
        tuple(schedule for schedule in settings.schedules.values() if schedule.holds_for(*lamp))
        for lamp in place.lamps
    }
    where = place.latitude, place.longitude, place.time_zone, first_s, last_s, settings.assumptions
    return off_in_all([schedule_at(*where, own) for own in held])


def off_days(place: AccountPlace, schedule: LitSchedule, settings: Settings) -> pd.DataFrame:
    """The schedule by day, from the middle of one night to that of the next.

    Where lamps should be off several times a day, the time that holds most daylight stands for the day.
    Columns: account_id, day (local date of the middle of its hours off), begins_s, off_s, on_s, ends_s (UTC s), off_at,
    on_at (local wall clock).
    """
    off_s, on_s = _day_by_day(schedule)
    night_s = (on_s[:-1] + off_s[1:]) / 2
    frame = pd.DataFrame(
        {"begins_s": night_s[:-1], "off_s": off_s[1:-1], "on_s": on_s[1:-1], "ends_s": night_s[1:]}
    )
    frame = frame[frame["on_s"] > frame["off_s"]]
    for name in ("off", "on"):
        frame[f"{name}_at"] = _local(frame[f"{name}_s"], place.time_zone)
    frame["day"] = _local((frame["off_s"] + frame["on_s"]) / 2, place.time_zone).dt.normalize()
    if frame["day"].duplicated().any():
        frame = _lightest(frame, place, settings)
    return frame.assign(account_id=place.account_id)


def _day_by_day(schedule: LitSchedule) -> tuple[np.ndarray, np.ndarray]:
    """Switching off and on [UTC s]; a time off of several days is cut into days, with nights of no length between."""
    off_s, on_s = schedule.off_at_s, schedule.on_at_s
    long = on_s - off_s > _LONGEST_OFF_S
    pieces = np.where(long, np.rint((on_s - off_s) / SECONDS_PER_DAY), 1).astype(int)
    span = np.repeat(np.arange(off_s.size), pieces)
    number = np.arange(span.size) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    length_s = ((on_s - off_s) / pieces)[span]
    return off_s[span] + number * length_s, off_s[span] + (number + 1) * length_s


def _lightest(frame: pd.DataFrame, place: AccountPlace, settings: Settings) -> pd.DataFrame:
    """Of each day the time off with most daylight; of equal ones the longest."""
    first_s, last_s = float(frame["off_s"].min()), float(frame["on_s"].max())
    sun = schedule_at(place.latitude, place.longitude, place.time_zone, first_s, last_s, settings.assumptions)
    light_hours = sun.day_hours_between(frame["off_s"].to_numpy(), frame["on_s"].to_numpy())
    ranked = frame.assign(light_hours=light_hours, length_s=frame["on_s"] - frame["off_s"])
    ranked = ranked.sort_values(["day", "light_hours", "length_s"], ascending=[True, False, False])
    return ranked.drop_duplicates("day").drop(columns=["light_hours", "length_s"]).sort_values("off_s")


def _local(instants_s: pd.Series, zone: str) -> pd.Series:
    aware = pd.to_datetime(instants_s.round(), unit="s", utc=True).dt.tz_convert(zone)
    return aware.dt.tz_localize(None)


def local_times(instants_s: list[float], zone: str) -> list[pd.Timestamp]:
    """Instants [UTC s] on the wall clock of a zone."""
    return list(_local(pd.Series(instants_s, dtype=float), zone))


def instants(local: pd.Series, zone: str) -> np.ndarray:
    """Wall-clock times as instants [UTC s]."""
    return utc_seconds_from_local(local, zone)
