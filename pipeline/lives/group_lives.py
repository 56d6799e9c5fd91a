"""One group's lives as the table holds them and as every draw leaves them, counted by age."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import pandas as pd

from pipeline.lives.imputing import IMPUTATIONS
from pipeline.survival import LifeMargins
from pipeline.survival.form import FloatArray
from pipeline.survival.margins import count_by_age

YEAR_DAYS = 365.25


class GroupLives:
    """A group's rows of grouped_lives.sql: draw 0 is the table of lives, the others what a draw changes in it."""

    def __init__(self, rows: pd.DataFrame) -> None:
        self._rows = rows
        self.as_read = rows[rows["draw"] == 0]
        self._changes = rows[rows["draw"] > 0]
        self.open = len(self._changes) > 0

    @property
    def controls(self) -> int:
        """Controls that enter; one whose life is cut where its load changes counts once."""
        return int(self.as_read["controls"].sum())

    @property
    def failures(self) -> int:
        """Failures as the verdicts stand."""
        return int(self.as_read.loc[self.as_read["failed"], "quantity"].sum())

    @property
    def failures_expected(self) -> float:
        """Failures, mean over the draws."""
        changes = self._changes.loc[self._changes["failed"], "quantity"].sum()
        return self.failures + float(changes) / IMPUTATIONS

    @property
    def control_years(self) -> float:
        """Time at risk as the verdicts stand, failures at their central age."""
        rows = self.as_read
        return float(((rows["exit_central_days"] - rows["entry_days"]) * rows["quantity"]).sum()) / YEAR_DAYS

    @property
    def only_kind(self) -> str | None:
        """The kind of control, where all are of one."""
        kinds = self.as_read["kind"].dropna().unique()
        return str(kinds[0]) if len(kinds) == 1 else None

    @cached_property
    def margins(self) -> LifeMargins:
        """The lives as read, by age."""
        return _margins(self.as_read)

    @cached_property
    def drawn_margins(self) -> list[LifeMargins]:
        """The lives of every draw, by age."""
        by_draw = dict(list(self._changes.groupby("draw")))
        nothing = self._changes.iloc[:0]
        return [_with_changes(self.margins, by_draw.get(draw, nothing)) for draw in range(1, IMPUTATIONS + 1)]

    def drawn_at_central_ages(self) -> list[LifeMargins]:
        """The lives of every draw with every failure at its central age."""
        central = self._rows.assign(exit_days=self._rows["exit_central_days"], exit_low_days=np.nan)
        return GroupLives(central).drawn_margins

    def at_central_ages(self) -> pd.DataFrame:
        """The lives as read with every failure at its central age: what a Kaplan-Meier curve takes."""
        rows = self.as_read[["entry_days", "exit_central_days", "failed", "quantity"]]
        return rows.rename(columns={"exit_central_days": "exit_days"})


def _margins(rows: pd.DataFrame) -> LifeMargins:
    none = np.empty(0)
    return _with_changes(LifeMargins(none, none, none, none, none, none), rows)


def _with_changes(margins: LifeMargins, rows: pd.DataFrame) -> LifeMargins:
    """Margins with signed rows counted in; what cancels is gone."""
    entry, exit_, low, count = (
        rows[name].to_numpy(np.float64) for name in ("entry_days", "exit_days", "exit_low_days", "quantity")
    )
    failed = rows["failed"].to_numpy(bool)
    between = failed & ~np.isnan(low)
    exact = failed & ~between
    return LifeMargins(
        *_sum(margins.failure_days, margins.failure_counts, exit_[exact], count[exact]),
        *_sum(margins.exit_days, margins.exit_counts, exit_[~between], count[~between]),
        *_sum(margins.entry_days, margins.entry_counts, entry, count),
        *_sum_intervals(margins, low[between], exit_[between], count[between]),
    )


def _sum(
    ages: FloatArray, counts: FloatArray, more: FloatArray, number: FloatArray
) -> tuple[FloatArray, FloatArray]:
    total_ages, total = count_by_age(np.concatenate([ages, more]), np.concatenate([counts, number]))
    keep = total > 0
    return total_ages[keep], total[keep]


def _sum_intervals(
    margins: LifeMargins, low: FloatArray, high: FloatArray, count: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    lows = np.concatenate([margins.interval_low_days, low])
    highs = np.concatenate([margins.interval_high_days, high])
    # Ages are whole or half days, so that a pair of them makes one exact number.
    pairs, total = count_by_age(lows * 2.0**21 + highs, np.concatenate([margins.interval_counts, count]))
    keep = total > 0
    found = np.floor(pairs[keep] / 2.0**20) / 2
    return found, pairs[keep] - found * 2.0**21, total[keep]
