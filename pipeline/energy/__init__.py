"""Hours lit outside the schedule, and what they cost in energy, money and emissions.

Pure functions of numbers and arrays; methods, sources and limits: docs/methods-energy.md.
"""

from pipeline.energy.emissions import PublishedValue, emission_factor, emission_factors, grid_losses
from pipeline.energy.instants import MonthParts, split_by_month, utc_seconds, utc_seconds_from_local
from pipeline.energy.quantities import co2e_kg, cost_of, energy_kwh, input_watts, total
from pipeline.energy.schedule import LitSchedule, RunningHours, lit_schedule, night_hours

__all__ = [
    "LitSchedule",
    "MonthParts",
    "PublishedValue",
    "RunningHours",
    "co2e_kg",
    "cost_of",
    "emission_factor",
    "emission_factors",
    "energy_kwh",
    "grid_losses",
    "input_watts",
    "lit_schedule",
    "night_hours",
    "split_by_month",
    "total",
    "utc_seconds",
    "utc_seconds_from_local",
]
