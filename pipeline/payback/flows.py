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
    """Costs of an option: an amount now, and maintenance and energy by year (arrays of equal length)."""

    investment: float
    maintenance: Floats
    energy: Floats

    def frame(self) -> pd.DataFrame:
        """The same as year, kind, amount; an option without investment has no row for it."""
        count = self.maintenance.size
        years = np.concatenate([[0], np.tile(np.arange(1, count + 1), 2)])
        kinds = ["investment"] + ["maintenance"] * count + ["energy"] * count
        amounts = np.concatenate([[self.investment], self.maintenance, self.energy])
        frame = pd.DataFrame({"year": years, "kind": kinds, "amount": amounts})
        return frame if self.investment else frame.iloc[1:]


def yearly_costs(
    failures: Floats,
    repair_cost: float,
    wasted_kwh: Floats,
    price_per_kwh: Floats,
    investment: float = 0.0,
) -> YearlyCosts:
    """Costs of a group's failures.

    failures : expected failures by row of controls and year, shape (rows, years). repair_cost : visit and part of
    one failure. wasted_kwh : energy lamps burn by day until one failure is found [kWh], by row. price_per_kwh : by
    row, 0 where the account is unmetered. investment : paid at the start.
    """
    return YearlyCosts(
        investment, failures.sum(axis=0) * repair_cost, (wasted_kwh * price_per_kwh) @ failures
    )
