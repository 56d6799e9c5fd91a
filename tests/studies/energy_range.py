"""Does the 90 % range of wasted energy hold the truth when the detection delay is set wrong? On the committed demo.

``python -m tests.studies.energy_range``: builds the demo with the delay at, below and above its true mean of 9 days and
compares the totals of day burning with the truth of the reported incidents. Figures: docs/accuracy.md.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

import pandas as pd

import demo_data
from pipeline.build import build, current_database
from pipeline.figures import energy_by
from pipeline.store import Store

TRUE_DELAY_DAYS = 9.0


def truth_by_year() -> pd.Series[float]:
    """kWh of the reported incidents by calendar year, as the demo's makers reckon them."""
    truth = pd.read_csv(demo_data.truth_folder() / "energy.csv.gz")
    sums: pd.Series[float] = truth[truth["reported"]].groupby("year")["excess_kwh"].sum()
    return sums


def measure(folder: Path, delay_days: float) -> dict[str, object]:
    """One delay: the total with its range, and in how many years the range holds the year's truth."""
    page = folder / "portfolio.toml"
    lines = page.read_text(encoding="utf-8").splitlines()
    kept = [
        f"detection_delay_days = {delay_days}" if "detection_delay_days" in line else line for line in lines
    ]
    page.write_text("\n".join(kept) + "\n", encoding="utf-8")
    build(folder)
    store = Store.open(current_database(folder))
    total = energy_by(store, "all").iloc[0]
    years = energy_by(store, "calendar year").set_index("part")
    store.close()
    truth = truth_by_year()
    held = [years["kwh_p5"][str(year)] <= kwh <= years["kwh_p95"][str(year)] for year, kwh in truth.items()]
    names = ("kwh_low", "kwh_p5", "kwh_p50", "kwh_central", "kwh_p95", "kwh_high")
    row: dict[str, object] = {"delay_days": delay_days} | {name: float(total[name]) for name in names}
    holds = float(total["kwh_p5"]) <= truth.sum() <= float(total["kwh_p95"])
    return row | {"truth_kwh": truth.sum(), "holds": holds, "years_held": f"{sum(held)} of {len(held)}"}


def main() -> None:
    """Print one line per delay."""
    parser = argparse.ArgumentParser(description=__doc__)
    tried = [TRUE_DELAY_DAYS / 2, TRUE_DELAY_DAYS, 2 * TRUE_DELAY_DAYS]
    parser.add_argument("--delays", type=float, nargs="+", default=tried, help="days")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base) / "demo"
        shutil.copytree(demo_data.portfolio_folder(), folder)
        rows = [measure(folder, delay) for delay in asked.delays]
    print(pd.DataFrame(rows).to_string(index=False))


if __name__ == "__main__":
    main()
