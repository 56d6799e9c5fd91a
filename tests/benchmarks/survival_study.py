"""How far the survival figures can be trusted: bias, and how often 95 % limits hold, over known worlds.

Run:  python -m tests.benchmarks.survival_study [--runs 300] [--part plain|imputed|simpler]

Prints Markdown: the plain fit over log lengths, shares of controls older than the log, and numbers of failures;
fits with misread findings and with batches; and what simpler ways of counting would have said. Seeded: the
same runs give the same table. Some eight minutes on one core at 300 runs. A year is 365.25 days, a forecast
is for 365 days. Bias is that of the mean logarithm, in percent; for forecasts, of their sum over the runs.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable

import numpy as np
import pandas as pd

from pipeline.survival import (
    CannotFit,
    ImputedWeibull,
    fit_life_regression,
    fit_weibull,
    fit_weibull_imputed,
    forecast,
)
from pipeline.survival.pooled import pool
from tests.benchmarks import survival_worlds as worlds
from tests.benchmarks.tally import BOTH, FIGURES, Tally, heading, row
from tests.survival.simulated_places import batches, ended_by_rule, lives_by, misread_places

PLAIN = [
    (years, late, failures)
    for years, late in ((2, 0.9), (5, 0.0), (5, 0.5), (5, 0.9), (10, 0.5))
    for failures in (5, 20, 100, 500)
]


def plain(years: float, late: float, failures: int, runs: int) -> Tally:
    """The fit and the twelve-month forecast of single controls."""
    tally, log_days = Tally(), round(years * worlds.YEAR_DAYS)
    units = worlds.units_for(failures, log_days, late)
    for run in range(runs):
        rng = np.random.default_rng([run, failures, round(10 * late), round(years)])
        lives, ages = worlds.log_of_controls(units, log_days, late, rng)
        try:
            fit = fit_weibull(lives)
        except CannotFit:
            tally.refused += 1
            continue
        tally.add_fit(fit, worlds.SHAPE, worlds.SCALE_DAYS)
        chance = worlds.next_year(ages)
        seen = float((rng.random(ages.size) < chance).sum())
        fleet = pd.DataFrame({"age_days": 15.0 + 30 * np.floor(ages / 30), "quantity": 1})
        ahead = forecast(fit, fleet, 365.0, seed=run)
        tally.add_forecast(ahead.expected, float(chance.sum()), ahead.lower <= seen <= ahead.upper)
    return tally


def misread(accuracy: float, count: int, runs: int) -> dict[str, Tally]:
    """Verdicts drawn with ages and words, by their words alone, and as they stand, at a precision and recall."""
    tallies = {
        name: Tally() for name in ("verdicts drawn", "drawn by the words alone", "verdicts as they stand")
    }
    for run in range(runs):
        places, events = misread_places(2.5, 1500.0, count, 2200.0, 9000 + run, accuracy, accuracy)
        hard = fit_weibull(lives_by(places, events[events["verdict"]]))
        fits = {
            "verdicts drawn": fit_weibull_imputed(places, events, seed=run),
            "drawn by the words alone": _by_words(places, events, run),
            "verdicts as they stand": hard,
        }
        for name, fit in fits.items():
            tallies[name].add_fit(fit, 2.5, 1500.0)
    return tallies


def _by_words(places: pd.DataFrame, events: pd.DataFrame, seed: int) -> ImputedWeibull:
    """Ten imputations in which every verdict is drawn by its probability, whatever the age."""
    rng, fits = np.random.default_rng(seed), []
    for _ in range(10):
        real = rng.random(len(events)) < events["failed_probability"]
        fits.append(fit_weibull(lives_by(places, events[real])))
    return pool(fits, [(fit.failures, fit.units) for fit in fits], pd.DataFrame(), 0.95)


def of_batches(count: int, oldest_days: float, log_days: float, runs: int) -> dict[str, Tally]:
    """Batches of ten: drawn members; and, from age 0, the oldest or a random one taken for the failed one."""
    tallies = {"drawn": Tally(), "oldest": Tally(), "random": Tally()}
    for run in range(runs):
        places, events, _ = batches(2.5, 1500.0, count, 10, log_days, 500 + run, oldest_days)
        tallies["drawn"].add_fit(fit_weibull_imputed(places, events, seed=run), 2.5, 1500.0)
        if not oldest_days:
            for rule in ("oldest", "random"):
                fit = fit_weibull(ended_by_rule(places, events, rule, run))
                tallies[rule].add_fit(fit, 2.5, 1500.0)
    return tallies


def simpler_ways(runs: int) -> dict[str, Tally]:
    """About 500 failures in five years, half of the controls older than the log, counted in simpler ways."""
    log_days = round(5 * worlds.YEAR_DAYS)
    units = worlds.units_for(500, log_days, 0.5)
    ways: dict[str, Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame]] = {
        "as it should be": lambda lives, rng: lives,
        "delayed entry ignored": lambda lives, rng: lives.assign(entry_days=0.0),
        "calls taken for incidents": worlds.as_calls,
    }
    tallies = {name: Tally() for name in ways}
    for run in range(runs):
        rng = np.random.default_rng([run, 77])
        lives, ages = worlds.log_of_controls(units, log_days, 0.5, rng)
        fleet = pd.DataFrame({"age_days": ages, "quantity": 1})
        for name, way in ways.items():
            fit = fit_weibull(way(lives, rng))
            tallies[name].add_fit(fit, worlds.SHAPE, worlds.SCALE_DAYS)
            if run < 20:
                ahead = forecast(fit, fleet, 365.0)
                tallies[name].add_forecast(ahead.expected, float(worlds.next_year(ages).sum()))
    return tallies


def last_lamp(runs: int) -> tuple[float, float]:
    """Mean life ratio of a heavy load, true 0.40: lives split at the change, and labelled by the last lamp."""
    logs: list[tuple[float, float]] = []
    for run in range(runs):
        frames = worlds.relamped(1000, 0.4, np.random.default_rng([run, 88]))
        logs.append((_log_ratio(frames[0]), _log_ratio(frames[1])))
    split, labelled = np.exp(np.mean(logs, axis=0))
    return float(split), float(labelled)


def _log_ratio(lives: pd.DataFrame) -> float:
    row = fit_life_regression(lives, ["load"]).life_ratios.iloc[0]
    return math.log(row["life_ratio"]) * (1 if row["covariate"] == "load=heavy" else -1)


def print_plain(runs: int) -> None:
    """The plain fit and its forecast."""
    print(f"Plain fit, shape 2.5, scale 2500 days, {runs} runs a row; 95 % limits.\n")
    heading("log, years", "older than log", "failures", "no fit", *BOTH, "forecast bias", "held")
    for years, late, failures in PLAIN:
        tally = plain(years, late, failures, runs)
        row(years, f"{late:.0%}", failures, tally.refused, *tally.cells((*FIGURES, "forecast")))


def print_imputed(runs: int) -> None:
    """Misread findings, and batches."""
    print(f"\nMisread findings and batches, shape 2.5, scale 1500 days, {runs} runs a row.\n")
    heading("world", "treatment", *BOTH)
    for accuracy in (1.0, 0.95, 0.9):
        for name, tally in misread(accuracy, 300, runs).items():
            row(f"precision and recall {accuracy:.0%}, about 250 failures", name, *tally.cells(FIGURES))
    young = of_batches(30, 0.0, 2200.0, runs)
    for rule, said in (
        ("drawn", "member drawn"),
        ("oldest", "oldest ended"),
        ("random", "random member ended"),
    ):
        row("30 batches of 10, watched from age 0", said, *young[rule].cells(FIGURES))
    old = of_batches(40, 4000.0, 1500.0, max(runs // 4, 2))
    row("40 batches of 10, most older than the log", "member and ages drawn", *old["drawn"].cells(FIGURES))


def print_simpler(runs: int) -> None:
    """What simpler ways of counting would have said."""
    print(
        "\nSimpler ways of counting, about 500 failures in five years, half of the controls older than the log.\n"
    )
    heading("way", *BOTH, "forecast bias")
    for name, tally in simpler_ways(runs).items():
        row(name, *tally.cells((*FIGURES, "forecast")))
    split, labelled = last_lamp(max(runs // 4, 2))
    print(f"\nLife ratio of a heavy load, true 0.40: lives split at the change {split:.2f}, ", end="")
    print(f"labelled by the last load {labelled:.2f}.")


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--runs", type=int, default=300)
    parser.add_argument("--part", choices=("plain", "imputed", "simpler"))
    arguments = parser.parse_args()
    some = max(arguments.runs // 3, 2)
    for name, show, runs in (
        ("plain", print_plain, arguments.runs),
        ("imputed", print_imputed, some),
        ("simpler", print_simpler, some),
    ):
        if arguments.part in (None, name):
            show(runs)


if __name__ == "__main__":
    main()
