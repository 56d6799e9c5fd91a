"""What a call is read from: our fields, what kind of value each holds, and how several columns join."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["key", "time", "label", "text", "coordinate", "hours", "money", "choice"]

# How a field is said to a person, by kind: see docs/layouts.md.
JOINTS: dict[Kind, str] = {"time": " ", "label": ", ", "text": " | ", "key": "-", "choice": " "}


@dataclass(frozen=True)
class Field:
    """One of our fields. ``joint`` stands between the columns when several make one field."""

    name: str
    kind: Kind
    meaning: str

    @property
    def joint(self) -> str:
        """Text between the parts of a field that is made of several columns."""
        return " | " if self.name == "category_text" else JOINTS.get(self.kind, " ")


FIELDS: dict[str, Field] = {
    field.name: field
    for field in (
        Field("call_number", "key", "the system's own number of the call"),
        Field("reported_at", "time", "when it was reported"),
        Field("completed_at", "time", "when the work was completed or the call closed"),
        Field("status", "choice", "open, completed or cancelled, in the system's words"),
        Field("work_type", "choice", "reactive, planned, inspection or project, in the system's words"),
        Field("site_text", "label", "the site or building"),
        Field("asset_text", "label", "the asset tag"),
        Field("address_text", "label", "the address or place"),
        Field("latitude", "coordinate", "degrees north"),
        Field("longitude", "coordinate", "degrees east"),
        Field("problem_text", "text", "what was reported"),
        Field("action_text", "text", "what was done"),
        Field("category_text", "label", "the system's own categories"),
        Field("labour_hours", "hours", "hours booked"),
        Field("labour_cost", "money", "cost of labour"),
        Field("material_cost", "money", "cost of material"),
        Field("contract_cost", "money", "contractor's invoice"),
        Field("parent_number", "key", "the system's number of the call that this one is filed under"),
    )
}
CHOICES: dict[str, tuple[str, ...]] = {
    "status": ("open", "completed", "cancelled", "unknown"),
    "work_type": ("reactive", "planned", "inspection", "project"),
}
NUMBERS: tuple[str, ...] = tuple(
    field.name for field in FIELDS.values() if field.kind in ("hours", "money", "coordinate")
)
