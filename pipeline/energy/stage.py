"""The energy stage: incidents that kept lamps lit by day -> hours, kWh, money and CO2e, month by month."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

import numpy as np
import pandas as pd

from pipeline.energy.instants import split_by_month, utc_seconds_from_local
from pipeline.energy.quantities import co2e_kg, cost_of, energy_kwh
from pipeline.energy.regions import factors_by_region
from pipeline.energy.schedule import LitSchedule, lit_schedule
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Assumptions, Settings
from pipeline.store import Store, sql_text

LEVELS = ("low", "central", "high")
QUANTITIES = ("excess_hours", "kwh", "cost", "co2e_kg")

NO_PLACE = "its site has no coordinates, so its daylight is unknown"
NO_CONTROL = "it is tied to no control, so its load is unknown"
NO_LOAD = "no load with watts is registered behind its control on that day"


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill burn_months and burn_episodes."""
    progress.step("Counting hours lit by day")
    stale_after_days = portfolio.settings.assumptions.stale_after_days
    spans = store.frame(sql_text("pipeline.energy", "burn_spans"), {"stale_after_days": stale_after_days})
    if spans.empty:
        return
    spans["left_out_reason"] = None
    spans.loc[spans["control_id"].isna(), "left_out_reason"] = NO_CONTROL
    spans.loc[spans["latitude"].isna() | spans["longitude"].isna(), "left_out_reason"] = NO_PLACE
    counted = spans[spans["left_out_reason"].isna()]
    hours = pd.DataFrame([*_hours_by_month(counted, portfolio.settings.assumptions)])
    months = _priced(store, hours, counted, portfolio.settings)
    without_load = set(counted["incident_id"]) - set(months["incident_id"])
    spans.loc[spans["incident_id"].isin(without_load), "left_out_reason"] = NO_LOAD
    store.fill_frame("burn_months", months.drop(columns=["kwh_per_day", "cost_per_day"]))
    _fill_episodes(store, spans, months)


def _hours_by_month(spans: pd.DataFrame, assumptions: Assumptions) -> Iterator[dict[str, Any]]:
    """Excess hours of every incident by local calendar month, low, central and high."""
    places = ["latitude", "longitude", "time_zone"]
    for place, part in spans.groupby(places):
        latitude, longitude, zone = cast("tuple[float, float, str]", place)
        starts = {level: utc_seconds_from_local(part[f"onset_{level}"], zone) for level in LEVELS}
        ends = {level: utc_seconds_from_local(part[f"restored_{level}"], zone) for level in LEVELS}
        closes = utc_seconds_from_local(part["closes"], zone)
        schedule = lit_schedule(
            latitude, longitude, starts["high"].min(), max(closes.max(), ends["high"].max()) + 86_400.0,
            assumptions.lights_on_after_sunset_min, assumptions.lights_off_before_sunrise_min,
        )  # fmt: skip
        next_day = schedule.day_hours_between(closes, closes + 86_400.0)
        yield from _rows(part, schedule, starts, ends, zone, next_day)


def _rows(
    part: pd.DataFrame,
    schedule: LitSchedule,
    starts: dict[str, Any],
    ends: dict[str, Any],
    zone: str,
    next_day_hours: Any,
) -> Iterator[dict[str, Any]]:
    found: dict[tuple[int, Any], dict[str, Any]] = {}
    for level in reversed(LEVELS):  # the widest span first: it has every month
        pieces = split_by_month(starts[level], np.maximum(starts[level], ends[level]), zone)
        lit_hours = schedule.day_hours_between(pieces.start_s, pieces.end_s)
        for span, month, hours in zip(pieces.span, pieces.month, lit_hours, strict=True):
            row = found.setdefault((int(span), month), {f"excess_hours_{name}": 0.0 for name in LEVELS})
            row[f"excess_hours_{level}"] = float(hours)
    incidents = part["incident_id"].to_numpy()
    for (span, month), row in found.items():
        yield {
            "incident_id": incidents[span],
            "month": pd.Timestamp(month),
            "next_day": next_day_hours[span],
        } | row


def _priced(store: Store, hours: pd.DataFrame, spans: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Hours with the load in place that month, and what they come to in kWh, money and CO2e."""
    wanted = [*(f"{quantity}_{level}" for quantity in QUANTITIES for level in LEVELS)]
    columns = ["incident_id", "site_id", "month", "connected_w", *wanted, "kwh_per_day", "cost_per_day"]
    if hours.empty:
        return pd.DataFrame(columns=columns)
    about = spans[["incident_id", "site_id", "control_id", "units", "onset_central", "grid_region"]]
    months = hours.merge(about, on="incident_id")
    months["day"] = months[["month", "onset_central"]].max(axis=1).dt.normalize()
    months = months.merge(_loads(store, months), on=["incident_id", "day"])
    months = months[months["connected_w"] > 0].copy()
    factors, missing = factors_by_region(spans["grid_region"].dropna(), settings)
    for sentence in missing:
        store.notice("energy", "sites.csv, grid_region", sentence)
    factor = months["grid_region"].map(factors).astype(float)
    for level in LEVELS:
        kwh = energy_kwh(months["connected_w"], months[f"excess_hours_{level}"])
        months[f"kwh_{level}"] = kwh
        months[f"cost_{level}"] = cost_of(kwh, months["price_per_kwh"].astype(float))
        months[f"co2e_kg_{level}"] = co2e_kg(kwh, factor)
    months["kwh_per_day"] = energy_kwh(months["connected_w"], months["next_day"])
    months["cost_per_day"] = cost_of(months["kwh_per_day"], months["price_per_kwh"].astype(float))
    return months[columns]


def _loads(store: Store, months: pd.DataFrame) -> pd.DataFrame:
    """Load in watts and price per kWh behind each incident's control, on the days asked for."""
    asked = months[["incident_id", "control_id", "units", "day"]].drop_duplicates()
    with store.frame_as("asked_loads", asked):
        loads = store.frame(sql_text("pipeline.energy", "burn_loads"))
    unpriced = int(loads["price_per_kwh"].isna().sum())
    if unpriced:
        store.notice(
            "energy", "portfolio.toml, default_tariff",
            f"{count_text(unpriced)} months of day burning have energy but no price: "
            "name a tariff for the account, or a default.",
        )  # fmt: skip
    without_watts = int((loads["groups_without_watts"] > 0).sum())
    if without_watts:
        store.notice(
            "energy", "fixtures.csv, watts_each",
            f"{count_text(without_watts)} months of day burning have lamps of unknown watts: "
            "the true energy is higher.",
        )  # fmt: skip
    return loads.assign(day=pd.to_datetime(loads["day"]))


def _fill_episodes(store: Store, spans: pd.DataFrame, months: pd.DataFrame) -> None:
    """Each incident's months summed as decimals, and what one more day costs if it is still open."""
    more = ["kwh_per_day", "cost_per_day"]
    last = months.sort_values("month").groupby("incident_id")[more].last().astype(float)
    still_open = spans["is_open"] & spans["left_out_reason"].isna()
    for name in more:
        spans[name] = spans["incident_id"].map(last[name]).where(still_open)
    sums = ",\n".join(
        f"sum(m.{quantity}_{level}::DECIMAL(18, 6)) AS {quantity}_{level}"
        for quantity in QUANTITIES
        for level in LEVELS
    )
    shown = spans[["incident_id", "site_id", "control_id", *more, "left_out_reason"]]
    with store.frame_as("spans", shown):
        store.fill(
            "burn_episodes",
            f"SELECT s.*, arg_min(m.connected_w, m.month) AS connected_w, {sums}\n"
            "FROM spans s LEFT JOIN burn_months m USING (incident_id)\nGROUP BY ALL",
        )
