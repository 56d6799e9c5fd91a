"""Calls with coordinates of their own: which place they stand at, where no tag and no word said so."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.store import Store
from pipeline.tie.nearness import nearest_places, standing_together

# A place is told apart from the next one when that is this many times as far, and this much farther.
_LEAD_TIMES, _LEAD_M = 2.0, 5.0
_LOCATED = "latitude IS NOT NULL AND longitude IS NOT NULL"
_SUREST, _AT_THE_EDGE, _CONTESTED = 0.9, 0.65, 0.5


def find_near_places(store: Store, within_metres: float) -> None:
    """Fill the working table near_places: per call with usable coordinates, the nearest registered place within
    ``within_metres``, with a confidence that falls with the distance and is low where another is about as near."""
    points = store.frame(f"SELECT DISTINCT latitude, longitude FROM tie_calls WHERE {_LOCATED} ORDER BY ALL")  # noqa: S608
    columns = "position, site_id, latitude, longitude"
    places = store.frame(f"SELECT {columns} FROM positions WHERE {_LOCATED} ORDER BY 1")  # noqa: S608
    _keep(store, "near_points", _near(points, places, within_metres))
    store.run(
        "CREATE OR REPLACE TEMP TABLE near_places AS "
        "SELECT c.call_id, n.* EXCLUDE (latitude, longitude)"
        " FROM tie_calls c JOIN near_points n USING (latitude, longitude)"
    )


def _near(points: pd.DataFrame, places: pd.DataFrame, within_metres: float) -> pd.DataFrame:
    columns = {"near_position": str, "near_site_id": str, "near_metres": float, "near_confidence": float}
    if points.empty or places.empty:
        return points.assign(**{name: pd.Series(dtype=kind) for name, kind in columns.items()}).iloc[:0]
    near = nearest_places(*_degrees(points), *_degrees(places))
    clear = (near.next_metres >= _LEAD_TIMES * near.metres) & (near.next_metres >= near.metres + _LEAD_M)
    sure = _SUREST - (_SUREST - _AT_THE_EDGE) * near.metres / within_metres
    found = places.iloc[near.nearest].reset_index(drop=True)
    return points.assign(
        near_position=found["position"],
        near_site_id=found["site_id"],
        near_metres=near.metres,
        near_confidence=np.where(clear, sure, _CONTESTED),
    )[near.metres <= within_metres]


def gather_calls_that_stand_together(store: Store, within_metres: float) -> None:
    """Fill the working table stands_at: without any register, calls within a few metres are at one place, named by
    the middle of their points."""
    points = store.frame(
        f"SELECT DISTINCT latitude, longitude FROM tie_calls WHERE {_LOCATED}"  # noqa: S608 - words of ours
        " AND NOT EXISTS (FROM controls) AND NOT EXISTS (FROM sites) ORDER BY ALL"
    )
    if not points.empty:
        group = standing_together(*_degrees(points), within_metres)
        middle = points.groupby(group)[["latitude", "longitude"]].transform("median")
        points["stands_at"] = [f"near {north:.5f}, {east:.5f}" for north, east in middle.to_numpy()]
    _keep(store, "stands_at", points if not points.empty else points.assign(stands_at=pd.Series(dtype=str)))


def _degrees(frame: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    return frame["latitude"].to_numpy(float), frame["longitude"].to_numpy(float)


def _keep(store: Store, table: str, frame: pd.DataFrame) -> None:
    """A frame as a temporary table; an empty one keeps text columns text."""
    typed = ", ".join(
        f"{name}::{'DOUBLE' if name in _NUMBERS else 'VARCHAR'} AS {name}" for name in frame.columns
    )
    with store.frame_as("points_to_keep", frame) as name:
        store.run(f"CREATE OR REPLACE TEMP TABLE {table} AS SELECT {typed} FROM {name}")  # noqa: S608 - names of ours


_NUMBERS = ("latitude", "longitude", "near_metres", "near_confidence")
