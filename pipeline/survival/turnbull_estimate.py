"""The survival curve of lives whose failures are known only to lie between two ages."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd

from pipeline.survival.form import FloatArray, check_lives
from pipeline.survival.refusals import CannotFit

_MOST_ROUNDS = 20_000
_TOLERANCE = 1e-10


def turnbull(lives: pd.DataFrame) -> pd.DataFrame:
    """Turnbull's estimate of survival under interval censoring, right censoring and delayed entry.

    Returns ``age_low_days, age_days, survival``: all the fall in survival lies between ``age_low_days`` and
    ``age_days`` (the same where the age is known), and ``survival`` is what is left at ``age_days``. Within
    such a stretch the curve is not determined. No limits: there are no standard ones. Meant for some
    thousands of distinct lives at most. With delayed entry and few early lives the same care is due as
    with ``kaplan_meier``.

    Source: Turnbull, JRSS B 38 (1976) 290-295; stretches under delayed entry: Frydman, JRSS B 56 (1994)
    71-74 (cited from memory).
    """
    checked = check_lives(lives)
    if len(checked) == 0:
        raise CannotFit("There are no lives to draw a curve of.")
    if not checked["failed"].any():
        raise CannotFit("None of the lives failed, so the curve stays at 1.")
    entry, low, high, number = _intervals(checked)
    left, right = _stretches(entry, low, high)
    inside = (left[None, :] >= low[:, None]) & (right[None, :] <= high[:, None])
    seen = left[None, :] >= entry[:, None]
    mass = _most_likely_mass(inside.astype(np.float64), seen.astype(np.float64), number)
    frame = pd.DataFrame({"age_low_days": left, "age_days": right, "survival": 1.0 - np.cumsum(mass)})
    kept = frame[(mass > 1e-6) & np.isfinite(right)].reset_index(drop=True)
    known = np.isin(kept["age_days"], high[low == np.nextafter(high, 0)])
    points = known & (kept["age_low_days"] == np.nextafter(kept["age_days"], 0))
    return kept.assign(
        age_low_days=np.where(points, kept["age_days"], kept["age_low_days"]),
        survival=kept["survival"].clip(0.0, 1.0),
    )


def _intervals(checked: pd.DataFrame) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Entry, (low, high] of the failure, and count, of each distinct life."""
    exit_ = checked["exit_days"].to_numpy(np.float64)
    failed = checked["failed"].to_numpy(bool)
    low = np.nextafter(exit_, 0)  # a known age: the shortest interval a float can hold
    if "exit_low_days" in checked.columns:
        given = checked["exit_low_days"].to_numpy(np.float64)
        low = np.where(given < exit_, given, low)
    rows = pd.DataFrame(
        {
            "entry": checked["entry_days"].to_numpy(np.float64),
            "low": np.where(failed, low, exit_),
            "high": np.where(failed, exit_, np.inf),
            "number": checked["quantity"].to_numpy(np.float64),
        }
    )
    counted = rows.groupby(["entry", "low", "high"], as_index=False)["number"].sum()
    return tuple(counted[name].to_numpy(np.float64) for name in ("entry", "low", "high", "number"))


def _stretches(entry: FloatArray, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stretches (left, right] that can hold mass: from a low to the next high with no other low between."""
    lefts = np.unique(low)
    rights = np.unique(np.concatenate([high, entry[entry > 0]]))
    after = np.searchsorted(rights, lefts, side="right")
    nearest = rights[np.minimum(after, rights.size - 1)]
    following = np.concatenate([lefts[1:], [np.inf]])
    good = (after < rights.size) & (nearest <= following)
    return lefts[good], nearest[good]


def _most_likely_mass(inside: FloatArray, seen: FloatArray, number: FloatArray) -> FloatArray:
    """Mass of each stretch, by expectation and maximisation with the unseen early failures filled in."""
    mass = np.full(inside.shape[1], 1.0 / inside.shape[1])
    for _ in range(_MOST_ROUNDS):
        own, visible = inside @ mass, seen @ mass
        if not ((own > 0) & (visible > 0)).all():
            raise CannotFit(
                "Some life ends where no curve can fall: its interval holds no possible age of failure."
            )
        share = (number / own) @ inside + (number / visible) @ (1.0 - seen)
        fresh = mass * share
        fresh /= fresh.sum()
        if np.abs(fresh - mass).max() < _TOLERANCE:
            return np.asarray(fresh, dtype=np.float64)
        mass = fresh
    warnings.warn("The Turnbull estimate has not settled to 1e-10; it is near.", stacklevel=3)
    return mass
