"""What must hold between the rows of registers: names that exist, chains that end, days in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from pipeline.numerals import count_text
from pipeline.register_chains import loops
from pipeline.register_columns import NEEDED
from pipeline.register_files import Register
from pipeline.register_settings import unknown_accounts, unknown_sites
from pipeline.settings import Settings

_LINKS = (
    ("sites", "account_id", "accounts"),
    ("controls", "site_id", "sites"),
    ("controls", "switched_by", "controls"),
    ("fixtures", "control_id", "controls"),
    ("fixtures", "account_id", "accounts"),
)


def check_references(registers: Mapping[str, Register], settings: Settings) -> None:
    """An id named by another register must exist there, once that register exists at all.

    In the CSVs it is a fault; in a row of an inventory the cell is left empty, and told.
    """
    unknown: defaultdict[tuple[str, str, str, str], list[dict[str, Any]]] = defaultdict(list)
    for name, column, target in _LINKS:
        known = registers[target].ids()
        for row in registers[name].rows if known else ():
            if row[column] and row[column] not in known:
                _unknown(registers[name], row, column, f"{target}.csv", "Add it there.", unknown)
    registers["sites"].faults += unknown_sites(settings, registers["sites"].ids())
    registers["accounts"].faults += unknown_accounts(settings, registers["accounts"].ids())
    for row in registers["accounts"].rows:
        if row["tariff"] and row["tariff"] not in settings.tariffs:
            remedy = f"Add [tariffs.{row['tariff']}] to portfolio.toml."
            _unknown(registers["accounts"], row, "tariff", "portfolio.toml", remedy, unknown)
    for (name, file_name, column, target), rows in unknown.items():
        message = (
            f"column {column}: {count_text(len(rows))} cells name what is not in {target} (such as "
            f"'{rows[0][column]}' in row {count_text(rows[0]['row_number'])}); left empty."
        )
        registers[name].notices.append((file_name, message))
        for row in rows:
            row[column] = None


def _unknown(
    register: Register,
    row: dict[str, Any],
    column: str,
    target: str,
    remedy: str,
    unknown: defaultdict[tuple[str, str, str, str], list[dict[str, Any]]],
) -> None:
    file_name = row.get("file_name")
    # What no row can do without is no matter of one cell.
    if file_name and column not in NEEDED[register.name]:
        unknown[register.name, file_name, column, target].append(row)
    else:
        what = "a tariff of portfolio.toml" if column == "tariff" else f"in {target}"
        register.fault(row, column, f"'{row[column]}' is not {what}.", remedy)


def check_chains(controls: Register) -> None:
    """A chain of ``switched_by`` must end; one that begins in an inventory is cut there, and told."""
    rows = {row["control_id"]: row for row in controls.rows if row["control_id"]}
    for loop in loops({control_id: row["switched_by"] for control_id, row in rows.items()}):
        problem = f"the chain {' > '.join([*loop, loop[0]])} comes back to where it began"
        row, file_name = rows[loop[0]], rows[loop[0]].get("file_name")
        if file_name:
            row["switched_by"] = None
            where = f"{file_name}, row {count_text(row['row_number'])}, column switched_by"
            controls.notices.append((where, f"{problem}; left empty there."))
        else:
            remedy = "Leave it empty at the device that carries the lamps' current."
            controls.fault(row, "switched_by", f"{problem}.", remedy)


def check_dates(register: Register) -> None:
    """Nothing is removed before it was installed."""
    for row in register.rows:
        if row["installed_on"] and row["removed_on"] and row["removed_on"] < row["installed_on"]:
            problem = f"{row['removed_on']} is before installed_on {row['installed_on']}."
            register.fault(row, "removed_on", problem, "Correct one of them.")
