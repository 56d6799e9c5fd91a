"""The bills behind each incident's control, and what its parts cost by account and period of a tariff."""

from __future__ import annotations

from contextlib import ExitStack

import pandas as pd

from pipeline.energy.tariff_parts import LEVELS
from pipeline.store import Store, sql_text

_PACKAGE = "pipeline.energy"


def bills_behind(store: Store, spans: pd.DataFrame) -> pd.DataFrame:
    """Load and account behind each incident's control, in stretches of days that cover its widest span."""
    asked = spans[["incident_id", "control_id", "units", "share_of_lamps"]].assign(
        first_day=spans["onset_high"],
        last_day=spans[["restored_high", "onset_low", "closes"]].max(axis=1) + pd.Timedelta(days=1),
    )
    with store.frame_as("asked_loads", asked.astype({"incident_id": str, "control_id": str})):
        return _dated(store.frame(sql_text(_PACKAGE, "burn_bills")))


def load_steps(store: Store, bills: pd.DataFrame) -> pd.DataFrame:
    """The whole load of each stretch: incident_id, begins, ends, connected_w, groups_without_watts."""
    with store.frame_as("bills", bills):
        return _dated(store.frame(sql_text(_PACKAGE, "burn_loads")))


def costs_of(
    store: Store, bills: pd.DataFrame, parts: pd.DataFrame, tariff_hours: pd.DataFrame
) -> pd.DataFrame:
    """Hours, kWh and cost of parts by incident, month, account and period of its tariff; without a price no cost.

    parts and tariff_hours as pipeline.energy.parts gives them.
    """
    keys = ["incident_id", "month", "begins", *(f"excess_hours_{level}" for level in LEVELS)]
    frames = {"bills": bills, "parts": parts[keys], "tariff_hours": tariff_hours}
    return _asked(store, "burn_costs", _energy_sums(), frames)


def demand_of(store: Store, bills: pd.DataFrame, tariff_hours: pd.DataFrame) -> pd.DataFrame:
    """What day burning can have added to demand charges at most, by incident, month and account (burn_demand)."""
    return _asked(store, "burn_demand", _demand_sums(), {"bills": bills, "tariff_hours": tariff_hours})


def _asked(store: Store, name: str, sums: str, frames: dict[str, pd.DataFrame]) -> pd.DataFrame:
    with ExitStack() as offered:
        for frame_name, frame in frames.items():
            offered.enter_context(store.frame_as(frame_name, frame))
        return store.frame(sql_text(_PACKAGE, name).replace("{sums}", sums))


def _demand_sums() -> str:
    sums = (
        "sum(h.excess_hours_{l}::DECIMAL(18, 6)) AS demand_hours_{l}",
        "coalesce(max(b.connected_w / 1000 * h.price) FILTER (h.excess_hours_{l} > 0), 0)::DECIMAL(18, 4)"
        " AS demand_cost_{l}",
    )
    return ",\n  ".join(text.format(l=level) for text in sums for level in LEVELS)


def _energy_sums() -> str:
    kwh = "connected_w * excess_hours_{level} / 1000"
    sums = ("excess_hours_{level}", kwh, f"{kwh} * price_per_kwh")
    return ",\n  ".join(
        f"sum(({sum_of.format(level=level)})::DECIMAL(18, 6)) AS {name}_{level}"
        for name, sum_of in zip(("excess_hours", "kwh", "cost"), sums, strict=True)
        for level in LEVELS
    )


def _dated(steps: pd.DataFrame) -> pd.DataFrame:
    for name in ("begins", "ends"):
        steps[name] = pd.to_datetime(steps[name])
    return steps
