"""From a fault's onset to its repair: noticed, reported, reported again, visited, closed."""

from __future__ import annotations

import numpy as np

from demo_data.events import Course, Visit
from demo_data.model import LOG_DAYS, STALE_SHARE
from demo_data.school_year import (
    month_end_moment,
    next_working_moment,
    noticing_by_day,
    noticing_by_evening,
)
from demo_data.world import Site

SEEN_BY_DAY = ("day burning", "damage")
MEAN_RESPONSE_DAYS = {
    "day burning": 11.0, "out": 8.0, "circuit out": 3.0, "cycling": 10.0, "wrong time": 7.0,
    "damage": 4.0, "dim": 14.0, "flicker": 12.0,
}  # fmt: skip
REPEATS_PER_DAY = {"day burning": 0.022, "circuit out": 0.10, "out": 0.018}
FIRST_TRIES = {
    "day burning": ("cleaned", "none found", "reset"),
    "circuit out": ("reset",),
    "out": ("reset", "none found"),
    "cycling": ("none found", "cleaned"),
    "wrong time": ("reset",),
}


def plan_course(
    rng: np.random.Generator, site: Site, symptom: str, onset: float, action: str,
    slowness: float = 1.0, callback_share: float = 0.0,
) -> Course:  # fmt: skip
    """Draw the course of a fault that somebody will report."""
    by_day = symptom in SEEN_BY_DAY
    noticing = noticing_by_day() if by_day else noticing_by_evening()
    first = _at_hour(noticing.noticed(onset, rng, slowness), onset, by_day, rng)
    visits, reports = [], [first]
    reported = first
    if symptom in FIRST_TRIES and rng.random() < callback_share:
        tries = FIRST_TRIES[symptom]
        visits.append(_visit(rng, site, symptom, reported, False, tries[int(rng.integers(len(tries)))]))
        after = visits[-1].done
        reported = _at_hour(noticing.noticed(after + 0.5, rng, 0.5), after, by_day, rng)
        reports.append(reported)
    visits.append(_visit(rng, site, symptom, reported, True, action))
    return Course(reports, _repeats(rng, symptom, first, visits[0].done, by_day), visits)


def _visit(
    rng: np.random.Generator, site: Site, symptom: str, reported: float, cured: bool, action: str
) -> Visit:
    wait = rng.gamma(1.3, MEAN_RESPONSE_DAYS[symptom] / 1.3)
    done = next_working_moment(reported + wait, rng)
    closed = done + float(rng.uniform(0.01, 0.06))
    if rng.random() < STALE_SHARE:
        closed = next_working_moment(done + float(rng.uniform(95, 240)), rng)
    elif site.closes_monthly:
        closed = month_end_moment(closed)
    return Visit(done, closed, cured, action)


def _at_hour(noticed: float, after: float, by_day: bool, rng: np.random.Generator) -> float:
    """Move a moment of noticing to an hour at which someone reports, on the same day where it can be."""
    hour = rng.uniform(7.2, 16.8) if by_day or rng.random() < 0.5 else rng.uniform(17.0, 22.5)
    at = int(noticed) + float(hour) / 24
    return at if at > after else after + float(rng.uniform(0.01, 0.2))


def _repeats(rng: np.random.Generator, symptom: str, first: float, done: float, by_day: bool) -> list[float]:
    growth = 0.5 + 0.9 * first / LOG_DAYS  # an on-line form makes it easy to report again
    mean = growth * REPEATS_PER_DAY.get(symptom, 0.008) * (min(done, LOG_DAYS) - first)
    number = min(int(rng.poisson(max(mean, 0.0))), 3)
    times = (
        _at_hour(first + float(rng.uniform(0.02, 0.98)) * (done - first), first, by_day, rng)
        for _ in range(number)
    )
    return sorted(at for at in times if at < done)
