"""The emission factor behind each site's kilograms: value, year and source."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.energy.emissions import emission_factor
from pipeline.figures.facts import facts
from pipeline.settings import Settings
from pipeline.store import Store

COLUMNS = ["grid_region", "sites", "kg_co2e_per_kwh", "year", "source"]


def factors_in_force(store: Store) -> pd.DataFrame:
    """Location-based factors by grid region: grid_region, sites, kg_co2e_per_kwh, year, source.

    A region without a factor stands with missing values; its energy carries no emissions.
    """
    info = facts(store)
    if not info.settings:
        return pd.DataFrame(columns=COLUMNS)
    settings = Settings.model_validate(info.settings)
    regions = store.rows(
        "SELECT grid_region, count(*) FROM sites WHERE grid_region IS NOT NULL GROUP BY 1 ORDER BY 1"
    )
    rows = [{"grid_region": region, "sites": sites} | _factor(region, settings) for region, sites in regions]
    return pd.DataFrame(rows, columns=COLUMNS)


def _factor(region: str, settings: Settings) -> dict[str, Any]:
    own = settings.emissions.get(region)
    if own:
        return {"kg_co2e_per_kwh": own.kg_co2e_per_kwh, "year": own.year, "source": own.source}
    try:
        found = emission_factor(settings.emission_edition, region)
    except ValueError:
        return {
            "kg_co2e_per_kwh": None,
            "year": None,
            "source": f"none for this region in {settings.emission_edition}",
        }
    source = f"{found.edition}: {found.source} ({found.certainty})"
    return {"kg_co2e_per_kwh": found.kg_co2e_per_kwh, "year": found.year, "source": source}
