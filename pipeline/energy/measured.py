"""Energy that a meter measured, put in the place of load times hours: the load is scaled until both agree."""

from __future__ import annotations

from hashlib import blake2b

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import norm

from pipeline.store import Store

Floats = npt.NDArray[np.float64]

_SDS_95 = 1.96


def measured_energy(store: Store) -> pd.DataFrame:
    """By incident (index) the energy that its meter measured, with 95 % limits, and the hours by day that it
    measured: kwh, lower, upper, hours."""
    frame = store.frame(
        "SELECT m.incident_id, m.kwh_measured::DOUBLE AS kwh, m.kwh_measured_lower::DOUBLE AS lower,"
        " m.kwh_measured_upper::DOUBLE AS upper, e.excess_hours AS hours"
        " FROM meter_matches m JOIN meter_episodes e USING (episode_id)"
        " WHERE m.kwh_measured > 0 AND e.excess_hours > 0 ORDER BY 1"
    )
    return frame.set_index("incident_id")


def at_measured_loads(
    bills: pd.DataFrame, steps: pd.DataFrame, parts: pd.DataFrame, measured: pd.DataFrame
) -> pd.DataFrame:
    """The bills with the loads of measured incidents scaled so that the hours by day give the measured energy.

    Hours that the meter's search did not cover (a second time off in a day) count at the load measured in the others.

    bills : incident_id, begins, connected_w, one row per account; steps : the same added up; parts : incident_id,
    begins, excess_hours_central. An incident without any load on record takes the mean measured load, on its first
    account.
    """
    if measured.empty:
        return bills
    hours = parts.merge(steps, on=["incident_id", "begins"])
    hours = hours[hours["incident_id"].isin(measured.index)]
    hours["kwh"] = hours["connected_w"] * hours["excess_hours_central"] / 1000
    sums = hours.groupby("incident_id")[["kwh", "excess_hours_central"]].sum()
    kwh = (measured["kwh"] / measured["hours"]).reindex(sums.index) * sums["excess_hours_central"]
    factors = (kwh / sums["kwh"].where(sums["kwh"] > 0)).rename("factor")
    bare_w = (1000 * kwh / sums["excess_hours_central"].where(sums["excess_hours_central"] > 0))[
        factors.isna()
    ]
    scaled = bills["connected_w"] * bills["incident_id"].map(factors).fillna(1.0)
    first = ~bills.duplicated(["incident_id", "begins"])
    return bills.assign(
        connected_w=scaled.mask(
            first & bills["incident_id"].isin(bare_w.index), bills["incident_id"].map(bare_w)
        )
    )


def drawn_factors(incident_ids: pd.Series, measured: pd.DataFrame, draws: int) -> Floats:
    """Factors on the energy of each draw for the noise of its meter, (rows, draws); 1 where none measured it.

    Normal with the measurement's error, in an order made from the incident's id; the same for all its rows.
    """
    factors = np.ones((len(incident_ids), draws))
    errors = ((measured["upper"] - measured["lower"]) / (2 * _SDS_95) / measured["kwh"]).to_dict()
    levels = norm.ppf((np.arange(draws) + 0.5) / draws)
    for name, error in errors.items():
        seed = int.from_bytes(blake2b(f"meter {name}".encode(), digest_size=8).digest(), "big")
        chance = np.random.Generator(np.random.PCG64(seed))
        rows = (incident_ids == name).to_numpy()
        factors[rows] = np.maximum(1 + error * chance.permutation(levels), 0.0)
    return factors
