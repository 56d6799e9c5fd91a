"""The stage on the demo against the demo's truth: floors below the measured figures of docs/accuracy.md.

The demo's texts were invented beside this reader, so these figures flatter it; real text is measured apart.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from .demo_scores import Scores


@pytest.fixture(scope="module")
def scores(demo_folder: Path) -> Scores:
    return Scores(demo_folder)


@pytest.mark.parametrize("column", ["is_lighting", "is_lighting_by_text"])
def test_lighting_calls_are_known(scores: Scores, column: str) -> None:
    precision, recall = scores.lighting(column)
    assert precision.share >= 0.99
    assert recall.share >= 0.99


def test_calls_are_tied_to_their_control(scores: Scores) -> None:
    precision, recall = scores.ties()
    assert precision.share >= 0.99
    assert recall.share >= 0.97


def test_control_failures_are_found_without_false_alarms(scores: Scores) -> None:
    precision, recall = scores.control_failed()
    assert precision.share >= 0.97
    assert recall.share >= 0.97


def test_failures_and_incidents_are_counted_without_much_bias(scores: Scores) -> None:
    assert scores.failures_counted().share == pytest.approx(1, abs=0.03)
    assert scores.incidents_counted().share == pytest.approx(1, abs=0.02)
    split, merged = scores.split_and_merged()
    assert split.share <= 0.02
    assert merged.share <= 0.02


def test_onset_and_end_of_day_burning_lie_within_their_bounds(scores: Scores) -> None:
    burning = scores.one_to_one("day burning")
    ended = burning[burning["ended"]]
    assert len(burning) > 1000
    assert burning["onset_within"].mean() >= 0.97
    assert ended["restored_within"].mean() >= 0.97


def test_central_times_of_day_burning_are_nearly_unbiased_days(scores: Scores) -> None:
    burning = scores.one_to_one("day burning")
    ended = burning[burning["ended"]]
    assert abs(burning["onset_error_days"].mean()) <= 1.0
    assert abs(ended["restored_error_days"].mean()) <= 0.5


def test_the_pipeline_never_names_the_truth() -> None:
    pipeline = Path(__file__).parents[2] / "pipeline"
    readers = [path for path in pipeline.rglob("*.py") if "truth_folder" in path.read_text(encoding="utf-8")]
    assert readers == []
