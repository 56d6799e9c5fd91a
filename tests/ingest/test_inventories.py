"""Inventories as registers: proposed by names and values, saved by a person, read by every later build."""

from __future__ import annotations

import csv
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipeline import register_columns, registers
from pipeline.cli import app
from pipeline.faults import InputFaults
from pipeline.ingest import cells
from pipeline.ingest.register_layouts import DAYS, NUMBERS, register_words
from pipeline.ingest.register_propose import propose_register
from pipeline.intake_actions import accept
from pipeline.portfolio import REGISTERS, Portfolio
from pipeline.progress import Silent
from pipeline.store import Store

from .making import make_portfolio, write_csv, write_xlsx

CHAMPAIGN = Path(__file__).parents[2] / ".." / "shared" / "real" / "champaign_streetlights.csv"
LUMINAIRES = 4_556  # the file's own number of rows, as csv.reader counts them

CONTROLS = [
    ["Asset Tag", "Building", "Where", "Device Type", "Part Number", "Install Dt", "Retired", "Volts"],
    ["PC-1", "North yard", "pole 1", "Photocell", "X-1", "3/25/2015", "", "277V"],
    ["PC-2", "N. yard", "pole 2", "Photo Cell", "X-1", "4/2/2015", "5/1/2020", "120"],
    ["TC-1", "South yard", "cabinet", "Time Clock", "Y", "", "", ""],
    ["TC-2", "Nowhere", "cabinet", "Time Clock", "Y", "", "", ""],
    ["", "South yard", "door", "Photocell", "", "", "", ""],
    ["PC-1", "South yard", "door", "Gizmo", "", "", "", ""],
    ["PC-9", "South yard", "door", "Gizmo", "", "soon", "", "9999"],
]
SITES = "site_id,name,aliases\nN,North yard,N. yard\nS,South yard,\n"


def _accept(portfolio: Portfolio, path: Path, register: str, **given: object) -> None:
    accept(portfolio, path, propose_register(path, portfolio, register, **given))  # type: ignore[arg-type]


def _read(portfolio: Portfolio) -> Store:
    store = Store.create()
    registers.run(store, portfolio, Silent())
    return store


def test_every_column_of_the_registers_has_a_name_and_a_kind_of_value() -> None:
    for register in REGISTERS:
        own = register_columns.COLUMNS[register]
        assert set(register_words().names[register]) == set(own)
        days = {column for column, read in own.items() if read is register_columns.read_day}
        assert days == set(DAYS) & set(own)
        numbers = {
            column
            for column, read in own.items()
            if "number" in _complaint(read) or "amount" in _complaint(read)
        }
        assert numbers == set(NUMBERS) & set(own)


def _complaint(read: register_columns.Cell) -> str:
    try:
        read("no such value")
    except ValueError as error:
        return str(error)
    return ""


def test_an_inventory_of_controls_is_proposed_saved_and_read(portfolio: Portfolio, tmp_path: Path) -> None:
    (portfolio.folder / "sites.csv").write_text(SITES)
    path = write_csv(tmp_path / "assets.csv", CONTROLS)
    proposal = propose_register(path, portfolio, "controls", columns={"control_id": ["Asset Tag"]})
    columns = {ours: theirs[0] for ours, theirs in proposal.layout.columns.items()}
    assert columns == {
        "control_id": "Asset Tag", "site_id": "Building", "position": "Where", "kind": "Device Type",
        "model": "Part Number", "installed_on": "Install Dt", "removed_on": "Retired", "voltage": "Volts",
    }  # fmt: skip
    assert proposal.layout.date_order == "month first"
    accept(portfolio, proposal.file, proposal)
    store = _read(portfolio)
    wanted = "control_id, site_id, kind, installed_on, removed_on, voltage_v"
    assert store.rows(f"SELECT {wanted} FROM controls ORDER BY 1") == [
        ("PC-1", "N", "photocontrol", date(2015, 3, 25), None, 277.0),
        ("PC-2", "N", "photocontrol", date(2015, 4, 2), date(2020, 5, 1), 120.0),
        ("PC-9", "S", None, None, None, None),
        ("TC-1", "S", "time switch", None, None, None),
    ]  # fmt: skip
    assert store.rows("SELECT row_number, reason FROM register_rows_left_out ORDER BY 1") == [
        (5, "site 'Nowhere' is not in sites.csv"),
        (6, "no control_id: column Asset Tag is empty"),
        (7, "control_id 'PC-1' already stands in row 2"),
    ]
    told = " ".join(message for (message,) in store.rows("SELECT message FROM notices ORDER BY message"))
    assert "column Device Type (kind): 2 cells cannot be read (such as 'Gizmo' in row 7)" in told
    assert "column Install Dt (installed_on): 1 cells cannot be read (such as 'soon' in row 8)" in told
    assert "column Volts (voltage): 1 cells are left empty; in row 8 '9999' is not between 0 and" in told
    assert "3 of 7 rows cannot be used" in told


def test_a_later_file_with_the_same_header_is_read_too(portfolio: Portfolio, tmp_path: Path) -> None:
    _accept(portfolio, write_csv(tmp_path / "a.csv", CONTROLS[:3]), "controls")
    write_csv(portfolio.folder / "registers" / "b.csv", [CONTROLS[0], CONTROLS[3]])
    assert _read(portfolio).rows("SELECT control_id FROM controls ORDER BY 1") == [
        ("PC-1",),
        ("PC-2",),
        ("TC-1",),
    ]
    write_csv(portfolio.folder / "registers" / "c.csv", [["What", "Is", "This"], ["1", "2", "3"]])
    with pytest.raises(InputFaults, match=r"registers/c\.csv.*no saved layout of a register.*--as controls"):
        _read(portfolio)


def test_an_open_order_of_day_and_month_is_asked(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [["Asset Tag", "Building", "Install Dt"], ["PC-1", "N", "3/4/2015"]]
    path = write_csv(tmp_path / "a.csv", rows)
    with pytest.raises(InputFaults, match="--date-order MDY"):
        _ = propose_register(path, portfolio, "controls").layout
    _accept(portfolio, path, "controls", date_order="DMY")
    assert _read(portfolio).value("SELECT installed_on FROM controls") == date(2015, 4, 3)


def test_sites_accounts_and_fixtures_are_read_from_workbooks_and_other_languages(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    settings = portfolio.settings_file
    settings.write_text(settings.read_text() + "[tariffs.flat]\nprice_per_kwh = 0.1\n")
    portfolio = Portfolio.read(portfolio.folder)
    sites: list[list[object]] = [
        ["Bldg No", "Building Name", "Lat", "Long"],
        ["N", "North yard", 40.1, -105.2],
    ]
    _accept(portfolio, write_xlsx(tmp_path / "sites.xlsx", [["Our sites"], [], *sites]), "sites")
    _accept(
        portfolio,
        write_csv(tmp_path / "acc.csv", [["Acct #", "Rate", "Meter Type"], ["7", "flat", "Unmetered"]]),
        "accounts",
    )
    _accept(portfolio, write_csv(tmp_path / "con.csv", CONTROLS[:2]), "controls")
    lamps = [["Light ID", "Controller ID", "Lamp Type", "Input Watts", "Year Installed"],
             ["L1", "PC-1", "High Pressure Sodium", "1.150,5 W", "2012"], ["L2", "", "LED", "40", ""]]  # fmt: skip
    _accept(portfolio, write_csv(tmp_path / "lamps.csv", lamps, delimiter=";"), "fixtures")
    store = _read(portfolio)
    assert store.row("SELECT site_id, name, latitude FROM sites") == ("N", "North yard", 40.1)
    assert store.row("SELECT account_id, tariff, metered FROM accounts") == ("7", "flat", False)
    fixture = store.row("SELECT lamp, luminaires, watts_each, watts_basis, installed_on FROM fixtures")
    assert fixture == ("HPS", 1, 1150.5, "input", date(2012, 7, 1))
    assert store.rows("SELECT reason FROM register_rows_left_out") == [
        ("no control_id: column Controller ID is empty",)
    ]
    assert store.count("controls") == 1


def test_the_registers_own_csvs_are_read_by_the_same_rules(portfolio: Portfolio) -> None:
    (portfolio.folder / "controls.csv").write_text(
        'control_id,site_id,kind,installed_on,voltage\nA,S,Photocell,3/25/2015,277 V\nB,S,time clock,4/1/2015,"1,000"\n'
    )
    store = _read(portfolio)
    assert store.rows("SELECT kind, installed_on, voltage_v FROM controls ORDER BY control_id") == [
        ("photocontrol", date(2015, 3, 25), 277.0), ("time switch", date(2015, 4, 1), 1000.0),
    ]  # fmt: skip
    assert "installed_on is read month first: 1 dates fit only this order" in str(
        store.value("SELECT message FROM notices")
    )


def test_an_open_order_in_a_register_is_a_fault_with_row_and_column(portfolio: Portfolio) -> None:
    (portfolio.folder / "controls.csv").write_text("control_id,site_id,installed_on\nA,S,3/4/2015\n")
    with pytest.raises(InputFaults, match=r"controls\.csv, row 2, column installed_on: '3/4/2015'"):
        _read(portfolio)


def test_the_command_shows_accepts_and_builds(tmp_path: Path) -> None:
    portfolio = make_portfolio(tmp_path / "p")
    path = write_csv(tmp_path / "assets.csv", CONTROLS[:3])
    run = CliRunner()
    shown = run.invoke(app, ["layout", str(portfolio.folder), str(path), "--as", "controls"])
    assert shown.exit_code == 0, shown.output
    assert "Nothing was saved" in shown.output
    assert not (portfolio.folder / "registers").exists()
    saved = run.invoke(app, ["layout", str(portfolio.folder), str(path), "--as", "controls", "--accept"])
    assert saved.exit_code == 0, saved.output
    assert (portfolio.folder / "layouts" / "controls-inventory.toml").is_file()
    assert (portfolio.folder / "registers" / "assets.csv").read_bytes() == path.read_bytes()


@pytest.mark.skipif(not CHAMPAIGN.exists(), reason="the real inventory is not at hand (../shared/real)")
def test_a_citys_street_lights_read_in_with_controls_derived(tmp_path: Path) -> None:
    portfolio = make_portfolio(tmp_path / "p")
    proposal = propose_register(CHAMPAIGN, portfolio, "fixtures")
    columns = {ours: theirs[0] for ours, theirs in proposal.layout.columns.items()}
    assert columns == {
        "fixture_id": "OBJECTID", "control_id": "Controller_ID", "lamp": "Lamp_Type", "watts_each": "Lamp_Wattage",
        "installed_on": "InstallDate",
    }  # fmt: skip
    accept(portfolio, proposal.file, proposal)
    with CHAMPAIGN.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == LUMINAIRES
    controllers = {row["Controller_ID"].strip() for row in rows} - {""}
    without = sum(not row["Controller_ID"].strip() for row in rows)
    undated = sum(not row["InstallDate"].strip() for row in rows)
    with closing(_read(portfolio)) as store:
        assert store.count("fixtures") == LUMINAIRES - without
        assert store.count("register_rows_left_out") == without
        assert store.row("SELECT count(*), count(kind), count(installed_on) FROM controls") == (
            len(controllers),
            0,
            0,
        )
        told = " ".join(message for (message,) in store.rows("SELECT message FROM notices"))
    digits = told.replace("\u202f", "")
    assert f"{undated} of {LUMINAIRES} rows have no usable installed_on: no age can be had" in digits
    assert (
        f"{len(controllers)} controls are derived from column Controller_ID: their kind and age are unknown"
        in digits
    )


def test_controls_that_no_site_is_told_for_are_kept_at_one_of_their_own(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    (portfolio.folder / "sites.csv").write_text(SITES)
    header = ["Circuit ID", "Photocell", "Lights", "Lamp Type", "Watts per Fixture"]
    rows = [[f"CKT-{n}", f"PE-{n}", n, "HPS", "150 W"] for n in range(2, 5)]
    _accept(portfolio, write_csv(tmp_path / "circuits.csv", [header, *rows]), "fixtures")
    with closing(_read(portfolio)) as store:
        assert store.rows("SELECT control_id, site_id FROM controls ORDER BY 1") == [
            (f"PE-{n}", "portfolio") for n in range(2, 5)
        ]
        assert store.rows("SELECT fixture_id, luminaires FROM fixtures ORDER BY 1") == [
            (f"CKT-{n}", n) for n in range(2, 5)
        ]
        assert store.value("SELECT count(*) FROM sites") == 3
        told = store.value("SELECT message FROM notices WHERE message LIKE 'nothing tells%'")
    assert str(told).startswith("nothing tells at which of the sites 3 controls stand")


def test_rows_left_out_are_told_with_a_reason(portfolio: Portfolio, tmp_path: Path) -> None:
    (portfolio.folder / "sites.csv").write_text(SITES)
    rows = [CONTROLS[0], ["PC-1", "Nowhere", "pole 1", "Photocell", "X-1", "3/25/2015", "", ""]]
    _accept(
        portfolio, write_csv(tmp_path / "assets.csv", rows), "controls", columns={"control_id": ["Asset Tag"]}
    )
    with closing(_read(portfolio)) as store:
        told = store.value("SELECT message FROM notices WHERE message LIKE '%cannot be used%'")
    assert told == (
        "1 of 1 rows cannot be used, such as row 2: site 'Nowhere' is not in sites.csv. Each is kept with its reason."
    )


def test_names_that_no_register_knows_are_left_empty_and_told(portfolio: Portfolio, tmp_path: Path) -> None:
    (portfolio.folder / "accounts.csv").write_text("account_id\nA1\n")
    _accept(portfolio, write_csv(tmp_path / "sites.csv", [
        ["Site ID", "Site Name", "Account Number"], ["N", "North yard", "A1"], ["S", "South yard", "A9"],
    ]), "sites", columns={"account_id": ["Account Number"]})  # fmt: skip
    _accept(portfolio, write_csv(tmp_path / "controls.csv", [
        ["Asset Tag", "Building", "Switched By"], ["PC-1", "N", "MC-7"], ["PC-2", "N", "PC-3"], ["PC-3", "N", "PC-2"],
    ]), "controls", columns={"switched_by": ["Switched By"]})  # fmt: skip
    store = _read(portfolio)
    assert store.rows("SELECT site_id, account_id FROM sites ORDER BY 1") == [("N", "A1"), ("S", None)]
    assert store.rows("SELECT control_id, switched_by FROM controls ORDER BY 1") == [
        ("PC-1", None), ("PC-2", None), ("PC-3", "PC-2"),
    ]  # fmt: skip
    told = " ".join(message for (message,) in store.rows("SELECT message FROM notices ORDER BY message"))
    assert "1 cells name what is not in accounts.csv (such as 'A9' in row 3); left empty" in told
    assert "1 cells name what is not in controls.csv (such as 'MC-7' in row 2); left empty" in told
    assert "the chain PC-2 > PC-3 > PC-2 comes back to where it began; left empty there" in told


def test_units_behind_numbers_are_left_out_and_those_of_a_thousand_reckoned() -> None:
    with closing(Store.scratch()) as scratch:
        texts = ["150W", "1.5 kW", "277 V", "0.3 ms", "12 A", "0.48kV", "70", "abc", None]
        read = cells.numbers(scratch, texts, "point")
    assert read == ["150", "1500", "277", "300", "12", "480", "70", None, None]
