"""The payback stage: repair like for like against replacing all now with a rated control, site by site."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from pipeline.keys import joined
from pipeline.numerals import counted
from pipeline.payback.cases import (
    CASES,
    PRESENT,
    RATED,
    Failures,
    failures_by_case,
    joined_limits,
    two_sided_lives,
)
from pipeline.payback.failure_costs import left_out, notices, with_failure_costs
from pipeline.payback.flows import LIKE_FOR_LIKE, REPLACE_NOW, Floats, YearlyCosts, yearly_costs
from pipeline.payback.life_cycle import LifeCycleCost, life_cycle_cost
from pipeline.payback.lives_in_use import LivesInUse
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

GROUP = ["site_id", "kind", "model"]


def run(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Fill options and cash_flows."""
    progress.step("Weighing replacement against repair")
    settings = portfolio.settings
    controls = store.frame(sql_text("pipeline.payback", "present_controls"))
    unnamed = store.value("SELECT sum(quantity) FROM lives WHERE end_reason = 'in service' AND kind IS NULL")
    if unnamed:
        store.notice(
            "payback",
            "controls.csv",
            f"no option is priced for {counted(int(unnamed), 'control')} in service of unknown kind.",
        )
    controls, without = _with_lives(controls, LivesInUse(store), settings)
    if without:
        store.notice(
            "payback",
            "life_fits",
            f"no option is priced for {counted(without, 'control')} in service without a fitted life.",
        )
    if controls.empty:
        return
    controls = with_failure_costs(controls, store, settings)
    for place, sentence in notices(controls, settings):
        store.notice("payback", place, sentence)
    failures = failures_by_case(controls, settings.payback.years)
    options, flows = [], []
    groups = list(controls.groupby(GROUP, sort=True).indices.items())
    for number, (group, rows) in enumerate(groups, start=1):
        for option, flow in _options(group, controls.iloc[rows], rows, failures, settings):
            options.append(option)
            flows.append(flow)
        progress.share(number, len(groups))
    store.fill_frame("options", pd.DataFrame(options))
    paid = [flow for flow in flows if not flow.empty]
    if paid:
        store.fill_frame("cash_flows", pd.concat(paid))


def _with_lives(controls: pd.DataFrame, lives: LivesInUse, settings: Settings) -> tuple[pd.DataFrame, int]:
    """Each row with the life of its controls and of the rated ones; rows without any fit are left out, counted."""
    present, rated = [], []
    for row in controls.to_dict("records"):
        lamp = None if pd.isna(row["lamp"]) else row["lamp"]
        life = lives.present(row["kind"], row["model"], lamp)
        present.append(life)
        rated.append(life and lives.rated(row["kind"], lamp, life, settings.payback.rated_life_ratio))
    controls = controls.assign(present=pd.Series(present, dtype=object), rated=pd.Series(rated, dtype=object))
    known = controls["present"].notna()
    return controls[known].reset_index(drop=True), int(controls.loc[~known, "controls"].sum())


def _options(
    group: Any,
    controls: pd.DataFrame,
    rows: Any,
    failures: Failures,
    settings: Settings,
) -> Iterator[tuple[dict[str, Any], pd.DataFrame]]:
    """The options of one site and group with their cash flows. A group that is rated already has only the first."""
    site_id, kind, model = group
    kept, renewed = (
        {
            (moved, case): _flow(controls, failures[option, moved, case][rows], option, settings)
            for moved in (PRESENT, RATED)
            for case in CASES
        }
        for option in (LIKE_FOR_LIKE, REPLACE_NOW)
    )
    main = PRESENT, ""
    about: dict[str, Any] = {
        "site_id": site_id,
        "kind": kind,
        "model": model,
        "controls": int(controls["controls"].sum()),
        "connected_w": float(controls["connected_w"].sum()) or None,
        "controls_without_energy": int(controls["without_energy"].sum()),
        "years": settings.payback.years,
        "discount_rate": settings.payback.discount_rate_percent / 100,
    }
    years, rate = settings.payback.years, about["discount_rate"]
    row = _row(about, LIKE_FOR_LIKE, controls, rows, failures, settings)
    base = {key: flow.frame() for key, flow in kept.items()}
    if kept[main].maintenance is not None:
        row["lcc"] = life_cycle_cost(base[main], base[main], years, rate).base_lcc
    yield row, _keyed(about, LIKE_FOR_LIKE, base[main])
    priced = kind in settings.prices.rated_control_cost and kind in settings.prices.control_cost
    if not priced or set(controls["switching"]) == {"zero-cross"}:
        return
    results = {key: life_cycle_cost(base[key], flow.frame(), years, rate) for key, flow in renewed.items()}
    row = _row(about, REPLACE_NOW, controls, rows, failures, settings) | _measures(results)
    if not two_sided_lives(controls):
        row["net_savings_lower"] = None
    row["investment"] = renewed[main].investment
    yield row, _keyed(about, REPLACE_NOW, renewed[main].frame())


def _flow(controls: pd.DataFrame, failures: Floats, option: str, settings: Settings) -> YearlyCosts:
    """Yearly costs of one option for one group, its rows of load and age added up."""
    prices, kind = settings.prices, controls["kind"].iloc[0]
    rated = option == REPLACE_NOW
    control_cost = (prices.rated_control_cost if rated else prices.control_cost).get(kind)
    repair_cost = None if control_cost is None else float(prices.repair_visit_cost + control_cost)
    planned_cost = float(prices.planned_replacement_labour_cost + (control_cost or 0))
    return yearly_costs(
        failures,
        repair_cost,
        controls["wasted_kwh"].to_numpy(),
        controls["price_per_kwh"].to_numpy(),
        investment=float(controls["controls"].sum()) * planned_cost if rated else 0.0,
    )


def _row(
    about: dict[str, Any],
    option: str,
    controls: pd.DataFrame,
    rows: Any,
    failures: Failures,
    settings: Settings,
) -> dict[str, Any]:
    counts = {
        (moved, case): float(failures[option, moved, case][rows].sum())
        for moved in (PRESENT, RATED)
        for case in CASES
    }
    lower, upper = joined_limits(counts)
    kwh = controls["wasted_kwh"] * failures[option, PRESENT, ""][rows].sum(axis=1)
    return about | {
        "option_id": _option_id(about, option),
        "option": option,
        "investment": 0.0,
        "expected_failures": counts[PRESENT, ""],
        "expected_failures_lower": lower if two_sided_lives(controls) else None,
        "expected_failures_upper": upper,
        "kwh": _known_sum(kwh),
        "co2e_kg": _known_sum(kwh * controls["kg_co2e_per_kwh"]),
        "basis": " ".join([_basis(controls, option), *left_out(controls, settings)]),
    }


def _known_sum(values: pd.Series[float]) -> float | None:
    """Sum of what is known; None where nothing is."""
    return None if values.isna().all() else float(values.sum())


def _basis(controls: pd.DataFrame, option: str) -> str:
    """Where the lives reckoned with come from: the present controls', and the new ones' where they are replaced."""
    present = "; ".join(dict.fromkeys(life.source for life in controls["present"]))
    if option == LIKE_FOR_LIKE:
        return f"Present controls: {present}."
    rated = "; ".join(dict.fromkeys(life.source for life in controls["rated"]))
    return f"Present controls: {present}. New controls: {rated}."


def _measures(results: dict[tuple[str, str], LifeCycleCost]) -> dict[str, Any]:
    main = results[PRESENT, ""]
    lower, upper = joined_limits({key: result.net_savings for key, result in results.items()})
    return {
        "lcc": main.alternative_lcc,
        "net_savings": main.net_savings,
        "net_savings_lower": lower,
        "net_savings_upper": upper,
        "sir": main.sir,
        "airr": main.airr,
        "irr": main.irr,
        "simple_payback_years": main.simple_payback_years,
        "discounted_payback_years": main.discounted_payback_years,
    }


def _option_id(about: dict[str, Any], option: str) -> str:
    return joined(about["site_id"], about["kind"], about["model"], option)


def _keyed(about: dict[str, Any], option: str, flow: pd.DataFrame) -> pd.DataFrame:
    return flow.assign(option_id=_option_id(about, option))
