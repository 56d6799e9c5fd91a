"""Layouts of registers: how an inventory's columns become those of sites, accounts, controls or fixtures.

Saved as TOML beside the layouts of exports, told from them by the line ``register``, recognised by the header.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

import tomli_w
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pipeline.faults import Fault, InputFaults
from pipeline.ingest.date_forms import DateOrder
from pipeline.ingest.layouts import Columns, Name
from pipeline.ingest.numbers import Decimal
from pipeline.pages import read_toml
from pipeline.portfolio import REGISTERS, Portfolio
from pipeline.register_columns import KEYS

RegisterName = Literal["sites", "accounts", "controls", "fixtures"]
DAYS = ("installed_on", "removed_on", "purchased_on", "as_of", "observed_from", "observed_to")
NUMBERS = (
    "latitude", "longitude", "rated_inrush_a", "rated_load_a", "voltage", "quantity", "warranty_years",
    "operations_per_year", "luminaires", "watts_each", "drivers", "inrush_peak_a_each", "inrush_width_us_each",
    "rated_life_h", "replacement_cost",
)  # fmt: skip


@dataclass(frozen=True)
class RegisterWords:
    """Names of columns and of their values by register and column: the data of register_synonyms.toml."""

    names: dict[str, dict[str, tuple[str, ...]]]
    never: dict[str, tuple[str, ...]]
    values: dict[str, dict[str, str]]


@cache
def register_words() -> RegisterWords:
    """The words that ship with the package."""
    text = files("pipeline.ingest").joinpath("register_synonyms.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    return RegisterWords(
        names={name: {column: tuple(words) for column, words in content[name].items()} for name in REGISTERS},
        never={column: tuple(words) for column, words in content["never"].items()},
        values={
            column: {word: meaning for meaning, words in meanings.items() for word in words}
            for column, meanings in content["values"].items()
        },
    )


class RegisterLayout(BaseModel):
    """One inventory's reading. ``fixed``: columns of ours with one value for every row.

    ``decimals``: our columns whose sign is another than ``decimal``.
    ``withheld``: columns of people, never kept, whose names are masked in every other cell of the file.
    ``derive_controls``: a fixture's control that no register knows is made a control of unknown kind and age.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    format: Literal[1] = 1
    name: Name
    table: RegisterName = Field(alias="register")
    header: tuple[str, ...] = Field(min_length=1)
    date_order: DateOrder | None = None
    decimal: Decimal = "point"
    decimals: dict[str, Decimal] = Field(default_factory=dict)
    withheld: tuple[str, ...] = ()
    derive_controls: bool = False
    columns: dict[str, Columns]
    fixed: dict[str, str] = Field(default_factory=dict)
    values: dict[str, dict[str, str]] = Field(default_factory=dict)

    def unused(self) -> tuple[str, ...]:
        """Columns that the layout neither uses nor withholds."""
        used = {column for columns in self.columns.values() for column in columns} | set(self.withheld)
        return tuple(column for column in self.header if column not in used)

    def decimal_of(self, ours: str) -> Decimal:
        """The decimal sign of one of our columns of numbers."""
        return self.decimals.get(ours, self.decimal)

    def faults(self, where: str) -> list[Fault]:
        """Everything that contradicts itself or is missing, at once."""
        known = known_columns(self.table)
        found = [
            Fault(
                f"{where}, {column}",
                f"is not a column of {self.table}.csv.",
                f"Columns are: {', '.join(known)}.",
            )
            for column in (*self.columns, *self.fixed, *self.decimals)
            if column not in known
        ]
        found += [
            Fault(
                f"{where}, columns.{ours}",
                f"'{theirs}' is not in the header.",
                "Copy the name from `header`.",
            )
            for ours, columns in self.columns.items()
            for theirs in columns
            if theirs not in self.header
        ]
        found += [
            Fault(f"{where}, withheld", f"'{theirs}' is not in the header.", "Copy the name from `header`.")
            for theirs in self.withheld
            if theirs not in self.header
        ]
        found += [
            Fault(
                f"{where}, columns.{ours}",
                f"'{theirs}' is withheld, so nothing can be read from it.",
                "Take it out of `withheld` or out of [columns].",
            )
            for ours, columns in self.columns.items()
            for theirs in columns
            if theirs in self.withheld
        ]
        for key in needed(self.table):
            if key not in self.columns and key not in self.fixed:
                found.append(Fault(where, f"nothing gives {key}.", f"Set {key} under [columns]."))
        return found


def known_columns(register: str) -> tuple[str, ...]:
    """Our columns of a register; fixtures may also say the site of the controls that are derived from them."""
    own = tuple(register_words().names[register])
    return (*own, "site_id") if register == "fixtures" else own


def needed(register: str) -> tuple[str, ...]:
    """Columns without which a row of the register is nothing."""
    return (KEYS[register], "control_id", "luminaires") if register == "fixtures" else (KEYS[register],)


def is_register_layout(content: Mapping[str, object]) -> bool:
    """Whether a layout file's content is a register's, not an export's."""
    return "register" in content


def read_register_layouts(portfolio: Portfolio) -> dict[tuple[str, ...], RegisterLayout]:
    """Every saved register layout by its header; raises InputFaults with all faults of all of them."""
    layouts: dict[tuple[str, ...], RegisterLayout] = {}
    faults: list[Fault] = []
    for path in sorted(portfolio.layouts.glob("*.toml")) if portfolio.layouts.is_dir() else []:
        where = f"layouts/{path.name}"
        try:
            content = read_toml(path)
        except (OSError, InputFaults):
            continue  # told with the layouts of exports, which are read from the same folder
        if not is_register_layout(content):
            continue
        try:
            layout = RegisterLayout.model_validate(content)
        except ValidationError as error:
            faults += _faults(where, error)
            continue
        faults += layout.faults(where)
        layouts[layout.header] = layout
    if faults:
        raise InputFaults(faults)
    return layouts


def _faults(where: str, error: ValidationError) -> Iterable[Fault]:
    for item in error.errors():
        place = ".".join(str(part) for part in item["loc"])
        yield Fault(
            f"{where}, {place}", f"{item['msg']}.", "docs/layouts.md shows a whole layout of a register."
        )


def write_register_layout(portfolio: Portfolio, layout: RegisterLayout) -> str:
    """Save a layout in layouts/ and give its path inside the portfolio; raises InputFaults for one that contradicts
    itself."""
    where = f"layouts/{layout.name}.toml"
    faults = layout.faults(where)
    if faults:
        raise InputFaults(faults)
    portfolio.layouts.mkdir(parents=True, exist_ok=True)
    content = layout.model_dump(mode="json", exclude_none=True, by_alias=True)
    content["columns"] = {
        ours: theirs[0] if len(theirs) == 1 else theirs for ours, theirs in content["columns"].items()
    }
    text = _HEAD + tomli_w.dumps(
        {key: value for key, value in content.items() if value not in ({}, [], False)}
    )
    path = portfolio.folder / where
    partial = path.with_suffix(".partial")
    partial.write_text(text, encoding="utf-8", newline="\n")
    partial.replace(path)
    return where


_HEAD = """\
# How the columns of one kind of inventory are read. docs/layouts.md explains every line.
# Recognised by `header`, exactly: do not change that. Left of = in [columns]: our column; right: theirs.
"""
