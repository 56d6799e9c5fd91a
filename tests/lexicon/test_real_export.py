"""The lighting verdict on a real city export, against the file's own reason column.

Skipped, saying so, where the file is absent: it is public data that is not part of this project.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from pipeline.lexicon import load_lexicon

EXPORT = Path(__file__).parents[2] / "../shared/real/boston_2011H2_calls.csv"
LIGHTING_CALLS = 6087
pytestmark = pytest.mark.skipif(not EXPORT.exists(), reason="the real export is not beside this project")


@pytest.fixture(scope="module")
def judged() -> pd.DataFrame:
    """Each request with the file's own word and ours, with categories mapped and withheld."""
    lexicon = load_lexicon()
    rows = pd.read_csv(EXPORT, dtype=str, keep_default_na=False)
    category = rows["subject"] + " | " + rows["reason"] + " | " + rows["type"] + " | " + rows["queue"]
    texts = zip(rows["case_title"], rows["closure_reason"], category, strict=True)
    verdicts = [lexicon.lighting(problem, action, filed) for problem, action, filed in texts]
    return pd.DataFrame(
        {
            "true": rows["reason"] == "Street Lights",
            "park": rows["type"].str.contains("Lighting") & (rows["reason"] != "Street Lights"),
            "by_category": [verdict.is_lighting for verdict in verdicts],
            "by_text": [verdict.by_text for verdict in verdicts],
        }
    )


def test_the_file_is_the_one_these_figures_are_for(judged: pd.DataFrame) -> None:
    assert (len(judged), judged["true"].sum()) == (12_087, LIGHTING_CALLS)


def test_with_category_columns_every_lighting_call_is_found(judged: pd.DataFrame) -> None:
    said, true = judged["by_category"], judged["true"]
    assert (said & true).sum() == LIGHTING_CALLS
    assert (said & true).sum() / said.sum() >= 0.995


def test_what_is_found_besides_is_nearly_all_lighting_of_parks(judged: pd.DataFrame) -> None:
    besides = judged["by_category"] & ~judged["true"]
    assert (besides & ~judged["park"]).sum() <= 2


def test_by_text_alone_nearly_all_are_found_with_few_false_alarms(judged: pd.DataFrame) -> None:
    said, true = judged["by_text"], judged["true"]
    assert (said & true).sum() / true.sum() >= 0.93
    assert (said & true).sum() / said.sum() >= 0.99
