"""The mean detection delay: as set, and as meters and rounds by day show it -> detection_delays."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from pipeline.delay_estimate import DelayFactor, Noticed, estimated_factor
from pipeline.noticing import Noticing
from pipeline.numerals import count_text
from pipeline.settings import Settings
from pipeline.store import Store, sql_text

_KINDS = ("measured", "unreported", "round report", "round find")
_MOST_SPREAD = 20.0


class DelayInForce(NamedTuple):
    """The delays that date what no meter measured, and the factor within which their mean is known (90 %)."""

    noticing: Noticing
    spread: float


def fill_delays(store: Store, settings: Settings) -> None:
    """Fill detection_delays and, where the estimate is in force, date incidents by it."""
    assumed = Noticing.of(settings)
    frame = store.frame(sql_text("pipeline.meters", "noticed"))
    times = [_times(frame[frame["kind"] == kind], assumed) for kind in _KINDS]
    noticed = Noticed(*times)
    found = estimated_factor(noticed, settings.assumptions.few_failures)
    wanted = settings.assumptions.detection_delay == "estimated"
    usable = isinstance(found, DelayFactor)
    rows = [
        _assumed(settings, not (wanted and usable)),
        _estimated(settings, noticed, found, wanted and usable),
    ]
    store.fill_frame(
        "detection_delays", pd.DataFrame(rows).astype({"lower_days": float, "upper_days": float})
    )
    if wanted and not usable:
        store.notice(
            "meters",
            "portfolio.toml, assumptions.detection_delay",
            f"the delay cannot be estimated: {found}. The assumed one is used.",
        )
    if wanted and usable:
        _date_incidents(store, delay_in_force(store, settings).noticing)


def delay_in_force(store: Store, settings: Settings) -> DelayInForce:
    """The estimate where it is in force, else what the settings say."""
    assumed = Noticing.of(settings)
    found = store.rows(
        "SELECT factor, lower_days, upper_days FROM detection_delays WHERE in_force AND origin = 'estimated'"
    )
    if not found:
        return DelayInForce(assumed, settings.assumptions.detection_delay_spread)
    factor, lower, upper = found[0]
    return DelayInForce(assumed.times(factor), float(np.clip(np.sqrt(upper / lower), 1.0, _MOST_SPREAD)))


def _times(rows: pd.DataFrame, assumed: Noticing) -> np.ndarray:
    first, last = (rows[name].to_numpy(dtype=float) for name in ("first_days", "last_days"))
    return assumed.delays_within(first, np.maximum(first, last))


def _assumed(settings: Settings, in_force: bool) -> dict[str, Any]:
    days, spread = settings.assumptions.detection_delay_days, settings.assumptions.detection_delay_spread
    return {
        "origin": "assumed", "in_force": in_force, "delay_days": days, "lower_days": days / spread,
        "upper_days": days * spread, "factor": 1.0,
        "measured": 0, "unreported": 0, "patrol_reports": 0, "patrol_finds": 0,
        "note": "assumptions.detection_delay_days and detection_delay_spread of portfolio.toml",
    }  # fmt: skip


def _estimated(
    settings: Settings, noticed: Noticed, found: DelayFactor | str, in_force: bool
) -> dict[str, Any]:
    days = settings.assumptions.detection_delay_days
    known = found if isinstance(found, DelayFactor) else None
    return {
        "origin": "estimated", "in_force": in_force,
        "delay_days": known and known.factor * days, "lower_days": known and known.lower * days,
        "upper_days": known and known.upper * days, "factor": known and known.factor,
        "measured": noticed.measured.size, "unreported": noticed.unreported.size,
        "patrol_reports": noticed.round_reports.size, "patrol_finds": noticed.round_finds.size,
        "note": _note(noticed) if known else f"cannot be estimated: {found}",
    }  # fmt: skip


def _note(noticed: Noticed) -> str:
    parts = (
        (noticed.measured.size, "episodes on meters that were called in"),
        (noticed.unreported.size, "that were not"),
        (noticed.round_reports.size, "reports between rounds by day"),
        (noticed.round_finds.size, "faults found by rounds"),
    )
    return "from " + ", ".join(f"{count_text(count)} {what}" for count, what in parts if count)


def _date_incidents(store: Store, noticing: Noticing) -> None:
    """The central onset of day burning that no meter measured, by the estimated delay."""
    days = [
        day
        for (day,) in store.rows(
            "SELECT DISTINCT first_reported_at::DATE FROM incidents WHERE symptom = 'day burning' ORDER BY 1"
        )
    ]
    delays = noticing.mean_before(np.array(days, dtype="datetime64[D]"))
    with store.frame_as(
        "estimated_delays", pd.DataFrame({"day": pd.to_datetime(days), "delay_days": delays})
    ):
        store.run(sql_text("pipeline.meters", "date_incidents"))
