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
class YearlyCosts:
    """Costs of an option: an amount now, and maintenance and energy by year; None: not known."""

    investment: float
    maintenance: Floats | None
    energy: Floats | None

    def frame(self) -> pd.DataFrame:
        """The same as year, kind, amount; without rows for what is not known or, of the investment, is nothing."""
        rows = [(0, "investment", self.investment)] if self.investment else []
        for kind, yearly in (("maintenance", self.maintenance), ("energy", self.energy)):
            rows += [
                (year, kind, float(cost))
                for year, cost in enumerate(() if yearly is None else yearly, start=1)
            ]
        return pd.DataFrame(rows, columns=["year", "kind", "amount"])


def yearly_costs(
    failures: Floats,
    repair_cost: float | None,
    wasted_kwh: Floats,
    price_per_kwh: Floats,
    investment: float = 0.0,
) -> YearlyCosts:
    """Costs of a group's failures.

    failures : expected failures by row of controls and year, shape (rows, years). repair_cost : visit and part of
    one failure; None: not known. wasted_kwh : energy lamps burn by day until one failure is found [kWh], by row.
    price_per_kwh : by row, 0 where the account is unmetered. NaN in either is not known: the row's energy is left out,
    and where every row's is, that of the option is not known. investment : paid at the start.
    """
    maintenance = None if repair_cost is None else failures.sum(axis=0) * repair_cost
    energy_cost = np.asarray(wasted_kwh, dtype=float) * np.asarray(price_per_kwh, dtype=float)
    known = ~np.isnan(energy_cost)
    return YearlyCosts(investment, maintenance, energy_cost[known] @ failures[known] if known.any() else None)
