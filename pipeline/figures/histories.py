"""Rows of lives with a column ``draw`` as frames of possible histories: as read, and one for each draw."""

from __future__ import annotations

import pandas as pd

from pipeline.lives.imputing import IMPUTATIONS


def as_read(rows: pd.DataFrame) -> pd.DataFrame:
    """The lives as the verdicts stand (draw 0), without the column ``draw``."""
    return _counted(rows[rows["draw"] == 0])


def drawn(rows: pd.DataFrame) -> list[pd.DataFrame]:
    """The lives of every draw; empty where no draw changes anything.

    Rows of draw 0 are the table of lives; the other draws say what they add to it, and take away (quantity below 0).
    """
    read, changes = rows[rows["draw"] == 0], rows[rows["draw"] > 0]
    if changes.empty:
        return []
    by_draw = dict(list(changes.groupby("draw")))
    return [_counted(pd.concat([read, by_draw.get(draw, changes[:0])])) for draw in range(1, IMPUTATIONS + 1)]


def _counted(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows alike counted together, what cancels gone."""
    keys = [name for name in rows.columns if name not in ("draw", "quantity")]
    summed = rows.groupby(keys, dropna=False, as_index=False, sort=False, observed=True).agg(
        {"quantity": "sum"}
    )
    return summed[summed["quantity"] > 0].reset_index(drop=True)
