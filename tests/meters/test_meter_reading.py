"""Meter files as they come: forms, clocks, gaps and readings that cannot be right."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from pipeline import registers
from pipeline.faults import InputFaults
from pipeline.meters import intake
from pipeline.meters.clocks import clock_stretches
from pipeline.meters.files import open_meter_files
from pipeline.meters.read import read_meter_file
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

from . import yards

SETTINGS = Settings(format=1, name="x", currency="USD", time_zone="America/Denver")
ZONES = {"A": "America/Denver", "B": "America/Denver"}
QUARTER = timedelta(minutes=15)


def opened(folder: Path, text: str, name: str = "a.csv") -> Portfolio:
    (folder / "meters").mkdir(exist_ok=True)
    (folder / "meters" / name).write_text(text, encoding="utf-8")
    return Portfolio(folder, SETTINGS)


def readings(folder: Path, lines: list[str], header: str = yards.HEADER) -> pd.DataFrame:
    """The judged readings of one file, by row of the file."""
    (one,), _ = open_meter_files(opened(folder, "\n".join([header, *lines]) + "\n"))
    frame = pd.read_parquet(read_meter_file(one, folder / "cache", ZONES, 10.0))
    return frame.sort_values("row_number").set_index("row_number")


def quarters(first: datetime, count: int, kwh: str = "0.5", account: str = "A") -> list[str]:
    return [f"{account},{first + QUARTER * n:%Y-%m-%d %H:%M},{kwh}" for n in range(count)]


def reasons(frame: pd.DataFrame) -> dict[int, str]:
    return frame["reason"].dropna().to_dict()


def test_energy_of_an_interval_becomes_its_mean_load(tmp_path: Path) -> None:
    frame = readings(tmp_path, quarters(datetime(2021, 6, 1), 8))
    assert frame["kw"].tolist() == [2.0] * 8  # 0.5 kWh in a quarter of an hour
    assert set(frame["interval_s"]) == {900}
    assert reasons(frame) == {}


def test_a_load_is_taken_as_it_is(tmp_path: Path) -> None:
    frame = readings(tmp_path, quarters(datetime(2021, 6, 1), 8), "account_id,interval_start,kw")
    assert frame["kw"].tolist() == [0.5] * 8


def test_the_hour_that_comes_twice_is_two_hours(tmp_path: Path) -> None:
    lines = quarters(datetime(2021, 11, 7, 0, 0), 8) + quarters(datetime(2021, 11, 7, 1, 0), 12)
    frame = readings(tmp_path, lines)
    assert reasons(frame) == {}
    assert (frame["start_s"].diff().dropna() == 900).all()
    assert frame["start_s"].iloc[0] == datetime(2021, 11, 7, 6, 0, tzinfo=UTC).timestamp()


def test_a_file_that_runs_backwards_gives_the_same_instants(tmp_path: Path) -> None:
    lines = quarters(datetime(2021, 11, 7, 0, 0), 8) + quarters(datetime(2021, 11, 7, 1, 0), 12)
    (tmp_path / "back").mkdir()
    backwards = readings(tmp_path / "back", lines[::-1])
    assert sorted(backwards["start_s"]) == sorted(readings(tmp_path, lines)["start_s"])
    assert (backwards["start_s"].diff().dropna() == -900).all()


def test_an_hour_that_the_clocks_skip_is_named(tmp_path: Path) -> None:
    frame = readings(tmp_path, quarters(datetime(2021, 3, 14, 1, 0), 16))
    assert reasons(frame) == dict.fromkeys(range(6, 10), "an hour that the clocks skip")
    assert (frame["start_s"].dropna().diff().dropna() == 900).all()


@pytest.mark.parametrize(
    "stamp", ["{:%Y-%m-%dT%H:%M}-07:00", "{:%Y-%m-%d %H:%M:%S}-0700", "{:%Y-%m-%d %H:%M} -07"]
)
def test_stamps_with_an_offset_say_the_instant(tmp_path: Path, stamp: str) -> None:
    """Standard time all year: the skipped hour exists in it."""
    lines = [f"A,{stamp.format(datetime(2021, 3, 14, 1) + QUARTER * n)},1" for n in range(16)]
    frame = readings(tmp_path, lines)
    assert reasons(frame) == {}
    assert frame["has_offset"].all()
    assert frame["start_s"].iloc[0] == datetime(2021, 3, 14, 8, tzinfo=UTC).timestamp()
    assert (frame["start_s"].diff().dropna() == 900).all()


def test_utc_may_be_written_with_a_z(tmp_path: Path) -> None:
    frame = readings(tmp_path, [f"A,2021-03-14T0{hour}:00:00Z,1" for hour in range(5)])
    assert frame["start_s"].iloc[0] == datetime(2021, 3, 14, tzinfo=UTC).timestamp()
    assert set(frame["interval_s"]) == {3600}


def test_each_reading_that_cannot_be_used_is_named_with_its_row(tmp_path: Path) -> None:
    lines = quarters(datetime(2021, 6, 1), 1200)
    lines[4] = "A,2021-06-01 01:00,-0.5"
    lines[6] = "A,2021-06-01 01:30,900"
    lines[8] = "A,2021-06-01 02:00,"
    lines[10] = "A,2021-06-01 02:30,off"
    lines[12] = "A,2021-06-01 03:07,0.5"
    lines[14] = "A,1.6.21,0.5"
    lines[15] = "A,0001-06-01 03:45,0.5"
    lines[16] = ",2021-06-01 04:00,0.5"
    lines[18] = "A,2021-06-01 04:30,0,5"
    lines[20] = "Z,2021-06-01 05:00,0.5"
    lines[22] = "A,2021-06-01 05:30,nan"
    frame = readings(tmp_path, lines)
    assert reasons(frame) == {
        6: "negative", 8: "absurdly high", 10: "no reading", 12: "not a number", 14: "between two intervals",
        16: "not a time such as 2024-01-31 00:15", 17: "not a time such as 2024-01-31 00:15",
        18: "no account", 20: "more cells than headings",
        22: "not an account of the registers", 24: "not a number",
    }  # fmt: skip
    assert frame.loc[10, "stamp"] == "2021-06-01 02:00"


def test_equal_doubles_count_once_and_different_ones_not_at_all(tmp_path: Path) -> None:
    lines = [*quarters(datetime(2021, 6, 1), 8), "A,2021-06-01 00:15,0.50", "A,2021-06-01 01:00,0.7"]
    assert reasons(readings(tmp_path, lines)) == {
        10: "doubled", 6: "doubled, with different readings", 11: "doubled, with different readings",
    }  # fmt: skip


def test_blank_lines_do_not_shift_the_rows(tmp_path: Path) -> None:
    lines = [
        *quarters(datetime(2021, 6, 1), 4),
        "",
        *quarters(datetime(2021, 6, 1, 1), 4),
        "A,2021-06-01 02:00,-1",
    ]
    assert reasons(readings(tmp_path, lines)) == {11: "negative"}


def test_semicolons_and_decimal_commas_are_read(tmp_path: Path) -> None:
    lines = [line.replace(",", ";").replace("0.5", "0,5") for line in quarters(datetime(2021, 6, 1), 8)]
    frame = readings(tmp_path, lines, yards.HEADER.replace(",", ";"))
    assert frame["kw"].tolist() == [2.0] * 8


def test_an_interval_of_seven_minutes_is_refused(tmp_path: Path) -> None:
    lines = [f"A,{datetime(2021, 6, 1) + timedelta(minutes=7) * n:%Y-%m-%d %H:%M},1" for n in range(8)]
    assert set(reasons(readings(tmp_path, lines)).values()) == {
        "intervals that are not 5, 10, 15, 20, 30 or 60 minutes"
    }


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("account_id,date," + ",".join(map(str, range(96))), "each time of day had its own"),
        ("meter,time,kwh", "has the columns meter, time, kwh"),
        ("account_id,interval_start,kwh,kw", "has both kwh and kw"),
        ("account_id,account_id,interval_start,kwh", "has the column account_id twice"),
    ],
)  # fmt: skip
def test_another_form_is_told_in_one_sentence(tmp_path: Path, header: str, said: str) -> None:
    width = header.count(",") + 1
    portfolio = opened(tmp_path, f"{header}\n" + ",".join(["1"] * width) + "\n")
    with pytest.raises(InputFaults) as caught:
        open_meter_files(portfolio)
    (fault,) = caught.value.faults
    assert fault.where == "meters/a.csv, row 1"
    assert said in fault.problem
    assert "account_id, interval_start" in fault.remedy


def test_every_file_of_another_form_is_told_at_once(tmp_path: Path) -> None:
    opened(tmp_path, "a,b\n1,2\n", "one.csv")
    with pytest.raises(InputFaults) as caught:
        open_meter_files(opened(tmp_path, "c,d\n1,2\n", "two.csv"))
    assert [fault.where for fault in caught.value.faults] == [
        "meters/one.csv, row 1",
        "meters/two.csv, row 1",
    ]


def test_clock_stretches_agree_with_the_zone_all_year() -> None:
    """Against the standard library's own conversion, every half hour."""
    spans = clock_stretches("Europe/Lisbon", datetime(2020, 1, 1), datetime(2021, 1, 1))
    hours = pd.date_range("2020-01-01", "2021-01-01", freq="30min", tz="Europe/Lisbon")
    local = pd.DataFrame(
        {"local_at": hours.tz_localize(None), "s": [hour.utcoffset().total_seconds() for hour in hours]}
    )
    met = pd.merge_asof(
        local.sort_values("local_at", kind="stable"), spans, left_on="local_at", right_on="local_from"
    )
    assert not met["skipped"].any()
    assert ((met["s"] == met["offset_s"]) | (met["s"] == met["again_s"])).all()
    assert (met["s"] == met["again_s"]).sum() == 2  # the hour that comes twice, by half hours


def test_the_intake_counts_and_tells_what_it_keeps_out(tmp_path: Path) -> None:
    lines = quarters(datetime(2021, 3, 13), 96, account="AC-1")
    lines[20] = "AC-1,2021-03-13 05:00,-1"
    del lines[40:44]
    first = "\n".join([yards.HEADER, *lines]) + "\n"
    second = "\n".join([yards.HEADER, *quarters(datetime(2021, 3, 13, 23), 8, account="AC-1")]) + "\n"
    portfolio = Portfolio.read(yards.make(tmp_path / "yards", {"1.csv": first, "2.csv": second}))
    store = Store.create()
    registers.run(store, portfolio, Silent())
    intake.run(store, portfolio, Silent())
    files = store.rows(
        "SELECT name, rows_read, kept, left_out, interval_min, clock FROM meter_files ORDER BY name"
    )
    assert files == [("meters/1.csv", 92, 91, 1, "15", "local"), ("meters/2.csv", 8, 4, 4, "15", "local")]
    gaps = store.rows(
        "SELECT account_id, reason, first_row, last_row, intervals, first_stamp FROM meter_gaps ORDER BY reason"
    )
    assert gaps == [
        ("AC-1", "doubled in another file", 2, 5, 4, "2021-03-13 23:00"),
        ("AC-1", "missing", None, None, 4, "2021-03-13 10:00"),
        ("AC-1", "negative", 22, 22, 1, "2021-03-13 05:00"),
    ]
    told = [
        message
        for (message,) in store.rows("SELECT message FROM notices WHERE stage = 'meters' ORDER BY ALL")
    ]
    assert "1 reading of AC-1 kept out: negative (row 22)." in told
    assert any(
        "missing intervals: 4 of AC-1 in 1 stretch, 2021-03-13 10:00 to 2021-03-13 10:45." in message
        for message in told
    )


def test_readings_are_judged_once_and_kept_while_their_file_is_there(tmp_path: Path) -> None:
    portfolio = opened(tmp_path, "\n".join([yards.HEADER, *quarters(datetime(2021, 3, 13), 8)]))
    (one,), _ = open_meter_files(portfolio)
    kept = read_meter_file(one, portfolio.cache / "meters", ZONES, 10.0)
    stamp = kept.stat().st_mtime_ns
    assert read_meter_file(one, portfolio.cache / "meters", ZONES, 10.0) == kept
    assert kept.stat().st_mtime_ns == stamp
    assert (
        read_meter_file(one, portfolio.cache / "meters", ZONES, 5.0) != kept
    )  # another bound, other readings
    (portfolio.meters / "a.csv").unlink()
    intake.run(Store.create(), portfolio, Silent())
    assert not list((portfolio.cache / "meters").glob("*.parquet"))
