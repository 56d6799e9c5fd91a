"""Made-up exports of many trades' usage, each with the columns that a person would say are right."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

ROWS = 80
SITES = ("Larch School", "Quill Hall", "Tamarack Yard", "Old Mill Depot", "Juniper Library")
TAGS = tuple(f"PC-{n:04}" for n in range(1, 25))
PROBLEMS = (
    "Parking lot light {n} stays on all day long", "Pole light {n} is out at night", "Wall pack {n} flickers badly",
    "Light by door {n} not working", "Walkway light {n} cycles on and off", "Canopy fixture {n} dark since Monday",
)  # fmt: skip
ACTIONS = (
    "Replaced photocell",
    "Reset breaker {n}",
    "Installed new lamp",
    "Checked, found ok",
    "Repaired wiring at {n}",
)
STREETS = ("Larch St", "Quill Ave", "Mill Rd", "Tamarack Ln")
PEOPLE = ("Tarka Quendle", "Bram Ostwick", "Odile Fenwright", "Jonas Birchley", "Mette Skald", "Arlo Dunmere")


@dataclass(frozen=True)
class Event:
    """One made-up call."""

    n: int
    at: datetime
    done: datetime | None
    problem: str
    action: str
    site: str
    tag: str
    person: str
    crew: str
    hours: float
    cost: float
    house: int
    street: str


def events(rows: int = ROWS, seed: int = 3) -> list[Event]:
    """Made-up calls over two years, most of them completed."""
    draw = random.Random(seed)
    made = []
    for n in range(rows):
        at = datetime(2022, 1, 3, 7) + timedelta(days=9 * n, minutes=draw.randrange(900))
        done = (
            at + timedelta(days=draw.randrange(1, 40), minutes=draw.randrange(300))
            if draw.random() < 0.85
            else None
        )
        made.append(
            Event(
                n, at, done, draw.choice(PROBLEMS).format(n=draw.randrange(1, 60)),
                draw.choice(ACTIONS).format(n=draw.randrange(1, 30)) if done else "", draw.choice(SITES),
                draw.choice(TAGS),
                draw.choice(PEOPLE), draw.choice(PEOPLE), draw.randrange(1, 16) / 2, draw.randrange(2000,
                90000) / 100,
                draw.randrange(10, 990), draw.choice(STREETS),
            )
        )  # fmt: skip
    return made


@dataclass(frozen=True)
class MadeExport:
    """A header, how an event is written under it, and the fields that must be proposed (withheld columns too)."""

    name: str
    header: list[str]
    row: Callable[[Event], list[object]]
    expected: dict[str, tuple[str, ...]]
    withheld: tuple[str, ...] = ()
    how: dict[str, str] = field(default_factory=dict)

    def rows(self) -> list[list[object]]:
        """Header and rows."""
        return [self.header, *(self.row(event) for event in events())]


def us(at: datetime | None) -> str:
    """7/4/2024 1:05 PM."""
    return f"{at.month}/{at.day}/{at.year} {at:%I:%M %p}" if at else ""


def eu(at: datetime | None) -> str:
    """04.07.2024 13:05."""
    return f"{at:%d.%m.%Y %H:%M}" if at else ""


def slashed(at: datetime | None) -> str:
    """04/07/2024, day first."""
    return f"{at:%d/%m/%Y}" if at else ""


def iso(at: datetime | None) -> str:
    """2024-07-04 13:05."""
    return f"{at:%Y-%m-%d %H:%M}" if at else ""


def comma(number: float) -> str:
    """12,50."""
    return f"{number:.2f}".replace(".", ",")


EXPORTS = (
    MadeExport(
        "terse maintenance system",
        ["WO#", "RPT DT", "CMPL", "STAT", "BLDG", "EQ TAG", "DESC1", "DESC2", "ACT1", "HRS", "RQSTR", "TECH"],
        lambda e: [
            f"WO{9000 + e.n}", us(e.at), us(e.done), "CLO" if e.done else "WAPPR", e.site, e.tag, e.problem,
            "near the fence" if e.n % 3 == 0 else "", e.action, e.hours, e.person, e.crew,
        ],
        {
            "call_number": ("WO#",), "reported_at": ("RPT DT",), "completed_at": ("CMPL",), "status": ("STAT",),
            "site_text": ("BLDG",), "asset_text": ("EQ TAG",), "problem_text": ("DESC1", "DESC2"),
            "action_text": ("ACT1",),
            "labour_hours": ("HRS",),
        },
        ("RQSTR", "TECH"),
    ),
    MadeExport(
        "city service requests",
        ["sr_number", "created_dt", "sla_due_dt", "last_update_dt", "closed_dt", "sr_status", "service_code_desc",
         "house_no", "street", "lat", "long", "citizen_remarks", "resolution_txt"],
        lambda e: [
            f"24-{e.n:06}", iso(e.at), iso(e.at + timedelta(days=15)), iso(e.done or e.at), iso(e.done),
            "closed" if e.done else "open", ("Street Light", "Pot Hole", "Sign")[e.n % 3], e.house, e.street,
            40.01 + e.n / 1000, -105.2 - e.n / 997, e.problem, e.action,
        ],
        {
            "call_number": ("sr_number",), "reported_at": ("created_dt",), "completed_at": ("closed_dt",),
            "status": ("sr_status",), "address_text": ("house_no", "street"), "latitude": ("lat",),
            "longitude": ("long",),
            "problem_text": ("citizen_remarks",), "action_text": ("resolution_txt",),
            "category_text": ("service_code_desc",),
        },
    ),
    MadeExport(
        "help desk",
        ["Ticket", "Opened At", "Resolved At", "State", "Short description", "Close notes", "Requested for",
        "Location",
         "Configuration item"],
        lambda e: [
            f"INC{70000 + e.n}", iso(e.at), iso(e.done), "Resolved" if e.done else "In Progress", e.problem, e.action,
            e.person, e.site, e.tag,
        ],
        {
            "call_number": ("Ticket",), "reported_at": ("Opened At",), "completed_at": ("Resolved At",),
            "status": ("State",),
            "problem_text": ("Short description",), "action_text": ("Close notes",), "site_text": ("Location",),
            "asset_text": ("Configuration item",),
        },
        ("Requested for",),
    ),
    MadeExport(
        "contractor's invoices",
        ["Job No.", "Date of Call", "Date Completed", "Job Site", "Work Requested", "Work Performed", "Hrs",
        "Labor $",
         "Mat'l $", "Inv Total", "Foreman"],
        lambda e: [
            f"J-{300 + e.n}", us(e.at), us(e.done), e.site, e.problem, e.action,
            f"{int(e.hours)}:{int(e.hours % 1 * 60):02}",
            f"${e.cost:,.2f}", f"${e.cost / 3:,.2f}", f"${e.cost * 4 / 3:,.2f}", e.crew,
        ],
        {
            "call_number": ("Job No.",), "reported_at": ("Date of Call",), "completed_at": ("Date Completed",),
            "site_text": ("Job Site",), "problem_text": ("Work Requested",), "action_text": ("Work Performed",),
            "labour_hours": ("Hrs",), "labour_cost": ("Labor $",), "material_cost": ("Mat'l $",),
        },
        ("Foreman",),
    ),
    MadeExport(
        "Spanish headers",
        ["Nº de Orden", "Fecha de Solicitud", "Fecha de Cierre", "Estado", "Edificio", "Descripción del Problema",
         "Trabajo Realizado", "Solicitante", "Técnico", "Horas", "Costo de Materiales"],
        lambda e: [
            e.n + 100, slashed(e.at), slashed(e.done), "Cerrada" if e.done else "Abierta", e.site,
            f"La luminaria {e.n} no enciende", "Se reemplazó la fotocelda" if e.done else "", e.person, e.crew,
            comma(e.hours),
            comma(e.cost),
        ],
        {
            "call_number": ("Nº de Orden",), "reported_at": ("Fecha de Solicitud",),
            "completed_at": ("Fecha de Cierre",),
            "status": ("Estado",), "site_text": ("Edificio",), "problem_text": ("Descripción del Problema",),
            "action_text": ("Trabajo Realizado",), "labour_hours": ("Horas",),
            "material_cost": ("Costo de Materiales",),
        },
        ("Solicitante", "Técnico"),
        {"delimiter": ";"},
    ),
    MadeExport(
        "French headers",
        ["N° BT", "Date de demande", "Date de clôture", "Statut", "Site", "Équipement", "Libellé", "Compte rendu",
         "Demandeur", "Intervenant", "Coût main d'œuvre"],
        lambda e: [
            f"BT{e.n:05}", slashed(e.at), slashed(e.done), "Clôturé" if e.done else "En cours", e.site, e.tag,
            f"Le lampadaire {e.n} reste allumé le jour", "Cellule remplacée" if e.done else "", e.person, e.crew,
            comma(e.cost),
        ],
        {
            "call_number": ("N° BT",), "reported_at": ("Date de demande",), "completed_at": ("Date de clôture",),
            "status": ("Statut",), "site_text": ("Site",), "asset_text": ("Équipement",),
            "problem_text": ("Libellé",),
            "action_text": ("Compte rendu",), "labour_cost": ("Coût main d'œuvre",),
        },
        ("Demandeur", "Intervenant"),
        {"delimiter": ";", "encoding": "cp1252"},
    ),
    MadeExport(
        "German headers",
        ["Auftragsnr.", "Meldedatum", "Erledigt am", "Status", "Gebäude", "Anlage", "Störungsbeschreibung",
        "Maßnahme",
         "Melder", "Techniker", "Stunden", "Materialkosten"],
        lambda e: [
            f"A{e.n:05}", eu(e.at), eu(e.done), "erledigt" if e.done else "offen", e.site, e.tag,
            f"Leuchte {e.n} brennt am Tag", "Dämmerungsschalter ersetzt" if e.done else "", e.person, e.crew,
            comma(e.hours),
            comma(e.cost),
        ],
        {
            "call_number": ("Auftragsnr.",), "reported_at": ("Meldedatum",), "completed_at": ("Erledigt am",),
            "status": ("Status",), "site_text": ("Gebäude",), "asset_text": ("Anlage",),
            "problem_text": ("Störungsbeschreibung",), "action_text": ("Maßnahme",), "labour_hours": ("Stunden",),
            "material_cost": ("Materialkosten",),
        },
        ("Melder", "Techniker"),
        {"delimiter": ";"},
    ),
    MadeExport(
        "names that say nothing",
        [f"Field{n}" for n in range(1, 11)],
        lambda e: [
            5000 + e.n, ("C", "O")[e.done is None], e.site, e.tag, e.problem, e.person, us(e.at), us(e.done),
            e.action,
            "x" if e.n % 2 else "y",
        ],
        {
            "call_number": ("Field1",), "reported_at": ("Field7",), "completed_at": ("Field8",),
            "status": ("Field2",),
            "site_text": ("Field3",), "asset_text": ("Field4",), "problem_text": ("Field5",),
            "action_text": ("Field9",),
        },
        ("Field6",),
    ),
    MadeExport(
        "dates and times apart",
        ["CALL #", "DATE IN", "TIME IN", "DATE OUT", "TIME OUT", "ST NO", "STREET", "TROUBLE", "REMEDY"],
        lambda e: [
            f"C{e.n:04}", f"{e.at:%m/%d/%y}", f"{e.at:%H%M}", f"{e.done:%m/%d/%y}" if e.done else "",
            f"{e.done:%H%M}" if e.done else "", e.house, e.street, e.problem, e.action,
        ],
        {
            "call_number": ("CALL #",), "reported_at": ("DATE IN", "TIME IN"), "completed_at": ("DATE OUT",
            "TIME OUT"),
            "address_text": ("ST NO", "STREET"), "problem_text": ("TROUBLE",), "action_text": ("REMEDY",),
        },
    ),
    MadeExport(
        "property management",
        ["Request ID", "Submitted On", "Target Completion", "Property", "Category", "Priority", "Issue",
        "Vendor Notes",
         "Date Finished", "Vendor Invoice", "Tenant", "Contact Phone"],
        lambda e: [
            e.n + 1, f"{e.at:%d-%b-%Y}", f"{e.at + timedelta(days=7):%d-%b-%Y}", e.site, ("Exterior Lighting",
            "HVAC")[e.n % 2],
            "High", e.problem, e.action, f"{e.done:%d-%b-%Y}" if e.done else "", f"{e.cost:.2f}", e.person,
            f"415-555-{e.n:04}",
        ],
        {
            "call_number": ("Request ID",), "reported_at": ("Submitted On",), "completed_at": ("Date Finished",),
            "site_text": ("Property",), "category_text": ("Category",), "problem_text": ("Issue",),
            "action_text": ("Vendor Notes",), "contract_cost": ("Vendor Invoice",),
        },
        ("Tenant", "Contact Phone"),
    ),
)  # fmt: skip
