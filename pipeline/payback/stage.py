"""The payback stage: repair like for like against replacing all now with a rated control, site by site."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import gamma

from pipeline.keys import joined
from pipeline.numerals import counted
from pipeline.payback.failure_costs import left_out, notices, with_failure_costs
from pipeline.payback.flows import LIKE_FOR_LIKE, REPLACE_NOW, Floats, YearlyCosts, yearly_costs
from pipeline.payback.life_cycle import LifeCycleCost, life_cycle_cost
from pipeline.payback.lives_in_use import LifeInUse, LivesInUse
from pipeline.payback.renewal import DAYS_PER_YEAR, expected_failures_by_row
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

GROUP = ["site_id", "kind", "model"]
# Each case takes a fitted scale at its estimate or at one of its limits: a longer life makes fewer failures.
CASES = {"": "scale_days", "_lower": "scale_days_upper", "_upper": "scale_days_lower"}
# Whose fit a case moves, the other's staying at its estimate. They are fits to different controls, so their errors are
# taken as independent and joined by the root of the sum of squares.
PRESENT, RATED = "present", "rated"
Failures = dict[tuple[str, str, str], Floats]  # by option, whose fit is moved, and case


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
    failures = _failures_by_case(controls, settings.payback.years)
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


def _failures_by_case(controls: pd.DataFrame, years: int) -> Failures:
    """Expected failures of each option with either fit at its estimate or a limit. Cases in which nothing moves are
    worked out once."""
    found: Failures = {}
    worked_out: dict[tuple[str, bytes], Floats] = {}
    for option, moved, case in product((LIKE_FOR_LIKE, REPLACE_NOW), (PRESENT, RATED), CASES):
        lives = [_life(row, option, moved, case) for row in controls[["present", "rated"]].itertuples()]
        shape = np.array([life.shape for life, _ in lives])
        scale_days = np.array([scale for _, scale in lives])
        key = option, scale_days.tobytes()
        if key not in worked_out:
            worked_out[key] = _failures(controls, option, shape, scale_days, years)
        found[option, moved, case] = worked_out[key]
    return found


def _failures(controls: pd.DataFrame, option: str, shape: Floats, scale_days: Floats, years: int) -> Floats:
    """Expected failures by row of controls and year; a control of unknown age fails at its long-run rate."""
    ages = controls["age_days"].astype(float).to_numpy()
    if option == REPLACE_NOW:
        ages = np.zeros(len(controls))
    quantities = controls["controls"].to_numpy(dtype=float)
    known = ~np.isnan(ages)
    failures = np.empty((len(controls), years))
    failures[known] = expected_failures_by_row(
        shape[known], scale_days[known], ages[known], quantities[known], years
    )
    mean_life_days = scale_days * gamma(1 + 1 / shape)
    failures[~known] = (quantities * DAYS_PER_YEAR / mean_life_days)[~known, None]
    return failures


def _life(row: Any, option: str, moved: str, case: str) -> tuple[LifeInUse, float]:
    """The life that an option's controls have in a case. A rated life fitted to data has limits of its own; one
    assumed as a multiple moves with the present life that it is a multiple of."""
    life = row.present if option == LIKE_FOR_LIKE else row.rated
    whose = PRESENT if option == LIKE_FOR_LIKE or life.assumed else RATED
    return life, getattr(life, CASES[case] if whose == moved else "scale_days")


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
    if not _two_sided(controls):
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
    lower, upper = _joined_limits(counts)
    kwh = controls["wasted_kwh"] * failures[option, PRESENT, ""][rows].sum(axis=1)
    return about | {
        "option_id": _option_id(about, option),
        "option": option,
        "investment": 0.0,
        "expected_failures": counts[PRESENT, ""],
        "expected_failures_lower": lower if _two_sided(controls) else None,
        "expected_failures_upper": upper,
        "kwh": _known_sum(kwh),
        "co2e_kg": _known_sum(kwh * controls["kg_co2e_per_kwh"]),
        "basis": " ".join([_basis(controls, option), *left_out(controls, settings)]),
    }


def _joined_limits(values: dict[tuple[str, str], float]) -> tuple[float, float]:
    """Limits of a figure from its values with either fit at its limits, the fits' errors taken as independent."""
    main = values[PRESENT, ""]
    spreads = [[values[moved, case] - main for case in CASES] for moved in (PRESENT, RATED)]
    return (
        main - math.hypot(*(min(spread) for spread in spreads)),
        main + math.hypot(*(max(spread) for spread in spreads)),
    )


def _two_sided(controls: pd.DataFrame) -> bool:
    """Whether the present life is bounded from above: a borrowed shape leaves open how few may fail."""
    return all(life.two_sided for life in controls["present"])


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
    lower, upper = _joined_limits({key: result.net_savings for key, result in results.items()})
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
