"""Values that can be read but not be true: swapped or misplaced coordinates, lamps of 0 W."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.register_doubts import set_doubtful_aside


def site(latitude: float | None, longitude: float | None, zone: str | None = None) -> dict[str, Any]:
    return {"site_id": "S", "row_number": 2, "latitude": latitude, "longitude": longitude, "time_zone": zone}


def aside(**registers: list[dict[str, Any]]) -> dict[str, list[tuple[str, str]]]:
    return set_doubtful_aside({"sites": [], "controls": [], "fixtures": []} | registers, "UTC")


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "said"),
    [
        (11.6, 48.1, "Europe/Berlin", "look swapped"),
        (18.06, 59.33, "Europe/Stockholm", "look swapped"),
        (39.6, 102.9, "America/Denver", "degrees of longitude from the meridian"),  # the minus is missing
        (0.0, 0.0, "Europe/London", "the point in the sea"),
        (-102.9, 39.6, "America/Denver", "look swapped: in America/Denver it would be 39.6, -102.9"),
        (95.0, 10.0, "Europe/Berlin", "no place on Earth"),
        (40.0, -200.0, "America/Denver", "no place on Earth"),
        (-33.9, 18.4, "Australia/Sydney", "degrees of longitude from the meridian"),
    ],
)
def test_places_that_do_not_fit_their_zone_are_told_and_not_used(
    latitude: float, longitude: float, zone: str, said: str
) -> None:
    row = site(latitude, longitude, zone)
    ((place, message),) = aside(sites=[row])["sites"]
    assert place == "sites.csv, row 2, columns latitude and longitude"
    assert said in message
    assert (row["latitude"], row["longitude"]) == (None, None)


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (39.6, -102.9, "America/Denver"),
        (48.1, 11.6, "Europe/Berlin"),
        (42.9, -8.5, "Europe/Madrid"),  # 24 degrees west of its meridian
        (43.8, 87.6, "Asia/Shanghai"),  # 32 degrees west
        (-33.9, 151.2, "Australia/Sydney"),
        (64.1, -21.9, "Atlantic/Reykjavik"),
        (-17.8, 178.0, "Pacific/Fiji"),
        (52.0, -175.0, "America/Adak"),
        (1.9, -157.4, "Pacific/Kiritimati"),  # 14 hours before UTC, beyond the date line
    ],
)
def test_real_places_far_from_their_meridian_stay(latitude: float, longitude: float, zone: str) -> None:
    row = site(latitude, longitude, zone)
    assert not any(aside(sites=[row]).values())
    assert (row["latitude"], row["longitude"]) == (latitude, longitude)


def test_a_site_without_a_zone_is_held_against_the_portfolios() -> None:
    assert set_doubtful_aside(
        {"sites": [site(39.6, 102.9)], "controls": [], "fixtures": []}, "America/Denver"
    )["sites"]
    assert aside(sites=[site(None, None)])["sites"] == []


def test_controls_are_held_against_the_zone_of_their_site_and_many_are_counted() -> None:
    home = site(39.6, -102.9, "America/Denver")
    controls = [
        {"control_id": f"C{row}", "site_id": "S", "row_number": row, "latitude": -102.9, "longitude": 39.6}
        for row in range(2, 9)
    ]
    notices = aside(sites=[home], controls=controls)["controls"]
    assert [place for place, _ in notices[:2]] == [
        f"controls.csv, row {row}, columns latitude and longitude" for row in (2, 3)
    ]
    assert "7 rows in all" in notices[-1][1]
    assert len(notices) == 6
    assert {(row["latitude"], row["longitude"]) for row in controls} == {(None, None)}


def test_lamps_of_no_watts_and_of_far_too_many_are_counted_with_their_rows_and_not_used() -> None:
    fixtures: list[dict[str, Any]] = [
        {"row_number": row, "watts_each": watts}
        for row, watts in enumerate((0.0, 40.0, None, 0.0, 50_000.0), start=2)
    ]
    (zero, huge) = aside(fixtures=fixtures)["fixtures"]
    assert zero[0] == huge[0] == "fixtures.csv, column watts_each"
    assert "in 2 rows (row 2: 0 W, row 5: 0 W)" in zero[1]
    assert "in 1 row (row 6: 50000 W)" in huge[1]
    assert [row["watts_each"] for row in fixtures] == [None, 40.0, None, None, None]


def test_a_place_of_an_inventory_is_named_by_its_own_file() -> None:
    row = {"row_number": 4, "watts_each": 0.0, "file_name": "lamps.xlsx"}
    assert aside(fixtures=[row])["fixtures"][0][0] == "lamps.xlsx, column watts_each"


def test_a_zone_that_is_none_is_told_and_takes_the_place_with_it() -> None:
    row = site(39.6, -102.9, "Mars/Base")
    ((place, message),) = set_doubtful_aside({"sites": [row], "controls": [], "fixtures": []}, "UTC")["sites"]
    assert place == "sites.csv, row 2, column time_zone"
    assert "'Mars/Base' is not an IANA time zone" in message
    assert (row["time_zone"], row["latitude"], row["longitude"]) == (None, None, None)
