"""The lives stage on a few rows: cuts where the load changes, ends, rates, and what counts where."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest

from pipeline.figures import inrush_circuits
from pipeline.inrush import default_peak_a
from pipeline.lives import stage
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

SETTINGS = Settings(format=1, name="x", currency="USD", time_zone="America/Denver")
FIRST, LAST = date(2018, 1, 1), date(2023, 12, 31)


def add(store: Store, table: str, **values: Any) -> None:
    names = ", ".join(values)
    store.run(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(values))})", list(values.values()))


def control(store: Store, control_id: str, **values: Any) -> None:
    row = {
        "site_id": "S", "position": f"S / {values.pop('label', control_id)}", "kind": "photocontrol", "model": "A",
        "switching": "plain relay", "quantity": 1, "installed_on": date(2016, 1, 1), "row_number": 2,
    } | values  # fmt: skip
    add(store, "controls", control_id=control_id, **row)


def fixtures(store: Store, fixture_id: str, control_id: str, lamp: str, **values: Any) -> None:
    row = {"luminaires": 2.0, "input_watts_each": 100.0, "watts_basis": "input", "row_number": 2} | values
    add(store, "fixtures", fixture_id=fixture_id, control_id=control_id, lamp=lamp, **row)


def failure(
    store: Store, incident_id: str, control_id: str, onset: str, restored: str | None, **values: Any
) -> None:
    position = store.value("SELECT position FROM controls WHERE control_id = ?", [control_id])
    began, ended = datetime.fromisoformat(onset), restored and datetime.fromisoformat(restored)
    row = {
        "symptom": "day burning", "component": "control", "action": "replaced", "failure_mode": "fails on",
        "failed_probability": 1.0, "control_failed": True, "units": 1,
    } | values  # fmt: skip
    add(
        store, "incidents", incident_id=incident_id, site_id="S", control_id=control_id, position=position,
        first_reported_at=began, onset_low=began, onset_central=began, onset_high=began, restored_low=ended,
        restored_central=ended, restored_high=ended, is_open=ended is None, calls=1, callbacks=0,
        no_fault_found=False, **row,
    )  # fmt: skip
    add(
        store, "findings", finding_id=incident_id, call_id=incident_id, part_number=1, symptom=row["symptom"],
        component=row["component"], action=row["action"], units=1, failed_probability=1.0, incident_id=incident_id,
    )  # fmt: skip


@pytest.fixture
def store() -> Store:
    store = Store.create()
    add(store, "observation_windows", site_id="S", observed_from=FIRST, observed_to=LAST, origin="settings")
    return store


def run(store: Store, tmp_path: Any) -> list[tuple[Any, ...]]:
    stage.run(store, Portfolio(tmp_path, SETTINGS), Silent())
    return store.rows(
        "SELECT control_id, segment, lamp, entry_days, exit_days, failed, end_reason, quantity FROM lives"
        " ORDER BY control_id, entered_on, segment"
    )


def days(start: date, end: date) -> float:
    return float((end - start).days)


def test_a_life_is_cut_where_its_load_changes_and_the_hazard_goes_on_at_that_age(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    retrofit = date(2020, 7, 1)
    fixtures(store, "F1", "C", "HPS", removed_on=retrofit)
    fixtures(store, "F2", "C", "LED", installed_on=retrofit)
    failure(store, "i1", "C", "2022-05-01 08:00", "2022-05-11 08:00")
    installed, failed = date(2016, 1, 1), date(2022, 5, 1)
    first, second, third = run(store, tmp_path)
    assert first == (
        "C",
        1,
        "HPS",
        days(installed, FIRST),
        days(installed, retrofit),
        False,
        "load changed",
        1,
    )
    assert second == ("C", 2, "LED", days(installed, retrofit), days(installed, failed), True, "fails on", 1)
    assert third == ("C", 1, "LED", 0.0, days(date(2022, 5, 11), LAST), False, "in service", 1)


def test_lamps_of_a_combined_load_are_named_together(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    fixtures(store, "F1", "C", "HPS")
    fixtures(store, "F2", "C", "LED")
    assert [row[2] for row in run(store, tmp_path)] == ["HPS + LED"]


def test_a_control_that_drives_a_contactor_carries_its_coil(store: Store, tmp_path: Any) -> None:
    control(store, "K", kind="contactor")
    control(store, "C", switched_by="K")
    fixtures(store, "F1", "K", "LED", drivers=4.0, inrush_peak_a_each=50.0)
    store.run("UPDATE controls SET rated_inrush_a = 100 WHERE control_id = 'K'")
    lamps = {row[0]: row[2] for row in run(store, tmp_path)}
    assert lamps == {"C": "contactor coil", "K": "LED"}
    stress = store.value("SELECT inrush_stress FROM lives WHERE control_id = 'K'")
    assert stress == pytest.approx(4 * 50 / 100)


def test_an_unknown_driver_peak_gives_the_lives_the_stress_of_the_inrush_list_marked_unverified(
    store: Store, tmp_path: Any
) -> None:
    add(
        store, "build_info", build_id="b", dayburn_version="0", portfolio_name="x", currency="USD",
        fiscal_year_start=1, log_from=FIRST, log_to=LAST, settings="{}",
    )  # fmt: skip
    for name in ("K", "L", "M"):
        control(store, name)
    store.run("UPDATE controls SET rated_inrush_a = 100, voltage_v = 277 WHERE control_id IN ('K', 'L')")
    store.run("UPDATE controls SET rated_inrush_a = 100 WHERE control_id = 'M'")  # no voltage, so no default
    fixtures(store, "F1", "K", "LED", drivers=2.0, input_watts_each=54.0, luminaires=2.0)
    fixtures(
        store, "F2", "L", "LED", drivers=2.0, inrush_peak_a_each=50.0, input_watts_each=54.0, luminaires=2.0
    )
    fixtures(store, "F3", "M", "LED", drivers=2.0, input_watts_each=54.0, luminaires=2.0)
    run(store, tmp_path)
    found = {
        key: rest
        for key, *rest in store.rows("SELECT control_id, inrush_stress, inrush_unverified FROM lives")
    }
    assert found["K"] == [pytest.approx(2 * default_peak_a(54 / 277, 277) / 100), True]
    assert found["L"] == [pytest.approx(1.0), False]
    assert found["M"][0] is None
    listed = inrush_circuits(store).set_index("control_id")["stress_sum"]
    assert listed["K"] == pytest.approx(found["K"][0])


def test_a_failure_on_the_first_day_under_observation_has_half_a_day_at_risk(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C", installed_on=date(2021, 3, 1))
    failure(store, "i2", "C", "2021-03-01 18:00", "2021-03-20 08:00")
    store.run("UPDATE incidents SET first_reported_at = TIMESTAMP '2021-03-12 09:00'")
    first = run(store, tmp_path)[0]
    assert first[3:6] == (0.0, 11.0, True)  # between its installation and the report
    low, central = store.row("SELECT exit_low_days, exit_central_days FROM lives WHERE failed")
    assert (low, central) == (0.0, 0.5)


def test_work_that_is_no_failure_ends_a_life_as_a_competing_end(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    failure(
        store, "i1", "C", "2021-03-01 08:00", "2021-03-02 08:00",
        action="planned", control_failed=False, failed_probability=0.0, failure_mode=None, symptom="unknown",
    )  # fmt: skip
    reset = {"action": "reset", "control_failed": False, "failed_probability": 0.1, "failure_mode": None}
    failure(store, "i2", "C", "2022-06-01 08:00", "2022-06-02 08:00", **reset)
    ends = [(row[5], row[6]) for row in run(store, tmp_path)]
    assert ends == [(False, "planned"), (False, "in service")]


def test_rates_count_every_failure_and_all_time_even_where_ages_are_unknown(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C", installed_on=None)
    control(store, "B", quantity=10)
    failure(store, "i1", "C", "2020-01-01 08:00", "2020-01-02 08:00")
    failure(store, "i2", "B", "2021-01-01 08:00", "2021-01-02 08:00", units=2)
    run(store, tmp_path)
    failures, years, rate, lower, upper = store.row(
        "SELECT failures, control_years, failures_per_100_control_years, lower, upper FROM failure_rates"
        " WHERE grouping = 'kind'"
    )
    assert failures == 3
    assert years == pytest.approx(11 * days(FIRST, LAST) / 365.25, abs=0.01)
    assert rate == pytest.approx(100 * 3 / years)
    # exact limits of 3 events: 0.6187 and 8.7673 (Garwood's table, from memory; chi-square quantiles agree)
    assert (lower * years / 100, upper * years / 100) == pytest.approx((0.6187, 8.7673), abs=1e-3)


def test_without_a_register_nothing_is_claimed_and_it_is_said(store: Store, tmp_path: Any) -> None:
    assert run(store, tmp_path) == []
    assert store.count("life_fits") == 0
    assert "no life can be followed" in store.value("SELECT message FROM notices")


def test_few_failures_borrow_a_shape_and_give_one_sided_limits(store: Store, tmp_path: Any) -> None:
    for number in range(12):
        control(store, f"C{number}")
        fixtures(store, f"F{number}", f"C{number}", "LED")
    failure(store, "i1", "C3", "2020-01-01 08:00", "2020-01-02 08:00")
    run(store, tmp_path)
    fit = store.row(
        "SELECT method, shape, scale_days_lower, scale_days_upper, note FROM life_fits WHERE grouping = 'lamp'"
    )
    assert fit[:2] == ("fixed shape", SETTINGS.assumptions.shape_when_few)
    assert fit[2] > 0
    assert fit[3] is None
    assert "one-sided" in fit[4]


def test_a_control_installed_after_the_log_has_no_life_in_it(store: Store, tmp_path: Any) -> None:
    control(store, "C", installed_on=date(2025, 1, 1))
    assert run(store, tmp_path) == []


def test_groups_whose_names_hold_the_separator_stay_apart(store: Store, tmp_path: Any) -> None:
    control(store, "C1", model="X / Y")
    fixtures(store, "F1", "C1", "LED")
    control(store, "C2", model="X")
    fixtures(store, "F2", "C2", "Y / LED")
    run(store, tmp_path)
    names = store.rows("SELECT group_name FROM failure_rates WHERE grouping = 'model and lamp' ORDER BY 1")
    assert names == [("X / Y // LED",), ("X // Y / LED",)]


def test_a_control_whose_load_changes_counts_once_in_each_group(store: Store, tmp_path: Any) -> None:
    control(store, "C1")
    for number, (begins, ends) in enumerate(
        [(None, date(2019, 6, 1)), (date(2019, 6, 1), date(2021, 6, 1)), (date(2021, 6, 1), None)]
    ):
        lamp = ("HPS", "LED", "HPS")[number]
        fixtures(store, f"F{number}", "C1", lamp, installed_on=begins, removed_on=ends)
    control(store, "C2", installed_on=date(2019, 1, 1), quantity=10)
    fixtures(store, "F9", "C2", "LED")
    failure(store, "i1", "C2", "2020-01-01 10:00", "2020-01-05 10:00")
    run(store, tmp_path)
    # C1 in three stretches; C2's failed member, its successor, and the nine others
    assert store.count("lives") == 6
    units = dict(
        store.rows("SELECT group_name, units FROM life_fits WHERE grouping IN ('all', 'model and lamp')")
    )
    assert units == {"all": 12, "A / HPS": 1, "A / LED": 12}
    years = store.value("SELECT control_years FROM life_fits WHERE grouping = 'all'")
    in_ages = store.value(
        "SELECT sum(quantity * (exit_central_days - entry_days)) FROM lives WHERE excluded_reason IS NULL"
    )
    assert years == pytest.approx(in_ages / 365.25)


def test_a_control_and_its_successor_at_one_place_are_two(store: Store, tmp_path: Any) -> None:
    control(store, "C1")
    failure(store, "i1", "C1", "2020-01-01 10:00", "2020-01-05 10:00")
    run(store, tmp_path)
    assert store.row("SELECT units, failures FROM life_fits WHERE grouping = 'all'") == (2, 1)


def test_only_a_stated_failure_of_the_register_ends_a_life_by_failure(store: Store, tmp_path: Any) -> None:
    reasons = ("did not fail", "failed", "planned - LED retrofit", "removed, working", None, "???")
    for number, reason in enumerate(reasons):
        control(
            store, f"C{number}", removed_on=date(2020, 5, 1), removal_reason=reason, row_number=number + 2
        )
    run(store, tmp_path)
    ends = store.rows("SELECT failed, end_reason FROM lives ORDER BY control_id")
    exact = store.row("SELECT exit_low_days, exit_days, exit_central_days FROM lives WHERE failed")
    assert exact == (None, days(date(2016, 1, 1), date(2020, 5, 1)), exact[1])
    plain_removal = (False, "removed")
    assert ends == [plain_removal, (True, "unknown"), (False, "planned"), *[plain_removal] * 3]
    told = store.rows("SELECT message FROM notices WHERE place = 'controls.csv, column removal_reason'")
    assert len(told) == 1
    assert told[0][0].startswith("'???' (row 7) says nothing that is known")
