"""Each account's readings searched for day burning -> meter_accounts, meter_days and meter_episodes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.energy.meter_energy import MeasuredEnergy, measured_energies
from pipeline.energy.meter_search import DailyLoads, Found, search
from pipeline.energy.schedule import LitSchedule
from pipeline.meters.edges import WINDOW_DAYS, AccountDays, Moment, moments
from pipeline.meters.places import AccountPlace, account_places, local_times, off_schedule, solar_days
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
    schedule: LitSchedule
    days: AccountDays
    found: Found


def find_episodes(store: Store, settings: Settings, progress: Progress) -> None:
    """Fill meter_hours, meter_days, meter_accounts and meter_episodes from the view meter_readings."""
    progress.step("Searching meter readings for day burning")
    store.fill("meter_hours", sql_text(_PACKAGE, "meter_hours"))
    places = account_places(store)
    spans = {
        account: (first, last)
        for account, first, last in store.rows(
            "SELECT account_id, min(start_s), max(start_s + interval_s) FROM meter_readings"
            " WHERE reason IS NULL GROUP BY ALL"
        )
    }
    schedules = {
        place.account_id: off_schedule(place, *spans[place.account_id], settings.assumptions)
        for place in places
        if not place.refused
    }
    loads = _daily_loads(store, places, schedules, settings)
    accounts = []
    for done, place in enumerate(places):
        progress.share(done, len(places))
        days = loads.get(place.account_id)
        if days is not None:
            accounts.append(_searched(place, schedules[place.account_id], days, settings))
    episodes = _episodes(store, accounts)
    _fill_accounts(store, places, accounts)
    _tell_refused(store)
    store.fill_frame("meter_episodes", pd.DataFrame(episodes))


def _daily_loads(
    store: Store, places: list[AccountPlace], schedules: dict[str, LitSchedule], settings: Settings
) -> dict[str, pd.DataFrame]:
    """Fill meter_days; gives each account's days without a gap in the calendar."""
    if not schedules:
        return {}
    calendar = pd.concat(
        [solar_days(place, schedules[place.account_id]) for place in places if not place.refused],
        ignore_index=True,
    )
    margin = {"margin_s": settings.meters.margin_min * 60}
    with store.frame_as("calendar", calendar):
        store.run(
            "CREATE OR REPLACE TEMP TABLE account_days AS SELECT * REPLACE (day::DATE AS day) FROM calendar"
        )
    store.run(sql_text(_PACKAGE, "solar_days").format(**margin))
    store.fill("meter_days", sql_text(_PACKAGE, "meter_days").format(**margin))
    frame = store.frame(sql_text(_PACKAGE, "searched_days"))
    return {str(account): days for account, days in frame.groupby("account_id")}


def _searched(
    place: AccountPlace, schedule: LitSchedule, frame: pd.DataFrame, settings: Settings
) -> _Account:
    number = frame["day"].to_numpy().astype("datetime64[D]").astype(np.int64)
    loads = [frame[name].to_numpy(dtype=float) for name in ("day_kw", "night_kw", "switch_kw")]
    off_s, on_s = (frame[name].to_numpy(dtype=float) for name in ("off_s", "on_s"))
    found = search(DailyLoads(number, *loads), settings.meters.least_step_kw, settings.meters.least_days)
    return _Account(place, schedule, AccountDays(number, off_s, on_s, loads[0]), found)


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
    hours = account.schedule.day_hours_between(begun.central_s, ended.central_s)
    return dict(zip(names, times, strict=True)) | {
        "episode_id": f"{account.place.account_id} {times[1]:%Y-%m-%d %H:%M} {at + 1}",
        "account_id": account.place.account_id,
        "begins_before_data": burning.begins_before_data,
        "is_open": burning.is_open,
        "step_kw": burning.size_kw,
        "days": (ended.central_s - begun.central_s) / 86_400,
        "excess_hours": float(hours),
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
