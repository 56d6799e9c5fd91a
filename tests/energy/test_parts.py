"""Spans cut at month ends and where loads change: no hour is lost or counted twice."""

from __future__ import annotations

from datetime import datetime, timedelta

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.energy import lit_schedule, utc_seconds_from_local
from pipeline.energy.parts import lit_parts
from pipeline.energy.placing import LEVELS
from pipeline.settings import Assumptions

ASSUMPTIONS = Assumptions(lights_on_after_sunset_min=0, lights_off_before_sunrise_min=0)
ZONE, LATITUDE, LONGITUDE = "America/Denver", 39.6, -102.9
FIRST = datetime(2023, 1, 1)
CLOSES = datetime(2024, 12, 1)

MINUTES = st.integers(0, 600 * 24 * 60)
CUTS = st.sets(st.integers(1, 699), max_size=5)


def span_of(incident_id: str, minutes: list[int]) -> dict[str, object]:
    """Six moments in order: the onset's high, central, low, then the end's low, central, high."""
    moments = [FIRST + timedelta(minutes=minute) for minute in sorted(minutes)]
    names = [*(f"onset_{level}" for level in reversed(LEVELS)), *(f"restored_{level}" for level in LEVELS)]
    place = {"latitude": LATITUDE, "longitude": LONGITUDE, "time_zone": ZONE, "closes": CLOSES}
    return {"incident_id": incident_id} | place | dict(zip(names, moments, strict=True))


def steps_of(incident_id: str, cuts: set[int]) -> pd.DataFrame:
    days = [FIRST + timedelta(days=day) for day in [0, *sorted(cuts), 701]]
    return pd.DataFrame({"incident_id": incident_id, "begins": days[:-1], "ends": days[1:]})


@settings(max_examples=60, deadline=None)
@given(drawn=st.lists(st.tuples(st.lists(MINUTES, min_size=6, max_size=6), CUTS), min_size=1, max_size=3))
def test_the_parts_of_a_span_add_up_to_it(drawn: list[tuple[list[int], set[int]]]) -> None:
    spans = pd.DataFrame([span_of(f"i{n}", minutes) for n, (minutes, _) in enumerate(drawn)])
    steps = pd.concat([steps_of(f"i{n}", cuts) for n, (_, cuts) in enumerate(drawn)])
    parts = lit_parts(spans, steps, ASSUMPTIONS).frame
    assert not parts.duplicated(["incident_id", "month", "begins"]).any()
    schedule = lit_schedule(
        LATITUDE,
        LONGITUDE,
        utc_seconds_from_local(spans["onset_high"], ZONE).min(),
        utc_seconds_from_local(spans["restored_high"], ZONE).max(),
    )
    for level in LEVELS:
        whole = schedule.day_hours_between(
            utc_seconds_from_local(spans[f"onset_{level}"], ZONE),
            utc_seconds_from_local(spans[f"restored_{level}"], ZONE),
        )
        summed = parts.groupby("incident_id")[f"excess_hours_{level}"].sum().reindex(spans["incident_id"])
        assert summed.to_numpy() == pytest.approx(whole, abs=1e-6)  # hours


def test_a_span_of_no_length_keeps_one_part_of_no_hours() -> None:
    spans = pd.DataFrame([span_of("i", [31 * 24 * 60] * 6)])  # on the first of a month, and on a cut
    parts = lit_parts(spans, steps_of("i", {31}), ASSUMPTIONS).frame
    assert len(parts) == 1
    assert parts["begins"].iloc[0] == parts["month"].iloc[0] == datetime(2023, 2, 1)
    assert parts["excess_hours_high"].iloc[0] == 0


def test_a_part_belongs_to_the_load_that_hung_there_on_its_days() -> None:
    spans = pd.DataFrame([span_of("i", [day * 24 * 60 for day in (10, 10, 10, 50, 50, 50)])])
    parts = lit_parts(spans, steps_of("i", {20}), ASSUMPTIONS).frame
    found = [(row.begins.date().isoformat(), row.month.date().isoformat()) for row in parts.itertuples()]
    assert sorted(found) == [
        ("2023-01-01", "2023-01-01"),
        ("2023-01-21", "2023-01-01"),
        ("2023-01-21", "2023-02-01"),
    ]
