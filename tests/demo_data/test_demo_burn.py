"""True excess hours and energy, against the pipeline's independent reckoning and by hand."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from demo_data.burn import DayLight, burn_by_year, input_watts
from demo_data.events import Incident
from demo_data.make import District
from demo_data.model import LOG_DAYS, moment_of
from demo_data.world import FixtureGroup
from pipeline.energy import night_hours

ZONE = ZoneInfo("America/Denver")
ONE_MINUTE_A_DAY = 1 / 60


def aware(day: float) -> datetime:
    return moment_of(day).replace(tzinfo=ZONE)


@pytest.mark.parametrize(
    ("begins", "ends"), [(10.0, 60.0), (170.25, 175.75), (400.5, 700.5), (2900.0, 2920.0)]
)
def test_day_hours_equal_the_span_less_the_night_hours_of_the_pipeline(
    district: District, begins: float, ends: float
) -> None:
    site = district.sites[3]
    span_h = (aware(ends).timestamp() - aware(begins).timestamp()) / 3600
    night = night_hours(site.latitude, site.longitude, aware(begins), aware(ends), 15, 15)
    assert DayLight(site).hours(begins, ends) == pytest.approx(
        span_h - night, abs=ONE_MINUTE_A_DAY * (ends - begins + 1)
    )


def test_a_year_of_day_burning_is_all_hours_but_the_lit_schedule(district: District) -> None:
    # 8,760 h less about 4,120 h of night with 15 min offsets at this latitude (New York, 40.7 N: 4,122.1 h by
    # pvlib SPA for 2023); the latitudes differ by a degree, so within 15 h.
    assert DayLight(district.sites[0]).hours(1826.0, 2191.0) == pytest.approx(8760 - 4122.1, abs=15)


def test_lamp_watts_of_hid_take_the_ballast_factor_and_nothing_else_does() -> None:
    group = FixtureGroup("HPS", 3, 250.0, "lamp", 0.0, 1.0, "a")
    assert input_watts(group) == pytest.approx(900.0)
    group.watts_basis = "input"
    assert input_watts(group) == pytest.approx(750.0)


def test_energy_follows_the_retrofit_in_the_middle_of_an_incident(district: District) -> None:
    place = next(
        p for s in district.sites for p in s.places
        if p.switched_by is None and p.quantity > 1 and len(p.fixtures) == 2 and 500 < p.fixtures[0].ends < 2500
    )  # fmt: skip
    change = place.fixtures[0].ends
    light = DayLight(place.site)
    incident = Incident(
        place.site, place, 0, "day burning", "control", "", "replaced", change - 3, restored=change + 2
    )
    kwh = sum(part[1] for part in burn_by_year(incident, light).values())
    before, after = (input_watts(group) / place.quantity / 1000 for group in place.fixtures)
    expected = light.hours(change - 3, change) * before + light.hours(change, change + 2) * after
    assert kwh == pytest.approx(expected, rel=1e-12)


def test_a_fault_still_open_at_the_end_burns_to_the_end_of_the_log(district: District) -> None:
    place = district.sites[0].places[0]
    light = DayLight(place.site)
    incident = Incident(place.site, place, 0, "day burning", "control", "", "replaced", LOG_DAYS - 4.0)
    found = burn_by_year(incident, light)
    assert set(found) == {2025}
    assert found[2025][0] == pytest.approx(light.hours(LOG_DAYS - 4.0, LOG_DAYS), abs=1e-9)
