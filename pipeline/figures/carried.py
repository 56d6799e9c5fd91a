"""Which effects on life the lives at hand can carry: what is left out of a regression, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.figures.histories import as_read, drawn
from pipeline.lives.speaking import failures_text
from pipeline.numerals import count_text
from pipeline.survival import CannotFit
from pipeline.survival.regression_design import design_matrix, make_terms
from pipeline.survival.stress import FEWEST_FAILURES

STRESS, OPERATIONS = "inrush stress", "operations a year"
"""Numeric effects, as logarithms to base 2: a life ratio is that of a doubling."""
ZERO_CROSS = "zero-cross"
_SOURCES = {STRESS: "inrush_stress", OPERATIONS: "operations_per_year"}
# Below this share of failures with a known value a number is left out, rather than the lives without it: an
# assumption of this project, no source.
_LEAST_KNOWN = 0.5


@dataclass
class Carried:
    """Lives (rows by draw) and the covariates that they can carry; ``left_out``: what is not told, and why.

    ``alike``: columns that do not vary, which ``left_out`` names together.
    """

    lives: pd.DataFrame
    covariates: list[str]
    left_out: list[str] = field(default_factory=list)
    alike: list[str] = field(default_factory=list)

    @property
    def as_read(self) -> pd.DataFrame:
        """The lives as the verdicts stand."""
        return as_read(self.lives)

    def drawn(self) -> list[pd.DataFrame]:
        """The lives of every draw; empty where nothing is open."""
        return drawn(self.lives)


def carried(lives: pd.DataFrame, columns: Sequence[str]) -> Carried:
    """The rows and, of ``columns`` (the most telling first) and the two numbers, what the failures can tell.

    ``lives``: rows of described_lives.sql. Levels need FEWEST_FAILURES failures as read; levels that are never seen
    beside the others are left out, and so is a column that others determine.
    """
    found = Carried(lives.copy(), [])
    for name in (STRESS, OPERATIONS):
        _add_number(found, name)
    levels = [name for name in columns if found.lives[name].notna().any()]
    _drop_missing(found, levels)
    _drop_rare(found, levels)
    _keep_connected(found, levels)
    numbers = [name for name in (STRESS, OPERATIONS) if name in found.lives]
    for name in [
        *levels[:2],
        *[n for n in numbers if n == STRESS],
        *levels[2:],
        *[n for n in numbers if n == OPERATIONS],
    ]:
        _try(found, name)
    if found.alike:
        found.left_out.append(f"{', '.join(found.alike)}: the same everywhere here.")
    drop = [
        name
        for name in (*columns, *numbers, "kind", "model")
        if name in found.lives and name not in found.covariates
    ]
    found.lives = found.lives.drop(columns=[*dict.fromkeys(drop), *_SOURCES.values()])
    return found


def _failures(rows: pd.DataFrame) -> int:
    """Failures as read."""
    return int(rows.loc[(rows["draw"] == 0) & rows["failed"].astype(bool), "quantity"].sum())


def _add_number(found: Carried, name: str) -> None:
    """A column with the logarithm to base 2 of a number, or a sentence on why it is left out.

    Stress tells only where something is switched at any moment of the line's cycle and has drivers: zero-crossing
    devices, and lamps without drivers, stand at the typical stress, so that their own difference is that of their
    model and lamps.
    """
    lives = found.lives
    value = pd.to_numeric(lives[_SOURCES[name]], errors="coerce").where(lambda number: number > 0)
    idle = pd.Series(False, index=lives.index)
    if name == STRESS:
        driven = lives.loc[value.notna(), "lamps"].dropna().unique()
        idle = (lives["switching"] == ZERO_CROSS) | ~lives["lamps"].isin(driven)
    wanted, known = lives[~idle], lives[~idle & value.notna()]
    if known.empty:
        found.left_out.append(f"{name}: not known of any control.")
        return
    enough = _failures(known)
    if enough < FEWEST_FAILURES or enough < _LEAST_KNOWN * _failures(wanted):
        found.left_out.append(
            f"{name}: known for {count_text(enough)} of {count_text(_failures(wanted))} failures."
        )
        return
    failed = known[(known["draw"] == 0) & known["failed"].astype(bool)]
    if value[failed.index].nunique() < 2:
        found.left_out.append(f"{name}: the same wherever something failed.")
        return
    unknown = ~idle & value.isna()
    if unknown.any():
        out = lives[unknown & (lives["draw"] == 0)]
        found.left_out.append(
            f"{count_text(int(out['quantity'].sum()))} stretches of lives without a known {name}."
        )
    logs = np.log2(value)
    typical = float(np.average(logs[failed.index], weights=failed["quantity"]))
    found.lives = lives.assign(**{name: (logs - typical).where(~idle, 0.0)})[~unknown]


def _drop_missing(found: Carried, levels: Sequence[str]) -> None:
    missing = found.lives[list(levels)].isna().any(axis=1)
    out = found.lives[missing & (found.lives["draw"] == 0)]
    if len(out):
        found.left_out.append(
            f"{count_text(int(out['quantity'].sum()))} stretches of lives of which {' or '.join(levels)} is not known."
        )
    found.lives = found.lives[~missing]


def _drop_rare(found: Carried, levels: Sequence[str]) -> None:
    """Leave out levels with fewer failures than an effect needs, until none is left."""
    while True:
        rare = [
            (name, level, part)
            for name in levels
            for level, part in found.lives.groupby(name, observed=True)
            if _failures(part) < FEWEST_FAILURES
        ]
        if not rare:
            return
        name, level, part = rare[0]
        found.left_out.append(
            f"{name} {level}: {failures_text(_failures(part))}, fewer than {FEWEST_FAILURES}."
        )
        found.lives = found.lives[found.lives[name] != level]


def _keep_connected(found: Carried, levels: Sequence[str]) -> None:
    """Keep the levels that can be compared: those joined by lives that share a level, with the most failures."""
    lives = found.lives
    if len(levels) < 2 or lives.empty:
        return
    part = pd.factorize(lives[levels[0]])[0]
    while True:  # each level takes the least number among its rows, until nothing changes
        before = part
        for name in levels[:2]:
            part = pd.Series(part, index=lives.index).groupby(lives[name]).transform("min").to_numpy()
        if (part == before).all():
            break
    groups = {number: lives[part == number] for number in np.unique(part)}
    best = max(groups.values(), key=_failures)
    for rows in groups.values():
        if rows is not best:
            names = " on ".join("/".join(sorted(rows[name].astype(str).unique())) for name in levels[:2])
            found.left_out.append(
                f"{names}: never seen with what the others have, so its effects cannot be told apart "
                f"({failures_text(_failures(rows))})."
            )
    found.lives = best


def _try(found: Carried, name: str) -> None:
    """Take a column in, unless it does not vary or others determine it."""
    read = found.as_read
    if read.empty:
        return  # what was left out before says why
    if read[name].nunique() < 2:
        found.alike.append(name)
        return
    try:
        design_matrix(read, make_terms(read, [*found.covariates, name]))
    except CannotFit:
        found.left_out.append(f"{name}: determined by {' and '.join(found.covariates) or 'nothing else'}.")
        return
    found.covariates.append(name)
