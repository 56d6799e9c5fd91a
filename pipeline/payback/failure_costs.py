"""What one failure wastes and what it costs to mend, and in words whatever of it is not known."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from pipeline.energy.factor_book import FactorBook
from pipeline.numerals import count_text, counted
from pipeline.settings import Settings
from pipeline.store import Store, sql_text


def with_failure_costs(controls: pd.DataFrame, store: Store, settings: Settings) -> pd.DataFrame:
    """``controls`` with wasted_kwh (by one failure), price_per_kwh, kg_co2e_per_kwh and without_energy.

    wasted_kwh is empty where no load, or no hours of a failure of that kind, are known; kg_co2e_per_kwh where the
    region has no factor. without_energy : controls of the row whose wasted energy, or its price, is not known; their
    failures are reckoned without it, so the true cost of a failure is higher.
    """
    hours: dict[str, float] = dict(store.rows(sql_text("pipeline.payback", "hours_per_failure")))
    hours_each = controls["kind"].map(hours).astype(float)
    watts_each = (controls["connected_w"] / controls["controls"]).where(controls["connected_w"] > 0)
    regions: dict[str, str] = dict(store.rows("SELECT site_id, grid_region FROM sites"))
    region_of = controls["site_id"].map(regions)
    factors = _factors(region_of.dropna().unique(), store, settings)
    return controls.assign(
        wasted_kwh=watts_each * hours_each / 1000,
        price_per_kwh=controls["price_per_kwh"].astype(float),
        kg_co2e_per_kwh=region_of.map(factors).astype(float),
        without_energy=controls["without_energy"].where(hours_each.notna(), controls["controls"]),
    )


def _factors(regions: Iterable[str], store: Store, settings: Settings) -> dict[str, float]:
    """Location-based factor of each region, of the year in which the log ends [kg CO2e/kWh]."""
    book, year = FactorBook(settings), store.value("SELECT log_to FROM build_info").year
    found = {region: book.location(region, year) for region in regions}
    return {region: factor.value for region, factor in found.items() if factor is not None}


def notices(controls: pd.DataFrame, settings: Settings) -> list[tuple[str, str]]:
    """Place and sentence for everything that the options leave out, over the whole portfolio."""
    found = []
    unknown = int(controls["without_energy"].sum())
    if unknown:
        found.append((
            "fixtures.csv",
            f"of {counted(unknown, 'control')} the load, its price or the hours that a failure wastes are unknown: "
            "such options count visits and parts but no energy.",
        ))  # fmt: skip
    for kind in sorted(set(controls["kind"]) - set(settings.prices.control_cost)):
        found.append(("portfolio.toml", f"{_no_cost(kind)}: its options have no life-cycle cost."))
    return found


def left_out(controls: pd.DataFrame, settings: Settings) -> list[str]:
    """Sentences on what is left out of the options of one group of controls, of one kind."""
    kind, unknown, total = (
        controls["kind"].iloc[0],
        int(controls["without_energy"].sum()),
        controls["controls"].sum(),
    )
    told = []
    if unknown:
        concerned = f"{count_text(unknown)} of {count_text(int(total))} controls"
        told.append(f"Left out, as not known: the energy of {concerned}, or its price.")
    if kind not in settings.prices.control_cost:
        told.append(f"{_no_cost(kind)}.")
    return told


def _no_cost(kind: str) -> str:
    return f"prices.control_cost names no cost of a {kind}"
