"""A store small enough to reckon by hand: a few sites, controls and calls, and the stage run on them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Assumptions, Settings
from pipeline.store import Store
from pipeline.tie import stage

ASSUMED = Assumptions(
    detection_delay_days=10, onset_cap_days=60, stale_after_days=90, same_fault_days=30, callback_days=30
)
LOG_END = date(2024, 12, 31)


def at(text: str) -> datetime:
    """'2024-03-01 09:30' as a time; a date alone is its midnight."""
    return datetime.fromisoformat(text)


def call(
    number: str, reported: str, completed: str | None, problem: str, action: str = "", **more: Any
) -> dict[str, Any]:
    """One call in its latest state; ``completed`` None leaves it open."""
    row = {
        "call_id": number, "file_id": "f", "row_number": 1, "source": "s", "call_number": number,
        "reported_at": at(reported), "completed_at": at(completed) if completed else None,
        "status": "completed" if completed else "open", "work_type": "reactive",
        "site_text": "S1", "asset_text": None, "address_text": None,
        "problem_text": problem, "action_text": action, "category_text": None,
        "is_lighting": True, "is_lighting_by_text": True, "duplicate_of": None,
    }  # fmt: skip
    return row | more


def control(control_id: str, position: str, kind: str = "photocontrol", **more: Any) -> dict[str, Any]:
    """A register row at site S1."""
    row = {
        "control_id": control_id, "site_id": "S1", "position": f"S1 / {position}", "kind": kind, "switching": "unknown",
        "quantity": 1, "installed_on": date(2015, 1, 1), "removed_on": None, "switched_by": None, "row_number": 1,
        "label": position,
    }  # fmt: skip
    return row | more


REGISTER = (
    control("PC-0014", "pole 14"),
    control("PC-0015", "north lot pole 3"),
    control("TC-1", "gym canopy timer", "timer"),
    control("CT-9", "field circuit 1 contactor", "contactor"),
    control("PC-0099", "field circuit 1 pilot", switched_by="CT-9"),
    control("PC-0200", "wall packs 1", quantity=12),
)
SITES = (
    {"site_id": "S1", "name": "Otter Hill Elementary School", "aliases": ["OHES"]},
    {"site_id": "S2", "name": "Vannock Middle School", "aliases": []},
)


def tied(
    tmp_path: Path,
    calls: Sequence[dict[str, Any]],
    register: Sequence[dict[str, Any]] = REGISTER,
    sites: Sequence[dict[str, Any]] = SITES,
    fixtures: Sequence[dict[str, Any]] = (),
) -> Store:
    """The store after the stage has run on these calls."""
    store = Store.create()
    _fill(store, "sites", [{"time_zone": "UTC", **site} for site in sites])
    _fill(store, "controls", [{k: v for k, v in row.items() if k != "label"} for row in register])
    places = {row["position"]: row for row in register}.values()
    _fill(store, "positions", [
        {"position": r["position"], "site_id": r["site_id"], "label": r["label"], "origin": "register",
         "latitude": r.get("latitude"), "longitude": r.get("longitude")} for r in places
    ])  # fmt: skip
    _fill(store, "fixtures", fixtures)
    _fill(store, "calls", calls)
    store.run(
        "INSERT INTO build_info VALUES ('b', '0', 'small', 'USD', 1, DATE '2020-01-01', ?, '{}')", [LOG_END]
    )
    settings = Settings(format=1, name="small", currency="USD", time_zone="UTC", assumptions=ASSUMED)
    stage.run(store, Portfolio(tmp_path, settings), Silent())
    return store


def _fill(store: Store, table: str, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        frame = pd.DataFrame(list(rows))
        store.fill_frame(table, frame.astype({c: object for c in frame.columns if frame[c].isna().all()}))


def incidents(store: Store) -> list[dict[str, Any]]:
    """All incidents, by first report."""
    frame = store.frame("SELECT * FROM incidents ORDER BY first_reported_at, incident_id")
    return [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]
