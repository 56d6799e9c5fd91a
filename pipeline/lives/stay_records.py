"""What is known of a place, and what comes of it: register rows, replacements and the log's window; stays."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class RegisterRow:
    """What the register says of one control, or of a batch of like ones."""

    control_id: str
    quantity: int
    installed_on: date | None
    removed_on: date | None = None
    removal_reason: str | None = None
    as_of: date | None = None


@dataclass(frozen=True)
class Replacement:
    """A finding that ended, or may have ended, a control's life at a place, as the log tells it.

    ``failed`` False: a competing end (``end_reason``) where the control was ``changed``, else no end as read.
    ``worked_on``: the last day on which it is known to have worked; None where ``failed_on`` is exact.
    ``probability``: that the control failed; ``rule``: of the verdict that says so, None where a person did.
    """

    incident_id: str
    reported_on: date
    failed_on: date
    restored_on: date | None
    failed: bool
    end_reason: str
    units: int = 1
    worked_on: date | None = None
    probability: float = 1.0
    changed: bool = True
    rule: str | None = None

    @property
    def ends_life(self) -> bool:
        """Whether a life ended here, as the verdict stands."""
        return self.failed or self.changed


@dataclass(frozen=True)
class Window:
    """When the site's log was kept, both days included."""

    first: date
    last: date


@dataclass(frozen=True)
class Stay:
    """One stretch at a place: ``entered_on`` to ``ended_on`` under observation, of a control begun ``started_on``.

    ``excluded_reason`` empty: it enters the age analyses; otherwise it counts as time at risk in rates only.
    A failure happened after ``failed_after`` and by ``failed_by``; both empty where its day is taken as exact.
    """

    control_id: str
    register_case: str
    started_on: date | None
    entered_on: date
    ended_on: date
    failed: bool
    end_reason: str
    quantity: int = 1
    incident_id: str | None = None
    excluded_reason: str | None = None
    failed_after: date | None = None
    failed_by: date | None = None
    succession: int = 1
    imputed: bool = False
