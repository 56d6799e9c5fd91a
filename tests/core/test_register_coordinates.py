"""A site without coordinates of its own takes its place from its controls."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import small_portfolio
from hypothesis import given
from hypothesis import strategies as st

from pipeline.build import build
from pipeline.register_coordinates import FARTHEST_KM, mean_place, with_coordinates
from pipeline.store import Store

NOWHERE = {"latitude": None, "longitude": None}


def site(site_id: str, latitude: float | None = None, longitude: float | None = None) -> dict[str, object]:
    return {"site_id": site_id, "latitude": latitude, "longitude": longitude}


def test_a_site_without_coordinates_stands_amid_its_controls_and_that_is_said() -> None:
    controls = [site("S1", 39.60, -102.90), site("S1", 39.62, -102.90), site("S1"), site("S2", 1.0, 2.0)]
    placed = with_coordinates([site("S1"), site("S2", 5.0, 6.0), site("S3")], controls)
    one, two, three = placed.sites
    assert (one["latitude"], one["longitude"]) == (pytest.approx(39.61, abs=1e-6), pytest.approx(-102.90))
    assert (two["latitude"], two["longitude"]) == (5.0, 6.0)
    assert three == site("S3")
    ((place, message),) = placed.notices
    assert place == "sites.csv, latitude and longitude"
    assert "1 site is without coordinates of its own" in message
    assert "(S1)" in message


def test_controls_far_apart_give_no_place_and_that_is_said() -> None:
    controls = [site("S1", 39.60, -102.90), site("S1", 39.80, -102.90)]  # 0.2 degrees of latitude: 22 km
    placed = with_coordinates([site("S1")], controls)
    assert placed.sites == [site("S1")]
    ((place, message),) = placed.notices
    assert place == "controls.csv, latitude and longitude"
    assert "S1 (11 km)" in message


def test_distance_is_that_of_a_degree_of_the_meridian() -> None:
    # A degree of a great circle on a sphere of 6371 km is 2 pi 6371 / 360 = 111.195 km; half of it from the middle.
    _, _, farthest_km = mean_place(np.array([[40.0, 10.0], [41.0, 10.0]]))
    assert farthest_km == pytest.approx(111.195 / 2, abs=0.01)


def test_the_mean_of_places_on_both_sides_of_the_date_line_lies_between_them() -> None:
    latitude, longitude, farthest_km = mean_place(np.array([[0.0, 179.99], [0.0, -179.99]]))
    assert latitude == pytest.approx(0, abs=1e-9)
    assert abs(longitude) == pytest.approx(180, abs=1e-9)
    assert farthest_km < FARTHEST_KM


@given(
    st.floats(-80, 80), st.floats(-180, 180),
    st.lists(st.tuples(st.floats(-0.01, 0.01), st.floats(-0.01, 0.01)), min_size=1, max_size=8),
)  # fmt: skip
def test_controls_close_together_always_give_a_place_among_them(
    north: float, east: float, offsets: list[tuple[float, float]]
) -> None:
    points = np.array([(north + up, east + right) for up, right in offsets])
    latitude, longitude, farthest_km = mean_place(points)
    assert points[:, 0].min() - 1e-5 <= latitude <= points[:, 0].max() + 1e-5
    assert abs((longitude - east + 180) % 360 - 180) <= 0.011
    assert farthest_km < FARTHEST_KM


def test_every_stage_gains_by_it(tmp_path: Path) -> None:
    folder = small_portfolio.make(tmp_path / "yards")
    (folder / "sites.csv").write_text("site_id,name\nS1,North Yard\nS2,South Yard\n", encoding="utf-8")
    header, *rows = small_portfolio.CONTROLS.splitlines()
    rows = [f"{row},39.6,-102.9" for row in rows]
    text = "\n".join([f"{header},latitude,longitude", *rows]) + "\n"
    (folder / "controls.csv").write_text(text, encoding="utf-8")
    store = Store.open(build(folder).database)
    assert store.value("SELECT min(excess_hours_central) FROM burn_episodes") > 0
    assert store.value("SELECT count(*) FROM sites WHERE latitude IS NULL") == 0
    assert (
        store.value("SELECT count(*) FROM notices WHERE message LIKE '2 sites are without coordinates%'") == 1
    )
    store.close()
