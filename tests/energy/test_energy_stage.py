"""The energy stage on a few incidents: whose load, whose price, which months, and what is left out."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest

from pipeline.energy import month_sums, night_hours, stage
from pipeline.figures import energy_left_out
from pipeline.numerals import count_text
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

SETTINGS = Settings.model_validate(
    {
        "format": 1,
        "name": "x",
        "currency": "USD",
        "time_zone": "UTC",
        "assumptions": {"lights_on_after_sunset_min": 0, "lights_off_before_sunrise_min": 0},
        "tariffs": {
            "flat": {"price_per_kwh": "0.2"},
            "cheap": {"price_per_kwh": "0.1"},
            "dear": {"price_per_kwh": "0.3"},
        },
        "emissions": {"HOME": {"kg_co2e_per_kwh": 0.5, "year": 2024, "source": "made up for this test"}},
    }
)
LATITUDE, LONGITUDE = 39.6, -102.9


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def control(store: Store, control_id: str, quantity: int = 1, **values: Any) -> None:
    row = {"position": f"S / {control_id}", "kind": "photocontrol"} | values
    add(
        store,
        "controls",
        control_id=control_id,
        site_id="S",
        switching="unknown",
        quantity=quantity,
        row_number=2,
        **row,
    )


def fixtures(store: Store, fixture_id: str, control_id: str, watts: float | None, **values: Any) -> None:
    row = {
        "luminaires": 1.0,
        "watts_basis": "input",
        "metered": True,
        "tariff": "flat",
        "row_number": 2,
    } | values
    add(store, "fixtures", fixture_id=fixture_id, control_id=control_id, input_watts_each=watts, **row)


def burning(
    store: Store, incident_id: str, control_id: str | None, onset: str, restored: str | None, units: int = 1
) -> None:
    began, ended = datetime.fromisoformat(onset), restored and datetime.fromisoformat(restored)
    add(
        store, "incidents", incident_id=incident_id, site_id="S", control_id=control_id, symptom="day burning",
        component="control", action="replaced", failed_probability=1.0, control_failed=True, units=units,
        first_reported_at=began, onset_low=began, onset_central=began, onset_high=began, restored_low=ended,
        restored_central=ended, restored_high=ended, is_open=ended is None, calls=1, callbacks=0, no_fault_found=False,
    )  # fmt: skip


@pytest.fixture
def store() -> Store:
    store = Store.create()
    add(
        store, "build_info", build_id="b", dayburn_version="0", portfolio_name="x", currency="USD",
        fiscal_year_start=1, log_from=date(2024, 1, 1), log_to=date(2024, 12, 31), settings="{}",
    )  # fmt: skip
    add(
        store, "sites", site_id="S", latitude=LATITUDE, longitude=LONGITUDE, time_zone="UTC", grid_region="HOME"
    )  # fmt: skip
    return store


def run(store: Store, tmp_path: Any) -> dict[str, tuple[Any, ...]]:
    stage.run(store, Portfolio(tmp_path, SETTINGS), Silent())
    rows = store.rows(
        "SELECT incident_id, connected_w, excess_hours_central, kwh_central, cost_central, co2e_kg_central,"
        " left_out_reason FROM burn_episodes"
    )
    return {row[0]: row[1:] for row in rows}


def day_hours(start: str, end: str) -> float:
    first, last = (datetime.fromisoformat(f"{moment}+00:00") for moment in (start, end))
    return (last - first).total_seconds() / 3600 - night_hours(LATITUDE, LONGITUDE, first, last)


def test_energy_money_and_emissions_follow_from_the_hours(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 150.0, luminaires=2.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-06-10 00:00")
    watts, hours, kwh, cost, co2e, left_out = run(store, tmp_path)["i"]
    assert watts == 300.0
    assert hours == pytest.approx(day_hours("2024-05-20 00:00", "2024-06-10 00:00"), abs=1e-6)
    assert float(kwh) == pytest.approx(hours * 0.3, abs=1e-5)
    assert float(cost) == pytest.approx(float(kwh) * 0.2, abs=1e-3)
    assert float(co2e) == pytest.approx(float(kwh) * 0.5, abs=1e-4)
    assert left_out is None
    months = store.rows("SELECT month, excess_hours_central FROM burn_months ORDER BY month")
    assert [month for month, _ in months] == [date(2024, 5, 1), date(2024, 6, 1)]
    assert months[0][1] == pytest.approx(day_hours("2024-05-20 00:00", "2024-06-01 00:00"), abs=1e-6)


def test_the_load_of_a_month_is_what_hung_there_in_that_month(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "old", "C", 400.0, removed_on=date(2024, 6, 1))
    fixtures(store, "new", "C", 100.0, installed_on=date(2024, 6, 1))
    burning(store, "i", "C", "2024-05-20 00:00", "2024-06-10 00:00")
    run(store, tmp_path)
    assert store.rows("SELECT connected_w FROM burn_months ORDER BY month") == [(400.0,), (100.0,)]


def test_a_load_that_changes_within_a_month_burns_as_long_as_it_hung_there(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    fixtures(store, "old", "C", 400.0, removed_on=date(2024, 6, 11), tariff="cheap")
    fixtures(store, "new", "C", 100.0, installed_on=date(2024, 6, 11), tariff="dear")
    burning(store, "i", "C", "2024-06-02 00:00", "2024-06-21 00:00")
    watts, hours, kwh, cost, *_ = run(store, tmp_path)["i"]
    before = day_hours("2024-06-02 00:00", "2024-06-11 00:00")
    after = day_hours("2024-06-11 00:00", "2024-06-21 00:00")
    assert watts == 400.0  # at the onset
    assert hours == pytest.approx(before + after, abs=1e-5)
    assert float(kwh) == pytest.approx(before * 0.4 + after * 0.1, abs=1e-5)
    assert float(cost) == pytest.approx(before * 0.4 * 0.1 + after * 0.1 * 0.3, abs=1e-3)
    ((mean, month_kwh),) = store.rows("SELECT connected_w, kwh_central FROM burn_months")
    assert month_kwh == kwh
    assert mean == pytest.approx(1000 * float(kwh) / hours, abs=0.01)  # W


def test_the_day_of_a_retrofit_is_the_sites_own_day(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET time_zone = 'America/Denver'")
    control(store, "C")
    fixtures(store, "old", "C", 400.0, removed_on=date(2024, 6, 11))
    fixtures(store, "new", "C", 100.0, installed_on=date(2024, 6, 11))
    burning(store, "i", "C", "2024-06-10 00:00", "2024-06-12 00:00")
    kwh = float(run(store, tmp_path)["i"][2])
    old = day_hours("2024-06-10 06:00", "2024-06-11 06:00")  # midnight there is 06:00 UTC
    new = day_hours("2024-06-11 06:00", "2024-06-12 06:00")
    assert kwh == pytest.approx(old * 0.4 + new * 0.1, abs=1e-5)


def test_hours_without_a_load_on_record_are_kept_and_told(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET name = 'North Yard'")
    control(store, "C")
    fixtures(store, "before", "C", 400.0, removed_on=date(2024, 5, 11))
    fixtures(store, "after", "C", 100.0, installed_on=date(2024, 7, 5))
    burning(store, "i", "C", "2024-05-01 00:00", "2024-07-11 00:00")
    watts, hours, kwh, cost, co2e, left_out = run(store, tmp_path)["i"]
    assert (watts, left_out) == (400.0, None)
    assert hours == pytest.approx(day_hours("2024-05-01 00:00", "2024-07-11 00:00"), abs=1e-5)
    gap = day_hours("2024-05-11 00:00", "2024-07-05 00:00")
    assert store.value("SELECT hours_without_load_central FROM burn_episodes") == pytest.approx(gap, abs=1e-5)
    loaded = (("2024-05-01", "2024-05-11", 0.4), ("2024-07-05", "2024-07-11", 0.1))
    expected = sum(day_hours(f"{start} 00:00", f"{end} 00:00") * kw for start, end, kw in loaded)
    assert float(kwh) == pytest.approx(expected, abs=1e-5)
    assert float(cost) == pytest.approx(expected * 0.2, abs=1e-3)
    assert float(co2e) == pytest.approx(expected * 0.5, abs=1e-4)
    months = store.rows(
        "SELECT month, kwh_central > 0, hours_without_load_central > 0 FROM burn_months ORDER BY 1"
    )
    assert months == [
        (date(2024, 5, 1), True, True),
        (date(2024, 6, 1), False, True),
        (date(2024, 7, 1), True, True),
    ]
    message = store.value(
        "SELECT message FROM notices WHERE message LIKE '%no load with watts is on record%'"
    )
    assert "behind 1 incident of day burning, at North Yard (S): " in message
    assert f"{count_text(round(gap))} hours" in message


def test_months_and_episodes_hold_the_same_sums(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "before", "C", 400.0, removed_on=date(2024, 5, 11))
    fixtures(store, "after", "C", 100.0, installed_on=date(2024, 7, 5))
    burning(store, "i", "C", "2024-04-13 09:00", "2024-09-11 17:00")
    burning(store, "open", "C", "2024-12-13 09:00", None)
    run(store, tmp_path)
    names = [f"{q}_{level}" for q in month_sums.QUANTITIES for level in stage.LEVELS]
    sums = ", ".join(f"sum({name}::DECIMAL(18, 6))" for name in names)
    by_month = store.rows(f"SELECT incident_id, {sums} FROM burn_months GROUP BY 1 ORDER BY 1")
    assert by_month == store.rows(f"SELECT incident_id, {sums} FROM burn_episodes GROUP BY 1 ORDER BY 1")


def test_lamps_taken_down_before_the_logs_end_make_the_next_days_cost_unknown(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 400.0, removed_on=date(2024, 12, 20))
    burning(store, "i", "C", "2024-12-01 00:00", None)
    assert run(store, tmp_path)["i"][2] > 0
    assert store.row("SELECT kwh_per_day, cost_per_day FROM burn_episodes") == (None, None)


def test_a_chain_of_devices_is_followed_to_its_end(store: Store, tmp_path: Any) -> None:
    control(store, "K", kind="contactor")
    control(store, "R", kind="contactor", switched_by="K")
    control(store, "C", switched_by="R")
    fixtures(store, "F", "K", 150.0, luminaires=10.0)
    fixtures(store, "own", "R", 20.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    burning(store, "j", "K", "2024-05-20 00:00", "2024-05-21 00:00")
    found = run(store, tmp_path)
    assert (found["i"][0], found["j"][0]) == (1520.0, 1500.0)


def test_another_kind_of_control_at_the_same_place_has_lamps_of_its_own(store: Store, tmp_path: Any) -> None:
    control(store, "C", position="S / pole")
    control(store, "T", position="S / pole", kind="time switch")
    fixtures(store, "F", "C", 100.0)
    fixtures(store, "G", "T", 50.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    burning(store, "j", "T", "2024-05-20 00:00", "2024-05-21 00:00")
    found = run(store, tmp_path)
    assert (found["i"][0], found["j"][0]) == (100.0, 50.0)


def test_a_pilot_control_burns_the_lamps_of_its_contactor(store: Store, tmp_path: Any) -> None:
    control(store, "K")
    control(store, "C", switched_by="K")
    fixtures(store, "F", "K", 150.0, luminaires=10.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    assert run(store, tmp_path)["i"][0] == 1500.0


def test_one_failed_member_of_a_batch_burns_its_share(store: Store, tmp_path: Any) -> None:
    control(store, "B", quantity=10)
    fixtures(store, "F", "B", 100.0, luminaires=20.0)
    burning(store, "one", "B", "2024-05-20 00:00", "2024-05-21 00:00")
    burning(store, "more", "B", "2024-07-20 00:00", "2024-07-21 00:00", units=3)
    found = run(store, tmp_path)
    assert (found["one"][0], found["more"][0]) == (200.0, 600.0)


def test_unmetered_light_costs_energy_and_emissions_but_no_money(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 100.0, metered=False)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    _, _, kwh, cost, co2e, _ = run(store, tmp_path)["i"]
    assert kwh > 0
    assert co2e > 0
    assert cost == 0


def test_an_open_incident_is_counted_to_the_logs_end_and_says_what_a_day_more_costs(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 1000.0)
    burning(store, "i", "C", "2024-12-30 00:00", None)
    assert run(store, tmp_path)["i"][1] == pytest.approx(
        day_hours("2024-12-30 00:00", "2025-01-01 00:00"), abs=1e-6
    )
    kwh, cost = store.row("SELECT kwh_per_day, cost_per_day FROM burn_episodes")
    assert kwh == pytest.approx(day_hours("2025-01-01 00:00", "2025-01-02 00:00"), abs=1e-6)
    assert cost == pytest.approx(kwh * 0.2)


def test_what_cannot_be_reckoned_is_listed_with_its_reason(store: Store, tmp_path: Any) -> None:
    control(store, "bare")
    control(store, "unknown watts")
    fixtures(store, "F", "unknown watts", None)
    for incident, place in (("i1", None), ("i2", "bare"), ("i3", "unknown watts")):
        burning(store, incident, place, "2024-05-20 00:00", "2024-05-21 00:00")
    found = run(store, tmp_path)
    assert {key: row[5] for key, row in found.items()} == {
        "i1": stage.NO_CONTROL, "i2": stage.NO_LOAD, "i3": stage.NO_LOAD,
    }  # fmt: skip
    assert all(row[2] is None for row in found.values())


def test_a_site_without_coordinates_has_no_daylight(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET latitude = NULL")
    control(store, "C")
    fixtures(store, "F", "C", 100.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    assert run(store, tmp_path)["i"][5] == stage.NO_PLACE


def test_an_unknown_grid_region_is_named_and_gives_no_emissions(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET grid_region = 'ELSEWHERE'")
    control(store, "C")
    fixtures(store, "F", "C", 100.0)
    burning(store, "i", "C", "2024-05-20 00:00", "2024-05-21 00:00")
    row = run(store, tmp_path)["i"]
    assert row[2] > 0
    assert row[4] is None
    assert "ELSEWHERE" in store.value("SELECT message FROM notices")


def test_the_draws_of_a_month_hold_what_onset_and_end_may_have_been(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "old", "C", 400.0, removed_on=date(2024, 6, 11))
    fixtures(store, "new", "C", 100.0, installed_on=date(2024, 6, 11))
    burning(store, "i", "C", "2024-06-20 00:00", "2024-06-25 00:00")
    store.run(
        "UPDATE incidents SET onset_high = TIMESTAMP '2024-05-25', onset_central = TIMESTAMP '2024-06-06'"
    )
    run(store, tmp_path)
    rows = store.rows("SELECT kwh_low, kwh_high, kwh_draws FROM burn_months ORDER BY month")
    assert [len(draws) for _, _, draws in rows] == [200, 200]
    sums = [sum(pair) for pair in zip(*(draws for _, _, draws in rows), strict=True)]
    low, high = (sum(float(row[at]) for row in rows) for at in (0, 1))
    assert low < min(sums) < sum(sums) / 200 < max(sums) <= high + 1e-3
    for _, least, draws in rows:
        assert max(draws) <= float(least) + 1e-3
    assert min(rows[0][2]) == 0  # in some draws it began in June


def test_a_certain_span_has_draws_without_spread(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F", "C", 150.0)
    burning(store, "i", "C", "2024-06-10 00:00", "2024-06-20 00:00")
    run(store, tmp_path)
    kwh, draws = store.row("SELECT kwh_central, kwh_draws FROM burn_months")
    assert draws == pytest.approx([float(kwh)] * 200, rel=1e-6)


def test_times_within_an_hour_that_clocks_repeat_or_skip_are_told(store: Store, tmp_path: Any) -> None:
    store.run("UPDATE sites SET time_zone = 'America/Denver'")
    control(store, "C")
    fixtures(store, "F", "C", 150.0)
    burning(store, "i", "C", "2024-11-03 01:30", "2024-11-05 00:00")
    burning(store, "j", "C", "2024-06-01 01:30", "2024-06-05 00:00")
    run(store, tmp_path)
    (said,) = [row[0] for row in store.rows("SELECT message FROM notices WHERE place = 'call times'")]
    assert said.startswith("a time of 1 incident of day burning lies in the hour that happens twice")


def test_savings_rest_on_the_price_that_a_year_of_day_burning_comes_to(store: Store, tmp_path: Any) -> None:
    peak = {"name": "peak", "price_per_kwh": "0.3", "weekdays": ["mon", "fri"], "hours": ["12:00 to 18:00"]}
    rest = {"name": "rest", "price_per_kwh": "0.1", "other_times": True}
    page = SETTINGS.model_dump(mode="json")
    page["tariffs"] = {"flat": {"taxes_included": False, "periods": [peak, rest]}}
    control(store, "C")
    fixtures(store, "F", "C", 1000.0)
    burning(store, "i", "C", "2024-01-02 00:00", "2025-01-01 00:00")  # the 365 days to the log's end
    stage.run(store, Portfolio(tmp_path, Settings.model_validate(page)), Silent())
    kwh, cost = store.row("SELECT kwh_central, cost_central FROM burn_episodes")
    assert store.value("SELECT price_per_kwh FROM waste_prices") == pytest.approx(float(cost / kwh), abs=1e-6)


def test_savings_rest_on_the_timetable_of_the_kind_of_control(store: Store, tmp_path: Any) -> None:
    """Lamps with a curfew also burn at night when they stay on, at the price of the night."""
    night = {"name": "night", "price_per_kwh": "0.1", "hours": ["03:30 to 11:00"]}  # dark at 102.9° W
    page = SETTINGS.model_dump(mode="json")
    page["tariffs"] = {
        "flat": {
            "taxes_included": False,
            "periods": [night, {"name": "rest", "price_per_kwh": "0.3", "other_times": True}],
        }
    }
    page["schedules"] = {"curfew": {"kinds": ["time switch"], "lit": ["22:00 to 02:00"]}}
    for name, kind in (("C", "time switch"), ("D", "photocontrol")):
        control(store, name, kind=kind)
        fixtures(store, f"F{name}", name, 1000.0)
    stage.run(store, Portfolio(tmp_path, Settings.model_validate(page)), Silent())
    prices = dict(store.rows("SELECT kind, price_per_kwh FROM waste_prices"))
    assert prices["time switch"] == pytest.approx(
        (7.5 * 0.1 + 12.5 * 0.3) / 20, abs=1e-3
    )  # clock changes shift an hour
    assert prices["photocontrol"] == pytest.approx(0.3)


def test_hours_after_a_curfew_are_excess_where_the_schedule_holds(store: Store, tmp_path: Any) -> None:
    control(store, "C", kind="time switch")
    control(store, "D")
    for name in ("C", "D"):
        fixtures(store, f"F{name}", name, 100.0)
        burning(store, name, name, "2024-05-20 12:00", "2024-05-21 12:00")
    page = SETTINGS.model_dump() | {
        "schedules": {
            "curfew": {"kinds": ["time switch"], "lit": ["sunset to 23:00"]},
            "elsewhere": {"sites": ["nowhere"], "lit": []},
        }
    }
    stage.run(store, Portfolio(tmp_path, Settings.model_validate(page)), Silent())
    found = dict(store.rows("SELECT incident_id, excess_hours_central FROM burn_episodes"))
    sunrise = 24 - day_hours("2024-05-20 12:00", "2024-05-21 12:00")
    assert found["D"] == pytest.approx(24 - sunrise, abs=1e-5)
    assert found["C"] > found["D"] + 5
    assert "'nowhere' is no site_id" in store.value(
        "SELECT message FROM notices WHERE place LIKE '%schedules%'"
    )


def test_a_wrong_time_wastes_the_hours_of_its_shift_on_the_side_where_they_lie(
    store: Store, tmp_path: Any
) -> None:
    # Ten days, two hours a day; of the third the text gives no side, and the last shift of 30 h is all its daylight.
    for name, shift, edge in (("on", 2, "on"), ("off", 2, "off"), ("unsaid", 2, None), ("far", 30, "off")):
        control(store, name, kind="time switch")
        fixtures(store, f"F{name}", name, 100.0)
        burning(store, name, name, "2024-05-20 18:00", "2024-05-30 18:00")
        store.run(
            "UPDATE incidents SET symptom = 'wrong time', burning_shift_h = ?, burning_edge = ? WHERE incident_id = ?",
            [shift, edge, name],
        )
    run(store, tmp_path)
    hours = dict(store.rows("SELECT incident_id, excess_hours_central FROM burn_episodes"))
    assert hours["on"] == pytest.approx(20)
    assert hours["off"] == pytest.approx(20)
    assert hours["unsaid"] == pytest.approx(20)
    assert hours["far"] <= day_hours("2024-05-20 18:00", "2024-05-30 18:00")
    assert store.value("SELECT kwh_central FROM burn_episodes WHERE incident_id = 'on'") == 2


def test_a_wrong_time_of_unknown_shift_is_left_out_and_counted(store: Store, tmp_path: Any) -> None:
    control(store, "C", kind="time switch")
    fixtures(store, "F", "C", 100.0)
    for name, dark in (("unsaid", None), ("dark only", 1.0)):
        burning(store, name, "C", "2024-05-20 12:00", "2024-05-30 12:00")
        store.run(
            "UPDATE incidents SET symptom = 'wrong time', dark_shift_h = ? WHERE incident_id = ?",
            [dark, name],
        )
    run(store, tmp_path)
    assert store.count("burn_episodes") == 0
    (row,) = energy_left_out(store).to_dict("records")
    assert (row["symptom"], row["incidents"]) == ("wrong time", 1)
    assert "by how many hours" in row["left_out_reason"]


def test_where_the_text_says_so_only_a_share_of_the_lamps_burns(store: Store, tmp_path: Any) -> None:
    for name in ("whole", "half"):
        control(store, name)
        fixtures(store, f"F{name}", name, 100.0, luminaires=8.0)
        burning(store, name, name, "2024-05-20 12:00", "2024-05-30 12:00")
    store.run("UPDATE incidents SET share_of_lamps = 0.375 WHERE incident_id = 'half'")  # 3 of 8 lights
    run(store, tmp_path)
    found = dict(store.rows("SELECT incident_id, kwh_central FROM burn_episodes"))
    assert float(found["half"]) == pytest.approx(float(found["whole"]) * 3 / 8, abs=1e-5)  # kWh
