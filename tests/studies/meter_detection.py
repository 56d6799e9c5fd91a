"""How well day burning is found on meters, over sizes, lengths and noise: accounts of one year with known truth.

    python -m tests.studies.meter_detection --accounts 100

Each account has lamps of 5 kW and a standing load of 0.5 kW, readings each quarter of an hour, and one fault that
begins at a time of chance. Noise is a share of the lamps' load, half of it shared by the readings of a day. False:
stretches that overlap no fault. Onsets and ends are compared with when the lamps should go out or light, where the
fault began or ended at night.
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd

from pipeline.energy import lit_schedule, utc_seconds_from_local
from tests.meters.made_readings import LATITUDE, LONGITUDE, ZONE, Burnt, Made, made_readings
from tests.meters.metered_store import searched

LAMPS_KW, STANDING_KW = 5.0, 0.5
FIRST, LAST = datetime(2021, 1, 1, tzinfo=UTC), datetime(2022, 1, 1, tzinfo=UTC)
NOISES = (0.002, 0.01, 0.03)
STEPS_KW = (0.1, 0.2, 0.5)
LENGTHS_DAYS = (3, 7, 21)
_SEEN = ["onset_h", "onset_in", "end_in", "kwh", "true", "kwh_in"]


def main() -> None:
    """Print one row per noise, step and length."""
    options = argparse.ArgumentParser()
    options.add_argument("--accounts", type=int, default=100)
    accounts = options.parse_args().accounts
    rows = [
        studied(noise, step, length, accounts)
        for noise in NOISES
        for step in STEPS_KW
        for length in LENGTHS_DAYS
    ]
    print(pd.DataFrame(rows).to_string(index=False))


def studied(noise: float, step_kw: float, length_days: int, accounts: int) -> dict[str, float]:
    """Detection over many accounts of one kind."""
    chance = np.random.default_rng(int(noise * 1e6 + step_kw * 1e3 + length_days))
    truth: dict[str, Burnt] = {}
    made: dict[str, Made] = {}
    for number in range(accounts):
        begun = FIRST + timedelta(days=float(chance.uniform(40, 320 - length_days)))
        fault = Burnt(begun, begun + timedelta(days=length_days), step_kw)
        name = f"A{number:03}"
        truth[name] = fault
        made[name] = made_readings(FIRST, LAST, [fault], LAMPS_KW, noise * LAMPS_KW, STANDING_KW, seed=number)
    episodes = searched(made).frame("FROM meter_episodes ORDER BY ALL")
    for name in [column for column in episodes.columns if column.startswith(("onset_", "ended_"))]:
        episodes[f"{name}_s"] = utc_seconds_from_local(episodes[name], ZONE)
    found = [
        _compared(fault, made[name], episodes[episodes["account_id"] == name])
        for name, fault in truth.items()
    ]
    frame = pd.DataFrame(found)
    seen = frame.reindex(columns=[*frame.columns.union(_SEEN)])[frame["found"]].astype(float)
    return {
        "noise %": 100 * noise, "step kW": step_kw, "days": length_days,
        "found %": 100 * frame["found"].mean(), "false/account-year": frame["false"].mean(),
        "onset bias h": seen["onset_h"].median(), "onset 90 % within h": seen["onset_h"].abs().quantile(0.9),
        "onset in limits %": 100 * seen["onset_in"].mean(), "end in limits %": 100 * seen["end_in"].mean(),
        "kWh bias %": 100 * (seen["kwh"].sum() / seen["true"].sum() - 1) if len(seen) else np.nan,
        "kWh in limits %": 100 * seen["kwh_in"].mean(),
    }  # fmt: skip


def _compared(fault: Burnt, made: Made, episodes: pd.DataFrame) -> dict[str, float | bool]:
    begun_s, ended_s = _shown(fault)
    overlaps = (episodes["onset_central_s"] < ended_s) & (episodes["ended_central_s"] > begun_s)
    nothing = {"found": bool(overlaps.any()), "false": float((~overlaps).sum())}
    if not overlaps.any():
        return nothing
    row = episodes[overlaps].sort_values("kwh").iloc[-1]
    true = made.true_kwh[0]
    return nothing | {
        "onset_h": (row["onset_central_s"] - begun_s) / 3600,
        "onset_in": row["onset_high_s"] <= begun_s <= row["onset_low_s"],
        "end_in": row["ended_low_s"] <= ended_s <= row["ended_high_s"],
        "kwh": float(row["kwh"]), "true": true,
        "kwh_in": float(row["kwh_lower"]) <= true <= float(row["kwh_upper"]),
    }  # fmt: skip


def _shown(fault: Burnt) -> tuple[float, float]:
    """When a fault begins and ends to show: within the hours off [UTC s]."""
    begun_s, ended_s = fault.begun.timestamp(), fault.ended.timestamp()
    schedule = lit_schedule(LATITUDE, LONGITUDE, begun_s - 86_400, ended_s + 86_400, 15, 15)
    off_s, on_s = schedule.off_at_s, schedule.on_at_s
    day = int(np.searchsorted(on_s, begun_s, side="right"))
    last = int(np.searchsorted(off_s, ended_s, side="left")) - 1
    return max(begun_s, float(off_s[day])), min(ended_s, float(on_s[last]))


if __name__ == "__main__":
    main()
