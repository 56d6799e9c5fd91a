"""Do 95 % limits hold 95 % of the time, end to end? Builds demo districts of other seeds and counts.

Every seed is a whole district: exports are written, read, tied, read for symptoms, and fitted, and the truth is
compared with the limits of every group of model and lamp that has 10 failures or more. Run on demand:

    python -m tests.studies.demo_seeds --seeds 50 [--without-audit]

Exits 1 when the share of limits that hold is not 93 to 97 %. Nothing is cached or read between seeds.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import pandas as pd

from demo_data import portfolio_folder
from demo_data.make import make_demo
from pipeline.build import build
from pipeline.store import Store
from tests.studies.demo_truth import held_limits

FIRST_SEED = 1000
AIM = (0.93, 0.97)
MEASURES = ("shape", "scale_days", "b10_days")


def main() -> int:
    """Run the study and print it."""
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--seeds", type=int, default=50)
    arguments.add_argument("--first", type=int, default=FIRST_SEED)
    arguments.add_argument("--confidence", type=float, default=0.95)
    arguments.add_argument("--without-audit", action="store_true", help="leave out what the audit decided")
    arguments.add_argument("--out", type=Path, help="CSV of every seed and group")
    given = arguments.parse_args()
    seeds = range(given.first, given.first + given.seeds)
    with ProcessPoolExecutor(max_workers=2) as workers:
        parts = []
        for seed, part in zip(
            seeds,
            workers.map(partial(one_seed, confidence=given.confidence, audit=not given.without_audit), seeds),
            strict=True,
        ):
            parts.append(part.assign(seed=seed))
            print(f"seed {seed}: {len(part)} groups", flush=True)
    results = pd.concat(parts)
    if given.out:
        results.to_csv(given.out, index=False)
    return report(results)


def one_seed(seed: int, confidence: float, audit: bool = True) -> pd.DataFrame:
    """Build one district in a folder that is thrown away, and compare."""
    with tempfile.TemporaryDirectory() as scratch:
        folder, truth = Path(scratch) / "portfolio", Path(scratch) / "truth"
        make_demo(folder, truth, seed)
        shutil.copytree(portfolio_folder() / "layouts", folder / "layouts")
        if not audit:
            (folder / "decisions.csv").unlink()
        store = Store.open(build(folder).database)
        try:
            return held_limits(store, truth, confidence)
        finally:
            store.close()


def report(results: pd.DataFrame) -> int:
    """Shares of limits that hold, overall and by group; 1 when outside the aim."""
    shares = {name: results[f"{name}_held"].mean() for name in MEASURES}
    by_group = results.groupby("group_name").agg(
        seeds=("failures", "size"),
        failures=("failures", "median"),
        **{f"{name} held": (f"{name}_held", "mean") for name in MEASURES},
        **{f"{name} ratio": (f"{name}_ratio", "median") for name in MEASURES},
    )
    print(by_group.round(3).to_string())
    print(f"{len(results)} groups: " + ", ".join(f"{name} {share:.1%}" for name, share in shares.items()))
    as_read = {name: results[f"{name}_as_read_held"].mean() for name in MEASURES}
    ratios = {name: results[f"{name}_as_read_ratio"].median() for name in MEASURES}
    print(
        "as read (95 % limits): "
        + ", ".join(f"{name} {as_read[name]:.1%}, ratio {ratios[name]:.3f}" for name in MEASURES)
    )
    inside = all(AIM[0] <= share <= AIM[1] for share in shares.values())
    print("within" if inside else "NOT within", f"{AIM[0]:.0%} to {AIM[1]:.0%}")
    return 0 if inside else 1


if __name__ == "__main__":
    sys.exit(main())
