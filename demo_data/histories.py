"""Successive controls at each place, and the incidents that end them."""

from __future__ import annotations

import numpy as np

from demo_data.events import Incident, Life
from demo_data.lives import failure_day
from demo_data.model import (
    BARE_SHARE,
    CALLBACK_SHARE,
    FAILURE_MODES,
    LOG_DAYS,
    MISLEADING_SHARE,
    TOGETHER_SHARE,
    UNNAMED_SHARE,
)
from demo_data.other_faults import faults_at
from demo_data.reporting import plan_course
from demo_data.world import Place, Site


class PlaceHistory:
    """What happened at one place, all its members together."""

    def __init__(self, place: Place, rng: np.random.Generator) -> None:
        self.place, self.rng = place, rng
        self.end = min(place.site.ends, float(LOG_DAYS))
        self.lives: list[Life] = []
        self.incidents: list[Incident] = []
        self._others = faults_at(place, rng)

    def run(self) -> None:
        """Fill ``lives`` and ``incidents``."""
        for member in range(self.place.quantity):
            self._run_member(member)
        failures = [i for i in self.incidents if i.control_failed]
        for fault in self._others:
            if not _overlaps(fault, failures):
                fault.restored = min(fault.course.restored, self.end) if fault.course else None
                fault.life = self._life_at(fault)
                self.incidents.append(fault)

    def _run_member(self, member: int) -> None:
        place = self.place
        model, installed, known_good, order = place.model, place.installed_day, place.starts, 1
        while known_good < self.end:
            life = Life(place, member, order, model, installed, known_good)
            self.lives.append(life)
            ends = self._end_life(life)
            if ends is None:
                return
            campaign = place.campaign_day()
            model = "photocontrol C" if campaign is not None and ends >= campaign else model
            installed = known_good = ends
            order += 1

    def _end_life(self, life: Life) -> float | None:
        """End a life by failure or by what else came first; returns when its successor began."""
        forced_day, reason = self._forced_end(life)
        spans = life.place.spans(life.model, life.entry_day)
        failed = failure_day(life.installed_day, life.entry_day, spans, self.rng.exponential())
        if failed is not None and failed < forced_day:
            return self._fail(life, failed)
        life.end_day, life.reason = forced_day, reason
        if reason in ("in service", "site closed"):
            life.removed_day = forced_day if reason == "site closed" else None
            return None
        life.removed_day = forced_day
        return forced_day

    def _forced_end(self, life: Life) -> tuple[float, str]:
        ends = [(self.end, "site closed" if life.place.site.closed else "in service")]
        campaign = life.place.campaign_day()
        if campaign is not None and campaign > life.entry_day:
            ends.append((campaign, "planned"))
        for fault in self._others:
            if (
                fault.changes_control
                and fault.member == life.member
                and fault.onset > life.entry_day
                and fault.course
            ):
                reason = "changed with lamp" if fault.changed_with_lamp else "damage"
                ends.append((fault.course.restored, reason))
        return min(ends)

    def _fail(self, life: Life, onset: float) -> float | None:
        rng, place = self.rng, life.place
        mode, symptom = self._mode()
        incident = Incident(place.site, place, life.member, symptom, "control", "", "replaced", onset)
        incident.course = plan_course(
            rng, place.site, symptom, onset, "replaced", callback_share=CALLBACK_SHARE
        )
        incident.control_failed, incident.mode, incident.life = True, mode, life
        incident.text_quality = self._text_quality(life)
        restored = incident.course.restored
        campaign = place.campaign_day()
        if campaign is not None and onset < campaign < restored:
            restored = campaign
        life.end_day, life.reason = onset, mode
        self.incidents.append(incident)
        if restored >= self.end:
            incident.restored = self.end if place.site.closed else None
            life.removed_day = incident.restored
            return None
        incident.restored = life.removed_day = restored
        return restored

    def _mode(self) -> tuple[str, str]:
        modes = FAILURE_MODES[self.place.kind]
        mode, symptom, _ = modes[int(self.rng.choice(len(modes), p=[share for _, _, share in modes]))]
        return mode, "circuit out" if mode == "fails off" and self.place.switched_by else symptom

    def _text_quality(self, life: Life) -> str:
        draw = float(self.rng.random())
        if draw < BARE_SHARE:
            return "bare"
        if draw < BARE_SHARE + MISLEADING_SHARE:
            return "misleading"
        if draw < BARE_SHARE + MISLEADING_SHARE + UNNAMED_SHARE:
            return "unnamed"
        habit = life.place.kind == "photocontrol" and life.place.switched_by is None
        return "together" if habit and draw > 1 - TOGETHER_SHARE else "clear"

    def _life_at(self, fault: Incident) -> Life:
        mine = [life for life in self.lives if life.member == fault.member]
        begun = [life for life in mine if life.entry_day <= fault.onset]
        return begun[-1] if begun else mine[0]


def _overlaps(fault: Incident, failures: list[Incident]) -> bool:
    """Whether a control failure of the same member was open at the time: then the fault goes unmentioned."""
    ends = fault.course.restored if fault.course else fault.onset
    return any(
        f.member == fault.member and f.onset < ends and (f.restored is None or f.restored > fault.onset)
        for f in failures
    )


def run_district(sites: list[Site], seed: int) -> tuple[list[Life], list[Incident]]:
    """Every life and incident of the district, incidents numbered in order of onset."""
    lives: list[Life] = []
    incidents: list[Incident] = []
    for number, site in enumerate(sites):
        for index, place in enumerate(site.places):
            history = PlaceHistory(place, np.random.default_rng([seed, 2, number, index]))
            history.run()
            lives += history.lives
            incidents += history.incidents
    incidents.sort(key=lambda incident: (incident.onset, incident.site.site_id))
    for count, incident in enumerate(incidents, start=1):
        incident.incident_id = f"I{count:05d}"
    return lives, incidents
