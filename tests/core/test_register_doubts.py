"""Values that can be read but not be true: swapped or misplaced coordinates, lamps of 0 W."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.register_doubts import set_doubtful_aside


def site(latitude: float | None, longitude: float | None, zone: str | None = None) -> dict[str, Any]:
    return {"site_id": "S", "row_number": 2, "latitude": latitude, "longitude": longitude, "time_zone": zone}


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "said"),
    [
        (11.6, 48.1, "Europe/Berlin", "look swapped"),
        (18.06, 59.33, "Europe/Stockholm", "look swapped"),
        (39.6, 102.9, "America/Denver", "degrees of longitude from the meridian"),  # the minus is missing
        (0.0, 0.0, "Europe/London", "the point in the sea"),
        (-33.9, 18.4, "Australia/Sydney", "degrees of longitude from the meridian"),
    ],
)
def test_places_that_do_not_fit_their_zone_are_told_and_not_used(
    latitude: float, longitude: float, zone: str, said: str
) -> None:
    row = site(latitude, longitude, zone)
    ((place, message),), _ = set_doubtful_aside([row], [], "UTC")
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
    assert set_doubtful_aside([row], [], "UTC") == ([], [])
    assert (row["latitude"], row["longitude"]) == (latitude, longitude)


def test_a_site_without_a_zone_is_held_against_the_portfolios() -> None:
    assert set_doubtful_aside([site(39.6, 102.9)], [], "America/Denver")[0]
    assert set_doubtful_aside([site(None, None)], [], "America/Denver")[0] == []


def test_lamps_of_no_watts_are_counted_with_their_rows() -> None:
    fixtures = [
        {"row_number": row, "watts_each": watts} for row, watts in ((2, 0.0), (3, 40.0), (4, None), (5, 0.0))
    ]
    _, ((place, message),) = set_doubtful_aside([], fixtures, "UTC")
    assert place == "fixtures.csv, column watts_each"
    assert "0 W in 2 rows (row 2, 5)" in message
