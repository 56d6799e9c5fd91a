"""Rows of laid-out inventories added to the registers: what cannot be used is left out with its reason, and told."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.ingest.known import key_of
from pipeline.ingest.register_layouts import needed
from pipeline.ingest.register_rows import Inventory, LaidOutRow, remarks_on
from pipeline.numerals import count_text
from pipeline.register_columns import KEYS, shown

Row = dict[str, Any]
# Reads a cell of a register's column; raises ValueError with what is wrong with it.
ReadCell = Callable[[str, str, str], Any]
ONE_SITE = "portfolio"


@dataclass(frozen=True)
class LeftOut:
    """A row of an inventory that could not be used, and why. ``raw``: the cells that the layout uses, as JSON."""

    register: str
    file_name: str
    row_number: int
    reason: str
    raw: str


@dataclass
class Added:
    """What inventories give: rows by register, rows left out, and (place, message) to tell."""

    rows: dict[str, list[Row]] = field(default_factory=lambda: defaultdict(list))
    left_out: list[LeftOut] = field(default_factory=list)
    notices: list[tuple[str, str]] = field(default_factory=list)


class Adder:
    """Adds inventories one register after another, sites first: later ones name what earlier ones hold."""

    def __init__(
        self, own: Mapping[str, list[Row]], columns: Mapping[str, Iterable[str]], read: ReadCell
    ) -> None:
        self._rows = {name: list(rows) for name, rows in own.items()}
        self._columns, self._read = columns, read
        self.added = Added()

    def add(self, inventories: Iterable[Inventory]) -> Added:
        """Everything that the inventories give."""
        order = list(KEYS)
        for inventory in sorted(inventories, key=lambda one: order.index(one.layout.table)):
            self._add(inventory)
        return self.added

    def _add(self, inventory: Inventory) -> None:
        table = inventory.layout.table
        seen = {row[KEYS[table]]: row["row_number"] for row in self._rows[table]}
        self.added.notices += [(inventory.file_name, remark) for remark in remarks_on(inventory)]
        out_of_bounds: dict[str, list[tuple[LaidOutRow, str]]] = defaultdict(list)
        kept: list[tuple[Row, LaidOutRow]] = []
        for laid_out in inventory.rows:
            row = self._row(inventory, laid_out, out_of_bounds)
            reason = self._unusable(inventory, row, laid_out, seen)
            if reason:
                self.added.left_out.append(_left_out(inventory, laid_out, reason))
                continue
            seen[row[KEYS[table]]] = laid_out.row_number
            kept.append((row, laid_out))
            self._keep(table, row)
        self._tell_bounds(inventory, out_of_bounds)
        if inventory.layout.derive_controls:
            self._derive_controls(inventory, kept)
        self._add_one_site(inventory)
        left = [one for one in self.added.left_out if one.file_name == inventory.file_name]
        if left:
            share = f"{count_text(len(left))} of {count_text(len(inventory.rows))} rows"
            example = f"row {count_text(left[0].row_number)}: {left[0].reason}"
            message = f"{share} cannot be used, such as {example}. Each is kept with its reason."
            self.added.notices.append((inventory.file_name, message))

    def _add_one_site(self, inventory: Inventory) -> None:
        """The site of controls that none is told for, where there are several: a row of its own, and said."""
        sites = {site["site_id"] for site in self._rows["sites"]}
        there = [row for row in self._rows["controls"] if row["site_id"] == ONE_SITE]
        if not sites or ONE_SITE in sites or not there:
            return
        self._keep(
            "sites",
            dict.fromkeys(self._columns["sites"])
            | {"site_id": ONE_SITE, "row_number": there[0]["row_number"], "file_name": inventory.file_name},
        )
        message = (
            f"nothing tells at which of the sites {count_text(len(there))} controls stand: they are put to one called "
            f"'{ONE_SITE}'. Name the column of sites with `--column site_id='THEIR COLUMN'`."
        )
        self.added.notices.append((inventory.file_name, message))

    def _keep(self, table: str, row: Row) -> None:
        self._rows[table].append(row)
        self.added.rows[table].append(row)

    def _row(
        self,
        inventory: Inventory,
        laid_out: LaidOutRow,
        out_of_bounds: dict[str, list[tuple[LaidOutRow, str]]],
    ) -> Row:
        table = inventory.layout.table
        row: Row = dict.fromkeys(self._columns[table]) | {
            "row_number": laid_out.row_number, "file_name": inventory.file_name,
        }  # fmt: skip
        for ours, text in laid_out.cells.items():
            if ours not in self._columns[table]:
                continue
            try:
                row[ours] = self._read(table, ours, text)
            except ValueError as error:
                out_of_bounds[ours].append((laid_out, f"{shown(text)} {error}"))
        if table == "controls":
            row["site_id"] = self._site(laid_out.cells.get("site_id"))
        return row

    def _site(self, said: str | None) -> str | None:
        """The site's id for its id, name or alias; where nothing is said, the only site there is."""
        sites = self._rows["sites"]
        if said is None:
            return sites[0]["site_id"] if len(sites) == 1 else ONE_SITE
        for site in sites:
            names = (site["site_id"], site["name"], *(site["aliases"] or ()))
            if key_of(said) in {key_of(name) for name in names if name}:
                return str(site["site_id"])
        return None if sites else said

    def _unusable(
        self, inventory: Inventory, row: Row, laid_out: LaidOutRow, seen: Mapping[str, int]
    ) -> str | None:
        """Why a row cannot be used, or None."""
        table, columns = inventory.layout.table, inventory.layout.columns
        for ours in needed(table):
            if row[ours] is None:
                theirs = " + ".join(columns.get(ours, ()))
                return f"no {ours}: column {theirs} is empty" if theirs else f"no {ours}"
        key = row[KEYS[table]]
        if key in seen:
            return f"{KEYS[table]} '{key}' already stands in row {seen[key]}"
        if table == "controls" and row["site_id"] is None:
            return f"site '{laid_out.cells.get('site_id')}' is not in sites.csv"
        if row.get("removed_on") and row.get("installed_on") and row["removed_on"] < row["installed_on"]:
            return f"removed_on {row['removed_on']} is before installed_on {row['installed_on']}"
        if (
            table == "fixtures"
            and not inventory.layout.derive_controls
            and not self._is_control(row["control_id"])
        ):
            return f"control '{row['control_id']}' is in no register of controls"
        return None

    def _is_control(self, control_id: str) -> bool:
        return any(row["control_id"] == control_id for row in self._rows["controls"])

    def _derive_controls(self, inventory: Inventory, kept: list[tuple[Row, LaidOutRow]]) -> None:
        """A control of unknown kind and age for each id that fixtures name and no register knows."""
        known = {row["control_id"] for row in self._rows["controls"]}
        derived = 0
        for row, laid_out in kept:
            control_id = row["control_id"]
            if control_id in known:
                continue
            known.add(control_id)
            derived += 1
            control = dict.fromkeys(self._columns["controls"]) | {
                "control_id": control_id, "site_id": self._site(laid_out.cells.get("site_id")) or ONE_SITE,
                "quantity": 1, "row_number": laid_out.row_number, "file_name": inventory.file_name,
            }  # fmt: skip
            self._keep("controls", control)
        if derived:
            column = " + ".join(inventory.layout.columns["control_id"])
            message = (
                f"{count_text(derived)} controls are derived from column {column}: their kind and age are unknown. "
                "Give controls of their own with kind and installed_on to have rates by kind, and lives."
            )
            self.added.notices.append((inventory.file_name, message))

    def _tell_bounds(self, inventory: Inventory, found: Mapping[str, list[tuple[LaidOutRow, str]]]) -> None:
        for ours, odd in found.items():
            row, problem = odd[0]
            column = f"column {' + '.join(inventory.layout.columns.get(ours, (ours,)))} ({ours})"
            message = (
                f"{column}: {count_text(len(odd))} cells are left empty; in row {row.row_number} {problem}."
            )
            self.added.notices.append((inventory.file_name, message))


def _left_out(inventory: Inventory, row: LaidOutRow, reason: str) -> LeftOut:
    used = {column for columns in inventory.layout.columns.values() for column in columns}
    raw = {column: cell for column, cell in row.raw.items() if column in used}
    text = json.dumps(raw, ensure_ascii=False)
    return LeftOut(inventory.layout.table, inventory.file_name, row.row_number, reason, text)
