"""How well the stage does on the demo, against the demo's truth. ``python tests/tie/demo_scores.py FOLDER`` prints it
for a built copy of the demo."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

import demo_data
from pipeline.build import current_database
from pipeline.store import Store

_DECIDED = """
SELECT DISTINCT f.incident_id FROM decisions d JOIN findings f ON f.finding_id = d.key
WHERE d.target = 'finding' AND d.state = 'in force'
"""


@dataclass(frozen=True)
class Ratio:
    """A share with what it is a share of."""

    right: int
    of: int

    @property
    def share(self) -> float:
        """0 to 1; 1 where there was nothing to get wrong."""
        return self.right / self.of if self.of else 1.0

    def __str__(self) -> str:
        return f"{self.share:.4f} ({self.right} of {self.of})"


def truth(table: str) -> pd.DataFrame:
    """A table of true answers, all text."""
    return pd.read_csv(demo_data.truth_folder() / f"{table}.csv.gz", dtype=str, keep_default_na=False)


class Scores:
    """The built demo beside its truth."""

    def __init__(self, folder: Path) -> None:
        store = Store.open(current_database(folder))
        self.calls = store.frame("SELECT * FROM calls WHERE superseded_by IS NULL").merge(
            truth("calls"), on="call_number", suffixes=("", "_true")
        )
        self.incidents = store.frame("SELECT * FROM incidents").set_index("incident_id")
        self.decided = {row[0] for row in store.rows(_DECIDED)}
        findings = store.frame("SELECT * FROM findings").merge(
            self.calls.drop(columns="site_id"), on="call_id", suffixes=("", "_true")
        )
        store.close()
        self.findings = findings
        self.true_incidents = truth("incidents").set_index("incident_id")
        self.pairs = self._pairs()

    def _pairs(self) -> pd.DataFrame:
        """Each of our incidents with each true incident that one of its findings tells of, at the same control."""
        told = self.findings[["incident_id", "control_id", "incidents"]].copy()
        told["true_id"] = told["incidents"].str.split(";")
        told = told.explode("true_id")
        told["true_id"] = told["true_id"].str.strip()
        told = told.join(self.true_incidents.add_prefix("true_"), on="true_id", how="inner")
        same = told["control_id"].isna() | (told["control_id"] == told["true_control_id"])
        return told[same].drop_duplicates(["incident_id", "true_id"])

    def lighting(self, column: str) -> tuple[Ratio, Ratio]:
        """Precision and recall of 'concerns exterior lighting'."""
        said, true = self.calls[column], self.calls["exterior_lighting"] == "True"
        both = int((said & true).sum())
        return Ratio(both, int(said.sum())), Ratio(both, int(true.sum()))

    def ties(self) -> tuple[Ratio, Ratio]:
        """Precision and recall of the control, over findings of calls that concern one control."""
        one = self.findings[
            (self.findings["control_id_true"] != "") & ~self.findings["control_id_true"].str.contains(";")
        ]
        tied = one["control_id"].notna()
        right = int((one["control_id"] == one["control_id_true"])[tied].sum())
        return Ratio(right, int(tied.sum())), Ratio(right, len(one))

    def control_failed(self) -> tuple[Ratio, Ratio]:
        """Precision over our incidents, recall over true ones that a call we read tells of; not audited ones."""
        failed = self._read_alone.join(self.incidents[["control_failed"]], on="incident_id")
        failed["truly"] = failed["true_control_failed"] == "True"
        ours = self.incidents.index[self.incidents["control_failed"]].difference(list(self.decided))
        right = failed.loc[failed["truly"], "incident_id"].unique()
        found = failed[failed["truly"]].groupby("true_id")["control_failed"].any()
        return Ratio(int(ours.isin(right).sum()), len(ours)), Ratio(int(found.sum()), len(found))

    def failures_counted(self) -> Ratio:
        """Failures that we count, against those that truly happened and were reported; without audited ones."""
        audited = self.pairs.loc[self.pairs["incident_id"].isin(self.decided), "true_id"]
        reported = (self.true_incidents["control_failed"] == "True") & (self.true_incidents["calls"] != "0")
        ours = self.incidents["control_failed"] & ~self.incidents.index.isin(list(self.decided))
        return Ratio(int(ours.sum()), int((reported & ~reported.index.isin(audited)).sum()))

    @property
    def _read_alone(self) -> pd.DataFrame:
        """Pairs of which no finding was decided by the audit."""
        return self.pairs[~self.pairs["incident_id"].isin(self.decided)]

    def incidents_counted(self) -> Ratio:
        """Incidents that are not planned work, against true incidents that a call we read tells of."""
        return Ratio(int((self.incidents["action"] != "planned").sum()), self.pairs["true_id"].nunique())

    def split_and_merged(self) -> tuple[Ratio, Ratio]:
        """True incidents counted as several, and incidents of ours that hold several true ones."""
        split = self.pairs.groupby("true_id")["incident_id"].nunique()
        merged = self.pairs.groupby("incident_id")["true_id"].nunique()
        return Ratio(int((split > 1).sum()), len(split)), Ratio(int((merged > 1).sum()), len(merged))

    def one_to_one(self, symptom: str) -> pd.DataFrame:
        """Incidents of a symptom that match one true incident, with the errors of their times in days."""
        pairs = self.pairs[
            ~self.pairs["incident_id"].duplicated(keep=False) & ~self.pairs["true_id"].duplicated(keep=False)
        ]
        both = pairs[pairs["true_symptom"] == symptom].join(
            self.incidents.drop(columns="control_id"), on="incident_id"
        )
        began, ended = pd.to_datetime(both["true_onset_at"]), pd.to_datetime(both["true_restored_at"])
        slack = pd.Timedelta(hours=2)  # orders are closed within the hour after the work
        return both.assign(
            onset_error_days=(both["onset_central"] - began).dt.total_seconds() / 86_400,
            restored_error_days=(both["restored_central"] - ended).dt.total_seconds() / 86_400,
            onset_within=(both["onset_high"] <= began) & (began <= both["onset_low"]),
            restored_within=(both["restored_low"] - slack <= ended)
            & (ended <= both["restored_high"] + slack),
            ended=ended.notna() & both["restored_low"].notna(),
        )


def report(folder: Path) -> str:
    """Every score as a line of text."""
    scores = Scores(folder)
    burning = scores.one_to_one("day burning")
    ended = burning[burning["ended"]]
    lines = {
        "is lighting, precision and recall": scores.lighting("is_lighting"),
        "is lighting by text alone": scores.lighting("is_lighting_by_text"),
        "tie to control": scores.ties(),
        "control failed": scores.control_failed(),
        "failures counted against true": (scores.failures_counted(),),
        "incidents counted against true": (scores.incidents_counted(),),
        "true incidents split, ours merged": scores.split_and_merged(),
        "day burning: onset within low and high": (Ratio(int(burning["onset_within"].sum()), len(burning)),),
        "day burning: end within low and high": (Ratio(int(ended["restored_within"].sum()), len(ended)),),
        "day burning: mean error of onset, end, days": (
            f"{burning['onset_error_days'].mean():+.2f}", f"{ended['restored_error_days'].mean():+.2f}",
        ),
    }  # fmt: skip
    return "\n".join(f"{name}: " + ", ".join(map(str, values)) for name, values in lines.items())


if __name__ == "__main__":
    print(report(Path(sys.argv[1])))
