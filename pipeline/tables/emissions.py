"""The emission factors that a build reckoned with."""

from __future__ import annotations

from pipeline.tables.schema import Table, columns

FACTORS_IN_FORCE = Table(
    "factors_in_force", "energy", "the factor in force for a grid region or an account in a year",
    key=("method", "applies_to", "year"),
    columns=columns("""
    method text! location-based, market-based or grid losses
    applies_to text! grid region; of a market-based factor, the account
    year integer! calendar year of the energy
    value number! kg CO2e per kWh used; of grid losses, % of the energy fed in
    unit text! kg CO2e/kWh or %
    factor_year integer! year that the factor was published for
    edition text! published table, or portfolio.toml
    source text! who published it, and how it was read
    stands_in text! why the factor of another year is used; empty where it is the year's own
    """),
)  # fmt: skip
