"""What the log leaves open, drawn: doubtful verdicts, members of batches, and ages known within an interval."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from test_lives_stage import FIRST, LAST, add, control, days, failure, run

from pipeline.lives.imputing import IMPUTATIONS
from pipeline.store import Store

INSTALLED = date(2016, 1, 1)
SHAPE, SCALE_DAYS = 2.5, 2200.0


@pytest.fixture
def store() -> Iterator[Store]:
    store = Store.create()
    add(store, "observation_windows", site_id="S", observed_from=FIRST, observed_to=LAST, origin="settings")
    yield store
    store.close()


def doubt(store: Store, incident_id: str, probability: float, changed: bool = True) -> None:
    """Make a finding doubtful, and one after which the control stayed in place if not ``changed``."""
    store.run(
        "UPDATE incidents SET failed_probability = ?, control_failed = ? >= 0.5 WHERE incident_id = ?",
        [probability, probability, incident_id],
    )
    if not changed:
        store.run(
            "UPDATE findings SET action = 'unknown', component = 'unknown' WHERE incident_id = ?",
            [incident_id],
        )
        store.run(
            "UPDATE incidents SET action = 'unknown', component = 'unknown' WHERE incident_id = ?",
            [incident_id],
        )


def many(store: Store, probability: float, changed: bool = True, controls: int = 150) -> None:
    """Like controls, each with one finding on a day of its own."""
    for number in range(controls):
        control(store, f"C{number}")
        day = FIRST + timedelta(days=20 + 13 * number)
        failure(store, f"i{number}", f"C{number}", f"{day} 08:00", f"{day + timedelta(days=3)} 08:00")
        doubt(store, f"i{number}", probability, changed)


def drawn(store: Store, column: str) -> dict[int, float]:
    """Sum of a column over lives as every draw leaves them."""
    return dict(
        store.rows(f"""
            WITH together AS (
              SELECT d.draw, l.quantity, l.failed, l.exit_central_days, l.entry_days
              FROM lives l, range(1, {IMPUTATIONS + 1}) d(draw) WHERE l.excluded_reason IS NULL
              UNION ALL
              SELECT draw, quantity, failed, exit_central_days, entry_days FROM life_draws
            )
            SELECT draw, sum({column})::DOUBLE FROM together GROUP BY draw ORDER BY draw
        """)
    )


def test_certain_verdicts_draw_nothing_and_leave_one_fit(store: Store, tmp_path: Any) -> None:
    many(store, 1.0)
    run(store, tmp_path)
    assert store.count("life_draws") == 0
    columns = (
        "method, imputations, shape, shape_lower, scale_days, b10_days_upper, failures, failures_expected"
    )
    pooled = store.rows(f"SELECT {columns} FROM life_fits ORDER BY ALL")
    assert pooled == store.rows(f"SELECT {columns} FROM life_fits_as_read ORDER BY ALL")
    assert {row[:2] for row in pooled} == {("weibull", 0)}


@pytest.mark.parametrize("probability", [0.7, 0.3])
def test_verdicts_are_drawn_as_often_as_their_words_say(
    store: Store, tmp_path: Any, probability: float
) -> None:
    many(store, probability)
    run(store, tmp_path)
    failures = drawn(store, "quantity * failed::INTEGER")
    assert len(failures) == IMPUTATIONS
    # mean of 20 draws of 150 findings, and their spread: 5 standard errors of a binomial count
    width = 5 * np.sqrt(150 * probability * (1 - probability))
    assert np.mean(list(failures.values())) == pytest.approx(150 * probability, abs=width)
    assert 1 < np.std(list(failures.values())) < 3 * np.sqrt(150 * probability * (1 - probability))
    method, imputations, expected, failed = store.row(
        "SELECT method, imputations, failures_expected, failures FROM life_fits WHERE grouping = 'all'"
    )
    assert (method, imputations) == ("weibull pooled", IMPUTATIONS)
    assert expected == pytest.approx(np.mean(list(failures.values())))
    assert failed == (150 if probability >= 0.5 else 0)
    # replaced all the same: every draw has both controls of a place, and all their days
    assert set(drawn(store, "quantity").values()) == {300.0}
    assert len(set(drawn(store, "quantity * (exit_central_days - entry_days)").values())) == 1


def test_a_doubtful_failure_where_nothing_was_changed_is_one_life_or_two(store: Store, tmp_path: Any) -> None:
    many(store, 0.7, changed=False)
    run(store, tmp_path)
    lives, failures = drawn(store, "quantity"), drawn(store, "quantity * failed::INTEGER")
    # without the failure the control works on: a life fewer for each
    assert {draw: 150 + failed for draw, failed in failures.items()} == lives
    # every control has its one finding, so that wear explains them better than chance: more than 0.7 are believed
    assert 0.7 * 150 < np.mean(list(failures.values())) < 150
    assert len(set(failures.values())) > 1


def test_the_fit_if_every_doubtful_failure_counts_as_read_stands_beside(store: Store, tmp_path: Any) -> None:
    many(store, 0.7)
    run(store, tmp_path)
    pooled, read = (
        store.row(f"SELECT scale_days, shape_upper - shape_lower FROM {table} WHERE grouping = 'all'")
        for table in ("life_fits", "life_fits_as_read")
    )
    assert pooled[0] > 1.05 * read[0]  # three failures in ten are none
    assert pooled[1] > read[1]


def test_a_finding_after_which_the_same_control_worked_is_no_failure_in_any_draw(
    store: Store, tmp_path: Any
) -> None:
    control(store, "C")
    failure(
        store, "i1", "C", "2021-03-01 08:00", "2021-03-02 08:00", component="lamp", action="replaced",
        control_failed=False, failed_probability=0.03, failure_mode=None, symptom="out",
    )  # fmt: skip
    run(store, tmp_path)
    assert store.count("life_draws") == 0
    assert store.count("lives") == 1


def test_the_same_portfolio_gives_the_same_draws(tmp_path: Any) -> None:
    found = []
    for _ in range(2):
        store = Store.create()
        add(
            store,
            "observation_windows",
            site_id="S",
            observed_from=FIRST,
            observed_to=LAST,
            origin="settings",
        )
        many(store, 0.6, controls=40)
        run(store, tmp_path)
        found.append(store.rows("FROM life_draws ORDER BY ALL"))
    assert found[0] == found[1]
    assert found[0]


def test_a_failure_lies_between_the_last_good_evidence_and_its_report(store: Store, tmp_path: Any) -> None:
    control(store, "C")
    failure(store, "i1", "C", "2021-03-20 08:00", "2021-03-25 08:00")
    store.run(
        "UPDATE incidents SET onset_high = TIMESTAMP '2021-02-01 12:00', onset_central = TIMESTAMP '2021-03-11 08:00'"
    )
    run(store, tmp_path)
    row = store.row("SELECT exit_low_days, exit_central_days, exit_days, ended_on FROM lives WHERE failed")
    age = [days(INSTALLED, day) for day in (date(2021, 2, 1), date(2021, 3, 11), date(2021, 3, 20))]
    assert row == (*age, date(2021, 3, 11))


def batches(store: Store, rng: np.random.Generator, count: int = 40, quantity: int = 10) -> int:
    """Batches installed as the log began, whose members live SHAPE and SCALE_DAYS and are replaced; failures told."""
    failures = 0
    for number in range(count):
        name = f"B{number}"
        installed = FIRST + timedelta(days=int(rng.integers(0, 200)))
        control(store, name, quantity=quantity, installed_on=installed)
        for member in range(quantity):
            clock = 0.0
            while True:
                clock += SCALE_DAYS * float(rng.weibull(SHAPE))
                fails = datetime.combine(installed, datetime.min.time()) + timedelta(days=clock)
                restored = fails + timedelta(days=4)
                if restored.date() > LAST:
                    break
                failure(store, f"{name}-{member}-{failures}", name, str(fails), str(restored))
                failures += 1
                clock += 4.0
    return failures


def test_members_of_a_batch_are_drawn_and_their_true_life_lies_inside_the_limits(
    store: Store, tmp_path: Any
) -> None:
    """Ending the oldest of a batch, or one at random, gives another shape; 99 in 100 limits, one fixed seed."""
    failures = batches(store, np.random.default_rng(11))
    rows = run(store, tmp_path)
    fit = store.row("SELECT * FROM life_fits WHERE grouping = 'all'")
    names = [name for (name,) in store.rows("SELECT column_name FROM (DESCRIBE life_fits)")]
    found = dict(zip(names, fit, strict=True))
    assert found["failures"] == failures
    assert found["method"] == "weibull pooled"
    assert found["shape_lower"] <= SHAPE <= found["shape_upper"]
    assert found["scale_days_lower"] <= SCALE_DAYS <= found["scale_days_upper"]
    assert found["shape_upper"] / found["shape_lower"] < 1.6
    assert store.value("SELECT bool_and(imputed) FROM lives WHERE failed")
    # every failure of the log ended one life in the table, and whoever works at the end is whole
    assert sum(row[7] for row in rows if row[5]) == failures
    assert sum(row[7] for row in rows if row[6] == "in service") == 400


def test_a_batch_older_than_the_log_still_counts_in_rates_only(store: Store, tmp_path: Any) -> None:
    control(store, "B", quantity=10)
    failure(store, "i1", "B", "2021-01-01 08:00", "2021-01-02 08:00")
    run(store, tmp_path)
    assert store.row("SELECT imputed, quantity, excluded_reason LIKE 'batch%' FROM lives") == (
        False,
        10,
        True,
    )
