"""The working tables of stays, as read and as drawn; the checks at the end of a build compare lives with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from pipeline.lives.stay_records import Stay
from pipeline.store import Store

_COLUMNS = """
  stay_number BIGINT, succession BIGINT, control_id VARCHAR, register_case VARCHAR, started_on DATE, entered_on DATE,
  ended_on DATE, failed BOOLEAN, end_reason VARCHAR, quantity BIGINT, incident_id VARCHAR, excluded_reason VARCHAR,
  failed_after DATE, failed_by DATE, imputed BOOLEAN, draw BIGINT
"""
_DATES = ("started_on", "entered_on", "ended_on", "failed_after", "failed_by")
_ORDINAL_OF_FIRST_DAY = 719163


def fill_stays(store: Store, stays: Sequence[Stay], drawn: pd.DataFrame | None = None) -> None:
    """Make the table ``stays``: those given, numbered in order, then those of ``drawn`` (see ``add_stays``)."""
    store.run(f"CREATE OR REPLACE TEMP TABLE stays ({_COLUMNS})")
    frame = pd.DataFrame(
        [asdict(stay) | {"stay_number": number, "draw": 0} for number, stay in enumerate(stays)]
    )
    for column in _DATES if len(frame) else ():
        frame[column] = pd.to_datetime(frame[column])
    store.fill_frame("stays", frame)
    if drawn is not None and len(drawn):
        before: dict[str, int] = {}
        for stay in stays:
            before[stay.control_id] = max(before.get(stay.control_id, 0), stay.succession)
        earlier = drawn["control_id"].map(before).fillna(0).astype(int)
        add_stays(store, "stays", drawn.assign(draw=0), len(stays), earlier)


def make_drawn_stays(store: Store, drawn: pd.DataFrame) -> None:
    """Make the table ``drawn_stays`` of the lives that the draws set (column ``draw``)."""
    store.run(f"CREATE OR REPLACE TEMP TABLE drawn_stays ({_COLUMNS})")
    if len(drawn):
        add_stays(store, "drawn_stays", drawn, 0, pd.Series(0, index=drawn.index))


def add_stays(
    store: Store, table: str, drawn: pd.DataFrame, first_number: int, earlier: pd.Series[int]
) -> None:
    """Append drawn stays, whose days are ordinals; ``earlier``: stays of the same control already there."""
    frame = drawn.assign(
        stay_number=first_number + np.arange(len(drawn)),
        succession=earlier + drawn.groupby(["draw", "control_id"]).cumcount() + 1,
        excluded_reason=None,
        imputed=True,
    )
    for column in _DATES:
        frame[column] = _dates_of(frame[column])
    frame["excluded_reason"] = frame["excluded_reason"].astype(object)
    store.fill_frame(table, frame)


def _dates_of(ordinals: pd.Series[Any]) -> pd.Series[Any]:
    """Days from ordinals, missing where these are. By whole numbers: pandas reads floats through memory never set."""
    missing = ordinals.isna().to_numpy()
    known = np.where(missing, _ORDINAL_OF_FIRST_DAY, ordinals.to_numpy(dtype=object))
    days = known.astype(np.int64) - _ORDINAL_OF_FIRST_DAY
    dates = days.astype("datetime64[D]").astype("datetime64[s]")
    dates[missing] = np.datetime64("NaT")
    return pd.Series(dates, index=ordinals.index)
