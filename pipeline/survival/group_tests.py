"""Do groups of controls live equally long? The log-rank test under delayed entry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from scipy.stats import chi2

from pipeline.survival.form import FloatArray, check_group_names, check_lives, require_columns
from pipeline.survival.margins import LifeMargins
from pipeline.survival.refusals import CannotFit


@dataclass(frozen=True)
class LogRank:
    """The test over all groups, and pair by pair.

    ``groups``: frame group, units, failures, expected (failures if all groups lived alike).
    ``pairs``: frame group_a, group_b, statistic, p_value, p_value_holm (Holm's adjustment over all pairs), sooner (the
    one of the two with more failures than if they lived alike; None where neither has).
    """

    statistic: float
    degrees_of_freedom: int
    p_value: float
    groups: pd.DataFrame = field(repr=False)
    pairs: pd.DataFrame = field(repr=False)


def log_rank(lives: pd.DataFrame | Mapping[Any, LifeMargins], by: str = "group") -> LogRank:
    """Log-rank test that the groups named in column ``by`` have one and the same hazard at every age.

    Instead of a frame, the groups may come as margins counted elsewhere, by name. Only lives under
    observation at an age count as at risk there, so delayed entry is honoured. A group that is never at
    risk when something fails tells nothing and takes away a degree of freedom. Refuses interval-censored
    lives, fewer than two groups, no failures, and rows without a group or with a text for its name.

    Source: Mantel, Cancer Chemotherapy Reports 50 (1966) 163-170; Peto and Peto, JRSS A 135 (1972) 185-207;
    Holm, Scandinavian Journal of Statistics 6 (1979) 65-70 (cited from memory).
    """
    parts = _margins_by(lives, by) if isinstance(lives, pd.DataFrame) else dict(lives)
    _refuse_no_test(parts, by)
    counts = _Counts(list(parts.values()))
    statistic, freedom, expected = _test(counts.at_risk, counts.failures)
    groups = pd.DataFrame(
        {
            "group": list(parts),
            "units": [part.units for part in parts.values()],
            "failures": [part.failures for part in parts.values()],
            "expected": expected,
        }
    )
    return LogRank(statistic, freedom, _p_value(statistic, freedom), groups, _pairs(list(parts), counts))


def _margins_by(lives: pd.DataFrame, by: str) -> dict[Any, LifeMargins]:
    require_columns(lives, (by,), "lives")
    checked = check_lives(lives)
    check_group_names(checked, by)
    return {
        name: LifeMargins.from_lives(part) for name, part in checked.groupby(by, sort=True, observed=True)
    }


class _Counts:
    """Numbers at risk and failed, (groups, ages of failure in any group)."""

    def __init__(self, parts: list[LifeMargins]) -> None:
        ages = np.unique(np.concatenate([part.failure_days for part in parts]))
        self.at_risk = np.array([part.at_risk(ages) for part in parts])
        self.failures = np.zeros_like(self.at_risk)
        for row, part in zip(self.failures, parts, strict=True):
            np.add.at(row, np.searchsorted(ages, part.failure_days), part.failure_counts)


def _refuse_no_test(parts: Mapping[Any, LifeMargins], by: str) -> None:
    if len(parts) < 2:
        raise CannotFit(f"Column {by} holds {len(parts)} group; comparing needs at least two.")
    if any(part.has_intervals for part in parts.values()):
        raise CannotFit("The log-rank test needs the ages at failure; some lives give only an interval.")
    if not any(part.failures for part in parts.values()):
        raise CannotFit("None of the lives failed, so there is nothing to compare.")


def _pairs(names: list[Any], counts: _Counts) -> pd.DataFrame:
    rows = []
    for a, b in combinations(range(len(names)), 2):
        statistic, freedom, surplus = _pair_test(counts, a, b)
        sooner = names[a] if surplus > 0 else names[b] if surplus < 0 else None
        rows.append((names[a], names[b], statistic, _p_value(statistic, freedom), sooner))
    frame = pd.DataFrame(rows, columns=["group_a", "group_b", "statistic", "p_value", "sooner"])
    # A pair without any failure at a shared age has no p value and takes no part in the adjustment.
    known = frame["p_value"].notna()
    frame["p_value_holm"] = np.nan
    if known.any():
        frame.loc[known, "p_value_holm"] = holm(frame.loc[known, "p_value"].to_numpy(np.float64))
    return frame[["group_a", "group_b", "statistic", "p_value", "p_value_holm", "sooner"]]


def holm(p_values: FloatArray) -> FloatArray:
    """Holm's step-down adjustment of p values. (statsmodels has it, but sweeps all memory at every call.)"""
    order = np.argsort(p_values)
    steps = p_values[order] * np.arange(p_values.size, 0, -1)
    adjusted = np.empty_like(p_values)
    adjusted[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return adjusted


def _test(at_risk: FloatArray, failures: FloatArray) -> tuple[float, int, FloatArray]:
    """Chi-square statistic, its degrees of freedom, and the failures expected in each group."""
    total, failed = at_risk.sum(axis=0), failures.sum(axis=0)
    share = np.divide(at_risk, total, out=np.zeros_like(at_risk), where=total > 0)
    expected = np.asarray((share * failed).sum(axis=1), dtype=np.float64)
    several = total > 1
    spread = np.zeros_like(total)
    spread[several] = (failed * (total - failed))[several] / (total[several] - 1)
    covariance = np.diag((share * spread).sum(axis=1)) - (share * spread) @ share.T
    surplus = failures.sum(axis=1) - expected
    freedom = int(np.linalg.matrix_rank(covariance, tol=1e-9 * max(float(np.abs(covariance).max()), 1e-300)))
    return float(surplus @ np.linalg.pinv(covariance, rcond=1e-9) @ surplus), freedom, expected


def _pair_test(counts: _Counts, a: int, b: int) -> tuple[float, int, float]:
    """As ``_test``, for two groups, where the covariance is one variance; and the surplus of failures of the first."""
    total = counts.at_risk[a] + counts.at_risk[b]
    failed = counts.failures[a] + counts.failures[b]
    here = (failed > 0) & (total > 1)
    total, failed, at_risk = total[here], failed[here], counts.at_risk[a][here]
    share = at_risk / total
    variance = float((share * (1.0 - share) * failed * (total - failed) / (total - 1.0)).sum())
    surplus = float(counts.failures[a][here].sum() - share @ failed)
    if variance <= 1e-9:
        return 0.0, 0, 0.0
    return surplus**2 / variance, 1, surplus


def _p_value(statistic: float, freedom: int) -> float:
    return float(chi2.sf(statistic, freedom)) if freedom else float("nan")
