"""Whether replacing controls pays: life-cycle cost, best replacement age, spares, failures to expect.

Pure functions of numbers, arrays and frames; methods, sources and limits: docs/methods-payback.md.
"""

from pipeline.payback.age_replacement import AgeReplacement, age_replacement
from pipeline.payback.life_cycle import LifeCycleCost, life_cycle_cost
from pipeline.payback.present_value import single_present_value, uniform_present_value
from pipeline.payback.renewal import expected_failures_by_row, expected_failures_by_year
from pipeline.payback.spares import spares

__all__ = [
    "AgeReplacement",
    "LifeCycleCost",
    "age_replacement",
    "expected_failures_by_row",
    "expected_failures_by_year",
    "life_cycle_cost",
    "single_present_value",
    "spares",
    "uniform_present_value",
]
