"""Misread findings crossed with log length, truncation and number of failures; forecasts under wrong rules.

Run:  python -m tests.benchmarks.misread_study [--runs 100] [--part crossed|rules]

Prints Markdown, seeded as survival_study. *Misread*: the share of verdicts "failed" that are wrong, and of failures
that are not recognised (precision and recall alike); as many findings are no control failures as are. A quarter of the
runs where 500 failures are drawn. The forecast is for the controls that each way takes for those in service.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from pipeline.survival import (
    CannotFit,
    WeibullFit,
    fit_life_regression,
    fit_weibull,
    fit_weibull_imputed,
    forecast,
)
from pipeline.survival.form import FloatArray
from pipeline.survival.pooled import ImputedWeibull
from tests.benchmarks import survival_worlds as worlds
from tests.benchmarks.tally import BOTH, FIGURES, Tally, heading, row
from tests.survival.simulated_places import batches, ended_by_rule, lives_by

WORLDS = [
    (5, 0.5, 5),
    (5, 0.5, 20),
    (5, 0.5, 100),
    (5, 0.5, 500),
    (2, 0.9, 100),
    (5, 0.0, 100),
    (10, 0.5, 100),
]
HORIZON_DAYS = 365.0


def crossed(years: float, late: float, failures: int, misread: float, runs: int) -> dict[str, Tally]:
    """Fit and forecast with drawn and with hard verdicts; without misreading both are the plain fit."""
    log_days = round(years * worlds.YEAR_DAYS)
    units = worlds.units_for(failures, log_days, late)
    tallies = {"hard": Tally()} if misread == 0 else {"drawn": Tally(), "hard": Tally()}
    for run in range(runs):
        rng = np.random.default_rng([run, failures, round(10 * late), round(years), round(100 * misread), 5])
        places, events, ages = worlds.misread_log(units, log_days, late, misread, rng)
        seen = float((rng.random(ages.size) < worlds.next_year(ages)).sum())
        truth = float(worlds.next_year(ages).sum())
        for way, tally in tallies.items():
            try:
                fit, lives = _fitted(way, places, events, run)
            except CannotFit:
                tally.refused += 1
                continue
            tally.add_fit(fit, worlds.SHAPE, worlds.SCALE_DAYS)
            ahead = forecast(fit, _fleet(lives), HORIZON_DAYS, seed=run)
            tally.add_forecast(ahead.expected, truth, ahead.lower <= seen <= ahead.upper)
    return tallies


def _fitted(
    way: str, places: pd.DataFrame, events: pd.DataFrame, seed: int
) -> tuple[WeibullFit | ImputedWeibull, pd.DataFrame]:
    """A fit, and the lives that it takes for true."""
    if way == "drawn":
        fit = fit_weibull_imputed(places, events, seed=seed)
        return fit, fit.lives
    lives = lives_by(places, events[events["verdict"]])
    return fit_weibull(lives), lives


def _fleet(lives: pd.DataFrame) -> pd.DataFrame:
    """What still works, by age in steps of 30 days."""
    working = lives[~lives["failed"].astype(bool)]
    return pd.DataFrame(
        {"age_days": 15.0 + 30 * np.floor(working["exit_days"] / 30), "quantity": working["quantity"]}
    )


def oldest_ended(runs: int) -> dict[str, float]:
    """Forecast bias of batches: members drawn, the oldest ended, a random one ended."""
    sums = {"member drawn": np.zeros(2), "oldest ended": np.zeros(2), "random member ended": np.zeros(2)}
    for run in range(runs):
        places, events, lives = batches(2.5, 1500.0, 30, 10, 2200.0, 500 + run)
        truth = _next_year(lives.loc[~lives["failed"], "exit_days"].to_numpy(np.float64), 1500.0)
        for way, sum_ in sums.items():
            if way == "member drawn":
                drawn = fit_weibull_imputed(places, events, seed=run)
                sum_ += forecast(drawn, _fleet(drawn.lives), HORIZON_DAYS).expected, truth
                continue
            ended = ended_by_rule(places, events, way.split()[0], run)
            sum_ += forecast(fit_weibull(ended), _fleet(ended), HORIZON_DAYS).expected, truth
    return {way: float(sum_[0] / sum_[1] - 1) for way, sum_ in sums.items()}


def _next_year(ages: FloatArray, scale_days: float) -> float:
    now, then = (ages / scale_days) ** 2.5, ((ages + HORIZON_DAYS) / scale_days) ** 2.5
    return float(-np.expm1(now - then).sum())


def by_last_lamp(runs: int) -> dict[str, float]:
    """Forecast bias of relamped controls: lives split at the change, and labelled by the last load."""
    sums = {"split at the change": np.zeros(2), "labelled by the last load": np.zeros(2)}
    for run in range(runs):
        frames = worlds.relamped(1000, 0.4, np.random.default_rng([run, 88]))
        # The labelled lives run to their end whole: those still working are the fleet.
        fleet = frames[1][~frames[1]["failed"].astype(bool)]
        scale = {"light": worlds.SCALE_DAYS, "heavy": 0.4 * worlds.SCALE_DAYS}
        truth = sum(
            _next_year(part["exit_days"].to_numpy(np.float64), scale[str(load)])
            for load, part in fleet.groupby("load")
        )
        for lives, sum_ in zip(frames, sums.values(), strict=True):
            fit = fit_life_regression(lives, ["load"])
            for load, part in fleet.groupby("load"):
                life = fit.life_for({"load": load})
                ages = part["exit_days"].to_numpy(np.float64)
                sum_ += float((1 - life.survival(ages + HORIZON_DAYS) / life.survival(ages)).sum()), 0.0
            sum_ += 0.0, truth
    return {way: float(sum_[0] / sum_[1] - 1) for way, sum_ in sums.items()}


def print_crossed(runs: int) -> None:
    """The table of misread findings."""
    print(
        f"Misread findings; shape 2.5, scale 2500 days, {runs} runs a row (a quarter at 500 failures drawn).\n"
    )
    heading(
        "log, years", "older", "failures", "misread", "verdicts", "no fit", *BOTH, "forecast bias", "held"
    )
    for years, late, failures in WORLDS:
        for misread in (0.0, 0.05, 0.1):
            some = max(runs // 4, 2) if failures >= 500 else runs
            for way, tally in crossed(years, late, failures, misread, some).items():
                cells = tally.cells((*FIGURES, "forecast"))
                row(years, f"{late:.0%}", failures, f"{misread:.0%}", way, tally.refused, *cells)


def print_rules(runs: int) -> None:
    """Forecast bias of the tempting wrong rules."""
    print("\nForecast of twelve months under wrong rules.\n")
    heading("rule", "forecast bias")
    for way, bias in {**oldest_ended(runs), **by_last_lamp(runs)}.items():
        row(way, f"{bias:+.1%}")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--runs", type=int, default=100)
    parser.add_argument("--part", choices=("crossed", "rules"))
    arguments = parser.parse_args()
    if arguments.part != "rules":
        print_crossed(arguments.runs)
    if arguments.part != "crossed":
        print_rules(max(arguments.runs // 2, 2))


if __name__ == "__main__":
    main()
