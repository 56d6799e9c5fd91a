"""When the log was kept."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from pipeline.settings import Log, Settings
from pipeline.span import fill_span
from pipeline.store import Store

SETTINGS = Settings(format=1, name="x", currency="USD", time_zone="America/Denver")


def call(
    store: Store, number: int, reported: str, completed: str | None, flags: list[str] | None = None
) -> None:
    store.run(
        "INSERT INTO calls (call_id, file_id, row_number, source, reported_at, completed_at, status, work_type,"
        " is_lighting, is_lighting_by_text, flags) VALUES (?, 'f', ?, 's', ?, ?, 'open', 'reactive', true, true, ?)",
        [
            str(number),
            number,
            datetime.fromisoformat(reported),
            completed and datetime.fromisoformat(completed),
            flags,
        ],
    )


@pytest.fixture
def store() -> Store:
    store = Store.create()
    store.run("INSERT INTO build_info VALUES ('b', '0', 'x', 'USD', 1, NULL, NULL, '{}')")
    call(store, 1, "2020-03-01 09:00", "2020-03-02 09:00")
    call(store, 2, "2021-06-30 09:00", "2024-01-01 09:00")
    call(store, 3, "2105-01-01 09:00", None, ["outside the log"])
    return store


def site(store: Store, site_id: str, start: date | None = None, end: date | None = None) -> None:
    store.run(
        "INSERT INTO sites (site_id, time_zone, observed_from, observed_to) VALUES (?, 'UTC', ?, ?)",
        [site_id, start, end],
    )


def test_the_log_ends_with_its_last_report_not_with_a_late_closure_or_an_impossible_date(
    store: Store,
) -> None:
    fill_span(store, SETTINGS)
    assert store.row("SELECT log_from, log_to FROM build_info") == (date(2020, 3, 1), date(2021, 6, 30))


def test_settings_come_before_the_data(store: Store) -> None:
    fill_span(store, SETTINGS.model_copy(update={"log": Log(start=date(2019, 1, 1), end=date(2022, 1, 1))}))
    assert store.row("SELECT log_from, log_to FROM build_info") == (date(2019, 1, 1), date(2022, 1, 1))


def test_each_site_is_observed_for_its_own_time_within_the_log(store: Store) -> None:
    site(store, "A")
    site(store, "B", start=date(2021, 1, 1), end=date(2030, 1, 1))
    site(store, "C", start=date(2023, 1, 1))
    fill_span(store, SETTINGS)
    windows = store.rows(
        "SELECT site_id, observed_from, observed_to, origin FROM observation_windows ORDER BY 1"
    )
    assert windows == [
        ("A", date(2020, 3, 1), date(2021, 6, 30), "calls"),
        ("B", date(2021, 1, 1), date(2021, 6, 30), "site register"),
    ]
    assert store.value("SELECT count(*) FROM notices WHERE place LIKE '%site C'") == 1
