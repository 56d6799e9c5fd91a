"""A million lives with delayed entry in 20 groups: fits with profile limits, curves and tests, against lifelines.

Run:  python -m tests.benchmarks.survival_million [--lives 1000000] [--without-lifelines]

Prints a Markdown table. What is timed begins with lives in a DuckDB table and ends with, for every group,
the Weibull fit, its limits for shape, scale, B10 and mean life, the Kaplan-Meier curve with limits, and the
log-rank test over all groups and all 190 pairs. Beside it lifelines does the fits, curves and one test row by
row, in the same run. Fails where the two differ by more than 1e-6 relative.
"""

from __future__ import annotations

import argparse
import time
import warnings
from collections.abc import Callable
from typing import Any, TypeVar

import duckdb
import numpy as np
import pandas as pd

from pipeline.survival import LifeMargins, SmallRiskSetWarning, fit_weibull, kaplan_meier, log_rank

T = TypeVar("T")
GROUPS = 20
MOST_DIFFERENCE = 1e-6


def simulated(lives: int, seed: int = 0) -> pd.DataFrame:
    """``lives`` whole-day lives that were seen within a log of ten years, in 20 groups of their own shape."""
    rng = np.random.default_rng(seed)
    parts: list[pd.DataFrame] = []
    for group in range(GROUPS):
        shape, scale, wanted = 1.2 + 0.1 * group, 2500.0 + 150 * group, -(-lives // GROUPS)
        found = 0
        while found < wanted:
            installed = rng.integers(-3650, 3600, 2 * wanted)
            life = np.ceil(scale * rng.weibull(shape, installed.size))
            entry, end = np.maximum(-installed, 0), 3650 - installed
            seen = np.flatnonzero(life > entry)[: wanted - found]
            part = pd.DataFrame(
                {
                    "entry_days": entry[seen],
                    "exit_days": np.minimum(life, end)[seen],
                    "failed": (life <= end)[seen],
                    "kind": f"group {group:02d}",
                }
            )
            parts.append(part)
            found += len(part)
    return pd.concat(parts, ignore_index=True).assign(quantity=1)[:lives]


def margins_by_group(connection: duckdb.DuckDBPyConnection) -> dict[str, LifeMargins]:
    """Count the lives of table ``lives`` by group and age in SQL, in one pass each for exits and entries.

    In any order: ``from_counts`` sorts the ages.
    """
    exits = connection.execute(
        "SELECT kind, exit_days, sum(quantity)::BIGINT AS number,"
        " coalesce(sum(quantity) FILTER (failed), 0)::BIGINT AS failures FROM lives GROUP BY ALL"
    ).df()
    entries = connection.execute(
        "SELECT kind, entry_days, sum(quantity)::BIGINT AS number FROM lives GROUP BY ALL"
    ).df()
    entered = dict(list(entries.groupby("kind")))
    result = {}
    for kind, part in exits.groupby("kind"):
        failed = part[part["failures"] > 0]
        at_start = entered[kind]
        result[str(kind)] = LifeMargins.from_counts(
            (failed["exit_days"], failed["failures"]),
            (part["exit_days"], part["number"]),
            (at_start["entry_days"], at_start["number"]),
        )
    return result


def ours(connection: duckdb.DuckDBPyConnection) -> tuple[dict[str, Any], dict[str, float]]:
    """Everything for every group, and the seconds of each part."""
    clock, seconds, results = time.perf_counter, {}, {}
    start = clock()
    margins = margins_by_group(connection)
    seconds["grouping in DuckDB"] = clock() - start
    start = clock()
    fits = {kind: fit_weibull(part) for kind, part in margins.items()}
    seconds["fits"] = clock() - start
    start = clock()
    for fit in fits.values():
        _ = fit.shape_limits, fit.scale_limits, fit.b_life_limits(10), fit.mean_life_limits
    seconds["profile limits"] = clock() - start
    start = clock()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SmallRiskSetWarning)
        curves = {kind: kaplan_meier(part) for kind, part in margins.items()}
    seconds["curves"] = clock() - start
    start = clock()
    test = log_rank(margins)
    seconds["tests"] = clock() - start
    results.update(fits=fits, curves=curves, test=test)
    return results, seconds


def row_by_row(lives: pd.DataFrame) -> tuple[dict[str, Any], dict[str, float]]:
    """The same from lifelines (and the test from statsmodels, since that of lifelines knows no delayed entry)."""
    from lifelines import KaplanMeierFitter, WeibullFitter
    from statsmodels.duration.survfunc import survdiff

    clock, seconds = time.perf_counter, {}
    fits, curves = {}, {}
    groups = dict(list(lives.groupby("kind")))
    start = clock()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for kind, part in groups.items():
            fitter = WeibullFitter()
            fitter._scipy_fit_options = {"ftol": 1e-15, "gtol": 1e-12}
            fits[kind] = fitter.fit(part["exit_days"], part["failed"], entry=part["entry_days"])
        seconds["fits"] = clock() - start
        start = clock()
        for kind, part in groups.items():
            curves[kind] = KaplanMeierFitter().fit(
                part["exit_days"], part["failed"], entry=part["entry_days"]
            )
        seconds["curves"] = clock() - start
        start = clock()
        statistic, _ = survdiff(
            lives["exit_days"].to_numpy(),
            lives["failed"].to_numpy(dtype=int),
            lives["kind"].to_numpy(),
            entry=lives["entry_days"].to_numpy(),
        )
        seconds["tests"] = clock() - start
    return {"fits": fits, "curves": curves, "statistic": statistic}, seconds


def differences(mine: dict[str, Any], theirs: dict[str, Any]) -> dict[str, float]:
    """Greatest relative difference of each kind of figure."""
    worst = dict.fromkeys(("shape and scale", "survival", "test statistic"), 0.0)
    for kind, fit in mine["fits"].items():
        other = theirs["fits"][kind]
        for a, b in ((fit.shape, other.rho_), (fit.scale_days, other.lambda_)):
            worst["shape and scale"] = max(worst["shape and scale"], abs(a / b - 1))
        curve = mine["curves"][kind]
        survival = theirs["curves"][kind].survival_function_at_times(curve["age_days"]).to_numpy()
        positive = survival > 0
        gap = np.abs(curve["survival"].to_numpy()[positive] / survival[positive] - 1)
        worst["survival"] = max(worst["survival"], float(gap.max()))
    worst["test statistic"] = abs(mine["test"].statistic / theirs["statistic"] - 1)
    return worst


def _with_processor_time(run: Callable[[], T]) -> tuple[T, float]:
    """A result, and the processor seconds of all threads: other work on the machine does not count in them."""
    start = time.process_time()
    result = run()
    return result, time.process_time() - start


def main() -> None:
    """Run, print, and fail where the figures differ."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--lives", type=int, default=1_000_000)
    parser.add_argument("--without-lifelines", action="store_true")
    arguments = parser.parse_args()
    lives = simulated(arguments.lives)
    connection = duckdb.connect()
    connection.execute("SET threads = 2")
    connection.execute("CREATE TABLE lives AS SELECT * FROM lives")
    ours(connection)  # once, so that imports and caches are not timed
    runs = [_with_processor_time(lambda: ours(connection)) for _ in range(3)]
    (mine, seconds), processor_s = min(runs, key=lambda run: sum(run[0][1].values()))
    total = sum(seconds.values())
    print(f"{len(lives):,} lives, {int(lives['failed'].sum()):,} failed, {GROUPS} groups\n")
    print("| part | seconds |\n|---|---|")
    for part, spent in seconds.items():
        print(f"| {part} | {spent:.2f} |")
    print(f"| all | {total:.2f} |")
    if arguments.without_lifelines:
        return
    (theirs, slow), their_processor_s = _with_processor_time(lambda: row_by_row(lives))
    print("\n| row by row | seconds |\n|---|---|")
    for part, spent in slow.items():
        print(f"| {part} | {spent:.1f} |")
    print(
        f"\n{sum(slow.values()) / total:.0f} times faster in the same run by the clock, "
        f"{their_processor_s / processor_s:.0f} times by processor time (both threads counted), "
        "limits and pairs included on our side only."
    )
    worst = differences(mine, theirs)
    print("\n| greatest relative difference | |\n|---|---|")
    for name, value in worst.items():
        print(f"| {name} | {value:.1e} |")
    if max(worst.values()) > MOST_DIFFERENCE:
        raise SystemExit(f"the figures differ by more than {MOST_DIFFERENCE:g}")


if __name__ == "__main__":
    main()
