"""Incidents -> work orders on exterior lighting, as they finally stand."""

from __future__ import annotations

import numpy as np

from demo_data import phrases
from demo_data.events import Call, Incident, Life, Visit
from demo_data.model import CAMPAIGN, LOG_DAYS, day_of
from demo_data.school_year import next_working_moment
from demo_data.texts import action_text, misspell, pick, problem_text, written_place, written_tag
from demo_data.world import Site


def calls_of(incident: Incident, rng: np.random.Generator) -> list[Call]:
    """The orders that one incident gives rise to; none where nobody reported it inside the log."""
    assert incident.course is not None
    calls: list[Call] = []
    end = min(incident.site.ends, float(LOG_DAYS))
    for reported, visit in zip(incident.course.reports, incident.course.visits, strict=True):
        gone = incident.restored is not None and incident.restored <= reported
        if incident.site.starts <= reported < end and not gone:
            calls.append(_visit_call(incident, reported, visit, rng))
    if calls:
        calls += [
            _repeat(incident, at, calls[0], rng)
            for at in incident.course.repeats
            if at < min(end, calls[0].closed or end)
        ]
    return calls


def _visit_call(incident: Incident, reported: float, visit: Visit, rng: np.random.Generator) -> Call:
    done, closed = visit.done, visit.closed
    by_campaign = False
    if visit.cured and incident.restored is not None and incident.restored < done:
        done = closed = incident.restored
        by_campaign = not incident.site.closed or done < incident.site.ends
    call = _blank_call(incident, reported, rng)
    if done >= LOG_DAYS or closed >= LOG_DAYS:
        call.done = done if done < LOG_DAYS else None
        call.status = "open"
        return call
    call.done, call.closed, call.status = done, closed, "completed"
    call.action, call.action_text = visit.action, action_text(incident, visit, rng)
    if by_campaign:
        call.action_text = "replaced under photocell project"
    elif done >= incident.site.ends:
        call.status, call.action, call.action_text = "cancelled", "unknown", "site closed"
    _set_costs(call, incident, rng)
    return call


def _blank_call(incident: Incident, reported: float, rng: np.random.Generator) -> Call:
    call = Call("", incident.site, reported, None, None, "open", "reactive", "", "")
    call.symptom, call.component, call.cause = incident.symptom, incident.component, incident.cause
    call.control_failed, call.life, call.incidents = incident.control_failed, incident.life, [incident]
    assert incident.life is not None
    assert incident.place is not None
    tag, place = "", ""
    if incident.text_quality != "unnamed":
        draw = float(rng.random())
        tag = written_tag(incident.life.tag, rng) if draw < 0.78 else ""
        place = spoken_label(incident, rng) if draw > 0.35 else ""
        if place and incident.place.label_code and rng.random() < 0.3:
            place = f"{incident.place.label_code} {place}"
    in_text = bool(tag) and rng.random() < 0.3
    call.tag_text = "" if in_text else tag
    call.place_text = place if place and rng.random() < 0.5 else ""
    spoken = place if not call.place_text or rng.random() < 0.4 else ""
    call.problem = problem_text(incident, spoken, tag if in_text else "", rng)
    dress(call, rng)
    return call


def spoken_label(incident: Incident, rng: np.random.Generator) -> str:
    """The place as written: no one names a contactor for a lamp, and most say which of a batch it is."""
    assert incident.place is not None
    label = incident.place.label
    if not incident.control_failed and label.endswith((" contactor", " pilot")):
        label = label.rsplit(" ", 1)[0]
    if incident.place.quantity > 1 and rng.random() < 0.75:
        return f"{label} unit {incident.member + 1}"
    return written_place(label, rng)


def dress(call: Call, rng: np.random.Generator) -> None:
    """Site wording, category, requester, slips of the keyboard."""
    assert call.site is not None
    call.site_text = "" if call.tag_text and rng.random() < 0.02 else written_site(call.site, rng)
    draw = rng.random()
    call.category = (
        "EXTERIOR LIGHTING"
        if draw < 0.68
        else "ELECTRICAL"
        if draw < 0.946
        else "INTERIOR LIGHTING"
        if draw < 0.95
        else ""
    )
    call.requester, call.technician = int(rng.integers(16 * 12)), int(rng.integers(6))
    if rng.random() < 0.06:
        call.problem = misspell(call.problem, rng)


def written_site(site: Site, rng: np.random.Generator) -> str:
    """The site as people name it: name, alias, number, or a misspelt name."""
    draw = rng.random()
    if draw < 0.62:
        return site.name
    if draw < 0.86:
        return site.aliases[int(rng.integers(len(site.aliases)))]
    return site.site_id if draw < 0.96 else misspell(site.name, rng)


def _repeat(incident: Incident, at: float, first: Call, rng: np.random.Generator) -> Call:
    """Another report of a fault whose order is open: closed as a duplicate, or together with the first."""
    call = _blank_call(incident, at, rng)
    call.duplicate_of, call.action = first, "duplicate"
    if rng.random() < 0.55:
        closed = next_working_moment(at, rng)
        call.status, call.action_text = "cancelled", pick(rng, phrases.DUPLICATES)
    else:
        closed = (first.closed or LOG_DAYS) + 0.002
        call.status, call.action_text = (
            "completed",
            first.action_text if rng.random() < 0.5 else pick(rng, phrases.DUPLICATES),
        )
    if closed >= LOG_DAYS or first.closed is None:
        call.status, call.action_text = "open", ""
        return call
    call.done = call.closed = closed
    return call


def _set_costs(call: Call, incident: Incident, rng: np.random.Generator) -> None:
    call.hours = round(float(rng.gamma(3.0, 0.5)) + 0.25, 2) if call.action != "none found" else 0.5
    call.labour = round(call.hours * 62.0, 2)
    if call.action == "replaced":
        call.parts = round(float(rng.uniform(12, 95)) * (3.5 if incident.component == "driver" else 1.0), 2)
    if incident.symptom == "damage":
        call.contract = round(float(rng.uniform(900, 4200)), 2)


def project_calls(sites: list[Site], rng: np.random.Generator) -> list[Call]:
    """LED retrofits (one order a site) and the photocontrol campaign (one order a control row)."""
    calls = []
    for site in sites:
        if site.retrofit_day is not None and site.starts < site.retrofit_day < min(site.ends, LOG_DAYS):
            text = (
                "led retrofit of exterior lighting",
                "replaced hps and mh fixtures with led per project drawings, existing controls reused",
            )
            call = Call(
                "",
                site,
                site.retrofit_day - 20.6,
                site.retrofit_day + 0.3,
                site.retrofit_day + 0.4,
                "completed",
                "project",
                *text,
            )
            call.symptom, call.component, call.action, call.contract = (
                "unknown",
                "lamp",
                "planned",
                round(float(rng.uniform(14000, 88000)), 2),
            )
            dress(call, rng)
            calls.append(call)
    return calls


def campaign_calls(changed: list[Life], rng: np.random.Generator) -> list[Call]:
    """One planned order for each control row that the campaign changed."""
    calls = []
    for life in changed:
        day = float(day_of(CAMPAIGN))
        call = Call(
            "",
            life.place.site,
            day - 12 + float(rng.uniform(0.3, 0.6)),
            day + 0.4,
            day + 0.45,
            "completed",
            "project",
            "",
            "",
        )
        call.problem = f"photocell replacement project - {life.place.label}"
        call.action_text = pick(
            rng,
            (
                "replaced photocell with zero-cross type, planned project work",
                "planned replacement of photocell, project",
            ),
        )
        call.symptom, call.component, call.action, call.life = "unknown", "control", "planned", life
        call.tag_text, call.hours, call.labour, call.parts = (
            life.tag,
            0.4 * life.place.quantity,
            24.8 * life.place.quantity,
            38.0 * life.place.quantity,
        )
        dress(call, rng)
        calls.append(call)
    return calls
