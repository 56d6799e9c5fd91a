"""Places that controls sit in: which register rows followed one another there, and which stood there together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from itertools import pairwise
from typing import Any

from pipeline.keys import joined

Row = dict[str, Any]


def with_places(rows: Sequence[Row]) -> list[Row]:
    """Control rows with ``position`` (the key of their place) and ``label``.

    Rows of one site, label and kind that followed one another share a place. Where several stood there at once
    ("parking lot" for three controls), the label names no single place: each gets one of its own, named with its
    control_id, and a call that gives the label alone stays open.
    """
    by_label: defaultdict[tuple[Any, ...], list[Row]] = defaultdict(list)
    for row in rows:
        by_label[row["site_id"], row["position"] or row["control_id"], row["kind"]].append(row)
    apart = {row["control_id"] for group in by_label.values() if in_place_together(group) for row in group}
    return [_placed(row, row["control_id"] in apart) for row in rows]


def in_place_together(rows: Iterable[Row]) -> bool:
    """Whether two rows say that they were there at the same time (a day's overlap is a handover)."""
    ordered = sorted(rows, key=lambda row: row["installed_on"] or date.min)
    return any(
        later["installed_on"] is None
        or earlier["removed_on"] is None
        or earlier["removed_on"] > later["installed_on"]
        for earlier, later in pairwise(ordered)
    )


def positions(controls: Iterable[Row]) -> list[Row]:
    """One row per place; its coordinates are those of its first control that has any."""
    found: dict[str, Row] = {}
    for row in controls:
        place = found.setdefault(row["position"], {"latitude": None, "longitude": None})
        place |= {
            "position": row["position"],
            "site_id": row["site_id"],
            "label": row["label"],
            "origin": "register",
        }
        if place["latitude"] is None:
            place |= {"latitude": row["latitude"], "longitude": row["longitude"]}
    return list(found.values())


def _placed(row: Row, apart: bool) -> Row:
    label, control_id = row["position"] or row["control_id"], row["control_id"]
    if apart:
        return row | {
            "position": joined(row["site_id"], label, control_id),
            "label": f"{label} ({control_id})",
        }
    return row | {"position": joined(row["site_id"], label), "label": label}
