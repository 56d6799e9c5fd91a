"""People planted in every column of calls, registers and meters, and looked for in everything that a build leaves."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
from once import made_once
from typer.testing import CliRunner

from pipeline import register_columns
from pipeline.build import build
from pipeline.cli import app
from pipeline.ingest import propose_layout, save_layout
from pipeline.ingest.register_layouts import RegisterLayout, write_register_layout
from pipeline.ingest.register_privacy import IDENTIFIERS
from pipeline.ingest.register_propose import propose_register
from pipeline.portfolio import Portfolio

from .making import SETTINGS, write_csv

PERSON, PHONE, EMAIL = "Quendle, Tarka", "(415) 555-0143", "t.quendle@school.example.org"
# Beside a number, after a cue, alone in the row of its own, behind a line break.
TEXT = f"Contact Tarka Quendle at {PHONE} or {EMAIL}"
PLANTED = ("quendle", "tarka", "555-0143", "school.example.org")
CALLS = [
    ["WO", "Reported", "Completed", "Status", "Type", "Building", "Asset", "Address", "Category", "Problem", "Action",
     "Labor Hours", "Labor Cost", "Remarks", "Requester", "Phone"],
    ["1", "2021-03-01 09:00", "2021-03-05 15:00", "Closed", "Repair", "North Yard", "PC-1", "1 Oak St", "Lighting",
     "Lot light on all day\nQuendle said so", "Replaced photocell\n415-555-0143", "1", "2", "", PERSON, PHONE],
    ["2", "2021-03-02 09:00", *[TEXT] * 12, PERSON, PHONE],  # every field but the date
    [TEXT, "2021-03-03 09:00", "", "Open", "Repair", "North Yard", "PC-2", "", "", "Pole light out", "", "", "", "",
     PERSON, PHONE],
    [TEXT] * 14 + [PERSON, PHONE],  # no date
    ["3", "", "", "", "", "", "", "", "", "line\nQuendle\n415-555-0143", "", "", "", "note\tTarka", PERSON, PHONE],
    ["4", "soon", *["x"] * 12, PERSON, PHONE, "Tarka Quendle", PHONE, EMAIL],  # more cells than the header
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A portfolio with a person in every column of all that it holds, built, with its report beside it."""
    return made_once(tmp_path_factory, "people", _with_people) / "yards"


def _with_people(base: Path) -> None:
    folder = base / "yards"
    for name in ("calls", "meters"):
        (folder / name).mkdir(parents=True)
    (folder / "portfolio.toml").write_text(SETTINGS, encoding="utf-8")
    write_csv(folder / "calls" / "orders.csv", CALLS)
    (folder / "meters" / "a.csv").write_text(
        f"account_id,interval_start,kwh\nA1,2021-03-01 00:00,1\nA1,{TEXT},1\n{TEXT},2021-03-01 00:15,1\n"
        f"A1,2021-03-01 00:30,{TEXT}\nA1,2021-03-01 00:45,1\n",
        encoding="utf-8",
    )
    for register, key in (("sites", "S1"), ("accounts", "A1"), ("controls", "PC-1"), ("fixtures", "F1")):
        write_csv(folder / f"{register}.csv", _own_rows(register, key))
    portfolio = Portfolio.read(folder)
    save_layout(portfolio, propose_layout(folder / "calls" / "orders.csv", portfolio).layout)
    (folder / "registers").mkdir()
    for register in register_columns.COLUMNS:
        write_csv(folder / "registers" / f"more-{register}.csv", _inventory(register))
        write_register_layout(portfolio, _layout(register))
    build(folder)
    report = str(folder.parent / "report.html")
    done = CliRunner().invoke(app, ["report", str(folder), "--for", "director", "--out", report])
    assert done.exit_code == 0, done.output


def _own_rows(register: str, key: str) -> list[list[str]]:
    """A CSV of the portfolio's own: free text holds the person, the rest what must stand there."""
    free = ("name", "aliases", "position", "model", "mounting", "removal_reason", "lamp", "grid_region")
    columns = [
        *register_columns.NEEDED[register],
        *(c for c in free if c in register_columns.COLUMNS[register]),
    ]
    must = {"site_id": "S1", "control_id": "PC-1", "luminaires": "2"} | {register_columns.KEYS[register]: key}
    return [columns, [must.get(column, TEXT) for column in columns]]


def _inventory(register: str) -> list[list[str]]:
    """An inventory: good and bad rows, the person in all cells and in a column of its own, which masks the surname."""
    columns = list(register_columns.COLUMNS[register])
    key = register_columns.KEYS[register]
    # A name of something that must exist elsewhere would stop the build.
    empty = dict.fromkeys(("tariff", "switched_by"), "")
    good = {column: f"{column[0]}-9" for column in IDENTIFIERS} | {"luminaires": "2", "site_id": "S1"} | empty
    return [
        [*columns, "Installed by", "Phone"],
        [*(good.get(column, TEXT) for column in columns), PERSON, PHONE],
        [*(good.get(column, "by Quendle") for column in columns), PERSON, PHONE],
        [*(empty.get(column, TEXT) for column in columns), PERSON, PHONE],
        [*("" if column == key else empty.get(column, "as Quendle said") for column in columns), PERSON, ""],
    ]


def _layout(register: str) -> RegisterLayout:
    columns = tuple(register_columns.COLUMNS[register])
    return RegisterLayout(
        name=f"more-{register}",
        register=register,  # type: ignore[arg-type]
        header=(*columns, "Installed by", "Phone"),
        date_order="month first",
        withheld=("Installed by", "Phone"),
        columns={column: (column,) for column in columns},
    )


def _texts_of(path: Path) -> Iterator[tuple[str, str]]:
    """Every text of a stored file with where it stands: rows of tables as JSON, other files as they are."""
    if path.suffix == ".parquet":
        with duckdb.connect() as connection:
            rows = connection.execute(f"SELECT to_json(t)::VARCHAR FROM read_parquet('{path}') t").fetchall()
        yield from ((path.name, text) for (text,) in rows)
    elif path.suffix == ".duckdb":
        with duckdb.connect(str(path), read_only=True) as connection:
            for (table,) in connection.execute("SELECT table_name FROM duckdb_tables()").fetchall():
                rows = connection.execute(f'SELECT to_json(t)::VARCHAR FROM "{table}" t').fetchall()
                yield from ((table, text) for (text,) in rows)
    else:
        yield path.name, path.read_bytes().decode("utf-8", "replace")


def _stored(folder: Path) -> list[tuple[str, str]]:
    """Everything below a portfolio that is not what the person put there."""
    given = {folder / "calls", folder / "meters", folder / "registers"}
    paths = [path for path in folder.rglob("*") if path.is_file() and not given & set(path.parents)]
    paths = [path for path in paths if path.parent != folder]  # the four CSVs and the settings page
    paths.append(folder.parent / "report.html")
    return [found for path in paths for found in _texts_of(path)]


def test_nobody_is_in_anything_that_a_build_stores(folder: Path) -> None:
    stored = _stored(folder)
    left = [(place, text[:400]) for place, text in stored if any(one in text.lower() for one in PLANTED)]
    assert left == []
    places = {place for place, _ in stored}
    assert {
        "rejected_rows",
        "register_rows_left_out",
        "notices",
        "calls",
        "controls",
        "report.html",
    } <= places
    assert sum(place.endswith(".parquet") for place, _ in stored) > 3


def test_the_rest_of_those_texts_is_there(folder: Path) -> None:
    stored = _stored(folder)
    shown = {place: " ".join(text for found, text in stored if found == place) for place, _ in stored}
    masked = "Contact [name] at [phone] or [e-mail]"
    for table in (
        "calls",
        "rejected_rows",
        "register_rows_left_out",
        "controls",
        "sites",
        "fixtures",
        "notices",
    ):
        assert masked in shown[table], table
    assert "call number to check" in shown["calls"]
    assert "[withheld]" in shown["rejected_rows"]


def test_columns_of_people_are_withheld_in_an_inventory(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [
        ["Asset Tag", "Building", "Where", "Installed By", "Hotline", "Colour"],
        ["PC-1", "S1", "Quendle saw the pole", PERSON, PHONE, "grey"],
    ]
    proposal = propose_register(write_csv(tmp_path / "a.csv", rows), portfolio, "controls")
    assert proposal.draft.withheld == ("Installed By", "Hotline")
    assert proposal.draft.unused() == ("Colour",)
