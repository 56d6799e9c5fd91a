"""Day burning on the meters laid beside the incidents of the calls; what is measured replaces what is assumed."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline.energy.meter_match import Reported, Seen, matched
from pipeline.settings import Meters
from pipeline.store import Store, sql_text

_PACKAGE = "pipeline.meters"
_DAY_S = 86_400.0
BOTH = "both"
NOT_ON_METER = "not on the meter"
TOO_SMALL = "too small to see"
NO_READINGS = "no readings then"
REFUSED = "account refused"


def reconcile(store: Store, meters: Meters) -> None:
    """Fill meter_matches, say what of each episode was called in, and put measured onsets and ends into incidents."""
    limits = {"least_days": meters.least_days, "least_kw": meters.least_step_kw}
    incidents = store.frame(sql_text(_PACKAGE, "metered_incidents"), limits)
    if not incidents.empty:
        _fill_matches(store, incidents, meters.match_days)
    store.run(sql_text(_PACKAGE, "set_found"))
    store.run(sql_text(_PACKAGE, "measured_incidents"))


def _fill_matches(store: Store, incidents: pd.DataFrame, match_days: float) -> None:
    episodes = store.frame(
        "SELECT episode_id, account_id, onset_high, ended_high, step_kw FROM meter_episodes ORDER BY ALL"
    )
    pairs: dict[str, tuple[str, float]] = {}
    for account, part in incidents[incidents["has_readings"] & ~incidents["refused"]].groupby("account_id"):
        seen = episodes[episodes["account_id"] == account]
        pairs |= matched(_reported(part), _seen(seen), match_days)
    rows = [_row(incident, pairs) for incident in incidents.to_dict("records")]
    with store.frame_as("matched", pd.DataFrame(rows)):
        store.fill("meter_matches", sql_text(_PACKAGE, "meter_matches"))


def _reported(incidents: pd.DataFrame) -> list[Reported]:
    loads = [None if pd.isna(load) or load <= 0 else float(load) for load in incidents["connected_kw"]]
    columns = (
        incidents["incident_id"],
        _days(incidents["first_reported_at"]),
        _days(incidents["ended_at"]),
        loads,
    )
    return [Reported(*row) for row in zip(*columns, strict=True)]


def _seen(episodes: pd.DataFrame) -> list[Seen]:
    columns = (
        episodes["episode_id"], _days(episodes["onset_high"]), _days(episodes["ended_high"]), episodes["step_kw"],
    )  # fmt: skip
    return [Seen(*row) for row in zip(*columns, strict=True)]


def _days(times: pd.Series) -> list[float]:
    """Wall-clock times as days since 1970-01-01."""
    return [float(seconds) / (_DAY_S * 1e6) for seconds in pd.DatetimeIndex(times).as_unit("us").asi8]


def _row(incident: dict[Any, Any], pairs: dict[str, tuple[str, float]]) -> dict[str, Any]:
    episode, share = pairs.get(incident["incident_id"], (None, None))
    if incident["refused"]:
        verdict = REFUSED
    elif not incident["has_readings"]:
        verdict = NO_READINGS
    elif episode:
        verdict = BOTH
    else:
        verdict = TOO_SMALL if incident["too_small"] else NOT_ON_METER
    return {
        "incident_id": incident["incident_id"],
        "account_id": incident["account_id"],
        "episode_id": episode,
        "verdict": verdict,
        "share": share,
    }
