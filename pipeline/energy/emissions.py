"""Published location-based emission factors of grid electricity, and their look-up.

The factors ship as published, with unit, edition and source, in ``emission_factors.csv``; kilograms per
kilowatt-hour are derived here. Location-based means the average of the grid where the energy is used
(GHG Protocol Scope 2 Guidance). Grid losses are not part of Scope 2 and are not added.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

KG_PER_LB = 0.45359237  # exact: international avoirdupois pound
KWH_PER_MWH = 1000.0

_KG_CO2E_PER_KWH = {"lb CO2e/MWh": KG_PER_LB / KWH_PER_MWH, "kg CO2e/kWh": 1.0}


@dataclass(frozen=True)
class EmissionFactor:
    """A published factor: ``value`` in ``unit`` as printed, and where it was printed."""

    edition: str
    region: str
    year: int
    value: float
    unit: str
    certainty: str
    source: str

    @property
    def kg_co2e_per_kwh(self) -> float:
        """The factor in kilograms CO2e per kilowatt-hour of electricity used."""
        return self.value * _KG_CO2E_PER_KWH[self.unit]


@cache
def emission_factors() -> tuple[EmissionFactor, ...]:
    """Every factor that ships, in the order of the file."""
    text = (files("pipeline.energy") / "emission_factors.csv").read_text(encoding="utf-8")
    return tuple(
        EmissionFactor(
            row["edition"],
            row["region"],
            int(row["year"]),
            float(row["value"]),
            row["unit"],
            row["certainty"],
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def emission_factor(edition: str, region: str) -> EmissionFactor:
    """The factor of one grid region in one edition; ValueError lists what is known."""
    known = [factor for factor in emission_factors() if factor.edition.lower() == edition.strip().lower()]
    if not known:
        editions = ", ".join(dict.fromkeys(factor.edition for factor in emission_factors()))
        raise ValueError(f"no emission factors of edition '{edition}'; known editions: {editions}")
    for factor in known:
        if factor.region.lower() == region.strip().lower():
            return factor
    regions = ", ".join(sorted(factor.region for factor in known))
    raise ValueError(
        f"no emission factor for grid region '{region}' in {known[0].edition}; known regions: {regions}. "
        "A factor of your own can be given in the settings, with its year and source"
    )
