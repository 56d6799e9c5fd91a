"""The load behind a control: one definition, the same for lives, energy and payback."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from pipeline.lives import stage as lives
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

EVER, NEVER = date(1900, 1, 1), date(9999, 1, 1)


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def control(store: Store, control_id: str, place: str | None = None, **values: Any) -> None:
    row = {"kind": "photocontrol", "quantity": 1, "switching": "unknown", "row_number": 2} | values
    add(store, "controls", control_id=control_id, site_id="S", position=f"S / {place or control_id}", **row)


def fixture(store: Store, fixture_id: str, control_id: str, **values: Any) -> None:
    row = {"luminaires": 1.0, "input_watts_each": 100.0, "watts_basis": "input", "row_number": 2} | values
    add(store, "fixtures", fixture_id=fixture_id, control_id=control_id, **row)


@pytest.fixture
def store() -> Store:
    return Store.create()


def behind(store: Store, control_id: str) -> list[tuple[Any, ...]]:
    return store.rows(
        "SELECT fixture_id, begins, ends, connected_w::DOUBLE FROM control_loads WHERE control_id = ? ORDER BY 1",
        [control_id],
    )


def test_successive_controls_of_a_place_share_its_dated_lamps(store: Store) -> None:
    control(store, "old", "pole", installed_on=date(2010, 1, 1), removed_on=date(2020, 1, 1))
    control(store, "new", "pole", installed_on=date(2020, 1, 1))
    fixture(store, "F", "old", installed_on=date(2012, 1, 1), removed_on=date(2022, 1, 1))
    for control_id in ("old", "new"):
        assert behind(store, control_id) == [("F", date(2012, 1, 1), date(2022, 1, 1), 100.0)]


def test_undated_lamps_stay_as_long_as_their_own_control_where_another_followed(store: Store) -> None:
    control(store, "old", "pole", installed_on=date(2010, 1, 1), removed_on=date(2020, 1, 1))
    control(store, "new", "pole", installed_on=date(2020, 1, 1))
    fixture(store, "F", "old")
    fixture(store, "G", "new")
    control(store, "alone", installed_on=date(2020, 1, 1))
    fixture(store, "H", "alone")
    spans = [("F", date(2010, 1, 1), date(2020, 1, 1), 100.0), ("G", date(2020, 1, 1), NEVER, 100.0)]
    assert behind(store, "new") == spans
    assert behind(store, "alone") == [("H", EVER, NEVER, 100.0)]


def test_a_pilot_beside_its_contactor_does_not_bound_undated_lamps(store: Store) -> None:
    control(store, "K", "panel", kind="contactor", installed_on=date(2020, 1, 1))
    control(store, "C", "panel", switched_by="K", installed_on=date(2021, 1, 1))
    fixture(store, "F", "K")
    assert behind(store, "K") == behind(store, "C") == [("F", EVER, NEVER, 100.0)]


def test_lamps_listed_behind_a_removed_row_after_its_removal_are_not_lost(store: Store) -> None:
    control(store, "old", "pole", installed_on=date(2010, 1, 1), removed_on=date(2020, 1, 1))
    control(store, "new", "pole", installed_on=date(2020, 1, 1))
    fixture(store, "F", "old", installed_on=date(2021, 1, 1))
    assert behind(store, "new") == [("F", date(2021, 1, 1), NEVER, 100.0)]


def test_a_batch_shares_its_lamps_evenly_and_with_nobody_else_at_the_place(store: Store) -> None:
    control(store, "B", "lot", quantity=8, removed_on=date(2020, 1, 1))
    control(store, "C", "lot", installed_on=date(2020, 1, 1))
    fixture(
        store, "F", "B", luminaires=20.0, drivers=40.0, inrush_peak_a_each=3.0, installed_on=date(2010, 1, 1)
    )
    assert [row[3] for row in behind(store, "B")] == [250.0]
    drivers, peak = store.row(
        "SELECT drivers, inrush_peak_a::DOUBLE FROM control_loads WHERE control_id = 'B'"
    )
    assert (drivers, peak) == (5.0, 15.0)
    assert behind(store, "C") == []


def test_a_fixture_reached_by_two_ways_counts_once(store: Store) -> None:
    control(store, "K", "panel", kind="contactor", removed_on=date(2020, 1, 1))
    control(store, "K2", "panel", kind="contactor", installed_on=date(2020, 1, 1), switched_by="K")
    fixture(store, "F", "K", installed_on=date(2010, 1, 1))
    assert len(behind(store, "K2")) == 1


def test_a_circle_that_no_register_check_has_seen_still_ends(store: Store) -> None:
    control(store, "A", switched_by="B")
    control(store, "B", switched_by="A")
    fixture(store, "F", "B")
    assert [row[0] for row in behind(store, "A")] == ["F"]


def test_lives_and_payback_see_the_load_at_the_end_of_a_chain(store: Store, tmp_path: Any) -> None:
    first, last = date(2020, 1, 1), date(2023, 12, 31)
    add(
        store, "build_info", build_id="b", dayburn_version="0", portfolio_name="x", currency="USD",
        fiscal_year_start=1, log_from=first, log_to=last, settings="{}",
    )  # fmt: skip
    add(store, "observation_windows", site_id="S", observed_from=first, observed_to=last, origin="settings")
    control(store, "K", kind="contactor", installed_on=date(2015, 1, 1), rated_inrush_a=100.0)
    control(store, "R", kind="contactor", switched_by="K", installed_on=date(2015, 1, 1))
    control(store, "C", switched_by="R", installed_on=date(2015, 1, 1), rated_inrush_a=10.0)
    fixture(store, "F", "K", lamp="LED", luminaires=5.0, drivers=5.0, inrush_peak_a_each=40.0, tariff="flat")
    settings = Settings(format=1, name="x", currency="USD", time_zone="UTC")
    for kind in ("contactor", "photocontrol"):
        add(store, "waste_prices", site_id="S", kind=kind, tariff="flat", price_per_kwh=0.2)
    lives.run(store, Portfolio(tmp_path, settings), Silent())
    rows = store.rows("SELECT control_id, lamp, inrush_stress FROM lives ORDER BY 1")
    assert rows == [("C", "contactor coil", None), ("K", "LED", 2.0), ("R", "contactor coil", None)]
    present = store.frame(sql_text("pipeline.payback", "present_controls"))
    assert present["connected_w"].tolist() == [500.0] * 3
    assert present["price_per_kwh"].tolist() == pytest.approx([0.2] * 3)
