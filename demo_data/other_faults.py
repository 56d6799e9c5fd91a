"""Faults that are not failures of a control: lamps, drivers, wiring, damage, and a control that was misled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np

from demo_data.events import Incident
from demo_data.model import HABIT_WITHOUT_FAILURE, LOG_DAYS, day_of
from demo_data.reporting import plan_course
from demo_data.world import Place

YEAR_DAYS = 365.25
DST_SUNDAYS = tuple(
    day_of(day)
    for day in (
        date(2018, 3, 11),
        date(2018, 11, 4),
        date(2019, 3, 10),
        date(2019, 11, 3),
        date(2020, 3, 8),
        date(2020, 11, 1),
        date(2021, 3, 14),
        date(2021, 11, 7),
        date(2022, 3, 13),
        date(2022, 11, 6),
        date(2023, 3, 12),
        date(2023, 11, 5),
        date(2024, 3, 10),
        date(2024, 11, 3),
        date(2025, 3, 9),
        date(2025, 11, 2),
    )
)


@dataclass(frozen=True)
class Cause:
    """A way to go wrong. ``per_year`` is per luminaire, or per control where ``each_control``."""

    component: str
    cause: str
    action: str
    symptoms: tuple[tuple[str, float], ...]
    per_year: float
    lamps: tuple[str, ...] = ()
    models: tuple[str, ...] = ()
    each_control: bool = False
    always_reported: bool = False
    slowness: float = 1.6


_DAY = (("day burning", 1.0),)
CAUSES = (
    Cause(
        "lamp",
        "end of life",
        "replaced",
        (("out", 0.72), ("cycling", 0.2), ("dim", 0.08)),
        0.16,
        ("HPS", "MH"),
    ),
    Cause("lamp", "end of life", "replaced", (("out", 0.85), ("flicker", 0.15)), 0.22, ("CFL",)),
    Cause("lamp", "ballast", "replaced", (("out", 0.8), ("flicker", 0.2)), 0.035, ("HPS", "MH", "CFL")),
    Cause("driver", "driver", "replaced", (("out", 0.6), ("flicker", 0.25), ("dim", 0.15)), 0.052, ("LED",)),
    Cause(
        "wiring",
        "wiring",
        "repaired",
        (("out", 0.6), ("circuit out", 0.2), ("flicker", 0.2)),
        0.016,
        each_control=True,
    ),
    Cause("supply", "breaker", "reset", (("circuit out", 1.0),), 0.012, each_control=True, slowness=0.8),
    Cause("pole", "vehicle", "repaired", (("damage", 1.0),), 0.005, each_control=True, slowness=0.3),
    Cause("other", "vandalism", "repaired", (("damage", 1.0),), 0.003, each_control=True, slowness=0.5),
    Cause("other", "covered eye", "cleaned", _DAY, 0.005, (), ("photocontrol",), True, True, 1.0),
    Cause("other", "bypass", "repaired", _DAY, 0.002, (), ("photocontrol",), True, True, 1.0),
    Cause("other", "hand", "reset", _DAY, 0.018, (), ("contactor", "time switch"), True, True, 1.0),
    Cause(
        "other",
        "power outage",
        "reset",
        (("wrong time", 1.0),),
        0.05,
        (),
        ("time switch A", "timer"),
        True,
        True,
        1.0,
    ),
    Cause(
        "other",
        "daylight saving",
        "reset",
        (("wrong time", 1.0),),
        0.08,
        (),
        ("time switch A",),
        True,
        True,
        1.0,
    ),
    Cause("other", "building automation", "reset", _DAY, 0.10, (), ("contactor",), True, True, 1.0),
)


def reported_share(day: float) -> float:
    """Share of lamp, wiring and other plain faults that anyone reports: it grew with an on-line request form."""
    return float(0.08 + 0.90 * min(max(day / LOG_DAYS, 0.0), 1.0) ** 1.3)


def faults_at(place: Place, rng: np.random.Generator) -> list[Incident]:
    """Every reported non-control fault at a place, with its course, ordered by onset."""
    faults = [fault for cause in CAUSES for fault in _faults_of(cause, place, rng)]
    return sorted(faults, key=lambda fault: fault.onset)


def _faults_of(cause: Cause, place: Place, rng: np.random.Generator) -> Iterator[Incident]:
    if cause.models and not any(place.model.startswith(name) for name in cause.models):
        return
    if cause.cause == "building automation" and not place.site.has_automation:
        return
    if not cause.each_control and place.switched_by is not None:
        return
    end = min(place.site.ends, LOG_DAYS)
    pieces = place.quantity if cause.each_control else max(g.luminaires for g in place.fixtures)
    number = rng.poisson(cause.per_year * pieces * (end - place.starts) / YEAR_DAYS)
    for onset in np.sort(rng.uniform(place.starts, end, number)):
        if cause.cause == "daylight saving":
            onset = min(DST_SUNDAYS, key=lambda day: abs(day - onset)) + 0.09
        share = 1.0 if cause.always_reported else reported_share(float(onset))
        seen = rng.random() < share and place.starts < onset < end
        if seen and (not cause.lamps or place.lamp_on(float(onset)) in cause.lamps):
            yield _fault(cause, place, float(onset), rng)


def _fault(cause: Cause, place: Place, onset: float, rng: np.random.Generator) -> Incident:
    names, shares = zip(*cause.symptoms, strict=True)
    symptom = str(names[int(rng.choice(len(names), p=shares))])
    callback = 0.04 if cause.always_reported else 0.0
    course = plan_course(rng, place.site, symptom, onset, cause.action, cause.slowness, callback)
    fault = Incident(
        place.site,
        place,
        int(rng.integers(place.quantity)),
        symptom,
        cause.component,
        cause.cause,
        cause.action,
        onset,
        course,
    )
    photocontrol = place.kind == "photocontrol" and place.switched_by is None
    if symptom == "damage" and place.kind == "photocontrol":
        fault.changes_control = bool(rng.random() < 0.4)
    elif cause.component == "lamp" and photocontrol:
        fault.changes_control = bool(rng.random() < HABIT_WITHOUT_FAILURE)
        fault.changed_with_lamp = fault.changes_control
    return fault
