"""A store with two accounts' sites and made readings, as the intake would leave it: no file is written or read."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.meters import finding
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

from .made_readings import LATITUDE, LENGTH_S, LONGITUDE, ZONE, Made

SETTINGS = Settings(format=1, name="x", currency="USD", time_zone=ZONE)


def metered(accounts: Mapping[str, Made], without: Mapping[str, np.ndarray] | None = None) -> Store:
    """Sites S-<account> with readings; ``without``: by account, which of its readings are missing."""
    store = Store.create()
    for account in accounts:
        store.run("INSERT INTO accounts VALUES (?, NULL, true)", [account])
        store.run(
            "INSERT INTO sites (site_id, name, latitude, longitude, time_zone, account_id) VALUES (?, ?, ?, ?, ?, ?)",
            [f"S-{account}", f"Yard {account}", LATITUDE, LONGITUDE, ZONE, account],
        )
    offer(store, accounts, without or {})
    return store


def offer(store: Store, accounts: Mapping[str, Made], without: Mapping[str, np.ndarray]) -> None:
    """What the intake leaves behind: views and tables of the readings."""
    frames = []
    for account, made in accounts.items():
        kept = ~without.get(account, np.zeros(made.kw.size, dtype=bool))
        start_s = made.start_s[kept].astype(np.int64)
        frames.append(pd.DataFrame({"account_id": account, "start_s": start_s, "kw": made.kw[kept]}))
    frame = pd.concat(frames, ignore_index=True).assign(
        file_id="made", interval_s=int(LENGTH_S), has_offset=True, reason=None, stamp=None
    )
    frame["reason"] = frame["reason"].astype("string")
    frame["row_number"] = np.arange(len(frame)) + 2
    store.run(sql_text("pipeline.meters", "account_sites"))
    store.run("CREATE OR REPLACE TEMP MACRO local_time(s, zone) AS timezone(zone, to_timestamp(s))")
    with store.frame_as("made", frame):
        store.run("CREATE OR REPLACE TEMP TABLE meter_readings AS SELECT * FROM made")
    store.run(
        f"CREATE OR REPLACE TEMP TABLE account_zones AS SELECT account_id, '{ZONE}' AS time_zone FROM accounts"
    )
    store.fill("meter_gaps", sql_text("pipeline.meters", "gaps"))


def searched(
    accounts: Mapping[str, Made],
    without: Mapping[str, np.ndarray] | None = None,
    settings: Settings = SETTINGS,
) -> Store:
    """The same after the search."""
    store = metered(accounts, without)
    finding.find_episodes(store, settings, Silent())
    return store
