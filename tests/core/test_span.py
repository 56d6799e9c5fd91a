"""When the log was kept."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path

import pytest
import small_portfolio

from pipeline.build import build
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


def span_notices(store: Store) -> list[tuple[str, str]]:
    return store.rows("SELECT place, message FROM notices ORDER BY ALL")


@pytest.fixture
def empty() -> Store:
    store = Store.create()
    store.run("INSERT INTO build_info VALUES ('b', '0', 'x', 'USD', 1, NULL, NULL, '{}')")
    site(store, "A")
    return store


def test_a_log_without_dated_reports_is_called_that_and_no_site_is_blamed(empty: Store) -> None:
    fill_span(empty, SETTINGS)
    assert span_notices(empty) == [
        ("calls", "no call has a usable report date, so the log has no days and nothing gives time at risk.")
    ]


@pytest.mark.parametrize("flags", [None, ["outside the log"]])
def test_calls_that_all_lie_before_the_set_start_are_told_with_both_dates(
    empty: Store, flags: list[str] | None
) -> None:
    call(empty, 1, "2020-03-01 09:00", None, flags)
    call(empty, 2, "2021-06-30 09:00", None, flags)
    fill_span(empty, SETTINGS.model_copy(update={"log": Log(start=date(2022, 1, 1))}))
    assert span_notices(empty) == [
        (
            "portfolio.toml, log.start",
            "all 2 calls were reported before 2022-01-01 (last: 2021-06-30), so the log has no days and nothing gives "
            "time at risk.",
        )
    ]
    assert empty.count("observation_windows") == 0


def test_a_call_after_the_set_end_is_told_with_both_dates(empty: Store) -> None:
    call(empty, 1, "2020-03-01 09:00", None, ["outside the log"])
    fill_span(empty, SETTINGS.model_copy(update={"log": Log(end=date(2019, 1, 1))}))
    ((place, message),) = span_notices(empty)
    assert place == "portfolio.toml, log.end"
    assert message.startswith("the only call was reported after 2019-01-01 (first: 2020-03-01)")


@pytest.mark.parametrize("start", ["2030-01-01", None])
def test_a_whole_build_of_a_log_without_days_still_ends(tmp_path: Path, start: str | None) -> None:
    folder = small_portfolio.make(tmp_path / "yards")
    page = folder / "portfolio.toml"
    log = f"[log]\nstart = {start}\n" if start else ""
    page.write_text(
        small_portfolio.SETTINGS.replace("[log]\nstart = 2020-01-01\nend = 2023-12-31\n", log),
        encoding="utf-8",
    )
    if start is None:
        (folder / "calls" / "orders.csv").write_text(
            re.sub(r"^(\d+),20\S+ [\d:]+,", r"\1,,", small_portfolio.CALLS, flags=re.M), encoding="utf-8"
        )
    store = Store.open(build(folder).database)
    notices = store.rows("SELECT place FROM notices WHERE message LIKE '%so the log has no days%'")
    assert notices == [("portfolio.toml, log.start" if start else "calls",)]
    assert store.value("SELECT count(*) FROM notices WHERE message LIKE '%observed dates lie outside%'") == 0
    store.close()
