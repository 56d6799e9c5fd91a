"""What an option of a group saves or costs year by year, and added up, against repair like for like."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.filters import EVERYTHING
from pipeline.payback.flows import LIKE_FOR_LIKE
from pipeline.store import Store


def cumulative_net_flow(store: Store, site_id: str, kind: str, model: str) -> pd.DataFrame:
    """Yearly and cumulative net cash flow of each other option against repair like for like.

    Columns: option, year (0 is the start, then every year of the study period), cost (paid in that year),
    net_flow_cost (what like for like would have paid, less that), cumulative_net_flow_cost. Constant money in the
    portfolio's currency, not discounted: the sum crosses zero at the simple payback. Empty where the group has no
    other option.
    """
    return query.frame(
        store, "cumulative", EVERYTHING, site_id=site_id, kind=kind, model=model, base=LIKE_FOR_LIKE
    )
