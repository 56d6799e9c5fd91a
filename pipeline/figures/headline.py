"""The six figures that matter, each with its limits and what it assumes."""

from __future__ import annotations

from pipeline.figures.facts import facts
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.forecasting import Outlook, outlook
from pipeline.figures.headline_failures import lifespans, next_failures, recent_failures
from pipeline.figures.headline_money import net_savings
from pipeline.figures.headline_waste import burning, wasted_energy
from pipeline.store import Store


def headline(store: Store, filters: Filters = EVERYTHING, ahead: Outlook | None = None) -> list[Figure]:
    """Six figures, always in this order; a figure that the data do not support has no value and says why.

    ``ahead``: the outlook for the same filters, where it is at hand.

    burning_now, failures_12_months, soonest_to_fail, expected_next_12_months, wasted_energy, net_savings.
    """
    info = facts(store)
    return [
        burning(store, info, filters),
        recent_failures(store, info, filters),
        lifespans(store, info, filters),
        next_failures(store, info, filters, (ahead or outlook(store, filters)).total),
        wasted_energy(store, info, filters),
        net_savings(store, info, filters),
    ]
