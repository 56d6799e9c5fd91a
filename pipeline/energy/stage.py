"""The energy stage: incidents that kept lamps lit by day -> hours, kWh, money and CO2e, month by month."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack

import numpy as np
import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.also_lost import fill_lamp_losses, fill_unlit
from pipeline.energy.costing import bills_behind, costs_of, demand_of, load_steps
from pipeline.energy.factors import fill_factors
from pipeline.energy.measured import at_measured_loads, drawn_factors, measured_energy
from pipeline.energy.month_sums import episode_sums, month_sums
from pipeline.energy.parts import lit_parts, next_day_parts
from pipeline.energy.placing import LEVELS
from pipeline.energy.quantities import energy_kwh
from pipeline.energy.tariff_parts import Billing
from pipeline.energy.told import tell_clocks, tell_loads, tell_schedules
from pipeline.energy.waste_prices import fill_waste_prices
from pipeline.meters.delays import delay_in_force
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Assumptions
from pipeline.store import Store, sql_text

_LIT = "i.symptom = 'day burning' OR (i.symptom = 'wrong time' AND i.burning_shift_h > 0)"
NO_PLACE = "its site has no coordinates that can be used, so its daylight is unknown"
NO_CONTROL = "it is tied to no control, so its load is unknown"
NO_LOAD = "no load with watts is registered behind its control on that day"


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill the tables of burnt energy and its cost, lamp_losses, unlit_episodes, waste_prices, factors_in_force."""
    progress.step("Counting hours lit by day")
    assumptions = portfolio.settings.assumptions
    fill_waste_prices(store, portfolio.settings)
    schedules = list(portfolio.settings.schedules.values())
    fill_unlit(store, assumptions, schedules)
    spans = store.frame(
        sql_text("pipeline.energy", "burn_spans").replace("{chosen}", _LIT),
        {"stale_after_days": assumptions.stale_after_days},
    )
    fill_factors(store, portfolio.settings, _years(store, spans))
    if spans.empty:
        return
    spans["left_out_reason"] = None
    spans.loc[spans["control_id"].isna(), "left_out_reason"] = NO_CONTROL
    spans.loc[spans["latitude"].isna() | spans["longitude"].isna(), "left_out_reason"] = NO_PLACE
    counted = spans[spans["left_out_reason"].isna()]
    bills = bills_behind(store, counted)
    steps, billing = load_steps(store, bills), Billing(bills, portfolio.settings.tariffs)
    noticing, spread = delay_in_force(store, portfolio.settings)
    drawn_with = assumptions.model_copy(update={"detection_delay_spread": spread})
    lit = lit_parts(counted, steps, drawn_with, noticing, billing, schedules)
    measured = measured_energy(store)
    bills = at_measured_loads(bills, steps, lit.frame, measured)
    steps = load_steps(store, bills)
    parts = _with_energy(lit.frame, steps, counted)
    drawn = energy_kwh(parts["connected_w"].to_numpy()[:, None], lit.drawn_hours)
    parts["kwh_draws"] = list(drawn * drawn_factors(parts["incident_id"], measured, drawn.shape[1]))
    loaded = parts.loc[parts["connected_w"] > 0, "incident_id"]
    without_load = ~counted["incident_id"].isin(loaded)
    spans.loc[without_load[without_load].index, "left_out_reason"] = NO_LOAD
    costs = costs_of(store, bills, parts, lit.by_tariff)
    demand = demand_of(store, bills, lit.by_tariff)
    tell_loads(store, parts, costs)
    tell_clocks(store, counted)
    tell_schedules(store, portfolio.settings.schedules)
    spans = _with_next_day(store, spans, bills, steps, billing, assumptions, schedules)
    sites = spans[["incident_id", "site_id"]]
    for table, frame in (("burn_costs", costs), ("burn_demand", demand)):
        store.fill_frame(table, frame.merge(sites, on="incident_id"))
    _fill(store, spans, parts[parts["incident_id"].isin(loaded)])
    fill_lamp_losses(store, parts[parts["incident_id"].isin(loaded)])


def _years(store: Store, spans: pd.DataFrame) -> range:
    """Calendar years of the log and of whatever burnt before its first report."""
    log_from, log_to = store.row("SELECT log_from, log_to FROM build_info")
    if log_from is None or log_to is None:
        return range(0)
    first = min([log_from.year, *spans["onset_high"].dropna().dt.year])
    return range(first, log_to.year + 1)


def _with_energy(parts: pd.DataFrame, steps: pd.DataFrame, spans: pd.DataFrame) -> pd.DataFrame:
    """Parts with the load in place on their days, and what they come to in kWh."""
    about = spans[["incident_id", "site_id", "onset_central", "grid_region"]]
    parts = parts.merge(about, how="left", on="incident_id")  # the order of the parts stays
    parts = parts.merge(steps, how="left", on=["incident_id", "begins"])
    bare = ~(parts["connected_w"] > 0)
    for level in LEVELS:
        hours = parts[f"excess_hours_{level}"]
        parts[f"hours_without_load_{level}"] = hours.where(bare, 0.0)
        parts[f"kwh_{level}"] = energy_kwh(parts["connected_w"], hours)
    return parts


def _with_next_day(
    store: Store,
    spans: pd.DataFrame,
    bills: pd.DataFrame,
    steps: pd.DataFrame,
    billing: Billing,
    assumptions: Assumptions,
    schedules: Sequence[Schedule],
) -> pd.DataFrame:
    """What one more day costs, with the load in place on the log's last day, for incidents still open."""
    last = spans[spans["is_open"] & spans["left_out_reason"].isna()].merge(steps, on="incident_id")
    last = last[
        (last["begins"] < last["closes"]) & (last["closes"] <= last["ends"]) & (last["connected_w"] > 0)
    ]
    parts, by_tariff = next_day_parts(last, assumptions, billing, schedules)
    parts = parts.merge(last[["incident_id", "connected_w"]], on="incident_id").set_index("incident_id")
    kwh = pd.Series(energy_kwh(parts["connected_w"], parts["excess_hours_central"]), index=parts.index)
    costs = costs_of(store, bills, parts.reset_index(), by_tariff)
    cost = costs.groupby("incident_id")["cost_central"].agg(lambda each: each.sum(skipna=False))
    return spans.assign(
        kwh_per_day=spans["incident_id"].map(kwh).astype(float),
        cost_per_day=spans["incident_id"].map(cost.reindex(kwh.index, fill_value=0.0)).astype(float),
    )


def _fill(store: Store, spans: pd.DataFrame, parts: pd.DataFrame) -> None:
    """Months are the sums of their parts and costs, episodes the sums of their months."""
    shown = ["incident_id", "site_id", "control_id", "kwh_per_day", "cost_per_day", "left_out_reason"]
    drawn = month_draws(parts)
    parts = parts.drop(columns="kwh_draws")
    frames = {"parts": parts, "spans": spans[shown], "drawn": drawn}
    with ExitStack() as offered:
        for name, frame in frames.items():
            offered.enter_context(store.frame_as(name, frame))
        for table, sums in (("burn_months", month_sums()), ("burn_episodes", episode_sums())):
            sql = sql_text("pipeline.energy", table)
            for mark, text in sums.items():
                sql = sql.replace(mark, text)
            store.fill(table, sql)


def month_draws(parts: pd.DataFrame) -> pd.DataFrame:
    """The draws of each incident's months, added up over its stretches of load: incident_id, month, kwh_draws."""
    ordered = parts.sort_values(["incident_id", "month"], kind="stable")
    months = ordered[["incident_id", "month"]].reset_index(drop=True)
    first = np.flatnonzero(~months.duplicated())
    if not first.size:
        return months.assign(kwh_draws=None)
    sums = np.add.reduceat(np.stack(ordered["kwh_draws"].tolist()), first, axis=0)
    return months.iloc[first].assign(kwh_draws=[row.astype(np.float32) for row in sums])
