"""The energy stage: incidents that kept lamps lit by day -> hours, kWh, money and CO2e, month by month."""

from __future__ import annotations

from contextlib import ExitStack

import numpy as np
import pandas as pd

from pipeline.energy.parts import LEVELS, lit_parts, next_day_hours
from pipeline.energy.quantities import co2e_kg, cost_of, energy_kwh
from pipeline.energy.regions import factors_by_region
from pipeline.energy.told import tell_loads
from pipeline.noticing import Noticing
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Assumptions, Settings
from pipeline.store import Store, sql_text

QUANTITIES = ("excess_hours", "hours_without_load", "kwh", "cost", "co2e_kg")

NO_PLACE = "its site has no coordinates, so its daylight is unknown"
NO_CONTROL = "it is tied to no control, so its load is unknown"
NO_LOAD = "no load with watts is registered behind its control on that day"


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill burn_months and burn_episodes."""
    progress.step("Counting hours lit by day")
    assumptions = portfolio.settings.assumptions
    spans = store.frame(
        sql_text("pipeline.energy", "burn_spans"), {"stale_after_days": assumptions.stale_after_days}
    )
    if spans.empty:
        return
    spans["left_out_reason"] = None
    spans.loc[spans["control_id"].isna(), "left_out_reason"] = NO_CONTROL
    spans.loc[spans["latitude"].isna() | spans["longitude"].isna(), "left_out_reason"] = NO_PLACE
    counted = spans[spans["left_out_reason"].isna()]
    steps = _load_steps(store, counted)
    lit = lit_parts(counted, steps, assumptions, Noticing.of(portfolio.settings))
    parts = _priced(store, lit.frame, steps, counted, portfolio.settings)
    parts["kwh_draws"] = list(energy_kwh(parts["connected_w"].to_numpy()[:, None], lit.drawn_hours))
    loaded = parts.loc[parts["connected_w"] > 0, "incident_id"]
    without_load = ~counted["incident_id"].isin(loaded)
    spans.loc[without_load[without_load].index, "left_out_reason"] = NO_LOAD
    tell_loads(store, parts)
    spans = _with_next_day(spans, steps, assumptions)
    _fill(store, spans, parts[parts["incident_id"].isin(loaded)])


def _load_steps(store: Store, spans: pd.DataFrame) -> pd.DataFrame:
    """Load and price behind each incident's control, in stretches of days that cover its widest span."""
    asked = spans[["incident_id", "control_id", "units"]].assign(
        first_day=spans["onset_high"],
        last_day=spans[["restored_high", "onset_low", "closes"]].max(axis=1) + pd.Timedelta(days=1),
    )
    with store.frame_as("asked_loads", asked.astype({"incident_id": str, "control_id": str})):
        steps = store.frame(sql_text("pipeline.energy", "burn_loads"))
    for name in ("begins", "ends"):
        steps[name] = pd.to_datetime(steps[name])
    return steps


def _priced(
    store: Store, parts: pd.DataFrame, steps: pd.DataFrame, spans: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """Parts with the load in place on their days, and what they come to in kWh, money and CO2e."""
    about = spans[["incident_id", "site_id", "onset_central", "grid_region"]]
    parts = parts.merge(about, how="left", on="incident_id")  # the order of the parts stays
    parts = parts.merge(steps, how="left", on=["incident_id", "begins"])
    factors, missing = factors_by_region(spans["grid_region"].dropna(), settings)
    for sentence in missing:
        store.notice("energy", "sites.csv, grid_region", sentence)
    factor = parts["grid_region"].map(factors).astype(float)
    bare = ~(parts["connected_w"] > 0)
    price = parts["price_per_kwh"].astype(float).mask(bare, 0.0)  # nothing is known to burn there
    for level in LEVELS:
        hours = parts[f"excess_hours_{level}"]
        kwh = energy_kwh(parts["connected_w"], hours)
        parts[f"hours_without_load_{level}"] = hours.where(bare, 0.0)
        parts[f"kwh_{level}"] = kwh
        parts[f"cost_{level}"] = cost_of(kwh, price)
        parts[f"co2e_kg_{level}"] = co2e_kg(kwh, factor)
    return parts


def _with_next_day(spans: pd.DataFrame, steps: pd.DataFrame, assumptions: Assumptions) -> pd.DataFrame:
    """What one more day costs, with the load in place on the log's last day, for incidents still open."""
    still_open = spans[spans["is_open"] & spans["left_out_reason"].isna()]
    last = still_open[["incident_id", "closes"]].merge(steps, on="incident_id")
    last = last[
        (last["begins"] < last["closes"]) & (last["closes"] <= last["ends"]) & (last["connected_w"] > 0)
    ]
    hours = last["incident_id"].map(next_day_hours(still_open, assumptions))
    kwh = pd.Series(energy_kwh(last["connected_w"], hours), index=last["incident_id"], dtype=float)
    price = last.set_index("incident_id")["price_per_kwh"].astype(float)
    return spans.assign(
        kwh_per_day=spans["incident_id"].map(kwh), cost_per_day=spans["incident_id"].map(kwh * price)
    )


def _fill(store: Store, spans: pd.DataFrame, parts: pd.DataFrame) -> None:
    """Months are the sums of their parts, episodes the sums of their months."""
    names = [f"{quantity}_{level}" for quantity in QUANTITIES for level in LEVELS]
    # A cost that is unknown for a part of a month is unknown for the month.
    month_sums = ",\n".join(
        f"CASE WHEN bool_and({name} IS NOT NULL) THEN sum({name}::DECIMAL(18, 6)) END AS {name}"
        for name in names
    )
    episode_sums = ",\n".join(f"sum(m.{name}::DECIMAL(18, 6)) AS {name}" for name in names)
    shown = ["incident_id", "site_id", "control_id", "kwh_per_day", "cost_per_day", "left_out_reason"]
    drawn = month_draws(parts)
    parts = parts.drop(columns="kwh_draws")
    frames = {"parts": parts, "spans": spans[shown], "drawn": drawn}
    with ExitStack() as offered:
        for name, frame in frames.items():
            offered.enter_context(store.frame_as(name, frame))
        for table, sums in (("burn_months", month_sums), ("burn_episodes", episode_sums)):
            store.fill(table, sql_text("pipeline.energy", table).replace("{sums}", sums))


def month_draws(parts: pd.DataFrame) -> pd.DataFrame:
    """The draws of each incident's months, added up over its stretches of load: incident_id, month, kwh_draws."""
    ordered = parts.sort_values(["incident_id", "month"], kind="stable")
    months = ordered[["incident_id", "month"]].reset_index(drop=True)
    first = np.flatnonzero(~months.duplicated())
    if not first.size:
        return months.assign(kwh_draws=None)
    sums = np.add.reduceat(np.stack(ordered["kwh_draws"].tolist()), first, axis=0)
    return months.iloc[first].assign(kwh_draws=[row.astype(np.float32) for row in sums])
