"""The reader on real closures, against labels made by hand before its answers were seen.

Floors stand below what was measured (docs/accuracy.md). Skipped, saying so, where the export is absent: it is public
data that is not part of this project.
"""

from __future__ import annotations

import pandas as pd
import pytest
from once import made_once

from pipeline.build import current_database
from tests.tie.real_scores import CALLS, EXPORT, action_right, answers, build_real, precision_and_recall

pytestmark = pytest.mark.skipif(not EXPORT.exists(), reason="the real export is not beside this project")


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    return answers(current_database(made_once(tmp_path_factory, "real-closures", build_real)))


def test_every_label_meets_its_call_and_the_weights_make_up_the_file(both: pd.DataFrame) -> None:
    assert both["is_lighting_said"].notna().all()
    assert both["weight"].sum() == pytest.approx(CALLS)


@pytest.mark.parametrize("question", ["is_lighting", "about_a_control", "control_failed"])
def test_what_is_said_is_mostly_right_and_mostly_all(both: pd.DataFrame, question: str) -> None:
    precision, recall = precision_and_recall(both, question)
    assert precision.share >= 0.90
    assert recall.share >= 0.90
    assert precision.lower >= 0.80
    assert recall.lower >= 0.75


def test_the_action_is_mostly_read_as_a_person_reads_it(both: pd.DataFrame) -> None:
    assert action_right(both).share >= 0.85
