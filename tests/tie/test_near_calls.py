"""Calls with coordinates: tied to the one place beside them, hinted where two are, gathered without a register."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.tie.nearness import EARTH_RADIUS_M, nearest_places, standing_together

from .small_store import call, control, tied

METRE = 1 / 111_195.08  # degrees of latitude, on a sphere of EARTH_RADIUS_M
NORTH, EAST = 40.0, -105.0
REGISTER = (
    control("PC-1", "pole 1", latitude=NORTH, longitude=EAST),
    control("PC-2", "pole 2", latitude=NORTH + 40 * METRE, longitude=EAST),
)


def there(metres_north: float, number: str = "1", **more: object) -> dict[str, object]:
    """A call that names no place, so many metres north of pole 1."""
    at = {"latitude": NORTH + metres_north * METRE, "longitude": EAST}
    return call(
        number, "2024-03-01 09:00", "2024-03-02 09:00", "light out", "replaced photocell", **at | more
    )


def finding(tmp_path: Path, *calls: dict[str, object], **registers: object) -> tuple[object, ...]:
    store = tied(tmp_path, calls, **{"register": REGISTER, **registers})  # type: ignore[arg-type]
    return store.row(
        "SELECT control_id, position, tie_method, tie_confidence, site_id, evidence FROM findings"
    )


def test_one_degree_of_latitude_is_its_arc() -> None:
    near = nearest_places(np.array([1.0]), np.array([0.0]), np.array([0.0]), np.array([0.0]))
    chord = 2 * EARTH_RADIUS_M * np.sin(np.radians(0.5))
    assert near.metres[0] == pytest.approx(chord, abs=0.001)
    assert 2 * np.pi * EARTH_RADIUS_M / 360 == pytest.approx(111_195, abs=1)  # m a degree, from memory
    assert near.next_metres[0] == np.inf


@given(st.floats(-89, 89), st.floats(-180, 180), st.floats(0.5, 400), st.floats(0, 360))
def test_a_step_on_the_ground_is_that_many_metres_anywhere(
    north: float, east: float, metres: float, bearing: float
) -> None:
    step = metres / EARTH_RADIUS_M
    to_north = north + np.degrees(step * np.cos(np.radians(bearing)))
    to_east = east + np.degrees(
        step * np.sin(np.radians(bearing)) / np.cos(np.radians((north + to_north) / 2))
    )
    near = nearest_places(np.array([to_north]), np.array([to_east]), np.array([north]), np.array([east]))
    assert near.metres[0] == pytest.approx(metres, rel=0.002)


def test_the_place_beside_the_call_is_its_place(tmp_path: Path) -> None:
    control_id, position, method, confidence, site_id, evidence = finding(tmp_path, there(4))
    assert (control_id, position, method, site_id) == ("PC-1", "S1 / pole 1", "coordinates", "S1")
    assert confidence == pytest.approx(0.9 - 0.25 * 4 / 20, abs=0.001)
    assert "4.0 m away" in str(evidence)


def test_a_call_between_two_places_is_left_open_with_its_candidate(tmp_path: Path) -> None:
    control_id, _, method, _, _, evidence = finding(tmp_path, there(19))
    assert (control_id, method) == (None, "site")
    assert "perhaps at S1 / pole 1" in str(evidence)


def test_a_call_far_from_every_place_has_none(tmp_path: Path) -> None:
    assert finding(tmp_path, there(-30))[:3] == (None, None, "site")


def test_a_call_of_another_site_is_not_tied_across(tmp_path: Path) -> None:
    control_id, _, _, _, site_id, evidence = finding(tmp_path, there(4, site_text="S2"))
    assert (control_id, site_id) == (None, "S2")
    assert "perhaps at S1 / pole 1" in str(evidence)


def test_a_call_without_a_site_takes_that_of_the_place(tmp_path: Path) -> None:
    assert finding(tmp_path, there(4, site_text=None))[4] == "S1"


def test_words_that_name_a_place_count_before_coordinates(tmp_path: Path) -> None:
    assert finding(tmp_path, there(4, asset_text="PC-2"))[:3] == ("PC-2", "S1 / pole 2", "tag")


def test_a_systems_default_coordinate_ties_nothing(tmp_path: Path) -> None:
    assert finding(tmp_path, there(4, flags=["default coordinate"]))[0] is None


def test_without_a_register_calls_a_few_metres_apart_are_one_place(tmp_path: Path) -> None:
    calls = [there(0, "1", site_text=None), there(5, "2", site_text=None), there(60, "3", site_text=None)]
    store = tied(tmp_path, calls, register=(), sites=())
    places = store.rows(
        "SELECT position, count(*), any_value(tie_method) FROM findings GROUP BY 1 ORDER BY 2"
    )
    assert [(count, method) for _, count, method in places] == [(1, "coordinates"), (2, "coordinates")]
    assert places[0][0] == "near 40.00054, -105.00000"


def test_standing_together_goes_by_steps_and_no_farther() -> None:
    north = NORTH + np.array([0, 6, 12, 30]) * METRE
    group = standing_together(north, np.full(4, EAST), 8)
    assert len(set(group[:3])) == 1
    assert group[3] != group[0]
