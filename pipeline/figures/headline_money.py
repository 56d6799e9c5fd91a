"""The headline figure of money: what replacing all now saves, in the groups where it pays."""

from __future__ import annotations

from pipeline.figures.business import WHERE_IT_PAYS, business_case
from pipeline.figures.facts import Facts
from pipeline.figures.figure import Figure, known, missing
from pipeline.figures.filters import Filters
from pipeline.payback.flows import REPLACE_NOW
from pipeline.store import Store


def net_savings(store: Store, info: Facts, filters: Filters) -> Figure:
    """What replacing all now saves over the study period, in the groups where it pays."""
    key, label = "net_savings", "Net savings of replacing now, where it pays"
    totals = business_case(store, filters)
    now = totals[totals["option"] == REPLACE_NOW]
    if now.empty:
        why = "No replacement could be priced: that needs controls with a life, and the price of a rated control."
        return missing(key, label, info.money, why)
    paying = now[now["scope"] == WHERE_IT_PAYS]
    if paying.empty:
        note = "In no group does replacing all now save more than it costs."
        return Figure(key, label, info.money, 0, note=note)
    row = paying.iloc[0]
    note = (
        f"Against repair like for like over {int(row['years'])} years at a real discount rate of "
        f"{row['discount_rate'] * 100:.1f} %, present value. Limits: all groups at one end of their fits together. "
        "The groups are those whose estimate says that it pays, so their sum leans high; the total over all stands in "
        "the business case."
    )
    value, low, high = (known(row[f"net_savings{part}_cost"]) for part in ("", "_lower", "_upper"))
    if low is None:
        note += " How little is saved is not known: a life of few failures is bounded from below only."
    beside = (
        Figure("paying_groups", "Groups of site and model where it pays", "groups", int(row["groups"])),
        Figure("paying_controls", "Controls in them", "controls", int(row["controls"])),
        Figure("paying_investment", "To be paid at the start", info.money, float(row["investment_cost"])),
    )
    return Figure(key, label, info.money, value, low, high, note, beside)
