"""What the arguments and options of the commands may say."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipeline.faults import InputFaults

Folder = Annotated[Path, typer.Argument(metavar="DIR", help="The portfolio folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for a script instead of text.")]


class Reader(StrEnum):
    """Who a report is for: whose question comes first."""

    director = "director"
    sustainability = "sustainability"
    contractor = "contractor"


class DateOrder(StrEnum):
    """How a column of dates such as 03/04/2024 is to be read."""

    month_first = "MDY"
    day_first = "DMY"


class RegisterTable(StrEnum):
    """What an inventory lists."""

    controls = "controls"
    fixtures = "fixtures"
    accounts = "accounts"
    sites = "sites"


Export = Annotated[
    Path, typer.Argument(metavar="FILE", help="A work-order export: text table, workbook or JSON.")
]
AcceptLayout = Annotated[
    bool, typer.Option("--accept", help="Save the proposal and put FILE into calls/ (or registers/).")
]
AsRegister = Annotated[
    RegisterTable | None,
    typer.Option("--as", help="Read FILE as an inventory of controls, fixtures, accounts or sites."),
]
DatesRead = Annotated[
    DateOrder | None,
    typer.Option("--date-order", help="How dates are written, where the file itself leaves it open."),
]
Columns = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="FIELD=COLUMN",
        help="Say which of their columns is one of our fields; may be repeated.",
    ),
]
Source = Annotated[
    str | None,
    typer.Option(
        "--source", help="Name of the work-order system, where two kinds of export share its call numbers."
    ),
]


def named_columns(given: list[str]) -> dict[str, list[str]]:
    """``FIELD=COLUMN`` options by field; a field named twice is made of both columns, in that order."""
    columns: dict[str, list[str]] = {}
    for text in given:
        name, equals, theirs = text.partition("=")
        if not (equals and name.strip() and theirs.strip()):
            raise InputFaults.one(
                "--column", f"'{text}' is not FIELD=COLUMN.", "Example: --column reported_at='Date In'."
            )
        columns.setdefault(name.strip(), []).append(theirs.strip())
    return columns
