"""The committed demo, end to end: what the pipeline says against what truly happened.

The truth is an invented district's (docs/demo-model.md): a known answer to test against, evidence of nothing else.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

import demo_data
from pipeline.build import build
from pipeline.store import Store
from pipeline.tables import TABLES
from tests.studies.demo_truth import held_limits, true_groups

TRUTH = demo_data.truth_folder()


def test_every_groups_true_life_lies_inside_joint_limits(demo_store: Store) -> None:
    """95 % limits of shape and scale together over all groups (Bonferroni: two measures of every group)."""
    groups = len(true_groups(TRUTH))
    held = held_limits(demo_store, TRUTH, confidence=1 - 0.05 / (2 * groups))
    assert len(held) == groups
    outside = held[~(held["shape_held"] & held["scale_days_held"])]
    assert outside.empty, outside


def test_the_stored_fits_are_those_of_the_lives_table(demo_store: Store) -> None:
    """95 % limits in life_fits hold the truth in at least 13 of 17 groups (99.8 % of the binomial at 95 %)."""
    fits = demo_store.frame(
        "SELECT * FROM life_fits WHERE grouping = 'model and lamp' AND method LIKE 'weibull%'"
    )
    both = true_groups(TRUTH).merge(fits, on="group_name", suffixes=("_true", ""))
    inside = both["scale_days_true"].between(both["scale_days_lower"], both["scale_days_upper"])
    assert len(both) == 17
    assert inside.sum() >= 13


def test_wasted_energy_is_within_10_percent_of_the_truth_with_the_true_mean_delay(demo_store: Store) -> None:
    truth = pd.read_csv(TRUTH / "energy.csv.gz")
    true_kwh = truth.loc[truth["reported"], "excess_kwh"].sum()
    low, central, high = demo_store.row(
        "SELECT sum(kwh_low), sum(kwh_central), sum(kwh_high) FROM burn_episodes"
    )
    assert float(central) == pytest.approx(true_kwh, rel=0.10)
    assert float(low) < true_kwh < float(high)


def test_expected_and_hard_counts_of_control_failures_are_near_the_truth(demo_store: Store) -> None:
    truth = pd.read_csv(TRUTH / "incidents.csv.gz")
    true_failures = int((truth["control_failed"] & truth["first_reported_at"].notna()).sum())
    expected, hard = demo_store.row(
        "SELECT sum(failed_probability * units), sum(units) FILTER (control_failed) FROM incidents"
    )
    assert expected == pytest.approx(true_failures, rel=0.05)
    assert hard == pytest.approx(true_failures, rel=0.05)


def test_building_the_same_folder_again_gives_the_same_tables(tmp_path: Path) -> None:
    """To the digit, whatever the order in which threads add up: a corner of the demo, built twice without a cache."""
    store = Store.scratch()
    for name in ("first", "second"):
        store.run(f"ATTACH '{build(_corner(tmp_path / name)).database}' AS {name} (READ_ONLY)")
    assert store.value("SELECT count(*) FROM first.incidents") > 500
    assert store.value("SELECT count(*) FROM first.life_fits WHERE method LIKE 'weibull%'") > 5
    for table in TABLES:
        columns = ", ".join(f'"{column.name}"' for column in table.columns)
        both = [f"SELECT {columns} FROM {name}.{table.name}" for name in ("first", "second")]
        for one, other in (both, reversed(both)):
            assert store.rows(f"{one} EXCEPT ALL {other} LIMIT 3") == [], table.name
    store.close()


def _corner(folder: Path) -> Path:
    """A fifth of the demo's sites, with what hangs there, and one of its exports."""
    shutil.copytree(demo_data.portfolio_folder(), folder)
    for export in (folder / "calls").iterdir():
        if export.name != "work_orders_2018-2019.csv":
            export.unlink()
    sites = pd.read_csv(folder / "sites.csv", dtype=str)[::5]
    controls = pd.read_csv(folder / "controls.csv", dtype=str)
    controls = controls[controls["site_id"].isin(sites["site_id"])]
    fixtures = pd.read_csv(folder / "fixtures.csv", dtype=str)
    fixtures = fixtures[fixtures["control_id"].isin(controls["control_id"])]
    for name, rows in (("sites", sites), ("controls", controls), ("fixtures", fixtures)):
        rows.to_csv(folder / f"{name}.csv", index=False)
    return folder


def test_every_check_holds(demo_store: Store) -> None:
    assert demo_store.rows("FROM checks WHERE NOT holds") == []


def test_nothing_of_the_truth_is_in_what_the_command_copies() -> None:
    assert not list(demo_data.portfolio_folder().rglob("*truth*"))
