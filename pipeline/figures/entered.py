"""How many failures and control-years entered each analysis, and why the others did not."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.failures import check_grouping
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store


def entered(store: Store, grouping: str = "all", filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Failures and time at risk by what they count in; ages count in rates too.

    Columns: group_name (None: the control, or what the groups are made of, is not known), counted_in ("ages", "rates
    only" or "left out"), reason (why not in ages; None for ages), failures (as the verdicts stand), control_years.
    """
    check_grouping(grouping)
    return query.frame(store, "entered", filters, by_group=grouping)
