"""A gap in a site's record is no time at risk: lives are cut there, rates count what was observed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_lives_stage import FIRST, LAST, add, control, days, failure, run

from pipeline.lives.gaps import AFTER_A_GAP, INTERRUPTED, cut_at_gaps
from pipeline.lives.stay_records import RegisterRow, Stay, Window
from pipeline.store import Store
from pipeline.survival import fit_weibull

GAP = Window(date(2020, 7, 1), date(2021, 6, 30))
WINDOWS = [Window(date(2019, 1, 1), GAP.first), Window(GAP.last, date(2023, 12, 31))]
ROW = RegisterRow("C", 1, date(2016, 1, 1))


def stay(**values: object) -> Stay:
    usual = {
        "control_id": "C", "register_case": "keeps removed", "started_on": date(2016, 1, 1),
        "entered_on": date(2019, 1, 1), "ended_on": date(2023, 12, 31), "failed": False, "end_reason": "in service",
    } | values  # fmt: skip
    return Stay(**usual)  # type: ignore[arg-type]


def cut(one: Stay, row: RegisterRow = ROW, reported: dict[str, date] | None = None) -> list[Stay]:
    return list(cut_at_gaps(one, WINDOWS, row, reported or {}))


def test_a_life_over_a_gap_is_censored_before_it_and_enters_again_after_it() -> None:
    before, after = cut(stay())
    assert (before.entered_on, before.ended_on, before.end_reason) == (
        date(2019, 1, 1),
        GAP.first,
        INTERRUPTED,
    )
    assert (after.entered_on, after.ended_on, after.end_reason) == (
        GAP.last,
        date(2023, 12, 31),
        "in service",
    )
    assert after.excluded_reason is None


def test_a_failure_counts_in_the_window_of_its_report() -> None:
    failed = stay(ended_on=date(2021, 3, 1), failed=True, end_reason="fails on", incident_id="i")
    before, after = cut(failed, reported={"i": date(2021, 7, 9)})
    assert (before.failed, before.end_reason) == (False, INTERRUPTED)
    assert (after.failed, after.entered_on, after.ended_on) == (True, GAP.last, GAP.last)
    (only,) = cut(failed, reported={"i": date(2021, 3, 2)})  # reported in the gap: nobody kept the log
    assert (only.failed, only.end_reason, only.ended_on) == (False, INTERRUPTED, GAP.first)


@pytest.mark.parametrize(
    ("case", "row", "known"),
    [
        ("keeps removed", ROW, True),
        ("begun in the log", ROW, False),
        ("snapshot", RegisterRow("C", 1, date(2016, 1, 1), as_of=date(2022, 1, 1)), True),
        ("snapshot", RegisterRow("C", 1, date(2016, 1, 1), as_of=date(2019, 6, 1)), False),
        ("keeps removed", RegisterRow("C", 12, date(2016, 1, 1)), False),
    ],
)
def test_what_follows_a_gap_has_an_age_only_where_the_register_speaks_for_it(
    case: str, row: RegisterRow, known: bool
) -> None:
    before, after = cut(stay(register_case=case), row)
    assert before.excluded_reason is None
    assert after.excluded_reason == (None if known else AFTER_A_GAP)


@given(st.integers(0, 1825), st.integers(0, 1825), st.booleans())
def test_the_days_of_the_stretches_are_the_days_of_the_windows(start: int, length: int, failed: bool) -> None:
    entered = date(2019, 1, 1) + timedelta(days=start)
    ended = min(entered + timedelta(days=length), date(2023, 12, 31))
    entered = min(entered, ended)
    pieces = cut(stay(entered_on=entered, ended_on=ended, failed=failed))
    inside = sum(
        max(0, (min(ended, window.last) - max(entered, window.first)).days) for window in WINDOWS
    )  # fmt: skip
    assert sum((piece.ended_on - piece.entered_on).days for piece in pieces) == inside
    assert sum(piece.failed for piece in pieces) <= failed


@pytest.fixture
def store() -> Store:
    store = Store.create()
    for first, last in ((FIRST, GAP.first), (GAP.last, LAST)):
        add(
            store,
            "observation_windows",
            site_id="S",
            observed_from=first,
            observed_to=last,
            origin="windows.csv",
        )
    return store


def test_ages_and_rates_leave_the_gap_out(store: Store, tmp_path: Path) -> None:
    control(store, "C")
    control(store, "D", position="S / other")
    failure(store, "i1", "C", "2022-05-01 08:00", "2022-05-11 08:00")
    found = [row for row in run(store, tmp_path) if row[0] == "D"]
    began = date(2016, 1, 1)
    assert [(row[1], row[3], row[4], row[6]) for row in found] == [
        (1, days(began, FIRST), days(began, GAP.first), INTERRUPTED),
        (2, days(began, GAP.last), days(began, LAST), "in service"),
    ]
    years = store.value("SELECT control_years FROM failure_rates WHERE grouping = 'kind'")
    observed = 2 * (days(FIRST, GAP.first) + days(GAP.last, LAST)) - days(date(2022, 5, 1), date(2022, 5, 11))
    assert years == pytest.approx(observed / 365.25)


def test_cutting_at_the_gap_gives_the_true_life_where_one_span_does_not() -> None:
    """Simulation: 4,000 controls of Weibull life (shape 2, scale 8 years) replaced on failure, a log of ten years of
    which four were not kept. Replacements of the gap stand in the register, failures in it in no log."""
    rng = np.random.default_rng(17)
    windows, whole = [(0.0, 3.0), (7.0, 10.0)], (0.0, 10.0)
    kept, naive = [], []
    for _ in range(4_000):
        began = float(-rng.uniform(0, 8))
        while began < 10.0:
            ended = began + 8.0 * float(rng.weibull(2.0))
            for first, last in windows:
                low, high = max(began, first), min(ended, last)
                if low < high:
                    kept.append((low - began, high - began, first < ended <= last))
            low, high = max(began, whole[0]), min(ended, whole[1])
            if low < high:
                seen = any(first < ended <= last for first, last in windows)
                naive.append((low - began, high - began, seen))
            began = ended
    scales = []
    for rows in (kept, naive):
        lives = pd.DataFrame(rows, columns=["entry_days", "exit_days", "failed"])
        lives[["entry_days", "exit_days"]] *= 365.25
        scales.append(fit_weibull(lives.assign(quantity=1)).scale_days / 365.25)
    assert scales[0] == pytest.approx(8.0, abs=0.25)  # years; three standard errors
    assert scales[1] > 9.0  # a year too long and more: four years at risk in which no failure could be seen
