"""A column layout: how the columns of one kind of export map to our fields. Saved as TOML, recognised by its header."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Annotated, Any, Literal

import tomli_w
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.date_forms import DateOrder
from pipeline.ingest.fields import CHOICES, FIELDS, NUMBERS
from pipeline.ingest.numbers import Decimal
from pipeline.pages import read_toml
from pipeline.portfolio import Portfolio


def _as_list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


Columns = Annotated[tuple[str, ...], BeforeValidator(_as_list), Field(min_length=1, max_length=8)]
Source = Annotated[str, Field(min_length=1, max_length=60)]
Name = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,60}$")]


class Layout(BaseModel):
    """One header's reading. ``withheld`` columns are never loaded; ``technicians`` are those of them that name crew.

    ``decimals``: fields whose column has another sign than ``decimal``. ``sources``: by a pattern of the file's name
    (``calls/south/*``), the system it comes from where that is not ``source``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    format: Literal[1] = 1
    name: Name
    source: Source
    header: Annotated[tuple[str, ...], Field(min_length=2)]
    date_order: DateOrder | None = None
    decimal: Decimal = "point"
    decimals: dict[str, Decimal] = Field(default_factory=dict)
    withheld: tuple[str, ...] = ()
    technicians: tuple[str, ...] = ()
    columns: dict[str, Columns]
    sources: dict[str, Source] = Field(default_factory=dict)
    values: dict[str, dict[str, str]] = Field(default_factory=dict)

    def unused(self) -> tuple[str, ...]:
        """Columns that the layout neither uses nor withholds."""
        used = {column for columns in self.columns.values() for column in columns} | set(self.withheld)
        return tuple(column for column in self.header if column not in used)

    def source_of(self, file_name: str) -> str:
        """The work-order system that a file comes from."""
        found = (source for pattern, source in self.sources.items() if fnmatchcase(file_name, pattern))
        return next(found, self.source)

    def decimal_of(self, field: str) -> Decimal:
        """The decimal sign of a field's column."""
        return self.decimals.get(field, self.decimal)

    def places(self, field: str) -> list[int]:
        """Places of a field's columns in the header, counted from 1; empty when the field is not mapped."""
        return [self.header.index(column) + 1 for column in self.columns.get(field, ())]

    def call_columns(self) -> list[int]:
        """Places, counted from 0, of the columns that say what a call is: all used ones but amounts, and people's."""
        amounts = [field for field in self.columns if FIELDS[field].kind in ("hours", "money")]
        used = {place - 1 for field in self.columns if field not in amounts for place in self.places(field)}
        return sorted(used | {self.header.index(column) for column in self.withheld})

    def faults(self, where: str) -> list[Fault]:
        """Everything that contradicts itself or is missing, at once."""
        found = [
            Fault(f"{where}, {what}", problem, remedy) for what, problem, remedy in self._contradictions()
        ]
        found += [
            Fault(
                f"{where}, decimals.{field}", "is no number of a call.", f"Numbers are: {', '.join(NUMBERS)}."
            )
            for field in self.decimals
            if field not in NUMBERS
        ]
        if "reported_at" not in self.columns:
            found.append(Fault(where, "no column gives the report date.", "Set reported_at under [columns]."))
        if not {"call_number", "problem_text"} & set(self.columns):
            found.append(
                Fault(
                    where,
                    "has neither a call number nor a text.",
                    "Set call_number or problem_text under [columns].",
                )
            )
        return found

    def _contradictions(self) -> Iterable[tuple[str, str, str]]:
        for field, columns in self.columns.items():
            if field not in FIELDS:
                yield f"columns.{field}", "is not a field of a call.", f"Fields are: {', '.join(FIELDS)}."
            for column in columns:
                if column not in self.header:
                    yield (
                        f"columns.{field}",
                        f"'{column}' is not in the header.",
                        "Copy the name from `header`.",
                    )
                elif column in self.withheld:
                    yield f"columns.{field}", f"'{column}' is withheld as well.", "Keep it in one of the two."
        for column in (*self.withheld, *self.technicians):
            if column not in self.header:
                yield "withheld", f"'{column}' is not in the header.", "Copy the name from `header`."
        for field, meanings in self.values.items():
            allowed = CHOICES.get(field, ())
            for value, meaning in meanings.items():
                if meaning not in allowed:
                    said = f"'{value}' is given the meaning '{meaning}'."
                    yield (
                        f"values.{field}",
                        said,
                        f"Meanings are: {', '.join(allowed) or 'none for this field'}.",
                    )


def read_layouts(portfolio: Portfolio) -> dict[tuple[str, ...], Layout]:
    """Every saved layout by its header; raises InputFaults with all faults of all layout files."""
    faults: list[Fault] = []
    layouts: dict[tuple[str, ...], Layout] = {}
    for path in sorted(portfolio.layouts.glob("*.toml")) if portfolio.layouts.is_dir() else []:
        try:
            if _is_of_a_register(path):
                continue
            layout = read_layout(path)
        except InputFaults as error:
            faults += error.faults
            continue
        if layout.header in layouts:
            twin = layouts[layout.header].name
            faults.append(
                Fault(f"layouts/{path.name}", f"has the same header as '{twin}'.", "Delete one of them.")
            )
        layouts[layout.header] = layout
    if faults:
        raise InputFaults(faults)
    return layouts


def _is_of_a_register(path: Path) -> bool:
    """Whether a layout file speaks of a register; one that cannot be read is told as a layout."""
    try:
        return "register" in read_toml(path)
    except (OSError, InputFaults):
        return False


def read_layout(path: Path) -> Layout:
    """One layout file; raises InputFaults with every fault in it."""
    where = f"layouts/{path.name}"
    try:
        layout = Layout.model_validate(read_toml(path, where))
    except ValidationError as error:
        raise InputFaults(_fault(where, item) for item in error.errors()) from error
    faults = layout.faults(where)
    if faults:
        raise InputFaults(faults)
    return layout


def _fault(where: str, item: Any) -> Fault:
    """One pydantic error as a sentence."""
    place = f"{where}, {'.'.join(str(part) for part in item['loc'])}"
    if item["type"] == "extra_forbidden":
        return Fault(
            place, "is not a setting of a layout.", "Remove it; docs/layouts.md lists what there is."
        )
    if item["type"] == "missing":
        return Fault(place, "is missing.", "Add it; docs/layouts.md shows a whole layout.")
    return Fault(place, f"{item['msg']} (found {item['input']!r}).")


def layout_text(layout: Layout) -> str:
    """A layout as TOML text."""
    content = layout.model_dump(mode="json", exclude_none=True)
    content["columns"] = {
        field: names[0] if len(names) == 1 else names for field, names in content["columns"].items()
    }
    return _HEAD + tomli_w.dumps({key: value for key, value in content.items() if value or key == "columns"})


_HEAD = """\
# How the columns of one kind of export are read. docs/layouts.md explains every line.
# Recognised by `header`, exactly: do not change that. Left of = in [columns]: our field; right: their columns.
"""


def write_layout(portfolio: Portfolio, layout: Layout) -> Path:
    """Save a layout in the portfolio; raises InputFaults when it contradicts itself. Same header: replaced."""
    faults = layout.faults(f"layouts/{layout.name}.toml")
    if faults:
        raise InputFaults(faults)
    portfolio.layouts.mkdir(parents=True, exist_ok=True)
    path = portfolio.layouts / f"{layout.name}.toml"
    partial = path.with_suffix(".partial")
    partial.write_text(layout_text(layout), encoding="utf-8", newline="\n")
    partial.replace(path)
    return path


def free_name(wanted: str, layouts: Iterable[Layout], header: Sequence[str]) -> str:
    """A layout name and source: the one already saved for this header, else ``wanted`` or ``wanted-2`` …"""
    taken: set[str] = set()
    for layout in layouts:
        if layout.header == tuple(header):
            return layout.name
        taken |= {layout.name, layout.source}
    name, number = wanted, 2
    while name in taken:
        name, number = f"{wanted}-{number}", number + 1
    return name


def name_from(file_name: str) -> str:
    """A layout's name from a file's: lower case, without dates and running numbers."""
    words = re.findall(r"[a-z]+", Path(file_name).stem.lower())
    kept = [
        word for word in words if word not in {"export", "h", "q", "fy", "final", "copy", "v", "to", "thru"}
    ]
    return "-".join(kept)[:50].strip("-") or "calls"
