"""Each account's readings searched for day burning -> meter_accounts, meter_days and meter_episodes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from pipeline.energy.meter_energy import MeasuredEnergy, measured_energies
from pipeline.energy.meter_search import DailyLoads, Found, search
from pipeline.meters.edges import WINDOW_DAYS, AccountDays, Moment, moments
from pipeline.meters.places import (
    NEVER_OFF,
    AccountPlace,
    account_places,
    local_times,
    off_days,
    off_schedule,
)
from pipeline.numerals import count_text
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

_PACKAGE = "pipeline.meters"
_MOST_TOLD = 8


@dataclass(frozen=True)
class _Account:
    """An account that can be searched, with its days and what was found."""

    place: AccountPlace
    days: AccountDays
    found: Found


def find_episodes(store: Store, settings: Settings, progress: Progress) -> None:
    """Fill meter_hours, meter_days, meter_accounts and meter_episodes from the view meter_readings."""
    progress.step("Searching meter readings for day burning")
    store.fill("meter_hours", sql_text(_PACKAGE, "meter_hours"))
    places, calendars = _calendars(store, settings)
    loads = _daily_loads(store, calendars, settings)
    accounts = []
    for done, place in enumerate(places):
        progress.share(done, len(places))
        days = loads.get(place.account_id)
        if days is not None:
            accounts.append(_searched(place, days, settings))
    episodes = _episodes(store, accounts)
    _fill_accounts(store, places, accounts)
    _tell_refused(store)
    store.fill_frame("meter_episodes", pd.DataFrame(episodes))


def _calendars(store: Store, settings: Settings) -> tuple[list[AccountPlace], list[pd.DataFrame]]:
    """All accounts, and of each that can be searched the days on which it has readings (``off_days``)."""
    spans = store.rows(
        "SELECT account_id, min(start_s), max(start_s + interval_s) FROM meter_readings"
        " WHERE reason IS NULL GROUP BY ALL"
    )
    span_of = {account: (float(first_s), float(last_s)) for account, first_s, last_s in spans}
    places: list[AccountPlace] = []
    calendars: list[pd.DataFrame] = []
    for place in account_places(store):
        if not place.refused:
            schedule = off_schedule(place, *span_of[place.account_id], settings)
            days = off_days(place, schedule, settings)
            if days.empty:
                place = replace(place, refused=NEVER_OFF)
            else:
                calendars.append(days)
        places.append(place)
    return places, calendars


def _daily_loads(store: Store, calendars: list[pd.DataFrame], settings: Settings) -> dict[str, pd.DataFrame]:
    """Fill meter_days; gives each account's days without a gap in the calendar."""
    if not calendars:
        return {}
    calendar = pd.concat(calendars, ignore_index=True)
    margin = {"margin_s": settings.meters.margin_min * 60}
    with store.frame_as("calendar", calendar):
        store.run(
            "CREATE OR REPLACE TEMP TABLE account_days AS SELECT * REPLACE (day::DATE AS day) FROM calendar"
        )
    store.run(sql_text(_PACKAGE, "placed_readings").format(**margin))
    store.fill("meter_days", sql_text(_PACKAGE, "meter_days").format(**margin))
    frame = store.frame(sql_text(_PACKAGE, "searched_days"))
    return {str(account): days for account, days in frame.groupby("account_id")}


def _searched(place: AccountPlace, frame: pd.DataFrame, settings: Settings) -> _Account:
    number = frame["day"].to_numpy().astype("datetime64[D]").astype(np.int64)
    loads = [frame[name].to_numpy(dtype=float) for name in ("day_kw", "night_kw", "switch_kw")]
    off_s, on_s = (frame[name].to_numpy(dtype=float) for name in ("off_s", "on_s"))
    found = search(DailyLoads(number, *loads), settings.meters.least_step_kw, settings.meters.least_days)
    return _Account(place, AccountDays(number, off_s, on_s, loads[0]), found)


def _episodes(store: Store, accounts: list[_Account]) -> list[dict[str, Any]]:
    """Onset, end and energy of every stretch; also sets expected_kw and excess_kw of meter_days."""
    readings = _readings_around(store, accounts)
    rows: list[dict[str, Any]] = []
    for account in accounts:
        found, days = account.found, account.days
        near = readings.get(
            account.place.account_id, pd.DataFrame(columns=["day", "start_s", "interval_s", "kw"])
        )
        ends = [moments(days, found, burning, near) for burning in found.burning]
        covered = [_day_span(days, *both, found.other_load) for both in ends]
        energies, excess = measured_energies(
            days.day_kw - found.expected_kw, days.off_hours, covered,
            [burning.size_kw for burning in found.burning], found.noise.long_run_kw,
        )  # fmt: skip
        _set_excess(store, account, excess)
        rows += [_row(account, at, *ends[at], energy) for at, energy in enumerate(energies)]
    return rows


def _readings_around(store: Store, accounts: list[_Account]) -> dict[str, pd.DataFrame]:
    """Readings by day, within a few days of any step, by account."""
    steps = [
        (account.place.account_id, int(account.days.day[min(at, account.days.day.size - 1)]))
        for account in accounts
        if not account.found.other_load
        for burning in account.found.burning
        for at in (burning.first, burning.beyond)
    ]
    if not steps:
        return {}
    frame_of_steps = pd.DataFrame(sorted(set(steps)), columns=["account_id", "day_number"])
    with store.frame_as("steps", frame_of_steps):
        frame = store.frame(sql_text(_PACKAGE, "readings_around"), {"reach": WINDOW_DAYS})
    return {str(account): part for account, part in frame.groupby("account_id")}


def _day_span(days: AccountDays, begun: Moment, ended: Moment, by_day: bool) -> tuple[int, int]:
    """First and last solar day with hours off between onset and end, at least one.

    by_day : onset and end are told by whole days, so that of a day beside them a part may belong to the stretch.
    """
    first = int(np.searchsorted(days.on_s, begun.central_s, side="right"))
    last = int(np.searchsorted(days.off_s, ended.central_s, side="left")) - 1
    first = min(first, days.day.size - 1)
    last = max(first, last)
    return (max(first - 1, 0), min(last + 1, days.day.size - 1)) if by_day else (first, last)


def _row(account: _Account, at: int, begun: Moment, ended: Moment, energy: MeasuredEnergy) -> dict[str, Any]:
    burning, zone = account.found.burning[at], account.place.time_zone
    times = local_times(
        [
            begun.latest_s,
            begun.central_s,
            begun.earliest_s,
            ended.earliest_s,
            ended.central_s,
            ended.latest_s,
        ],
        zone,
    )
    names = [f"{what}_{level}" for what in ("onset", "ended") for level in ("low", "central", "high")]
    return dict(zip(names, times, strict=True)) | {
        "episode_id": f"{account.place.account_id} {times[1]:%Y-%m-%d %H:%M} {at + 1}",
        "account_id": account.place.account_id,
        "begins_before_data": burning.begins_before_data,
        "is_open": burning.is_open,
        "step_kw": burning.size_kw,
        "days": (ended.central_s - begun.central_s) / 86_400,
        "excess_hours": account.days.off_hours_between(begun.central_s, ended.central_s),
        "kwh": energy.kwh,
        "kwh_lower": energy.lower,
        "kwh_upper": energy.upper,
        "filled_hours": energy.filled_hours,
        "found": "never called in",
    }


def _set_excess(store: Store, account: _Account, excess: np.ndarray) -> None:
    frame = pd.DataFrame(
        {
            "day_number": account.days.day,
            "expected_kw": account.found.expected_kw,
            "excess_kw": np.where(np.isfinite(excess), excess, np.nan),
        }
    )
    with store.frame_as("excess", frame):
        store.run(sql_text(_PACKAGE, "set_excess"), {"account_id": account.place.account_id})


def _fill_accounts(store: Store, places: list[AccountPlace], accounts: list[_Account]) -> None:
    found = {account.place.account_id: account.found for account in accounts}
    rows = [_account_row(place, found.get(place.account_id)) for place in places]
    with store.frame_as("searched", pd.DataFrame(rows)):
        store.fill("meter_accounts", sql_text(_PACKAGE, "meter_accounts"))


def _account_row(place: AccountPlace, found: Found | None) -> dict[str, Any]:
    numbers = {
        "standing_kw": found.standing_kw, "night_kw": found.night_kw, "switch_kw": found.switch_kw,
        "noise_kw": found.noise.long_run_kw, "least_step_kw": found.least_step_kw,
    } if found else {}  # fmt: skip
    kept = {name: value for name, value in numbers.items() if np.isfinite(value)}
    names = ("standing_kw", "night_kw", "switch_kw", "noise_kw", "least_step_kw")
    return {
        "account_id": place.account_id,
        "sites": list(place.sites),
        "other_load": found.other_load if found else None,
        "refused": place.refused or (found.refused if found else "") or None,
    } | {name: kept.get(name) for name in names}


def _tell_refused(store: Store) -> None:
    """One sentence for each reason, with the accounts that it concerns."""
    for why, count, accounts in store.rows(
        "SELECT refused, count(*), list(account_id ORDER BY account_id)[:$most] FROM meter_accounts"
        " WHERE refused IS NOT NULL GROUP BY 1 ORDER BY 1",
        {"most": _MOST_TOLD},
    ):
        more = f" and {count_text(count - len(accounts))} more" if count > len(accounts) else ""
        store.notice(
            "meters",
            f"meters/, {'account' if count == 1 else 'accounts'} {', '.join(accounts)}{more}",
            f"no day burning is looked for: {why}.",
        )
