"""Whatever the dates, lives hold every day of the stays they are cut from, and every failure on its day."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_lives_stage import FIRST, LAST, add, control, failure, fixtures

from pipeline.checks import fill_checks
from pipeline.lives import stage
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

COVER = "lives cover the days of every control's stays, and no more"
FAIL = "every failed stay is one failed life, ended on its last day"
SETTINGS = Settings(format=1, name="x", currency="USD", time_zone="America/Denver")

# Few days, so that installations, retrofits, failures and the window's ends often fall together.
SPAN = (LAST - FIRST).days
DAYS = st.sampled_from([-700, -1, 0, 1, 2, 30, 31, 400, 401, 1000, SPAN - 1, SPAN, SPAN + 1, SPAN + 50]).map(
    lambda days: FIRST + timedelta(days=days)
)


@st.composite
def places(draw: Any) -> dict[str, Any]:
    """One control or batch with up to three retrofits and three reports."""
    return {
        "installed_on": draw(st.none() | DAYS),
        "as_of": draw(st.none() | DAYS),
        "quantity": draw(st.sampled_from([1, 1, 3])),
        "retrofits": sorted(draw(st.sets(DAYS, max_size=3))),
        "reports": sorted(draw(st.sets(DAYS, max_size=3))),
        "delay": draw(st.sampled_from([0, 1, 14, 40])),
        "repair": draw(st.sampled_from([0, 1, 30])),
        "failed": draw(st.booleans()),
    }


def portfolio_of(drawn: list[dict[str, Any]]) -> Store:
    store = Store.create()
    add(store, "observation_windows", site_id="S", observed_from=FIRST, observed_to=LAST, origin="settings")
    for number, place in enumerate(drawn):
        about = {name: place[name] for name in ("installed_on", "as_of", "quantity")}
        control(store, f"C{number}", **about)
        edges = [None, *place["retrofits"], None]
        for group, (begins, ends) in enumerate(pairwise(edges)):
            fixtures(
                store,
                f"F{number}-{group}",
                f"C{number}",
                f"lamp {group}",
                installed_on=begins,
                removed_on=ends,
            )
        for count, reported in enumerate(place["reports"]):
            onset = reported - timedelta(days=place["delay"])
            restored = reported + timedelta(days=place["repair"])
            name = f"i{number}-{count}"
            failure(store, name, f"C{number}", str(onset), str(restored), control_failed=place["failed"])
            store.run("UPDATE incidents SET first_reported_at = ? WHERE incident_id = ?", [reported, name])
    return store


def checks(store: Store, folder: Path) -> dict[str, bool]:
    stage.run(store, Portfolio(folder, SETTINGS), Silent())
    fill_checks(store)
    return dict(store.rows("SELECT name, holds FROM checks"))


@settings(max_examples=12, deadline=None)
@given(drawn=st.lists(places(), min_size=1, max_size=8))
def test_lives_hold_every_day_and_every_failure_of_their_stays(
    tmp_path_factory: pytest.TempPathFactory, drawn: list[dict[str, Any]]
) -> None:
    store = portfolio_of(drawn)
    holds = checks(store, tmp_path_factory.getbasetemp())
    assert (holds[COVER], holds[FAIL]) == (True, True)
    for number, place in enumerate(drawn):
        begins = max(place["installed_on"] or FIRST, FIRST)
        if not place["reports"]:
            # nothing ends between the two: reckoned from the register alone
            expected = place["quantity"] * max((LAST - begins).days, 0)
            assert control_days(store, f"C{number}") == expected


def control_days(store: Store, control_id: str) -> int:
    days = store.value(
        "SELECT sum(quantity * date_diff('day', entered_on, ended_on)) FROM lives WHERE control_id = ?",
        [control_id],
    )
    return int(days or 0)


def test_a_lost_day_or_a_moved_failure_is_found(tmp_path: Path) -> None:
    store = portfolio_of(
        [
            {
                "installed_on": date(2016, 1, 1), "as_of": None, "quantity": 1, "retrofits": [date(2019, 1, 1)],
                "reports": [date(2020, 1, 1)], "delay": 10, "repair": 3, "failed": True,
            }
        ]
    )  # fmt: skip
    holds = checks(store, tmp_path)
    assert (holds[COVER], holds[FAIL]) == (True, True)
    store.run("UPDATE lives SET ended_on = ended_on - 1 WHERE failed")
    store.run("DELETE FROM checks")
    fill_checks(store)
    holds = dict(store.rows("SELECT name, holds FROM checks"))
    assert (holds[COVER], holds[FAIL]) == (False, False)
