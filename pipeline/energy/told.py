"""What a person must know of the loads that energy was reckoned with: unpriced, of unknown watts, or not on record."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.instants import doubtful_clock_times
from pipeline.numerals import count_text
from pipeline.store import Store

_MOST_SITES = 8
_TIMES = ("onset_low", "restored_low", "restored_central", "restored_high")  # as calls carry them


def tell_loads(store: Store, parts: pd.DataFrame, costs: pd.DataFrame) -> None:
    """Keep a notice for each kind of gap in the loads behind parts of incidents, and in their prices."""
    burning = parts["connected_w"] > 0
    _tell_unpriced(store, costs[costs["metered"].astype(bool) & costs["price_per_kwh"].isna()])
    without_watts = _months(parts[parts["groups_without_watts"] > 0])
    if without_watts:
        store.notice(
            "energy", "fixtures.csv, watts_each",
            f"{_counted(without_watts, 'month')} of day burning with lamps of unknown watts: "
            "the true energy is higher.",
        )  # fmt: skip
    counted = parts["incident_id"].isin(parts.loc[burning, "incident_id"])
    _tell_bare(store, parts[counted & (parts["hours_without_load_high"] > 0)])


def tell_clocks(store: Store, spans: pd.DataFrame) -> None:
    """Times of incidents within an hour that happens twice, or not at all, where clocks change."""
    told = {
        "twice": "lies in the hour that happens twice where clocks go back; the first is meant",
        "skipped": "lies in the hour that is skipped where clocks go forward; the first moment after it is meant",
    }
    found = {name: set[str]() for name in told}
    for zone, part in spans.groupby("time_zone"):
        for time in _TIMES:
            for name, doubtful in zip(told, doubtful_clock_times(part[time], str(zone)), strict=True):
                found[name] |= set(part.loc[doubtful, "incident_id"])
    for name, incidents in found.items():
        if incidents:
            store.notice(
                "energy", "call times",
                f"a time of {_counted(len(incidents), 'incident')} of day burning {told[name]}: it may be an hour out.",
            )  # fmt: skip


def tell_schedules(store: Store, schedules: Mapping[str, Schedule]) -> None:
    """A schedule that names a site which is not there would go unheeded."""
    known = {site for (site,) in store.rows("SELECT site_id FROM sites")}
    for name, schedule in schedules.items():
        unknown = [site for site in schedule.sites if site not in known]
        if unknown:
            store.notice(
                "energy", f"portfolio.toml, schedules.{name}.sites",
                f"{', '.join(repr(site) for site in unknown)} is no site_id of the portfolio: nothing follows this "
                "schedule there. Correct it, or add the site.",
            )  # fmt: skip


def _tell_unpriced(store: Store, unpriced: pd.DataFrame) -> None:
    """Energy without a price: no tariff is named, or none of the tariff's versions is in force yet."""
    without_tariff = unpriced["tariff"].isna()
    remedies = (
        (unpriced[without_tariff], "default_tariff", "name a tariff for the account, or a default"),
        (
            unpriced[~without_tariff],
            "tariffs",
            "the tariff gives no price for those days; add a version that holds then",
        ),
    )
    for rows, setting, remedy in remedies:
        if len(rows):
            kwh = count_text(round(rows["kwh_central"].sum()))
            store.notice(
                "energy", f"portfolio.toml, {setting}",
                f"{_counted(_months(rows), 'month')} of day burning with energy but no price ({kwh} kWh, kept out of "
                f"money): {remedy}.",
            )  # fmt: skip


def _tell_bare(store: Store, bare: pd.DataFrame) -> None:
    """Hours of incidents that are counted, but for part of their span have no load on record."""
    if bare.empty:
        return
    told = _counted(bare["incident_id"].nunique(), "incident")
    low, central, high = (
        count_text(round(bare[f"hours_without_load_{level}"].sum())) for level in ("low", "central", "high")
    )
    store.notice(
        "energy", "fixtures.csv, installed_on and removed_on",
        f"for part of the time no load with watts is on record behind {told} of day burning, at "
        f"{_sites(store, bare['site_id'])}: {central} hours ({low} to {high}) are counted without energy. "
        "If lamps hung there, add them or correct their dates: the true energy is higher.",
    )  # fmt: skip


def _sites(store: Store, site_ids: pd.Series[str]) -> str:
    names: dict[str, str] = dict(
        store.rows("SELECT site_id, coalesce(name || ' (' || site_id || ')', site_id) FROM sites")
    )
    told = sorted(names.get(site, site) for site in site_ids.dropna().unique())
    more = len(told) - _MOST_SITES
    return ", ".join(told[:_MOST_SITES]) + (f" and {count_text(more)} more sites" if more > 0 else "")


def _counted(number: int, thing: str) -> str:
    return f"{count_text(number)} {thing}{'' if number == 1 else 's'}"


def _months(parts: pd.DataFrame) -> int:
    return len(parts[["incident_id", "month"]].drop_duplicates())
