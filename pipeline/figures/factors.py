"""The emission factors behind a build's kilograms: value, years, edition and source."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.filters import EVERYTHING
from pipeline.store import Store


def factors_in_force(store: Store) -> pd.DataFrame:
    """Factors by method, grid region (of a market-based one: account) and the years that they were used for.

    Columns: method, applies_to, for_years (text; says where the factor of another year stands in), value, unit,
    factor_year, edition, source. A region without a factor stands with missing values; its energy carries no emissions.
    """
    return query.frame(store, "factors", EVERYTHING)
