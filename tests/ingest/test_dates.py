"""Dates: shapes, formats, and the order of day and month, which is proven or asked for but never guessed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from openpyxl.utils.datetime import from_excel

from pipeline.ingest.date_forms import DateOrder, formats_for
from pipeline.ingest.dates import DateEvidence, read_evidence, timestamp_sql
from pipeline.store import Store

# Making every table of a store takes longer than reading a date: one store serves all.
_STORE = Store.create()


def _evidence(texts: Sequence[str]) -> tuple[Store, DateEvidence]:
    store = _STORE
    store.run("CREATE OR REPLACE TABLE raw AS SELECT unnest($texts::VARCHAR[]) AS c1", {"texts": list(texts)})
    return store, read_evidence(store, "raw", "c1")


def _read(
    texts: Sequence[str], order: DateOrder | None = None, serials: bool = False
) -> list[datetime | None]:
    store, evidence = _evidence(texts)
    formats = formats_for(list(evidence.shapes), order)
    sql = timestamp_sql("c1", formats, "America/Denver", serials, evidence)
    return [value for (value,) in store.rows(f"SELECT {sql} FROM raw")]


@pytest.mark.parametrize(
    "text",
    [
        "2024-07-04 13:05:09", "2024-07-04T13:05:09", "2024/07/04 13:05:09", "2024-07-04 13:05:09.000",
        "4-Jul-2024 13:05:09", "04 JUL 2024 1:05:09 PM", "July 4, 2024 1:05:09 pm", "Jul 4 2024 13:05:09",
        "4 July 2024 13:05:09", "  2024-07-04   13:05:09 ", "20240704 13:05:09", "4-Jul-24 13:05:09",
        "4-Jul-2024 1:05:09 p.m.", "4-Jul-2024 1:05:09P", "2024-07-04 19:05:09 UTC", "4-Jul-2024 1:05:09 PM MDT",
        "2024-07-04 15:05:09 EDT", "2024-07-04T19:05:09Z", "2024-07-04T21:05:09+02:00", "2024-07-04 12:05:09-07:00",
    ],
)  # fmt: skip
def test_a_date_whose_parts_are_named_needs_no_order(text: str) -> None:
    assert not _evidence([text])[1].needs_order
    assert _read([text]) == [datetime(2024, 7, 4, 13, 5, 9)]


@pytest.mark.parametrize(
    "text",
    [
        "4-ago-2024",
        "4 de agosto de 2024",
        "4 août 2024",
        "4. August 2024",
        "4 aout 2024",
        "04 AGO 24",
        "4-Aug-2024",
    ],
)
def test_months_have_names_in_four_languages(text: str) -> None:
    assert _read([text]) == [datetime(2024, 8, 4)]


def test_every_month_of_four_languages_is_read() -> None:
    said = {
        "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
        "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
        "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
        "short": "janv fevr MRZ abr mai juin juil ago set okt noviembre dez",
    }
    for months in said.values():
        texts = [f"9 {month} 2021" for month in months.split()]
        assert _read(texts) == [datetime(2021, month, 9) for month in range(1, 13)]


@pytest.mark.parametrize(
    ("text", "order", "expected"),
    [
        ("7/4/2024", "month first", datetime(2024, 7, 4)),
        ("7/4/2024", "day first", datetime(2024, 4, 7)),
        ("07.04.24 9:30", "day first", datetime(2024, 4, 7, 9, 30)),
        ("7-4-2024 9:30 AM", "month first", datetime(2024, 7, 4, 9, 30)),
        ("7/4/2024 12:15 AM", "month first", datetime(2024, 7, 4, 0, 15)),
        ("7/4/2024 1430", "month first", datetime(2024, 7, 4, 14, 30)),
        ("7/4/24 930", "month first", datetime(2024, 7, 4, 9, 30)),
        ("7/4/2024 24:00", "month first", datetime(2024, 7, 5)),
        ("31/12/2023 24:00:00", "day first", datetime(2024, 1, 1)),
    ],
)
def test_numbers_are_read_in_the_stated_order(text: str, order: DateOrder, expected: datetime) -> None:
    assert _read([text], order) == [expected]
    assert _read([text], None) == [None]


@pytest.mark.parametrize(
    "text",
    [
        "13/13/2024",
        "2024-02-30",
        "soon",
        "12/2024",
        "7/4/2024 25:00",
        "7/4/2024 24:30",
        "7/4/2024 1475",
        "1234",
        "99",
    ],
)
def test_what_is_no_date_is_not_read(text: str) -> None:
    assert _read([text], "month first") == [None]


def test_one_date_that_fits_one_order_decides_the_column() -> None:
    _, evidence = _evidence(["1/2/2024", "3/4/2024", "3/25/2024"])
    assert evidence.decided() == "month first"
    assert "1 dates fit only this order" in evidence.statement("month first")
    _, evidence = _evidence(["1/2/2024", "25/3/2024"])
    assert evidence.decided() == "day first"


def test_where_both_orders_fit_nothing_is_decided() -> None:
    _, evidence = _evidence(["1/2/2024", "3/4/2024", "5/5/2024"])
    assert evidence.needs_order
    assert evidence.decided() is None


def test_where_both_orders_occur_nothing_is_decided() -> None:
    _, evidence = _evidence(["13/2/2024", "2/13/2024"])
    assert evidence.decided() is None
    assert evidence.against("day first") == 1


@pytest.mark.parametrize("serial", [25000.0, 36526.0, 45292.5, 45477.75])
def test_serial_days_agree_with_openpyxl(serial: float) -> None:
    # openpyxl.utils.datetime.from_excel is the independent reference for the 1900 date system.
    assert _read([str(serial)], serials=True) == [from_excel(serial)]
    assert _read([str(serial)], serials=False) == [None]


@pytest.mark.parametrize(
    "text",
    [
        "Thu Jul 04 2024 01:05PM", "Thursday, July 04, 2024 13:05", "Thurs. 4 Jul 2024 1:05 PM",
        "jueves, 4 de julio de 2024 13:05",
        "4 jul. 2024 01:05 p. m.", "4 juillet 2024 1:05 PM", "Donnerstag, 4. Juli 2024 13:05",
        "jeudi 4 juillet 2024 13:05",
        "Thu 7/4/2024 13:05",
    ],
)  # fmt: skip
def test_a_weekdays_name_before_a_date_goes_and_months_of_other_languages_take_an_am_or_pm(text: str) -> None:
    assert _read([text], "month first") == [datetime(2024, 7, 4, 13, 5)]


@pytest.mark.parametrize(
    ("text", "hour", "minute"),
    [
        ("45294 08:15:00", 8, 15), ("45294 8:46 PM", 20, 46), ("45294 0.34375", 8, 15), ("45294 .5", 12, 0),
        ("45294 24:00", 24, 0),
    ],
)  # fmt: skip
def test_a_serial_day_takes_its_time_of_day_from_another_column(text: str, hour: int, minute: int) -> None:
    expected = from_excel(45294) + timedelta(hours=hour, minutes=minute)
    assert _read([text], serials=True) == [expected]
    assert _read([text], serials=False) == [None]


def test_a_serial_day_with_an_impossible_time_is_not_read() -> None:
    assert _read(["45294 25:00"], serials=True) == [None]


def test_every_day_of_four_years_is_read_in_either_order() -> None:
    store = Store.create()
    store.run(
        "CREATE TABLE raw AS SELECT d::TIMESTAMP AS day, strftime(d, '%-m/%-d/%Y') AS c1, "
        "strftime(d, '%d.%m.%y') AS c2 "
        "FROM range(DATE '2020-01-01', DATE '2024-01-01', INTERVAL 1 DAY) AS t(d)"
    )
    for column, order in (("c1", "month first"), ("c2", "day first")):
        evidence = read_evidence(store, "raw", column)
        assert evidence.decided() == order
        sql = timestamp_sql(column, formats_for(list(evidence.shapes), evidence.decided()), "Etc/UTC", False)
        assert store.value(f"SELECT count(*) FROM raw WHERE {sql} IS DISTINCT FROM day") == 0


def test_times_that_have_lost_am_and_pm_are_said_and_not_used() -> None:
    lost = [f"7/{day}/2024 {1 + day % 12}:{day:02}" for day in range(1, 31)]
    _, evidence = _evidence(lost)
    assert evidence.half_days_lost
    assert _read(lost, "month first") == [datetime(2024, 7, day) for day in range(1, 31)]


@pytest.mark.parametrize("proof", ["7/4/2024 13:00", "7/4/2024 0:30"])
def test_one_time_that_only_a_day_of_24_hours_has_keeps_them_all(proof: str) -> None:
    lost = [f"7/{day}/2024 {1 + day % 12}:{day:02}" for day in range(1, 31)]
    assert not _evidence([*lost, proof])[1].half_days_lost


def test_few_times_or_times_with_am_and_pm_prove_nothing_lost() -> None:
    few = [f"7/{day}/2024 {1 + day % 12}:{day:02}" for day in range(1, 20)]
    assert not _evidence(few)[1].half_days_lost
    told = [f"7/{day}/2024 {1 + day % 12}:{day:02} AM" for day in range(1, 31)]
    assert not _evidence(told)[1].half_days_lost
    days = [f"2024-07-{day:02} 00:00:00" for day in range(1, 31)]  # a workbook's days
    assert not _evidence(days)[1].half_days_lost
