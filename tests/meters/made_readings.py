"""Made readings of a lighting account whose day burning is known, for tests and studies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from pipeline.energy import lit_schedule
from pipeline.energy.schedule import LitSchedule

Floats = npt.NDArray[np.float64]

LATITUDE, LONGITUDE, ZONE = 39.6, -102.9, "America/Denver"
LENGTH_S = 900.0


@dataclass(frozen=True)
class Burnt:
    """A lamp load [kW] that stayed on between two instants, aware."""

    begun: datetime
    ended: datetime
    kw: float


@dataclass(frozen=True)
class Made:
    """Starts of intervals [UTC s] and their mean loads [kW]; true energy of each burnt load in hours off [kWh]."""

    start_s: Floats
    kw: Floats
    true_kwh: tuple[float, ...]


def made_readings(
    first: datetime,
    last: datetime,
    burnt: Sequence[Burnt] = (),
    lamps_kw: float = 5.0,
    noise_kw: float = 0.0,
    standing_kw: float = 0.0,
    seed: int = 0,
    schedule: LitSchedule | None = None,
) -> Made:
    """Readings each quarter of an hour: lamps by schedule (the sun's, or one that reaches 40 days beyond; each
    switching some minutes early or late), what burns outside it, a standing load, and noise that is half shared by the
    readings of a day."""
    chance = np.random.default_rng(seed)
    start_s = np.arange(first.timestamp(), last.timestamp(), LENGTH_S)
    beyond_s = 40 * 86_400.0  # what burnt before or after the readings has a true energy too
    schedule = schedule or lit_schedule(
        LATITUDE, LONGITUDE, start_s[0] - beyond_s, start_s[-1] + beyond_s, 15, 15
    )
    off_s, on_s = (
        times + chance.normal(0, 300, times.size) for times in (schedule.off_at_s, schedule.on_at_s)
    )
    off = share_between(start_s, off_s, on_s)
    kw = standing_kw + lamps_kw * (1 - off)
    true = []
    for one in burnt:
        held = share_between(start_s, np.array([one.begun.timestamp()]), np.array([one.ended.timestamp()]))
        kw = kw + one.kw * np.minimum(held, off)
        true.append(one.kw * float(schedule.day_hours_between(one.begun, one.ended)))
    days = ((start_s - start_s[0]) // 86_400).astype(int)
    daily = chance.normal(0, noise_kw / np.sqrt(2), days[-1] + 1)[days]
    return Made(
        start_s, np.maximum(kw + daily + chance.normal(0, noise_kw / np.sqrt(2), kw.size), 0), tuple(true)
    )


def share_between(start_s: Floats, begins_s: Floats, ends_s: Floats) -> Floats:
    """Share of each interval that lies within any of some spans, in order and apart."""
    knots = np.column_stack([begins_s, ends_s]).ravel()
    total = np.concatenate([[0.0], np.cumsum(np.diff(knots) * (np.arange(knots.size - 1) % 2 == 0))])
    return np.diff(np.interp(np.append(start_s, start_s[-1] + LENGTH_S), knots, total)) / LENGTH_S


def as_csv(account: str, made: Made) -> str:
    """The readings as a meter file's rows, energy of each interval, times in UTC."""
    return "".join(
        f"{account},{datetime.fromtimestamp(at, UTC):%Y-%m-%dT%H:%M}Z,{kw * LENGTH_S / 3600:.4f}\n"
        for at, kw in zip(made.start_s.tolist(), made.kw.tolist(), strict=True)
    )
