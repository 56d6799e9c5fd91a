"""How well the reader does on real closures, against labels made by hand: ``python -m tests.tie.real_scores``.

The labels (tests/references/labelled_closures.csv: call numbers and labels, no text) were made from title and closure
alone, before the reader's answers to them were seen: every closure in which a word for a control stands (167, among
them cell phones, control cabinets and lights "not under our control"), and 250 drawn at random from the other 11,920.
"unclear" means that a careful person could not tell either; such a row counts in no share of that question.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from statsmodels.stats.proportion import proportion_confint

from pipeline.build import build, current_database
from pipeline.ingest import propose_layout, save_layout
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.store import Store
from pipeline.template import lay_out

EXPORT = Path(__file__).parents[2] / "../shared/real/boston_2011H2_calls.csv"
LABELS = Path(__file__).parents[1] / "references" / "labelled_closures.csv"
CALLS = 12_087
QUESTIONS = ("is_lighting", "about_a_control", "control_failed")


@dataclass(frozen=True)
class Share:
    """A share of the file's calls, with Wilson limits at the sample's effective size."""

    right: int
    of: int
    share: float
    lower: float
    upper: float

    def __str__(self) -> str:
        return f"{self.share:.3f} ({self.lower:.3f} to {self.upper:.3f}; {self.right} of {self.of} labelled)"


def build_real(folder: Path) -> Path:
    """Read the export as a person would: new, layout --accept, build. Gives the database."""
    lay_out(folder, "USD", "America/New_York")
    portfolio = Portfolio.read(folder)
    shutil.copy(EXPORT, portfolio.calls)
    save_layout(portfolio, propose_layout(portfolio.calls / EXPORT.name, portfolio).layout)
    build(folder, Silent())
    return current_database(folder)


def answers(database: Path) -> pd.DataFrame:
    """Per labelled call: its labels, what the reader says, and how many calls of the file it stands for."""
    with closing(Store.open(database)) as store:
        said = store.frame(
            """
            SELECT c.call_number, c.is_lighting, c.is_lighting_by_text,
              coalesce(bool_or(f.component = 'control'), false) AS about_a_control,
              coalesce(bool_or(f.component = 'control' AND f.failed_probability >= 0.5), false) AS control_failed,
              coalesce(arg_min(f.action, f.part_number),
                       max(CASE WHEN c.no_finding_reason ILIKE '%duplicate%' OR c.duplicate_of IS NOT NULL
                            THEN 'duplicate' ELSE 'unknown' END)) AS action
            FROM calls c LEFT JOIN findings f USING (call_id)
            WHERE c.superseded_by IS NULL
            GROUP BY ALL
            """
        )
    labels = pd.read_csv(LABELS, dtype=str)
    both = labels.merge(said, on="call_number", how="left", suffixes=("", "_said"), validate="one_to_one")
    named = int((labels["stratum"] == "names a control").sum())
    other = len(labels) - named
    both["weight"] = np.where(both["stratum"] == "names a control", 1.0, (CALLS - named) / other)
    return both


def share(rows: pd.DataFrame, right: pd.Series) -> Share:
    """Weighted share of rows that are right; limits by Wilson's score at the effective size (Kish)."""
    weight = rows["weight"].to_numpy(float)
    if not len(weight):
        return Share(0, 0, float("nan"), 0.0, 1.0)
    part = float((weight * right.to_numpy(bool)).sum() / weight.sum())
    size = weight.sum() ** 2 / (weight**2).sum()
    lower, upper = proportion_confint(part * size, size, method="wilson")
    return Share(int(right.sum()), len(rows), part, float(lower), float(upper))


def precision_and_recall(both: pd.DataFrame, question: str, said: str | None = None) -> tuple[Share, Share]:
    """Of one question, among the rows whose label is clear."""
    clear = both[both[question] != "unclear"]
    true = clear[question] == "yes"
    answer = clear[said or f"{question}_said"].astype(bool)
    return share(clear[answer], true[answer]), share(clear[true], answer[true])


def confusion(both: pd.DataFrame, question: str, said: str | None = None) -> pd.DataFrame:
    """Labelled calls of one question, counted: a row per label, a column per answer."""
    answer = both[said or f"{question}_said"].map({True: "read yes", False: "read no"})
    return pd.crosstab(both[question], answer).reindex(index=["yes", "no", "unclear"], fill_value=0)


def action_right(both: pd.DataFrame) -> Share:
    """How often the action is read as labelled, among lighting calls whose action is clear."""
    clear = both[(both["action"] != "unclear") & (both["is_lighting"] == "yes")]
    return share(clear, clear["action"] == clear["action_said"])


def main() -> None:
    """Print the shares, the confusion of actions, and the rows read otherwise than labelled."""
    with tempfile.TemporaryDirectory() as scratch:
        both = answers(build_real(Path(scratch) / "real"))
    for question in QUESTIONS:
        precision, recall = precision_and_recall(both, question)
        print(f"{question}: precision {precision}; recall {recall}")
        clear = both[both[question] != "unclear"]
        wrong = clear[(clear[question] == "yes") != clear[f"{question}_said"]]
        print("  otherwise:", ", ".join(wrong["call_number"]))
        print(confusion(both, question).to_string())
    print(
        "is_lighting by text:", *precision_and_recall(both, "is_lighting", "is_lighting_by_text"), sep="\n  "
    )
    print("action:", action_right(both))
    clear = both[(both["action"] != "unclear") & (both["is_lighting"] == "yes")]
    print(pd.crosstab(clear["action"], clear["action_said"]).to_string())
    wrong = clear[clear["action"] != clear["action_said"]]
    print(wrong[["call_number", "action", "action_said"]].to_string())


if __name__ == "__main__":
    main()
