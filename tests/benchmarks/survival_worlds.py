"""Invented fleets of controls with a known life, as a log would show them: for survival_study."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline.survival.form import FloatArray

SHAPE, SCALE_DAYS = 2.5, 2500.0
YEAR_DAYS = 365.25
OLDEST_YEARS = 8.0
COLUMNS = ["entry_days", "exit_days", "failed", "quantity"]


def log_of_controls(
    units: int, log_days: float, late_share: float, rng: np.random.Generator
) -> tuple[pd.DataFrame, FloatArray]:
    """Lives within a log, and the ages of the controls in service at its end.

    ``late_share`` of the controls were in place before the log (up to eight years; those that failed before it
    are unknown), the others were installed in it. Failed controls are replaced at once. Whole days.
    """
    late = rng.random(units) < late_share
    born = np.where(
        late, -rng.uniform(0, OLDEST_YEARS * YEAR_DAYS, units), rng.uniform(0, 0.9 * log_days, units)
    )
    born = np.floor(born)
    lives, ages = [], []
    first = True
    while born.size:
        life = np.maximum(np.ceil(SCALE_DAYS * rng.weibull(SHAPE, born.size)), 1.0)
        if first:
            seen = born + life > 0
            born, life, first = born[seen], life[seen], False
        entry, end = np.maximum(-born, 0.0), log_days - born
        failed = life <= end
        lives.append(np.column_stack([entry, np.minimum(life, end), failed]))
        ages.append(end[~failed])
        born = (born + life)[failed]
        born = born[born < log_days]
    table = np.concatenate(lives)
    frame = pd.DataFrame(
        {"entry_days": table[:, 0], "exit_days": table[:, 1], "failed": table[:, 2] > 0, "quantity": 1}
    )
    return frame[frame["exit_days"] > frame["entry_days"]].reset_index(drop=True), np.concatenate(ages)


def misread_log(
    units: int, log_days: float, late_share: float, misread: float, rng: np.random.Generator
) -> tuple[pd.DataFrame, pd.DataFrame, FloatArray]:
    """The same controls as places with findings, as many of which are no failures as are; and the true ages in service.

    ``misread``: 1 - precision and 1 - recall of the verdict; failed_probability is calibrated. Findings that are no
    failures fall on every day alike; the control goes on.
    """
    late = rng.random(units) < late_share
    born = np.floor(
        np.where(
            late, -rng.uniform(0, OLDEST_YEARS * YEAR_DAYS, units), rng.uniform(0, 0.9 * log_days, units)
        )
    )
    life = np.maximum(np.ceil(SCALE_DAYS * rng.weibull(SHAPE, units)), 1.0)
    born, life = born[born + life > 0], life[born + life > 0]
    entry, end = np.maximum(-born, 0.0), log_days - born
    places = pd.DataFrame(
        {"place_id": np.arange(born.size), "entry_days": entry, "exit_days": end, "quantity": 1}
    )
    at, began = np.arange(born.size), np.zeros(born.size)  # on each place's own clock
    found, ages = [], []
    while at.size:
        dies = began + life
        fails = dies <= end[at]
        found.append(np.column_stack([at[fails], dies[fails]]))
        ages.append((end[at] - began)[~fails])
        at, began = at[fails], dies[fails]
        life = np.maximum(np.ceil(SCALE_DAYS * rng.weibull(SHAPE, at.size)), 1.0)
    real = np.concatenate(found)
    days = end - entry
    other = rng.choice(born.size, len(real), p=days / days.sum())
    when = np.floor(entry[other] + rng.random(other.size) * days[other]) + 0.5
    inside = when < end[other]
    events = pd.DataFrame(
        {
            "place_id": np.concatenate([real[:, 0].astype(int), other[inside]]),
            "age_days": np.concatenate([real[:, 1], when[inside]]),
            "real": np.repeat([True, False], [len(real), int(inside.sum())]),
        }
    )
    chance = np.where(events["real"], 1 - misread, misread)  # as many are failures as are not
    verdict = rng.random(len(events)) < chance
    events = events.assign(verdict=verdict, failed_probability=np.where(verdict, 1 - misread, misread))
    return places, events, np.concatenate(ages)


def units_for(failures: int, log_days: float, late_share: float) -> int:
    """Controls that give about so many failures, from a pilot of 20 000."""
    lives, _ = log_of_controls(20_000, log_days, late_share, np.random.default_rng(1))
    return max(round(failures / (lives["failed"].sum() / 20_000)), failures)


def next_year(ages: FloatArray) -> FloatArray:
    """True chance of each control in service to fail within the next 365 days."""
    now, then = (ages / SCALE_DAYS) ** SHAPE, ((ages + 365.0) / SCALE_DAYS) ** SHAPE
    return np.asarray(-np.expm1(now - then), dtype=np.float64)


def relamped(units: int, true_ratio: float, rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Controls whose load turns heavy at some age, if they live so long: lives split there, and labelled by the last.

    Under the heavy load ages of failure shrink by ``true_ratio``; the hazard follows the present load.
    """
    change = rng.uniform(100, 2500, units)
    hazard = rng.exponential(size=units)
    end = rng.uniform(500, 4000, units)
    heavy_scale = SCALE_DAYS * true_ratio
    light = SCALE_DAYS * hazard ** (1 / SHAPE)
    before, offset = (change / SCALE_DAYS) ** SHAPE, (change / heavy_scale) ** SHAPE
    heavy = heavy_scale * (np.maximum(hazard - before, 0) + offset) ** (1 / SHAPE)
    life = np.where(light <= change, light, heavy)
    exit_, failed = np.minimum(life, end), life <= end
    turned = exit_ > change
    one = pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": np.where(turned, change, exit_),
            "failed": failed & ~turned,
            "quantity": 1,
            "load": "light",
        }
    )
    two = pd.DataFrame(
        {"entry_days": change, "exit_days": exit_, "failed": failed, "quantity": 1, "load": "heavy"}
    )[turned]
    last = pd.DataFrame(
        {
            "entry_days": 0.0,
            "exit_days": exit_,
            "failed": failed,
            "quantity": 1,
            "load": np.where(turned, "heavy", "light"),
        }
    )
    return pd.concat([one, two], ignore_index=True), last


def as_calls(lives: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """The same lives if every call were an incident: a failure is reported again 0.6 times on average within 30 days.

    Each repeated call ends a "life" of its own that began with the call before.
    """
    failed = lives[lives["failed"]]
    repeats = rng.poisson(0.6, len(failed))
    gaps = np.ceil(rng.uniform(0, 30, int(repeats.sum())))
    extra = pd.DataFrame({"entry_days": 0.0, "exit_days": gaps, "failed": True, "quantity": 1})
    return pd.concat([lives, extra], ignore_index=True)
