"""The committed demo as tables."""

from __future__ import annotations

from functools import lru_cache

import pandas as pd

from demo_data import portfolio_folder, truth_folder
from demo_data.exports import FILES


def truth(name: str) -> pd.DataFrame:
    """A committed truth table."""
    return pd.read_csv(truth_folder() / f"{name}.csv.gz", dtype={"call_number": str})


def register(name: str) -> pd.DataFrame:
    """A committed register."""
    return pd.read_csv(portfolio_folder() / f"{name}.csv", dtype=str, keep_default_na=False)


@lru_cache(maxsize=2)
def export_rows(layout: str) -> pd.DataFrame:
    """All committed rows of one export layout, as text; title and total rows left out."""
    frames = []
    for file in (file for file in FILES if file.layout == layout):
        path = portfolio_folder() / "calls" / file.name
        if layout == "older":
            frames.append(pd.read_csv(path, dtype=str, keep_default_na=False))
        else:
            sheet = pd.read_excel(path, header=3, dtype=str, keep_default_na=False, engine="calamine")
            frames.append(sheet.iloc[:-1])
        frames[-1] = frames[-1].assign(file=file.name)
    return pd.concat(frames, ignore_index=True)
