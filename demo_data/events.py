"""What happens: lives of controls, incidents, and the calls that tell of them."""

from __future__ import annotations

from dataclasses import dataclass, field

from demo_data.world import Place, Site


@dataclass
class Life:
    """One control's stay at a place, from its installation to its end there."""

    place: Place
    member: int
    order: int
    model: str
    installed_day: float
    entry_day: float  # known to be good on this day, when its log begins
    end_day: float = 0.0
    reason: str = "in service"
    removed_day: float | None = None
    tag: str = ""


@dataclass
class Visit:
    """A crew's visit: when the work was done, when the order was closed, whether it cured the fault."""

    done: float
    closed: float
    cured: bool
    action: str


@dataclass
class Course:
    """How an incident was reported and repaired. Days of the log."""

    reports: list[float]
    repeats: list[float]
    visits: list[Visit]

    @property
    def restored(self) -> float:
        """When the light worked again."""
        return self.visits[-1].done


@dataclass
class Incident:
    """One fault at one place, truly."""

    site: Site
    place: Place | None
    member: int
    symptom: str
    component: str
    cause: str
    action: str
    onset: float
    course: Course | None = None
    life: Life | None = None
    control_failed: bool = False
    mode: str = ""
    restored: float | None = None
    text_quality: str = "clear"
    changes_control: bool = False
    changed_with_lamp: bool = False
    on_night_walk: bool = False
    incident_id: str = ""


@dataclass
class Call:
    """One work order in its final state, before an export writes it down."""

    number: str
    site: Site | None
    reported: float
    done: float | None
    closed: float | None
    status: str
    work_type: str
    problem: str
    action_text: str
    symptom: str = ""
    component: str = ""
    action: str = ""
    cause: str = ""
    control_failed: bool = False
    exterior_lighting: bool = True
    trade: str = "ELECTRICAL"
    category: str = ""
    site_text: str = ""
    tag_text: str = ""
    place_text: str = ""
    life: Life | None = None
    incidents: list[Incident] = field(default_factory=list)
    duplicate_of: Call | None = None
    hours: float = 0.0
    labour: float = 0.0
    parts: float = 0.0
    contract: float = 0.0
    requester: int = 0
    technician: int = 0
    oddity: str = ""
