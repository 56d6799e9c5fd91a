"""The emission factor of each grid region in use: the portfolio's own first, then the published edition."""

from __future__ import annotations

from collections.abc import Iterable

from pipeline.energy.emissions import emission_factor
from pipeline.settings import Settings


def factors_by_region(regions: Iterable[str], settings: Settings) -> tuple[dict[str, float], list[str]]:
    """kg CO2e per kWh by region, and a sentence for every region without a factor."""
    factors: dict[str, float] = {}
    missing: list[str] = []
    for region in sorted(set(regions)):
        own = settings.emissions.get(region)
        try:
            factors[region] = (own or emission_factor(settings.emission_edition, region)).kg_co2e_per_kwh
        except ValueError as error:
            missing.append(f"{error}.")
    return factors, missing
