"""Headline figures of day burning: what burns now, and the energy wasted with its cost and emissions."""

from __future__ import annotations

import pandas as pd

from pipeline.figures.activity import burning_now, open_without_symptom
from pipeline.figures.carbon import market_based
from pipeline.figures.delays import delay_text
from pipeline.figures.energy import energy_by, energy_left_out
from pipeline.figures.facts import Facts
from pipeline.figures.figure import Figure, known, missing
from pipeline.figures.filters import Filters
from pipeline.figures.meters import unreported_text
from pipeline.figures.tariff_costs import taxes_statement
from pipeline.figures.wording import count_text, date_text
from pipeline.numerals import counted
from pipeline.store import Store

BOUNDARY = "Day burning that nobody reported is outside this figure."


def burning(store: Store, info: Facts, filters: Filters) -> Figure:
    """Controls burning by day at the log's end, with what each further day costs."""
    key, label = "burning_now", "Controls burning by day now"
    if info.log_to is None:
        return missing(key, label, "controls", "The log is empty.")
    frame = burning_now(store, filters)
    per_day = frame[["kwh_per_day", "cost_per_day"]].astype(float)
    unknown = int(per_day.isna().all(axis=1).sum())
    kwh, cost = (_known_sum(per_day[name]) for name in per_day.columns)
    note = f"{counted(len(frame), 'incident')} open at the log's end, {date_text(info.log_to)}. {BOUNDARY}"
    unread = open_without_symptom(store, filters)
    if unread:
        note += f" Of {counted(unread, 'incident')} more still open the calls do not say whether they burn or are dark."
    if unknown:
        note += f" For {count_text(unknown)} of them the load is unknown, so the true cost is higher."
    beside = (
        Figure("burning_cost_per_day", "Cost of one more day", f"{info.money}/day", cost),
        Figure("burning_kwh_per_day", "Energy of one more day", "kWh/day", kwh),
    )
    return Figure(key, label, "controls", int(frame["controls"].sum()), note=note, beside=beside)


def wasted_energy(store: Store, info: Facts, filters: Filters) -> Figure:
    """Energy wasted by day burning, with cost and emissions."""
    key, label = "wasted_energy", "Energy wasted by day burning"
    total = energy_by(store, "all", filters)
    if total.empty:
        why = f"No incident with a known load and place wasted energy. {BOUNDARY}"
        return missing(key, label, "kWh", why)
    row = total.iloc[0]
    left_out = energy_left_out(store, filters).groupby("symptom")["incidents"].sum()
    note = (
        f"{counted(int(row['incidents']), 'incident')}. The range holds 90 % of the draws of when each began and "
        f"ended, with one mean detection delay for all ({delay_text(store, info)}). {BOUNDARY}"
    )
    unreported = unreported_text(store, filters)
    if unreported:
        note += f" {unreported}"
    if len(left_out):
        told = " and ".join(
            f"{counted(int(count), 'incident')} of {symptom}" for symptom, count in left_out.items()
        )
        note += f" Left out because it could not be reckoned: {told}."
    bounds = (
        "Low: all lit only from the first report to the earliest end that fits the records. High: all lit back to the "
        "last visit that could have seen it, and to the latest end."
    )
    beside = (
        Figure(
            "wasted_cost",
            "Cost of the wasted energy",
            info.money,
            *_ranged(row, "cost"),
            f"Metered accounts only. {taxes_statement(store)}".strip(),
        ),
        Figure(
            "wasted_co2e",
            "Emissions of the wasted energy",
            "kg CO2e",
            *_ranged(row, "co2e_kg"),
            "Location-based.",
        ),
        *market_based(row),
        Figure("wasted_bounds", "Bounds of the wasted energy", "kWh", None, *_three(row, "kwh")[1:], bounds),
    )
    return Figure(key, label, "kWh", *_ranged(row, "kwh"), note, beside)


def _three(row: pd.Series, name: str) -> tuple[float | None, float | None, float | None]:
    """Central, low and high of one quantity."""
    return known(row[f"{name}_central"]), known(row[f"{name}_low"]), known(row[f"{name}_high"])


def _ranged(row: pd.Series, name: str) -> tuple[float | None, float | None, float | None]:
    """Central and 90 % range of one quantity."""
    return known(row[f"{name}_central"]), known(row[f"{name}_p5"]), known(row[f"{name}_p95"])


def _known_sum(values: pd.Series) -> float | None:
    """Sum of what is known; None where there are values and none is known."""
    total = values.sum(min_count=1 if len(values) else 0)
    return None if pd.isna(total) else float(total)
