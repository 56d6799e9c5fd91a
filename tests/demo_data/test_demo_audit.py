"""The audit: drawn without a look at the answer, and always right."""

from __future__ import annotations

import csv
from collections import Counter

import pandas as pd
import pytest

import demo_data
from demo_data.model import AUDIT_SHARE
from pipeline.store import Store


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    with (demo_data.portfolio_folder() / "decisions.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def truth() -> pd.DataFrame:
    calls = pd.read_csv(demo_data.truth_folder() / "calls.csv.gz", dtype=str, keep_default_na=False)
    return calls[(calls["exterior_lighting"] == "True") & (calls["duplicate_of"] == "")]


def test_every_audited_order_is_one_that_the_build_finds_and_was_decided_truly(
    rows: list[dict[str, str]], demo_store: Store
) -> None:
    assert (
        len(rows)
        == demo_store.row("SELECT count(*) FROM decisions WHERE state = 'in force' AND findings = 1")[0]
    )
    numbers = dict(demo_store.rows("SELECT call_id, call_number FROM calls WHERE superseded_by IS NULL"))
    failed = truth().set_index("call_number")["control_failed"]
    for row in rows:
        call_id, part = row["key"].split("-")
        assert part == "1"
        assert (row["value"] == "yes") == (failed[numbers[call_id]] == "True")


def test_failures_are_drawn_no_more_often_than_other_faults(rows: list[dict[str, str]]) -> None:
    # Five standard errors of a binomial share: some 250 of some 2 500, some 350 of some 3 500.
    drawn = Counter(row["value"] for row in rows)
    incidents = pd.read_csv(demo_data.truth_folder() / "incidents.csv.gz", dtype=str, keep_default_na=False)
    closed = incidents[(incidents["restored_at"] != "") & (incidents["calls"] != "0")]
    failures = int((closed["control_failed"] == "True").sum())
    assert drawn["yes"] == pytest.approx(AUDIT_SHARE * failures, abs=5 * (AUDIT_SHARE * failures) ** 0.5)
    others = len(closed) - failures
    assert 0.5 * AUDIT_SHARE * others < drawn["no"] < AUDIT_SHARE * others + 5 * (AUDIT_SHARE * others) ** 0.5
