"""The statement on wasted energy for one year: amounts, top sites, and what moved since the build before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

import pandas as pd

from pipeline.figures.assumptions import assumptions_in_force
from pipeline.figures.carbon import KG_PER_T
from pipeline.figures.energy import By, energy_by
from pipeline.figures.facts import facts
from pipeline.figures.filters import EVERYTHING, Filters, Period, periods
from pipeline.figures.wording import date_text
from pipeline.store import Store

METHOD = (
    "Hours in which a failed or wrongly set control kept lamps lit outside their schedule, from the sun at the site or "
    "its timetable, times the load registered behind the control on those days. Where a meter measured an incident "
    "from onset to end, its energy is the meter's."
)
UNCERTAINTY = (
    "The range holds 90 % of the draws of when each incident began and ended, with one mean detection delay drawn for "
    "all. It holds no doubt about registered loads, prices or emission factors."
)
MOST_SITES = 10
COMPARED = ("kwh", "cost", "co2e_kg")
_REGISTERS = ("sites", "accounts", "controls", "fixtures")


@dataclass(frozen=True)
class Statement:
    """One calendar or fiscal year.

    ``amounts``: key, quantity, unit, central, p5, p95 (90 % range), low, high (bounds); what is not known is left out.
    ``sites``: part (site), incidents, kwh_central, kwh_p5, kwh_p95, share (0 to 1 of the year's central kWh).
    ``coverage``: which of its days the log covers, in words. ``incident_ids``: what wasted energy in it.
    """

    year: Period
    coverage: str
    incident_ids: tuple[str, ...]
    amounts: pd.DataFrame
    sites: pd.DataFrame

    @property
    def incidents(self) -> int:
        """How many incidents wasted energy in it."""
        return len(self.incident_ids)


def statement(store: Store, year: Period, filters: Filters = EVERYTHING) -> Statement:
    """The statement for one of ``periods``, for the sites and kinds of ``filters``."""
    within = Filters(filters.sites, filters.kinds, year.start, year.end)
    return _statement(store, year, energy_by(store, "all", within), _sites(store, within))


def statements(store: Store, by: Literal["calendar year", "fiscal year"]) -> list[Statement]:
    """Every year of a kind, the newest first; the top sites of the newest whole year alone."""
    totals = energy_by(store, by)
    years = [year for year in periods(store) if kind_of_year(year) == by]
    newest = next((year for year in years if year.complete), years[0] if years else None)
    none = _sites(store, Filters(end=date.min))
    return [
        _statement(
            store,
            year,
            totals[totals["part"] == year.label.split(" (")[0]],
            _sites(store, Filters(start=year.start, end=year.end)) if year == newest else none,
        )
        for year in years
    ]


def _statement(store: Store, year: Period, total: pd.DataFrame, sites: pd.DataFrame) -> Statement:
    return Statement(
        year=year,
        coverage=_coverage(store, year),
        incident_ids=() if total.empty else tuple(total["incident_ids"].iloc[0]),
        amounts=_amounts(total, facts(store).money),
        sites=sites,
    )


def _sites(store: Store, within: Filters) -> pd.DataFrame:
    sites = energy_by(store, "site", within)
    energy_kwh = float(sites["kwh_central"].sum())
    shares = sites["kwh_central"].astype(float) / energy_kwh if energy_kwh else 0.0
    columns = ["part", "incidents", "kwh_central", "kwh_p5", "kwh_p95", "share"]
    return sites.assign(share=shares)[columns].head(MOST_SITES)


def _coverage(store: Store, year: Period) -> str:
    info = facts(store)
    if year.complete or info.log_from is None or info.log_to is None:
        return "The log covers the whole year."
    first, last = max(year.start, info.log_from), min(year.end, info.log_to)
    return f"The log covers {date_text(first)} to {date_text(last)} only: this is no whole year."


def _amounts(total: pd.DataFrame, money: str) -> pd.DataFrame:
    asked = [
        ("hours", "Hours lit out of schedule", "h", "excess_hours", 1),
        ("kwh", "Energy", "kWh", "kwh", 1),
        ("cost", "Cost of metered energy", money, "cost", 1),
        ("co2e_kg", "Emissions, location-based", "kg CO2e", "co2e_kg", 1),
        ("co2e_t", "Emissions, location-based", "t CO2e", "co2e_kg", KG_PER_T),
        ("co2e_market_kg", "Emissions, market-based", "kg CO2e", "co2e_market_kg", 1),
        ("co2e_losses_kg", "Grid losses, not in Scope 2", "kg CO2e", "co2e_losses_kg", 1),
    ]
    levels = ("central", "p5", "p95", "low", "high")
    rows = [
        {"key": key, "quantity": quantity, "unit": unit}
        | {level: _value(total, f"{column}_{level}", divisor) for level in levels}
        for key, quantity, unit, column, divisor in asked
    ]
    return pd.DataFrame(rows, columns=["key", "quantity", "unit", *levels]).dropna(subset="central")


def _value(total: pd.DataFrame, column: str, divisor: int) -> float | None:
    known = column in total and not total.empty and not pd.isna(total[column].iloc[0])
    return float(total[column].iloc[0]) / divisor if known else None


def inputs_read(store: Store) -> pd.DataFrame:
    """What a build rests on: what (file, setting, decisions, version) and value as text, each once."""
    files = store.rows(
        "SELECT 'file ' || name, left(any_value(sha256), 12) FROM source_files GROUP BY name"
        " UNION ALL SELECT 'file ' || name, left(file_id, 12) FROM meter_files ORDER BY 1"
    )
    registers = [(f"rows of {name}.csv", str(store.count(name))) for name in _REGISTERS]
    settings = assumptions_in_force(store)
    named = zip("setting " + settings["setting"], settings["value"], strict=True)
    decided = store.value("SELECT count(*) FROM decisions WHERE state = 'in force'")
    others = [("decisions in force", str(decided)), ("dayburn", facts(store).dayburn_version)]
    return pd.DataFrame([*files, *registers, *named, *others], columns=["what", "value"])


def changed_inputs(before: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """What differs between the inputs of two builds (``inputs_read``): what, before, now; missing where not there."""
    both = before.merge(now, how="outer", on="what", suffixes=("_before", "_now"))
    differ = both["value_before"].fillna("") != both["value_now"].fillna("")
    return both[differ].rename(columns={"value_before": "before", "value_now": "now"}).reset_index(drop=True)


def changed_years(before: pd.DataFrame, now: pd.DataFrame) -> pd.DataFrame:
    """Central values of two builds by year, from ``energy_by`` of each.

    Columns: part, and for kwh, cost and co2e_kg _before, _now and _change; a year that one build has not counts 0
    there. Years in which nothing differs are left out.
    """
    names = [f"{name}_central" for name in COMPARED]
    old, new = (frame.set_index("part")[names].astype(float) for frame in (before, now))
    parts = sorted(set(old.index) | set(new.index))
    old, new = (frame.reindex(parts).fillna(0.0) for frame in (old, new))
    shown = pd.DataFrame({"part": parts})
    for name in COMPARED:
        column = f"{name}_central"
        shown[f"{name}_before"], shown[f"{name}_now"] = old[column].to_numpy(), new[column].to_numpy()
        shown[f"{name}_change"] = (new[column] - old[column]).to_numpy()
    moved = (shown[[f"{name}_change" for name in COMPARED]].abs() > 0).any(axis=1)
    return shown[moved].reset_index(drop=True)


def kind_of_year(year: Period) -> By:
    """Whether a period is a calendar or a fiscal year, as ``energy_by`` names them."""
    return "fiscal year" if year.label.startswith("FY") else "calendar year"
