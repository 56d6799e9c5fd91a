"""What a failed control costs besides energy: lamp life burnt by day, and nights without light.

Neither is part of the energy, its cost or its emissions, and unlit hours are never set off against hours lit.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from pipeline.day_settings import Schedule
from pipeline.energy.placing import LEVELS, level_seconds, places_of
from pipeline.settings import Assumptions
from pipeline.store import Store, sql_text

_WITHOUT = ("luminaires_without_life", "luminaires_without_cost")


def fill_lamp_losses(store: Store, parts: pd.DataFrame) -> None:
    """Fill lamp_losses from parts of incidents: incident_id, site_id, excess_hours_ of each level, and of their load
    luminaires, lamp_lives_per_hour, lamp_cost_per_hour, luminaires_without_life and luminaires_without_cost."""
    rows = parts[["incident_id", "site_id"]].copy()
    each = {
        "lamp_hours": "luminaires",
        "lamp_lives": "lamp_lives_per_hour",
        "lamp_cost": "lamp_cost_per_hour",
    }
    for level in LEVELS:
        for name, per_hour in each.items():
            rows[f"{name}_{level}"] = parts[f"excess_hours_{level}"] * parts[per_hour]
    rows[list(_WITHOUT)] = parts[list(_WITHOUT)].fillna(0.0)
    # an unknown of pandas is no NULL: as a decimal it would fail
    sums = [
        f"sum(nullif({name}_{level}, 'NaN')::DECIMAL(18, 6)) AS {name}_{level}"
        for name in each
        for level in LEVELS
    ]
    most = [f"max({name}) AS {name}" for name in _WITHOUT]
    with store.frame_as("lamp_rows", rows) as name:
        store.fill(
            "lamp_losses",
            f"SELECT incident_id, any_value(site_id) AS site_id, {', '.join([*sums, *most])} "  # noqa: S608 - names of ours
            f"FROM {name} GROUP BY incident_id",
        )


def fill_unlit(store: Store, assumptions: Assumptions, schedules: Sequence[Schedule]) -> None:
    """Fill unlit_episodes: night hours without light of incidents whose control failed and left its lamps dark."""
    spans = store.frame(
        sql_text("pipeline.energy", "burn_spans").replace("{chosen}", _UNLIT),
        {"stale_after_days": assumptions.stale_after_days},
    )
    if spans.empty:
        return
    known = spans[spans["latitude"].notna() & spans["longitude"].notna()]
    hours = unlit_hours(known, assumptions, schedules)
    rows = spans[["incident_id", "site_id", "control_id"]].merge(hours, how="left", on="incident_id")
    with store.frame_as("unlit_rows", rows.assign(onset=spans["onset_central"])):
        store.fill("unlit_episodes", sql_text("pipeline.energy", "unlit_episodes"))


_UNLIT = "i.control_failed AND i.failure_mode = 'fails off' AND i.symptom IN ('out', 'circuit out')"


def unlit_hours(spans: pd.DataFrame, assumptions: Assumptions, schedules: Sequence[Schedule]) -> pd.DataFrame:
    """Hours within each span in which lamps should have been lit [h]: incident_id, unlit_hours_low, _central, _high.

    spans : as for ``places_of``, with incident_id.
    """
    names = [f"unlit_hours_{level}" for level in LEVELS]
    frames = [pd.DataFrame(columns=["incident_id", *names])]
    for place in places_of(spans, assumptions, schedules):
        dark = place.schedule.dark_hours_between(*level_seconds(place.spans, place.zone))
        frames.append(
            pd.DataFrame(dark, columns=names).assign(incident_id=place.spans["incident_id"].to_numpy())
        )
    filled = [frame for frame in frames if not frame.empty] or frames[:1]
    return pd.concat(filled, ignore_index=True)
