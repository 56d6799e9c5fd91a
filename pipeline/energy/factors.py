"""The factors of a build, year by year: written down once, for energy, figures and documents alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict

import pandas as pd

from pipeline.energy.factor_book import FactorBook, InForce
from pipeline.settings import Settings
from pipeline.store import Store

LOCATION, MARKET, LOSSES = "location-based", "market-based", "grid losses"


def fill_factors(store: Store, settings: Settings, years: Iterable[int]) -> None:
    """Fill factors_in_force for the grid regions of the sites and the accounts, and tell what is missing."""
    book, years = FactorBook(settings), sorted(set(years))
    regions = [
        region
        for (region,) in store.rows("SELECT DISTINCT grid_region FROM sites WHERE grid_region IS NOT NULL")
    ]
    chosen = {
        **{
            (LOCATION, region, year): book.location(region, year)
            for region in sorted(regions)
            for year in years
        },
        **{
            (MARKET, one, year): book.supplier(one, year)
            for one in sorted(settings.supplier_emissions)
            for year in years
        },
        **{(LOSSES, region, year): book.loss(region, year) for region in sorted(regions) for year in years},
    }
    rows = [
        {"method": method, "applies_to": applies_to, "year": year} | asdict(found)
        for (method, applies_to, year), found in chosen.items()
        if found is not None
    ]
    store.fill_frame("factors_in_force", pd.DataFrame(rows))
    for region in sorted(regions):
        found = [chosen[LOCATION, region, year] for year in years]
        if None in found:
            store.notice("energy", "sites.csv, grid_region", f"{book.why_none(region)}.")
        _tell_stand_ins(store, region, dict(zip(years, found, strict=True)))


def _tell_stand_ins(store: Store, region: str, by_year: dict[int, InForce | None]) -> None:
    for edition in sorted({found.edition for found in by_year.values() if found}):
        years = [
            str(year)
            for year, found in by_year.items()
            if found and found.edition == edition and found.stands_in
        ]
        if years:
            store.notice(
                "energy",
                "emission factors",
                f"for grid region {region} there is no factor of {', '.join(years)}: that of {edition} stands in. "
                "A factor of your own for those years can be given in the settings.",
            )
