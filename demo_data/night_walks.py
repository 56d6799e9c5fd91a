"""Night walks: inspections of a site's lights, some of which list several outages on one order."""

from __future__ import annotations

import numpy as np

from demo_data import phrases
from demo_data.calls import dress, spoken_label
from demo_data.events import Call, Course, Incident, Visit
from demo_data.model import LOG_DAYS
from demo_data.school_year import next_working_moment
from demo_data.texts import pick
from demo_data.world import Site

FIRST_WALK_DAY = 730.0  # the walks began in 2020
REPORTED_HERE_WITHIN_DAYS = 40.0
LISTING_SHARE = 0.3


def inspection_calls(sites: list[Site], incidents: list[Incident], rng: np.random.Generator) -> list[Call]:
    """Every walk's order. An outage that a walk lists is no longer reported by anyone else."""
    plain: dict[str, list[Incident]] = {site.site_id: [] for site in sites}
    for incident in incidents:
        if _is_plain_outage(incident):
            plain[incident.site.site_id].append(incident)
    calls = []
    for site in sites:
        day = max(site.starts, FIRST_WALK_DAY) + float(rng.uniform(0, 90))
        while day < min(site.ends, LOG_DAYS) - 2:
            at = int(day) + float(rng.uniform(19.0, 22.0)) / 24
            calls.append(_walk(site, at, plain[site.site_id], rng))
            day += float(rng.uniform(0.6, 1.4)) * (105.0 - 65.0 * day / LOG_DAYS)
    return calls


def _is_plain_outage(incident: Incident) -> bool:
    lamp = incident.component in ("lamp", "driver") and incident.symptom == "out"
    return lamp and not incident.changes_control


def _walk(site: Site, at: float, plain: list[Incident], rng: np.random.Generator) -> Call:
    found = [i for i in plain if i.onset < at and _reported_soon_after(i, at)]
    if len(found) >= 2 and rng.random() < 2 * LISTING_SHARE:
        return _listing(site, at, found, rng)
    call = Call("", site, at, at + 0.05, at + 0.06, "completed", "inspection", pick(rng, phrases.WALKS), "")
    listed = rng.random() < LISTING_SHARE
    call.action_text = pick(rng, phrases.INSPECTIONS_LISTED if listed else phrases.INSPECTIONS_OK)
    call.symptom, call.component = "unknown", "unknown"
    call.action = "referred" if listed else "none found"
    call.hours, call.labour = 0.75, 46.5
    dress(call, rng)
    return call


def _reported_soon_after(incident: Incident, at: float) -> bool:
    assert incident.course is not None
    course = incident.course
    alone = len(course.visits) == 1 and incident.restored is not None
    return alone and at < course.reports[0] < at + REPORTED_HERE_WITHIN_DAYS and course.restored > at + 3


def _listing(site: Site, at: float, found: list[Incident], rng: np.random.Generator) -> Call:
    """One order for all outages found; a crew mends them on one day, no later than it would have."""
    done = min(next_working_moment(at + 2, rng), *(i.restored for i in found if i.restored is not None))
    call = Call("", site, at, done, done + 0.03, "completed", "inspection", "", "", incidents=found)
    call.symptom, call.action = "out", "replaced"
    call.component = found[0].component if len({i.component for i in found}) == 1 else "unknown"
    places = [spoken_label(incident, rng) for incident in found]
    call.problem = f"{pick(rng, phrases.WALKS)}, outages: {'; '.join(f'{place} out' for place in places)}"
    call.action_text = "; ".join(
        f"{place} - replaced {incident.component}" for place, incident in zip(places, found, strict=True)
    )
    call.hours = 0.6 * len(found)
    call.labour, call.parts = round(call.hours * 62.0, 2), 31.0 * len(found)
    dress(call, rng)
    for incident in found:
        incident.course = Course([at], [], [Visit(done, done + 0.03, True, "replaced")])
        incident.restored, incident.on_night_walk = done, True
    return call
