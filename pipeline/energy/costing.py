"""The bills behind each incident's control, and what its parts cost by account and period of a tariff."""

from __future__ import annotations

from contextlib import ExitStack

import pandas as pd

from pipeline.energy.tariff_parts import LEVELS
from pipeline.store import Store, sql_text

_PACKAGE = "pipeline.energy"


def bills_behind(store: Store, spans: pd.DataFrame) -> pd.DataFrame:
    """Load and account behind each incident's control, in stretches of days that cover its widest span."""
    asked = spans[["incident_id", "control_id", "units"]].assign(
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
    with ExitStack() as offered:
        for name, frame in {"bills": bills, "parts": parts[keys], "tariff_hours": tariff_hours}.items():
            offered.enter_context(store.frame_as(name, frame))
        return store.frame(sql_text(_PACKAGE, "burn_costs").replace("{sums}", _sums()))


def _sums() -> str:
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
