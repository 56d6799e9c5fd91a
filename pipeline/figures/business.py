"""Whether replacing the controls pays, group by group and in total."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.store import Store

WHERE_IT_PAYS = "where it pays"
WITH_CHOICE = "wherever a rated control is priced"
WITHOUT_CHOICE = "rated already, or no rated control priced"


def options_table(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Every option of every site and control group, the group that saves most first. A period does not apply.

    The columns of the table ``options`` and ``site``; money in the portfolio's currency, present value.
    """
    return query.frame(store, "options_table", filters)


def cash_flow_table(
    store: Store, option_id: str | None = None, filters: Filters = EVERYTHING
) -> pd.DataFrame:
    """Yearly payments of one option, or of all: option_id, site, control_kind, model, option, year, kind, cost."""
    return query.frame(store, "cash_flow_table", filters, option_id=option_id)


def business_case(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Totals by option over WHERE_IT_PAYS (net savings above 0), WITH_CHOICE and WITHOUT_CHOICE, in that order.

    WHERE_IT_PAYS is a part of WITH_CHOICE. Within a scope both options cover the same controls.

    Columns: scope, option, groups, sites, controls, connected_w, controls_without_energy, investment_cost, lcc_cost,
    expected_failures (lower, upper), kwh, co2e_kg, net_savings_cost (lower, upper), years, discount_rate. Money
    in the portfolio's currency; lcc and savings are present values over the study period. Limits are sums of
    the groups' limits, as if all lay at the same end together; where one group has none, the total has none. kwh and
    co2e_kg leave out what is not known: the controls without energy.
    """
    return query.frame(
        store, "business_case", filters,
        where_it_pays=WHERE_IT_PAYS, with_choice=WITH_CHOICE, without_choice=WITHOUT_CHOICE,
    )  # fmt: skip
