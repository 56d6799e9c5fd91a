"""The true answers, as gzipped CSV beside the portfolio. The pipeline never reads them."""

from __future__ import annotations

import csv
import gzip
import io
from collections import defaultdict
from pathlib import Path

from demo_data.burn import DayLight, burn_by_year
from demo_data.events import Call, Incident, Life
from demo_data.model import GROUPS, MEAN_DAY_BURNING_DELAY_DAYS, date_of, moment_of

Row = dict[str, object]


def write_gzip_csv(path: Path, rows: list[Row]) -> None:
    """One header line, LF line ends; the archive carries no time stamp, so equal rows give equal bytes."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    with path.open("wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as packed:
        packed.write(text.getvalue().encode("utf-8"))


def group_rows() -> list[Row]:
    """Life by model and present load, as chosen."""
    return [
        {
            "model": model,
            "lamp": lamp,
            "shape": life.shape,
            "scale_days": life.scale_days,
            "mean_days": round(life.mean_days, 1),
        }
        for (model, lamp), life in GROUPS.items()
    ]


def _stamp(day: float | None) -> str:
    return "" if day is None else f"{moment_of(day):%Y-%m-%d %H:%M}"


def _position(life: Life) -> str:
    return f"{life.place.label_code} {life.place.label}".strip()


def life_rows(lives: list[Life]) -> list[Row]:
    """Every control's true stay, batch members one by one."""
    return [
        {
            "control_id": life.tag,
            "site_id": life.place.site.site_id,
            "position": _position(life),
            "member": life.member + 1,
            "order": life.order,
            "kind": life.place.kind,
            "model": life.model,
            "quantity_of_row": life.place.quantity,
            "installed_at": _stamp(life.installed_day),
            "under_observation_from": _stamp(life.entry_day),
            "ended_at": _stamp(life.end_day),
            "end_reason": life.reason,
            "removed_on": "" if life.removed_day is None else date_of(life.removed_day),
            "load_changes_at": ";".join(_stamp(day) for day in _load_changes(life)),
            "lamps": ";".join(
                span.lamp
                for span in life.place.spans(life.model, life.entry_day)
                if span.begins < life.end_day
            ),
        }
        for life in lives
    ]


def _load_changes(life: Life) -> list[float]:
    spans = life.place.spans(life.model, life.entry_day)
    return [span.begins for span in spans[1:] if span.begins < life.end_day]


def incident_rows(incidents: list[Incident], calls: list[Call], lights: dict[str, DayLight]) -> list[Row]:
    """Every incident that was, reported or not, with the energy it wasted."""
    orders: dict[str, list[Call]] = defaultdict(list)
    for call in calls:
        for incident in call.incidents:
            orders[incident.incident_id].append(call)
    return [_incident_row(i, orders[i.incident_id], lights[i.site.site_id]) for i in incidents]


def _incident_row(incident: Incident, orders: list[Call], light: DayLight) -> Row:
    burnt = burn_by_year(incident, light).values()
    life = incident.life
    assert life is not None
    return {
        "incident_id": incident.incident_id,
        "site_id": incident.site.site_id,
        "position": _position(life),
        "member": incident.member + 1,
        "control_id": life.tag,
        "kind": life.place.kind,
        "model": life.model,
        "symptom": incident.symptom,
        "component": incident.component,
        "cause": incident.cause,
        "control_failed": incident.control_failed,
        "failure_mode": incident.mode,
        "text_quality": incident.text_quality,
        "good_control_changed": incident.changes_control,
        "onset_at": _stamp(incident.onset),
        "first_reported_at": _stamp(min((c.reported for c in orders), default=None)),
        "restored_at": _stamp(incident.restored),
        "calls": len(orders),
        "excess_day_hours": round(sum(hours for hours, _, _ in burnt), 3),
        "excess_kwh": round(sum(kwh for _, kwh, _ in burnt), 4),
    }


def call_rows(calls: list[Call], files: dict[str, list[Call]]) -> list[Row]:
    """What each order truly is about, and the exports it stands in."""
    where: dict[str, list[str]] = defaultdict(list)
    for name, listed in files.items():
        for call in dict.fromkeys(id(call) for call in listed):
            where[str(call)].append(name)
    return [_call_row(call, where[str(id(call))]) for call in calls]


def _call_row(call: Call, files: list[str]) -> Row:
    return {
        "call_number": call.number,
        "exports": ";".join(files),
        "exterior_lighting": call.exterior_lighting,
        "site_id": call.site.site_id if call.site else "",
        "control_id": call.life.tag if call.life else "",
        "incidents": ";".join(i.incident_id for i in call.incidents),
        "work_type": call.work_type,
        "symptom": call.symptom,
        "component": call.component,
        "action": call.action,
        "cause": call.cause,
        "control_failed": call.control_failed,
        "duplicate_of": call.duplicate_of.number if call.duplicate_of else "",
        "reported_at": _stamp(call.reported),
        "work_done_at": _stamp(call.done),
        "closed_at": _stamp(call.closed),
        "status": call.status,
        "oddity": call.oddity,
    }


def energy_rows(incidents: list[Incident], calls: list[Call], lights: dict[str, DayLight]) -> list[Row]:
    """Day-burning hours and energy by calendar year, in all and from failed controls, reported and not."""
    told = {incident.incident_id for call in calls for incident in call.incidents}
    totals: dict[tuple[int, bool, bool], list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0, 0])
    for incident in incidents:
        for year, parts in burn_by_year(incident, lights[incident.site.site_id]).items():
            total = totals[year, incident.control_failed, incident.incident_id in told]
            for n, part in enumerate(parts):
                total[n] += part
            total[3] += 1
    return [
        {
            "year": year,
            "control_failed": failed,
            "reported": reported,
            "incidents": int(t[3]),
            "excess_day_hours": round(t[0], 2),
            "excess_kwh": round(t[1], 3),
            "of_which_unmetered_kwh": round(t[2], 3),
        }
        for (year, failed, reported), t in sorted(totals.items())
    ]


def delay_rows(incidents: list[Incident]) -> list[Row]:
    """The stated mean delay of day burning, and the mean over the incidents of this seed."""
    delays = [i.course.reports[0] - i.onset for i in incidents if i.symptom == "day burning" and i.course]
    return [
        {
            "stated_mean_days": MEAN_DAY_BURNING_DELAY_DAYS,
            "incidents": len(delays),
            "mean_days": round(sum(delays) / len(delays), 4),
        }
    ]
