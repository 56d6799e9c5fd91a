"""Outputs of R's package survival that r_fixtures.R (beside this file) wrote; the tests need no R."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd

FIXTURES = json.loads(Path(__file__).with_name("r_fixtures.json").read_text(encoding="utf-8"))


def r_lives() -> pd.DataFrame:
    """The simulated lives that R had: delayed entry, quantities, groups and stress."""
    data = pd.DataFrame(FIXTURES["lives"])
    return pd.DataFrame(
        {
            "entry_days": data["entry"].astype(float),
            "exit_days": data["exit"].astype(float),
            "failed": data["failed"] == 1,
            "quantity": data["quantity"],
            "group": data["group"],
            "stress": data["stress"],
            "log_stress": np.log(data["stress"]),
        }
    )


def r_interval_lives() -> pd.DataFrame:
    """Failures between two visits 90 days apart, as R had them."""
    part = FIXTURES["interval_weighted"]
    left, right = (
        np.array([np.nan if v is None else v for v in part[name]], float) for name in ("left", "right")
    )
    failed = ~np.isnan(right)
    return pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": np.where(failed, right, left),
            "failed": failed,
            "quantity": part["quantity"],
            "exit_low_days": np.where(failed, left, np.nan),
        }
    )
