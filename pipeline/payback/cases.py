"""Expected failures of either option, with the present or the rated fit at its estimate or at one of its limits."""

from __future__ import annotations

import math
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import gamma

from pipeline.payback.flows import LIKE_FOR_LIKE, REPLACE_NOW, Floats
from pipeline.payback.lives_in_use import LifeInUse
from pipeline.payback.renewal import DAYS_PER_YEAR, expected_failures_by_row

# Each case takes a fitted scale at its estimate or at one of its limits: a longer life makes fewer failures.
CASES = {"": "scale_days", "_lower": "scale_days_upper", "_upper": "scale_days_lower"}
# Whose fit a case moves, the other's staying at its estimate. They are fits to different controls, so their errors are
# taken as independent and joined by the root of the sum of squares.
PRESENT, RATED = "present", "rated"
Failures = dict[tuple[str, str, str], Floats]  # by option, whose fit is moved, and case


def failures_by_case(controls: pd.DataFrame, years: int) -> Failures:
    """Expected failures of each option with either fit at its estimate or a limit. Cases in which nothing moves are
    worked out once."""
    found: Failures = {}
    worked_out: dict[tuple[str, bytes], Floats] = {}
    for option, moved, case in product((LIKE_FOR_LIKE, REPLACE_NOW), (PRESENT, RATED), CASES):
        lives = [_life(row, option, moved, case) for row in controls[["present", "rated"]].itertuples()]
        shape = np.array([life.shape for life, _ in lives])
        scale_days = np.array([scale for _, scale in lives])
        key = option, scale_days.tobytes()
        if key not in worked_out:
            worked_out[key] = _failures(controls, option, shape, scale_days, years)
        found[option, moved, case] = worked_out[key]
    return found


def _failures(controls: pd.DataFrame, option: str, shape: Floats, scale_days: Floats, years: int) -> Floats:
    """Expected failures by row of controls and year; a control of unknown age fails at its long-run rate."""
    ages = controls["age_days"].astype(float).to_numpy()
    if option == REPLACE_NOW:
        ages = np.zeros(len(controls))
    quantities = controls["controls"].to_numpy(dtype=float)
    known = ~np.isnan(ages)
    failures = np.empty((len(controls), years))
    failures[known] = expected_failures_by_row(
        shape[known], scale_days[known], ages[known], quantities[known], years
    )
    mean_life_days = scale_days * gamma(1 + 1 / shape)
    failures[~known] = (quantities * DAYS_PER_YEAR / mean_life_days)[~known, None]
    return failures


def _life(row: Any, option: str, moved: str, case: str) -> tuple[LifeInUse, float]:
    """The life that an option's controls have in a case. A rated life fitted to data has limits of its own; one
    assumed as a multiple moves with the present life that it is a multiple of."""
    life = row.present if option == LIKE_FOR_LIKE else row.rated
    whose = PRESENT if option == LIKE_FOR_LIKE or life.assumed else RATED
    return life, getattr(life, CASES[case] if whose == moved else "scale_days")


def joined_limits(values: dict[tuple[str, str], float]) -> tuple[float, float]:
    """Limits of a figure from its values with either fit at its limits, the fits' errors taken as independent."""
    main = values[PRESENT, ""]
    spreads = [[values[moved, case] - main for case in CASES] for moved in (PRESENT, RATED)]
    return (
        main - math.hypot(*(min(spread) for spread in spreads)),
        main + math.hypot(*(max(spread) for spread in spreads)),
    )


def two_sided_lives(controls: pd.DataFrame) -> bool:
    """Whether the present life is bounded from above: a borrowed shape leaves open how few may fail."""
    return all(life.two_sided for life in controls["present"])
