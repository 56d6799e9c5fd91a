"""Requests that their system files under another one: which are one fault with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from .small_store import call, incidents, tied


def child(number: str, parent: str | None, problem: str, action: str = "", **more: Any) -> dict[str, Any]:
    """A call of the third of March that its system files under ``parent``."""
    return call(number, "2024-03-03 09:00", "2024-03-09 10:00", problem, action, part_of=parent, **more)


def test_a_child_without_a_place_is_one_fault_with_its_parent(tmp_path: Path) -> None:
    calls = [
        child("1", None, "lights on all day", "see child"),
        child("2", "1", "lights on all day", "replaced photocell"),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert (one["calls"], one["action"], one["control_failed"]) == (2, "replaced", True)


def test_the_place_that_one_of_them_names_is_the_incidents(tmp_path: Path) -> None:
    calls = [
        child("1", None, "lights on all day"),
        child("2", "1", "pole 14 on all day", "replaced photocell"),
    ]
    (one,) = incidents(tied(tmp_path, calls))
    assert (one["calls"], one["control_id"]) == (2, "PC-0014")


def test_children_of_a_round_at_several_places_stand_apart(tmp_path: Path) -> None:
    calls = [
        child("1", None, "lights out around the school"),
        child("2", "1", "pole 14 out", "replaced lamp"),
        child("3", "1", "north lot pole 3 out", "replaced lamp"),
    ]
    assert [one["calls"] for one in incidents(tied(tmp_path, calls))] == [1, 1, 1]


def test_a_child_with_another_kind_of_fault_stands_apart(tmp_path: Path) -> None:
    calls = [child("1", None, "lights on all day"), child("2", "1", "lot lights out", "replaced lamp")]
    assert len(incidents(tied(tmp_path, calls))) == 2


def test_a_ring_of_parents_and_a_parent_that_was_not_read_are_survived(tmp_path: Path) -> None:
    calls = [
        child("1", "2", "lights on all day"),
        child("2", "1", "lights on all day"),
        child("3", "gone", "lights on all day"),
    ]
    assert sum(one["calls"] for one in incidents(tied(tmp_path, calls))) == 3
