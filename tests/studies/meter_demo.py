"""Meters on the demo district: readings made from its true faults, found again, and laid beside its calls.

    python -m tests.studies.meter_demo

Five accounts with many faults that overlap, each read as if it paid for lighting alone: lamps by schedule, what burns
by day by the truth, noise of 20 W a reading. Prints the reconciliation, the energy of matched incidents beside the
truth, and how many faults come back with onset and end within two days and the load within a quarter.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import demo_data
from pipeline import figures
from pipeline.build import build
from pipeline.energy import lit_schedule, utc_seconds_from_local
from pipeline.store import Store
from tests.meters.made_readings import LENGTH_S, Made, as_csv, share_between

ACCOUNTS = ("Q103-AREA", "Q133-AREA", "Q143-AREA", "Q109-BLDG", "Q105-BLDG")
ZONE = "America/Denver"
FIRST, LAST = pd.Timestamp("2018-01-01"), pd.Timestamp("2024-06-30")
NOISE_KW = 0.02


def main() -> None:
    """Build the demo twice: to learn which account pays for which control, and with the readings."""
    with tempfile.TemporaryDirectory() as base:
        folder = Path(base) / "demo"
        shutil.copytree(demo_data.portfolio_folder(), folder)
        store = Store.open(build(folder).database)
        faults, lamps = true_faults(store), lamp_loads(store)
        sites = store.frame("SELECT site_id, latitude, longitude FROM sites").set_index("site_id")
        store.close()
        (folder / "meters").mkdir()
        for number, account in enumerate(ACCOUNTS):
            site = sites.loc[account.split("-")[0]]
            made = readings(faults[faults["account_id"] == account], lamps[account], site, number)
            text = "account_id,interval_start,kwh\n" + as_csv(account, made)
            (folder / "meters" / f"{account}.csv").write_text(text, encoding="utf-8")
        tell(Store.open(build(folder).database), faults)


def true_faults(store: Store) -> pd.DataFrame:
    """Day burning as it was, with the account that pays and the load [kW]."""
    truth = pd.read_csv(
        demo_data.truth_folder() / "incidents.csv.gz",
        parse_dates=["onset_at", "first_reported_at", "restored_at"],
    )
    paid = store.frame(
        "SELECT control_id, any_value(account_id) AS account_id FROM control_loads GROUP BY ALL"
    )
    burnt = truth[(truth["symptom"] == "day burning") & (truth["excess_day_hours"] > 0)]
    burnt = burnt.merge(paid, on="control_id")
    burnt["kw"] = burnt["excess_kwh"] / burnt["excess_day_hours"]
    return burnt[burnt["account_id"].isin(ACCOUNTS)]


def lamp_loads(store: Store) -> dict[str, float]:
    """Load of each account's lamps in place [kW]."""
    return dict(
        store.rows(
            "SELECT account_id, sum(luminaires * input_watts_each)::DOUBLE / 1000 FROM fixtures"
            " WHERE removed_on IS NULL GROUP BY ALL"
        )
    )


def readings(faults: pd.DataFrame, lamps_kw: float, site: pd.Series, seed: int) -> Made:
    """Quarter-hourly readings of an account over the log's years."""
    chance = np.random.default_rng(seed)
    first_s, last_s = (_instant(time) for time in (FIRST, LAST))
    start_s = np.arange(first_s, last_s, LENGTH_S)
    margin_s = 10 * 86_400.0
    schedule = lit_schedule(
        site["latitude"], site["longitude"], first_s - margin_s, last_s + margin_s, 15, 15
    )
    off_s, on_s = (at + chance.normal(0, 300, at.size) for at in (schedule.off_at_s, schedule.on_at_s))
    off = share_between(start_s, off_s, on_s)
    kw = lamps_kw * (1 - off) + chance.normal(0, NOISE_KW, off.size)
    for fault in faults.itertuples():
        begun_s, ended_s = _instant(fault.onset_at), _instant(fault.restored_at)
        ended_s = last_s if np.isnan(ended_s) else ended_s
        if ended_s > begun_s:
            kw += fault.kw * np.minimum(share_between(start_s, np.array([begun_s]), np.array([ended_s])), off)
    return Made(start_s, np.maximum(kw, 0), ())


def _instant(time: pd.Timestamp) -> float:
    return float(utc_seconds_from_local(pd.Series([time]), ZONE)[0])


def tell(store: Store, faults: pd.DataFrame) -> None:
    """Print what came back."""
    print(figures.meter_reconciliation(store).drop(columns="incident_ids").to_string(index=False))
    print(figures.detection_delays(store).to_string(index=False))
    measured = figures.meter_incidents(store).dropna(subset=["kwh_measured"])
    met = measured.merge(faults, on=["control_id", "first_reported_at"])
    ratio = met["kwh_measured"].astype(float) / met["excess_kwh"]
    print(
        f"{len(met)} measured incidents: {met['kwh_measured'].astype(float).sum():.0f} kWh, in truth "
        f"{met['excess_kwh'].sum():.0f}; half the ratios lie within {ratio.quantile(0.25):.2f} to "
        f"{ratio.quantile(0.75):.2f}"
    )
    lasting = faults["restored_at"] - faults["onset_at"] >= pd.Timedelta(days=2)
    wanted = faults[lasting & (faults["kw"] >= 0.05) & (faults["restored_at"] < LAST)]
    episodes = figures.meter_episodes(store)
    print(
        f"{sum(_is_found(fault, episodes) for fault in wanted.itertuples())} of {len(wanted)} faults come back"
    )


def _is_found(fault: object, episodes: pd.DataFrame) -> bool:
    near = episodes[episodes["account_id"] == fault.account_id]  # type: ignore[attr-defined]
    two_days = pd.Timedelta(days=2)
    fits = (near["onset_central"] - fault.onset_at).abs() <= two_days  # type: ignore[attr-defined]
    fits &= (near["ended_central"] - fault.restored_at).abs() <= two_days  # type: ignore[attr-defined]
    return bool((fits & ((near["step_kw"] / fault.kw - 1).abs() < 0.25)).any())  # type: ignore[attr-defined]


if __name__ == "__main__":
    main()
