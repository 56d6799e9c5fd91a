"""Published location-based emission factors of grid electricity and rates of grid loss, and their look-up.

They ship as published, with unit, edition and source, in ``emission_factors.csv`` and ``grid_losses.csv``; kilograms
per kilowatt-hour are derived here. Location-based means the average of the grid where the energy is used (GHG Protocol
Scope 2 Guidance). Grid losses are not part of Scope 2: they are kept apart.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

KG_PER_LB = 0.45359237  # exact: international avoirdupois pound
KWH_PER_MWH = 1000.0

_IN_OUR_UNIT = {"lb CO2e/MWh": KG_PER_LB / KWH_PER_MWH, "kg CO2e/kWh": 1.0, "%": 1.0}


@dataclass(frozen=True)
class PublishedValue:
    """A published factor or rate: ``value`` in ``unit`` as printed, and where it was printed."""

    edition: str
    region: str
    year: int
    value: float
    unit: str
    certainty: str
    source: str

    @property
    def in_our_unit(self) -> float:
        """A factor in kilograms CO2e per kilowatt-hour of electricity used, a rate in per cent."""
        return self.value * _IN_OUR_UNIT[self.unit]


@cache
def emission_factors() -> tuple[PublishedValue, ...]:
    """Every factor that ships, in the order of the file."""
    return _published("emission_factors.csv")


@cache
def grid_losses() -> tuple[PublishedValue, ...]:
    """Every rate of grid loss that ships, of the energy fed in [%]."""
    return _published("grid_losses.csv")


def _published(file: str) -> tuple[PublishedValue, ...]:
    text = (files("pipeline.energy") / file).read_text(encoding="utf-8")
    return tuple(
        PublishedValue(
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


def emission_factor(edition: str, region: str) -> PublishedValue:
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
