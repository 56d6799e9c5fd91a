"""Every figure of the invented district that is chosen rather than computed.

Nothing here is measured anywhere: the figures are inventions of the size the trade would believe.
docs/demo-model.md gives the reasons; a test compares its tables with these.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import gamma

LOG_START = date(2018, 1, 1)
LOG_END = date(2025, 12, 31)
LOG_DAYS = (LOG_END - LOG_START).days + 1
AS_OF = date(2023, 4, 30)  # date of the snapshot registers, two thirds into the log
SWITCHOVER = date(2022, 7, 1)  # the newer work-order system takes over
OVERLAP_START = date(2022, 5, 16)  # its first export reaches back to here
CAMPAIGN = date(2022, 8, 8)  # zero-cross photocontrols replace relay ones at some sites

LIGHTS_ON_AFTER_SUNSET_MIN = 15.0
LIGHTS_OFF_BEFORE_SUNRISE_MIN = 15.0
BALLAST_FACTOR_HID = 1.2
MEAN_DAY_BURNING_DELAY_DAYS = 9.0  # true mean, onset to first report
MEAN_OUT_DELAY_DAYS = 12.0

TOGETHER_SHARE = 0.06  # of photocontrol failures: the lamp is changed with the control, from habit
HABIT_WITHOUT_FAILURE = 0.05  # of lamp jobs at photocontrols: a good control is changed with the lamp
BARE_SHARE = 0.015  # of control failures: the closing text says only "repaired" or "completed"
MISLEADING_SHARE = 0.005  # of control failures: the closing text names only another part
UNNAMED_SHARE = 0.015  # of control failures: no call names tag or place, only the site
CALLBACK_SHARE = 0.06  # of control failures: the first visit did not cure it
STALE_SHARE = 0.015  # orders left open for months after the work was done
AUDIT_SHARE = 0.10  # of closed lighting orders of one fault: looked into by the quarterly audit


@dataclass(frozen=True)
class Weibull:
    """Life under one constant load: shape, and scale in days."""

    shape: float
    scale_days: float

    @property
    def mean_days(self) -> float:
        """Mean life under that load, days."""
        return self.scale_days * gamma(1 + 1 / self.shape)


GROUPS: dict[tuple[str, str], Weibull] = {
    ("photocontrol A", "HPS"): Weibull(2.2, 4300),
    ("photocontrol A", "MH"): Weibull(2.2, 3800),
    ("photocontrol A", "LED"): Weibull(2.0, 1900),
    ("photocontrol B", "HPS"): Weibull(1.9, 4400),
    ("photocontrol B", "LED"): Weibull(1.7, 2400),
    ("photocontrol C", "HPS"): Weibull(2.0, 3900),
    ("photocontrol C", "LED"): Weibull(2.0, 3700),
    ("photocontrol D", "contactor coil"): Weibull(1.8, 3600),
    ("time switch A", "HPS"): Weibull(1.6, 3400),
    ("time switch A", "LED"): Weibull(1.6, 2100),
    ("time switch B", "LED"): Weibull(1.5, 2600),
    ("timer A", "CFL"): Weibull(1.5, 3200),
    ("timer A", "LED"): Weibull(1.5, 1900),
    ("occupancy sensor A", "CFL"): Weibull(1.3, 3600),
    ("occupancy sensor A", "LED"): Weibull(1.3, 2700),
    ("contactor A", "HPS"): Weibull(2.5, 4400),
    ("contactor A", "LED"): Weibull(2.2, 2500),
}


@dataclass(frozen=True)
class ModelSpec:
    """What a register says of a model."""

    kind: str
    switching: str
    mounting: str
    rated_inrush_a: float | None
    rated_load_a: float
    operations_per_year: int
    warranty_years: int


MODELS: dict[str, ModelSpec] = {
    "photocontrol A": ModelSpec("photocontrol", "plain relay", "twist-lock", 90.0, 8.3, 730, 5),
    "photocontrol B": ModelSpec("photocontrol", "plain relay", "twist-lock", 130.0, 8.3, 730, 6),
    "photocontrol C": ModelSpec("photocontrol", "zero-cross", "twist-lock", 480.0, 15.0, 730, 10),
    "photocontrol D": ModelSpec("photocontrol", "plain relay", "stem", 60.0, 6.0, 730, 3),
    "time switch A": ModelSpec("time switch", "plain relay", "enclosure", 200.0, 40.0, 730, 1),
    "time switch B": ModelSpec("time switch", "plain relay", "enclosure", 160.0, 30.0, 730, 2),
    "timer A": ModelSpec("timer", "plain relay", "in-wall", 80.0, 15.0, 730, 1),
    "occupancy sensor A": ModelSpec("occupancy sensor", "plain relay", "fixture", 60.0, 5.0, 3650, 5),
    "contactor A": ModelSpec("contactor", "plain relay", "enclosure", 600.0, 30.0, 730, 1),
}

# (failure mode, symptom, share). Photocontrols are built to fail on, so most of them burn by day.
FAILURE_MODES: dict[str, tuple[tuple[str, str, float], ...]] = {
    "photocontrol": (
        ("fails on", "day burning", 0.80),
        ("fails off", "out", 0.14),
        ("erratic", "cycling", 0.06),
    ),
    "time switch": (
        ("erratic", "wrong time", 0.45),
        ("fails on", "day burning", 0.30),
        ("fails off", "out", 0.25),
    ),
    "timer": (
        ("fails on", "day burning", 0.45),
        ("fails off", "out", 0.40),
        ("erratic", "wrong time", 0.15),
    ),
    "occupancy sensor": (
        ("fails on", "day burning", 0.60),
        ("fails off", "out", 0.32),
        ("erratic", "cycling", 0.08),
    ),
    "contactor": (("fails on", "day burning", 0.55), ("fails off", "circuit out", 0.45)),
}


def day_of(moment: date) -> int:
    """Days from the log's first day to a date; day 0 is LOG_START."""
    return (moment - LOG_START).days


def moment_of(day: float) -> datetime:
    """Local wall clock at a number of days after the log's first midnight, to the minute."""
    start = datetime.combine(LOG_START, datetime.min.time())
    return start + timedelta(minutes=round(day * 1440))


def date_of(day: float) -> date:
    """Calendar date at a number of days after the log's first midnight."""
    return moment_of(day).date()
