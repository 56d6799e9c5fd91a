"""How the demo's truth compares with what a build says of it: shared by the committed seed's test and the study.

Truth is read here and nowhere in the pipeline. Groups are model and lamp, for which the district has a true Weibull
life each; coarser groups mix lives and have no true shape.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.lives.groups import Fit, full_fit, read_groups
from pipeline.settings import Assumptions
from pipeline.store import Store


def true_groups(truth: Path) -> pd.DataFrame:
    """Group name, true shape, scale and B10 in days."""
    groups = pd.read_csv(truth / "groups.csv.gz")
    groups["group_name"] = groups["model"] + " / " + groups["lamp"]
    groups["b10_days"] = groups["scale_days"] * (-math.log(0.9)) ** (1 / groups["shape"])
    return groups[["group_name", "shape", "scale_days", "b10_days"]]


def held_limits(store: Store, truth: Path, confidence: float, fewest_failures: int = 10) -> pd.DataFrame:
    """One row per group with a headline fit: failures as read, and whether its limits, and those of the fit as read
    (every doubtful failure taken as read), hold shape, scale and B10."""
    groups = read_groups(store)
    assumptions = Assumptions(confidence=confidence)
    rows = []
    for group in true_groups(truth).to_dict("records"):
        own = groups.get(("model and lamp", group["group_name"]))
        if own is None or own.failures < fewest_failures:
            continue
        fit = full_fit(own, assumptions)
        assert not isinstance(fit, str), fit
        about = {"group_name": group["group_name"], "failures": own.failures}
        rows.append(about | _held(fit, group) | _held_as_read(store, group))
    return pd.DataFrame(rows)


def _held_as_read(store: Store, group: dict[str, Any]) -> dict[str, float | bool]:
    """The same of the build's fit as read, at the build's own confidence."""
    names = ("shape", "scale_days", "b10_days")
    columns = ", ".join(f"{name}, {name}_lower, {name}_upper" for name in names)
    values = store.row(
        f"SELECT {columns} FROM life_fits_as_read WHERE grouping = 'model and lamp' AND group_name = $1",
        [group["group_name"]],
    )
    row: dict[str, float | bool] = {}
    for place, name in enumerate(names):
        value, low, high = values[3 * place : 3 * place + 3]
        row[f"{name}_as_read_ratio"] = value / group[name]
        row[f"{name}_as_read_held"] = low <= group[name] <= high
    return row


def _held(fit: Fit, group: dict[str, float]) -> dict[str, float | bool]:
    measures = {
        "shape": (fit.shape, fit.shape_limits),
        "scale_days": (fit.scale_days, fit.scale_limits),
        "b10_days": (fit.b_life(10), fit.b_life_limits(10)),
    }
    row: dict[str, float | bool] = {}
    for name, (value, (low, high)) in measures.items():
        row[f"{name}_ratio"] = value / group[name]
        row[f"{name}_held"] = low <= group[name] <= high
    return row
