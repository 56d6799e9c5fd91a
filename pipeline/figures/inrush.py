"""Which circuits draw more inrush than their control is rated for, and what stress does to life."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.figure import Figure
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.histories import as_read, drawn
from pipeline.figures.wording import count_text
from pipeline.inrush import driver_peaks, source_limited_peak_a
from pipeline.store import Store
from pipeline.survival import CannotFit, DoublingEffect, life_ratio_per_doubling

ZERO_CROSS = "closes at the zero crossing, where the peak is far lower"
_CIRCUIT = (
    "control_id", "site_id", "site", "position", "kind", "model", "switching", "circuits", "voltage_v",
    "rated_inrush_a", "failures",
)  # fmt: skip
COLUMNS = (
    *_CIRCUIT, "lamps", "drivers", "peak_sum_a", "peak_source_limited_a", "stress_sum", "stress_source_limited",
    "unverified", "unknown",
)  # fmt: skip


def inrush_circuits(store: Store, filters: Filters = EVERYTHING) -> pd.DataFrame:
    """Every circuit with drivers at the log's end, the most stressed first. A period does not apply.

    A circuit is what one device switches; one row for the controls of a batch (``circuits`` alike). Columns:
    control_id (the device that carries the lamps' current), site_id, site, position, kind, model, switching, circuits,
    voltage_v, rated_inrush_a, failures (of controls there, in the log), lamps, drivers, and of one circuit:
    peak_sum_a (sum of the drivers' peaks), peak_source_limited_a (behind source_impedance_mohm), stress_sum and
    stress_source_limited (over the rated peak; missing where something is not known), unverified (a peak is a
    default, not the driver's own), unknown (in words: what is supposed or missing).
    """
    groups = driver_peaks(query.frame(store, "inrush_groups", filters.without_period()))
    impedance_mohm = facts(store).assumptions.source_impedance_mohm
    circuits = groups.groupby("control_id", sort=True).agg(
        **{name: (name, "first") for name in _CIRCUIT[1:]},
        lamps=("lamp", _named),
        drivers=("drivers", "sum"),
        peak_sum_a=("peak_a", lambda peaks: peaks.sum(skipna=False)),
        unverified=("unverified", "any"),
        supposed=("supposed", _named),
    )
    limited = [
        source_limited_peak_a(peak, voltage, impedance_mohm) if peak == peak and voltage > 0 else math.nan
        for peak, voltage in zip(circuits["peak_sum_a"], circuits["voltage_v"], strict=True)
    ]
    circuits["rated_inrush_a"] = circuits["rated_inrush_a"].astype(float)
    rated = circuits["rated_inrush_a"].where(circuits["rated_inrush_a"] > 0)
    frame = circuits.assign(
        peak_source_limited_a=limited,
        stress_sum=circuits["peak_sum_a"] / rated,
        stress_source_limited=np.array(limited) / rated,
        unknown=_unknown(circuits),
    ).reset_index()[list(COLUMNS)]
    return frame.sort_values(["stress_sum", "control_id"], ascending=[False, True], ignore_index=True)


def above_rating(circuits: pd.DataFrame) -> pd.DataFrame:
    """The rows of ``inrush_circuits`` whose drivers' peaks add up to more than the rated peak."""
    return circuits[circuits["stress_sum"] > 1].reset_index(drop=True)


def inrush_figure(store: Store, filters: Filters = EVERYTHING) -> Figure:
    """How many circuits draw more than their control's rated peak, by the plain sum."""
    key, label = "inrush_above_rating", "Circuits above their control's rated inrush peak"
    frame = inrush_circuits(store, filters)
    if frame.empty:
        why = "No circuit with drivers is on record: give drivers and lamps in fixtures.csv."
        return Figure(key, label, "circuits", None, note=why)
    screened = frame[frame["stress_sum"].notna()]
    if screened.empty:
        why = "No circuit could be screened: give rated_inrush_a of the controls, and voltage or the drivers' peaks."
        return Figure(key, label, "circuits", None, note=why)
    above = above_rating(frame)
    limited = above[above["stress_source_limited"] > 1]
    done, left = _circuits(screened), _circuits(frame) - _circuits(screened)
    note = (
        f"Of {count_text(done)} screened, by the plain sum of the drivers' peaks over the rated peak of the device "
        f"that switches them; {count_text(left)} more lack a rated peak, a voltage or watts. "
        "The plain sum is the safe side; the source-limited value depends on a supply impedance that is assumed."
    )
    beside = (
        Figure("inrush_above_limited", "Also with the supply's impedance", "circuits", _circuits(limited)),
        Figure("inrush_unverified", "Of them with a driver peak that is a default, unverified", "circuits",
               _circuits(above[above["unverified"].astype(bool)])),
    )  # fmt: skip
    return Figure(key, label, "circuits", _circuits(above), note=note, beside=beside)


def incidents_of_circuit(store: Store, control_id: str) -> list[str]:
    """Incident ids of the control failures at a circuit's place, which ``failures`` of inrush_circuits counts."""
    rows = store.rows(
        "SELECT i.incident_id FROM incidents i JOIN controls c ON c.control_id = i.control_id"
        " JOIN controls d ON d.position = c.position AND d.kind IS NOT DISTINCT FROM c.kind"
        " WHERE d.control_id = ? AND i.control_failed ORDER BY 1",
        [control_id],
    )
    return [row[0] for row in rows]


def stress_effect(store: Store, filters: Filters = EVERYTHING) -> DoublingEffect | str:
    """Life ratio per doubling of inrush stress, models compared only with themselves; or why none is claimed.

    Lives of controls that close at the zero crossing are left out, and models in which, as read or in some draw,
    nothing with a known stress failed. Stress is that of the inrush list: a peak that is not registered takes the
    default by running current, and the sentence says how many lives rest on such peaks. Pooled over the draws of
    open verdicts, as the headline fits are; the failures counted are those as read. A period does not apply.
    """
    lives = query.frame(store, "stressed_lives", filters.without_period())
    read, draws = as_read(lives), drawn(lives.drop(columns="inrush_unverified"))
    telling = set.intersection(*(_failed_models(history) for history in (read, *draws)))
    if telling:
        read, *draws = (each[each["model"].isin(telling)].reset_index(drop=True) for each in (read, *draws))
    beside = ["model"] if len(telling) > 1 else []
    try:
        return life_ratio_per_doubling(
            read, "inrush_stress", beside, facts(store).confidence, "inrush_unverified", draws
        )
    except CannotFit as refusal:
        return str(refusal)


def _failed_models(lives: pd.DataFrame) -> set[str]:
    """Models of which one with a known stress failed."""
    return set(lives.loc[lives["failed"].astype(bool) & lives["inrush_stress"].notna(), "model"])


def _circuits(frame: pd.DataFrame) -> int:
    return int(frame["circuits"].sum())


def _unknown(circuits: pd.DataFrame) -> list[str]:
    """What is supposed or missing of each circuit, in words."""
    said = (
        (circuits["supposed"] != "", circuits["supposed"]),
        (circuits["rated_inrush_a"].isna(), "rated peak of the control is not known"),
        (circuits["voltage_v"].isna(), "voltage is not known"),
        (circuits["switching"] == "zero-cross", ZERO_CROSS),
    )
    columns = [pd.Series(words, index=circuits.index).where(holds, "") for holds, words in said]
    return ["; ".join(filter(None, row)) for row in zip(*columns, strict=True)]


def _named(values: pd.Series) -> str:
    """Different texts of some rows, joined."""
    return ", ".join(sorted({str(value) for value in values.dropna()} - {""}))
