"""Lamp life burnt by day and nights without light, on hand-reckoned incidents."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from pipeline.energy import night_hours
from pipeline.figures import Filters, also_lost
from pipeline.store import Store

from .test_energy_stage import (
    LATITUDE,
    LONGITUDE,
    SETTINGS,
    burning,
    control,
    day_hours,
    fixtures,
    run,
    store,
)

__all__ = ["SETTINGS", "store"]
SPAN = ("2024-05-20 18:00", "2024-05-30 18:00")


def dark(store: Store, incident_id: str, control_id: str | None, **values: Any) -> None:
    burning(store, incident_id, control_id, *SPAN)
    row = {"symptom": "out", "failure_mode": "fails off"} | values
    sets = ", ".join(f"{name} = ?" for name in row)
    store.run(f"UPDATE incidents SET {sets} WHERE incident_id = ?", [*row.values(), incident_id])


def test_lamp_life_is_hours_over_rated_life_at_the_lamps_price(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 100.0, luminaires=4.0, rated_life_h=20_000.0, replacement_cost=50)
    burning(store, "i", "C", *SPAN)
    run(store, tmp_path)
    hours = day_hours(*SPAN)
    lamps, cost = store.row("SELECT lamp_hours_central, lamp_cost_central FROM lamp_losses")
    assert float(lamps) == pytest.approx(4 * hours, abs=1e-3)  # h
    assert float(cost) == pytest.approx(4 * hours / 20_000 * 50, abs=0.01)  # USD
    figure, _ = also_lost(store)
    assert figure.value == pytest.approx(float(cost))


def test_lamps_without_a_rated_life_burn_hours_and_no_known_cost(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 100.0, luminaires=4.0, replacement_cost=50)
    burning(store, "i", "C", *SPAN)
    run(store, tmp_path)
    row = store.row("SELECT lamp_lives_central, lamp_cost_central, luminaires_without_life FROM lamp_losses")
    assert row == (None, None, 4)
    figure, _ = also_lost(store)
    assert figure.value is None  # not known, which is not 0
    assert (
        "In 1 incident the rated life or the replacement cost of some lamps is not known: no cost"
        in figure.note
    )
    hours = {one.key: one.value for one in figure.beside}
    assert hours == {"lamp_lives": None, "lamp_hours": pytest.approx(4 * day_hours(*SPAN), abs=1e-3)}


def test_lamps_of_a_known_life_and_no_price_burn_lives_and_the_others_count_by_themselves(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 100.0, luminaires=2.0, rated_life_h=20_000.0)
    fixtures(store, "G", "C", 100.0, luminaires=3.0, rated_life_h=10_000.0, replacement_cost=40)
    fixtures(store, "H", "C", 100.0, luminaires=1.0)
    burning(store, "i", "C", *SPAN)
    run(store, tmp_path)
    hours = day_hours(*SPAN)
    lives, cost, *without = store.row(
        "SELECT lamp_lives_central, lamp_cost_central, luminaires_without_life, luminaires_without_cost"
        " FROM lamp_losses"
    )
    assert float(lives) == pytest.approx(hours * (2 / 20_000 + 3 / 10_000), abs=1e-5)  # lives of one lamp
    assert float(cost) == pytest.approx(hours * 3 / 10_000 * 40, abs=0.01)  # USD
    assert without == [1, 3]


def test_nights_without_light_are_the_dark_hours_of_the_span_and_no_energy(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 100.0, luminaires=3.0)
    dark(store, "i", "C")
    run(store, tmp_path)
    first, last = (datetime.fromisoformat(text).replace(tzinfo=ZoneInfo("UTC")) for text in SPAN)
    hours, luminaires = store.row("SELECT unlit_hours_central, luminaires FROM unlit_episodes")
    assert hours == pytest.approx(night_hours(LATITUDE, LONGITUDE, first, last))
    assert luminaires == 3
    assert store.count("burn_episodes") == 0
    assert also_lost(store)[1].value == pytest.approx(hours)
    assert also_lost(store, Filters(sites=("elsewhere",)))[1].value is None


def test_as_many_members_of_a_batch_are_dark_as_failed_and_of_each_the_share_that_is_stated(
    store: Store, tmp_path: Any
) -> None:
    control(store, "B", quantity=10)
    fixtures(store, "F", "B", 100.0, luminaires=40.0)
    dark(store, "one", "B")
    dark(store, "three", "B", units=3)
    dark(store, "half", "B", share_of_lamps=0.5)
    dark(store, "more than there are", "B", units=12)
    run(store, tmp_path)
    found = dict(store.rows("SELECT incident_id, luminaires FROM unlit_episodes"))
    assert found == {"one": 4, "three": 12, "half": 2, "more than there are": 40}


def test_a_circuit_still_dark_at_the_logs_end_counts_to_it(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    burning(store, "i", "C", "2024-12-30 12:00", None)
    store.run("UPDATE incidents SET symptom = 'circuit out', failure_mode = 'fails off'")
    run(store, tmp_path)
    first, last = (
        datetime(2024, 12, 30, 12, tzinfo=ZoneInfo("UTC")),
        datetime(2025, 1, 1, tzinfo=ZoneInfo("UTC")),
    )
    hours, luminaires = store.row("SELECT unlit_hours_high, luminaires FROM unlit_episodes")
    assert (hours, luminaires) == (pytest.approx(night_hours(LATITUDE, LONGITUDE, first, last)), None)


def test_dark_lamps_of_another_cause_or_an_unproven_control_are_no_such_nights(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    dark(store, "lamp", "C", component="lamp", control_failed=False, failure_mode=None)
    dark(store, "cycling", "C", symptom="cycling")
    run(store, tmp_path)
    assert store.count("unlit_episodes") == 0


def test_a_place_without_coordinates_is_counted_without_hours(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET latitude = NULL")
    dark(store, "i", None)
    run(store, tmp_path)
    assert store.row("SELECT count(*), count(unlit_hours_central) FROM unlit_episodes") == (1, 0)
    assert "the place is not known" in also_lost(store)[1].note
