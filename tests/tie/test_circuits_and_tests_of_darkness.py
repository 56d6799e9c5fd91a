"""Darkness: a circuit out reported pole by pole, and the visits that show that lamps come on in the dark."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from .small_store import at, call, control, incidents, tied

CIRCUIT = (
    control("CT-5", "east lot contactor", "contactor"),
    *(control(f"PC-05{n}", f"east lot pole {n}", switched_by="CT-5") for n in range(1, 6)),
)


def dark(number: int, day: int, ended: str | None, action: str) -> dict[str, Any]:
    """A report of one dark pole of the circuit."""
    return call(
        f"{number}", f"2024-03-0{day} 09:00", ended, "pole light out", action, asset_text=f"PC-05{number}"
    )


@pytest.mark.parametrize(
    ("calls", "places"),
    [
        ([dark(n, n, "2024-03-05 10:00", "reset breaker") for n in (1, 2, 3)], [("CT-5", 3)]),
        ([dark(n, n, None, "") for n in (1, 2, 3, 4)], [("CT-5", 4)]),
        ([dark(n, n, "2024-03-05 10:00", "reset breaker") for n in (1, 2)], [("PC-051", 1), ("PC-052", 1)]),
        (
            [dark(n, n, "2024-03-05 10:00", "replaced lamp") for n in (1, 2, 3)],
            [("PC-051", 1), ("PC-052", 1), ("PC-053", 1)],
        ),
        (
            [dark(n, n, f"2024-03-0{n} 10:00", "repaired") for n in (1, 2, 3)],
            [("PC-051", 1), ("PC-052", 1), ("PC-053", 1)],
        ),
    ],
    ids=["one visit ended it", "still open", "two poles are no circuit", "a lamp at each", "a visit to each"],
)
def test_a_circuit_out_reported_pole_by_pole_is_one_fault_of_its_device(
    tmp_path: Path, calls: list[dict[str, Any]], places: list[tuple[str, int]]
) -> None:
    found = incidents(tied(tmp_path, calls, CIRCUIT))
    assert sorted((one["control_id"], one["calls"]) for one in found) == places


def test_a_covered_eye_test_clears_darkness_as_a_night_visit_does(tmp_path: Path) -> None:
    def onset(action: str) -> datetime:
        before = call("1", "2024-03-01 09:00", "2024-03-01 11:30", "pole 14 on all day", action)
        later = call("2", "2024-03-09 09:00", "2024-03-10 10:00", "pole 14 out", "repaired")
        found = incidents(tied(tmp_path, [before, later]))
        return next(one["onset_high"] for one in found if one["symptom"] == "out")

    tested = onset("cleaned eye. Covered eye, light came on")
    assert tested == at("2024-03-01 11:30")
    assert onset("cleaned eye") < tested
