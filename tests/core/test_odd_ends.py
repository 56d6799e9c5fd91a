"""From file to figure: calls whose ends are missing or odd, and registers with gaps."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import small_portfolio

from pipeline import figures
from pipeline.build import build
from pipeline.faults import InputFaults
from pipeline.store import Store

HEADER = small_portfolio.CALLS.splitlines()[0] + "\n"
OTHERS = (
    "900,2020-02-01 09:00,2020-02-03 09:00,Closed,South Yard,PC-0003,Pole light out at night,Replaced lamp\n"
)


def built(tmp_path: Path, rows: str = "", **registers: str) -> Store:
    folder = small_portfolio.make(
        tmp_path / "yards", HEADER + OTHERS + rows if rows else small_portfolio.CALLS
    )
    for name, text in registers.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    store = Store.open(build(folder).database)
    assert store.rows("FROM checks WHERE NOT holds") == []
    return store


def test_a_closed_call_without_a_date_ended_some_time_after_its_report(tmp_path: Path) -> None:
    row = "1,2021-03-01 09:00,,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    store = built(tmp_path, row)
    low, central, high, still_open, flags = store.row(
        "SELECT restored_low, restored_central, restored_high, is_open, flags FROM incidents"
        " WHERE control_id = 'PC-0001'"
    )
    report = datetime(2021, 3, 1, 9)
    assert not still_open
    assert low == report
    assert low < central < high == report + timedelta(days=90)  # stale_after_days
    assert "completed without a usable date" in flags
    hours = store.row("SELECT excess_hours_low, excess_hours_central, excess_hours_high FROM burn_episodes")
    assert hours[0] < hours[1] < hours[2]


def test_an_impossible_completion_is_not_taken_for_a_repair_at_the_report(tmp_path: Path) -> None:
    row = "1,2021-03-01 09:00,2012-03-05 10:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    low, high = built(tmp_path, row).row(
        "SELECT restored_low, restored_high FROM incidents WHERE control_id = 'PC-0001'"
    )
    assert low < high


def test_an_order_closed_after_the_last_report_keeps_its_date(tmp_path: Path) -> None:
    row = "1,2023-12-20 09:00,2024-01-10 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    restored, still_open = built(tmp_path, row).row(
        "SELECT restored_central, is_open FROM incidents WHERE control_id = 'PC-0001'"
    )
    assert (restored, still_open) == (datetime(2024, 1, 10, 15), False)


@pytest.mark.parametrize("end", [",Open", "2024-06-05 10:00,Closed"])
def test_a_report_after_the_log_is_set_aside_with_its_reason(tmp_path: Path, end: str) -> None:
    row = f"1,2024-06-01 09:00,{end},North Yard,PC-0001,Lot light on all day,\n"
    store = built(tmp_path, row)
    assert store.count("burn_episodes") == 0
    reason = store.value("SELECT no_finding_reason FROM calls WHERE call_number = '1'")
    assert reason == "outside the log"


def test_time_without_a_fixture_still_counts_as_time_at_risk(tmp_path: Path) -> None:
    fixtures = (
        "fixture_id,control_id,lamp,luminaires,watts_each,installed_on,removed_on\n"
        "F1,PC-0001,HPS,1,100,2018-01-01,2020-06-01\nF2,PC-0002,LED,1,60,2022-06-01,\n"
    )
    store = built(tmp_path, fixtures=fixtures)
    lives = store.rows(
        "SELECT lamp, entered_on, ended_on, failed FROM lives WHERE control_id = 'PC-0002' ORDER BY entered_on"
    )
    assert lives == [
        (None, date(2020, 1, 1), date(2022, 6, 1), False),
        ("LED", date(2022, 6, 1), date(2023, 12, 31), False),
    ]
    failed = store.rows("SELECT lamp, ended_on FROM lives WHERE control_id = 'PC-0001' AND failed")
    assert failed == [(None, date(2021, 2, 15))]  # the central onset, not the day the fixture went


def test_an_undated_fixture_was_there_as_long_as_its_own_control(tmp_path: Path) -> None:
    controls = (
        "control_id,site_id,position,kind,quantity,installed_on,removed_on\n"
        "OLD,S1,pole 1,photocontrol,1,2016-04-01,2021-01-01\nPC-0001,S1,pole 1,photocontrol,1,2021-01-01,\n"
    )
    fixtures = "fixture_id,control_id,lamp,luminaires,watts_each\nF1,OLD,HPS,1,200\nF2,PC-0001,LED,1,100\n"
    row = "1,2022-03-01 09:00,2022-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    others = OTHERS.replace("PC-0003", "OLD").replace("South Yard", "North Yard")
    store = built(tmp_path, row + others.replace("900", "901"), controls=controls, fixtures=fixtures)
    assert store.value("SELECT connected_w FROM burn_episodes") == 100.0
    lamps = store.rows("SELECT DISTINCT control_id, lamp FROM lives ORDER BY 1")
    assert lamps == [("OLD", "HPS"), ("PC-0001", "LED")]


def test_a_removal_on_the_last_day_of_the_log_is_a_removal(tmp_path: Path) -> None:
    controls = (
        "control_id,site_id,position,kind,quantity,installed_on,removed_on,removal_reason\n"
        "A,S1,pole 1,photocontrol,1,2016-04-01,2023-12-31,planned\n"
        "B,S1,pole 2,photocontrol,12,2021-04-01,2023-12-31,planned\n"
    )
    sink = "1,2021-03-01 09:00,2021-03-02 09:00,Closed,North Yard,,Sink leaks in kitchen,Replaced washer\n"
    store = built(tmp_path, sink, controls=controls, fixtures="fixture_id,control_id,luminaires\n")
    assert store.rows("SELECT control_id, end_reason FROM lives ORDER BY 1") == [
        ("A", "planned"),
        ("B", "planned"),
    ]


def test_controls_that_stand_at_one_place_at_once_are_told_apart(tmp_path: Path) -> None:
    controls = "control_id,site_id,position,kind,model,quantity,installed_on\n" + "".join(
        f"PC-000{n},S1,Parking lot,photocontrol,X,1,2016-04-01\n" for n in (1, 2, 3)
    )
    fixtures = (
        "fixture_id,control_id,lamp,luminaires,watts_each\nF1,PC-0001,LED,1,200\nF2,PC-0002,HPS,1,1000\n"
    )
    rows = (
        "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
        "2,2021-03-02 09:00,2021-03-06 15:00,Closed,North Yard,PC-0002,Lot light on all day,Replaced photocell\n"
    )
    others = OTHERS.replace("South Yard,PC-0003", "North Yard,PC-0003")
    store = built(tmp_path, rows + others.replace("900", "901"), controls=controls, fixtures=fixtures)
    watts = store.rows("SELECT control_id, connected_w FROM burn_episodes ORDER BY 1")
    assert watts == [("PC-0001", 200.0), ("PC-0002", 1000.0)]
    failed = store.rows("SELECT control_id, lamp FROM lives WHERE failed ORDER BY 1")
    assert failed == [("PC-0001", "LED"), ("PC-0002", "HPS")]


def test_an_order_left_open_ends_with_a_later_repair_at_its_place(tmp_path: Path) -> None:
    rows = (
        "1,2020-03-01 09:00,,Open,North Yard,PC-0001,Lot light on all day,\n"
        "2,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    )
    first = built(tmp_path, rows).row(
        "SELECT is_open, restored_low, restored_high, flags FROM incidents ORDER BY first_reported_at LIMIT 1 OFFSET 1"
    )
    assert first[:3] == (False, datetime(2020, 3, 1, 9), datetime(2021, 3, 5, 15))
    assert "ended by a later visit" in first[3]


def test_a_stale_open_order_is_not_taken_to_have_burnt_all_the_while(tmp_path: Path) -> None:
    row = "1,2022-03-01 09:00,,Open,North Yard,PC-0001,Lot light on all day,\n"
    low, central, high, still_open = built(tmp_path, row).row(
        "SELECT excess_hours_low, excess_hours_central, excess_hours_high, is_open"
        " FROM burn_episodes JOIN incidents USING (incident_id)"
    )
    assert still_open
    assert low == 0  # its report is the last that anybody saw of it
    # 14 days before the report and 90 after it, mid-February to May: 12.9 h of day, and 15 min at each end
    assert central == pytest.approx(104 * 13.4, rel=0.03)
    assert high > 8 * 30 * 22 / 2


def test_a_failure_after_a_sites_window_is_neither_a_failed_life_nor_in_a_rate(tmp_path: Path) -> None:
    sites = (
        "site_id,name,latitude,longitude,observed_from,observed_to\n"
        "S1,North Yard,39.6,-102.9,,2020-12-31\nS2,South Yard,39.7,-102.8,,\n"
    )
    row = "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    store = built(tmp_path, row, sites=sites)
    assert store.rows("SELECT failed, ended_on FROM lives WHERE control_id = 'PC-0001'") == [
        (False, date(2020, 12, 31))
    ]
    assert store.value("SELECT failures FROM failure_rates WHERE grouping = 'all'") == 0


@pytest.mark.parametrize(("reported", "counted"), [("2021-03-05", 1), ("2021-02-26", 0)])
def test_a_failure_first_reported_in_a_sites_window_counts_in_ages_and_rates_alike(
    tmp_path: Path, reported: str, counted: int
) -> None:
    """Its onset, two weeks before the report, lies before the window either way."""
    sites = (
        "site_id,name,latitude,longitude,observed_from,observed_to\n"
        "S1,North Yard,39.6,-102.9,2021-03-01,\nS2,South Yard,39.7,-102.8,,\n"
    )
    row = f"1,{reported} 09:00,2021-03-08 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    store = built(tmp_path, row, sites=sites)
    failed = store.rows("SELECT entered_on, ended_on, excluded_reason FROM lives WHERE failed")
    assert failed == [(date(2021, 3, 1), date(2021, 3, 1), None)] * counted
    for table in ("failure_rates", "life_fits"):
        assert store.value(f"SELECT failures FROM {table} WHERE grouping = 'all'") == counted


def test_a_control_installed_on_the_logs_last_day_is_foreseen_by_its_age(tmp_path: Path) -> None:
    controls = "control_id,site_id,position,kind,model,quantity,installed_on\n" + "".join(
        f"PC-000{n},S1,pole {n},photocontrol,X,1,{day}\n"
        for n, day in ((1, "2016-04-01"), (2, "2016-04-01"), (3, "2023-12-31"))
    )
    row = "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    others = OTHERS.replace("South Yard,PC-0003", "North Yard,PC-0002").replace("900", "901")
    store = built(tmp_path, row + others, controls=controls)
    assert store.value("SELECT excluded_reason FROM lives WHERE control_id = 'PC-0003'") == (
        "no time under observation"
    )
    year = figures.next_year(store)
    assert year is not None
    assert (year.controls_by_age, year.controls_by_rate, year.unforeseen) == (3, 0, 0)


def test_a_load_without_a_tariff_has_no_price_rather_than_half_of_one(tmp_path: Path) -> None:
    header = "fixture_id,control_id,account_id,lamp,luminaires,watts_each\n"
    fixtures = f"{header}F1,PC-0001,A,LED,1,100\nF2,PC-0001,B,LED,1,100\n"
    accounts = "account_id,tariff,metered\nA,flat,yes\nB,,yes\n"
    row = "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    settings = small_portfolio.SETTINGS
    try:
        small_portfolio.SETTINGS = settings.replace('default_tariff = "flat"\n', "")
        store = built(tmp_path, row, fixtures=fixtures, accounts=accounts)
    finally:
        small_portfolio.SETTINGS = settings
    kwh, cost = store.row("SELECT kwh_central, cost_central FROM burn_episodes")
    assert kwh > 0
    assert cost is None
    assert store.value("SELECT count(*) FROM notices WHERE message LIKE '%with energy but no price%'") == 1


def test_controls_without_a_model_have_options_too(tmp_path: Path) -> None:
    controls = "control_id,site_id,position,kind,quantity,installed_on\n" + "".join(
        f"PC-000{n},S1,pole {n},photocontrol,1,2016-04-01\n" for n in (1, 2, 3)
    )
    row = "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    others = OTHERS.replace("South Yard,PC-0003", "North Yard,PC-0003").replace("900", "901")
    store = built(tmp_path, row + others, controls=controls)
    models = store.rows("SELECT DISTINCT model, net_savings_lower FROM options WHERE net_savings IS NOT NULL")
    assert models == [("model unknown", None)]  # one failure bounds the life from below only


def test_a_call_that_a_later_export_opens_again_is_open(tmp_path: Path) -> None:
    closed = "1,2021-03-01 09:00,2021-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
    folder = small_portfolio.make(tmp_path / "yards", HEADER + OTHERS + closed)
    again = "1,2021-03-01 09:00,,Open,North Yard,PC-0001,Lot light on all day,Still on\n"
    later = "2,2021-04-01 09:00,2021-04-02 09:00,Closed,North Yard,PC-0002,Pole light out,Replaced lamp\n"
    (folder / "calls" / "later.csv").write_text(HEADER + again + later, encoding="utf-8")
    store = Store.open(build(folder).database)
    assert store.rows("SELECT status FROM calls WHERE call_number = '1' AND superseded_by IS NULL") == [
        ("open",)
    ]


def test_a_day_in_the_text_that_reads_two_ways_does_not_date_the_repair(tmp_path: Path) -> None:
    row = (
        "1,2021-05-01 09:00,2021-06-28 15:00,Closed,North Yard,PC-0001,Lot light on all day,"
        "Replaced photocell 6/5/21 (entered 5/6/21)\n"
    )
    low, central, high = built(tmp_path, row).row(
        "SELECT restored_low, restored_central, restored_high FROM incidents WHERE control_id = 'PC-0001'"
    )
    assert low.date() == date(2021, 5, 6)
    assert (central, high) == (datetime(2021, 6, 28, 15), datetime(2021, 6, 28, 15))


def test_controls_that_switch_one_another_in_a_circle_are_a_fault_of_the_register(tmp_path: Path) -> None:
    controls = (
        "control_id,site_id,position,kind,switched_by\n"
        "PC-0001,S1,pole 1,photocontrol,K1\nK1,S1,panel,contactor,K2\nK2,S1,panel 2,contactor,K1\n"
        "PC-0002,S1,pole 2,photocontrol,PC-0002\n"
    )
    with pytest.raises(InputFaults) as caught:
        built(tmp_path, controls=controls, fixtures="fixture_id,control_id,luminaires\n")
    faults = [str(fault) for fault in caught.value.faults if "switched_by" in fault.where]
    assert len(faults) == 2
    assert "controls.csv, row 3, column switched_by: the chain K1 > K2 > K1 comes back" in faults[0]
    assert "row 5, column switched_by: the chain PC-0002 > PC-0002" in faults[1]


def test_a_control_that_the_log_puts_in_after_the_register_took_the_last_one_out_is_followed_and_told(
    tmp_path: Path,
) -> None:
    controls = (
        small_portfolio.CONTROLS.replace(
            "quantity,installed_on,switching", "quantity,installed_on,removed_on"
        )
        .replace("2016-04-01,plain relay\nPC-0002", "2016-04-01,2020-06-01\nPC-0002")
        .replace("plain relay", "")
    )
    store = built(tmp_path, small_portfolio.CALLS.split("\n", 1)[1], controls=controls)
    lives = store.rows(
        "SELECT started_on, ended_on, end_reason FROM lives WHERE control_id = 'PC-0001' ORDER BY entered_on"
    )
    assert lives == [
        (date(2016, 4, 1), date(2020, 6, 1), "removed"),
        (date(2021, 3, 5), date(2023, 12, 31), "in service"),
    ]
    notices = store.rows("SELECT message FROM notices WHERE place = 'controls.csv, column removed_on'")
    assert [message.split(":")[0] for (message,) in notices] == [
        "1 control removed by the register, but replaced on that day or later by the log (PC-0001 in row 2)"
    ]
