"""What an option costs year by year, for one group of like controls: the frames that life_cycle_cost compares.

All amounts are constant money of the base date in the portfolio's currency. Year 0 is the start; everything
later falls at its year's end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]

LIKE_FOR_LIKE = "repair like for like"
REPLACE_NOW = "replace all now with a rated control"


@dataclass(frozen=True)
class FailureCost:
    """What one failure costs: the visit, the new control, and the energy lamps burn by day until it is found."""

    visit_cost: float
    control_cost: float
    wasted_kwh: float
    price_per_kwh: float

    @property
    def maintenance_cost(self) -> float:
        """Visit and part."""
        return self.visit_cost + self.control_cost

    @property
    def energy_cost(self) -> float:
        """Energy burnt by day; 0 where the account is unmetered."""
        return self.wasted_kwh * self.price_per_kwh


def yearly_costs(failures_by_year: Floats, failure: FailureCost, investment: float = 0.0) -> pd.DataFrame:
    """Frame year, kind, amount: an investment now, then each year's failures at what one of them costs."""
    years = np.arange(1, failures_by_year.size + 1)
    parts = [
        pd.DataFrame(
            {"year": years, "kind": "maintenance", "amount": failures_by_year * failure.maintenance_cost}
        ),
        pd.DataFrame({"year": years, "kind": "energy", "amount": failures_by_year * failure.energy_cost}),
    ]
    if investment:
        parts.insert(0, pd.DataFrame({"year": [0], "kind": ["investment"], "amount": [investment]}))
    return pd.concat(parts, ignore_index=True)


def total_costs(parts: list[pd.DataFrame]) -> pd.DataFrame:
    """The sum of several groups' yearly costs, in the same form."""
    return pd.concat(parts, ignore_index=True).groupby(["year", "kind"], as_index=False).agg({"amount": "sum"})
