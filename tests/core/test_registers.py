"""The register CSVs: what may stand in them, and how their faults are told."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pipeline import registers
from pipeline.faults import InputFaults
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store

SETTINGS = Settings(
    format=1, name="x", currency="USD", time_zone="America/Denver", default_grid_region="RMPA"
)


def fill(folder: Path, **files: str) -> Store:
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    store = Store.create()
    registers.run(store, Portfolio(folder, SETTINGS), Silent())
    return store


def faults_of(folder: Path, **files: str) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        fill(folder, **files)
    return [str(fault) for fault in caught.value.faults]


def test_rows_arrive_with_their_row_number_and_defaults(tmp_path: Path) -> None:
    store = fill(
        tmp_path,
        sites="site_id,name,aliases\nS1,North yard,Yard N; Old depot\n",
        controls="control_id,site_id,position,kind,quantity,installed_on\nPC-1,S1,Pole 4,Photocontrol,,2015-03-02\n",
    )
    assert store.row("SELECT aliases, time_zone, grid_region FROM sites") == (
        ["Yard N", "Old depot"], "America/Denver", "RMPA",
    )  # fmt: skip
    row = store.row("SELECT position, kind, quantity, installed_on, switching, row_number FROM controls")
    assert row == ("S1 / Pole 4", "photocontrol", 1, date(2015, 3, 2), "unknown", 2)
    assert store.rows("SELECT position, label, origin FROM positions") == [
        ("S1 / Pole 4", "Pole 4", "register")
    ]


def test_a_campaign_at_an_unknown_site_is_told_with_the_registers_faults(tmp_path: Path) -> None:
    campaign = {"name": "Summer", "sites": ["S1", "S9"], "from": "2023-06-01", "to": "2023-08-31"}
    settings = Settings.model_validate(SETTINGS.model_dump() | {"campaigns": [campaign]})
    (tmp_path / "sites.csv").write_text("site_id,account_id\nS1,\n", encoding="utf-8")
    (tmp_path / "controls.csv").write_text("control_id,site_id\nPC-1,S7\n", encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        registers.run(Store.create(), Portfolio(tmp_path, settings), Silent())
    said = [str(fault) for fault in caught.value.faults]
    assert len(said) == 2
    assert any("campaigns, 'Summer': 'S9' is not in sites.csv." in fault for fault in said)


def test_places_of_different_sites_never_share_a_key(tmp_path: Path) -> None:
    controls = (
        "control_id,site_id,position,kind\nPC-1,A / B,C,photocontrol\nPC-2,A,B / C,photocontrol\n"
        # two at once at one label are named with their control_id, which another row's label may happen to be
        "PC-3,A,lot,photocontrol\nPC-4,A,lot,photocontrol\nPC-5,A,lot (PC-3),photocontrol\n"
    )
    store = fill(tmp_path, controls=controls)
    assert store.value("SELECT count(DISTINCT position) FROM controls") == 5
    assert store.count("positions") == 5


def test_a_site_named_only_by_a_control_is_a_site(tmp_path: Path) -> None:
    store = fill(tmp_path, controls="control_id,site_id\nPC-1,S9\n")
    assert store.rows("SELECT site_id FROM sites") == [("S9",)]


def test_lamp_watts_are_raised_by_the_stated_ballast_factor(tmp_path: Path) -> None:
    store = fill(
        tmp_path,
        controls="control_id,site_id\nPC-1,S1\n",
        fixtures="fixture_id,control_id,lamp,luminaires,watts_each,watts_basis\n"
        "F1,PC-1,HPS,2,150,lamp\nF2,PC-1,LED,2,60,input\nF3,PC-1,HPS,1,,\n",
    )
    watts = dict(store.rows("SELECT fixture_id, input_watts_each FROM fixtures"))
    assert watts == {
        "F1": pytest.approx(150 * SETTINGS.assumptions.ballast_factor_hid),
        "F2": 60.0,
        "F3": None,
    }


def test_every_fault_of_every_register_comes_at_once_with_file_row_and_column(tmp_path: Path) -> None:
    faults = faults_of(
        tmp_path,
        sites="site_id,latitude,time_zone\nS1,north,Europe/Paris\nS1,10,\n",
        controls="control_id,site_id,kind,quantity,installed_on,removed_on\n"
        "A,S1,lamp,0,2020-13-01,\nB,S2,timer,1,2020-05-01,2019-05-01\n,S1,,,,\n",
        fixtures="fixture_id,control_id,luminaires,watts_each\nF1,ZZ,1,-5\n",
    )
    expected = [
        ("sites.csv, row 2, column latitude", "is not a number"),
        ("sites.csv, row 3, column site_id", "already stands in row 2"),
        ("controls.csv, row 2, column kind", "not one of photocontrol"),
        ("controls.csv, row 2, column quantity", "whole number from 1"),
        ("controls.csv, row 2, column installed_on", "YYYY-MM-DD"),
        ("controls.csv, row 3, column site_id", "'S2' is not in sites.csv"),
        ("controls.csv, row 3, column removed_on", "before installed_on"),
        ("controls.csv, row 4, column control_id", "is empty"),
        ("fixtures.csv, row 2, column control_id", "'ZZ' is not in controls.csv"),
        ("fixtures.csv, row 2, column watts_each", "not between 0 and 100\u202f000\u202f000"),
    ]
    assert len(faults) == len(expected)
    for where, what in expected:
        assert any(where in fault and what in fault for fault in faults), (where, what, faults)


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("control_id,site_id,instaled_on", "Did you mean 'installed_on'?"),
        ("control_id,kind", "column 'site_id' is missing"),
        ("control_id,site_id,kind,kind", "column 'kind' stands twice"),
    ],
)
def test_a_header_fault_is_told_before_any_row(tmp_path: Path, header: str, said: str) -> None:
    (fault,) = faults_of(tmp_path, controls=f"{header}\nA,B,C,D\n")
    assert said in fault


def test_a_register_that_is_not_text_is_named(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").write_bytes(b"site_id\n\xff\xfe\n")
    (fault,) = faults_of(tmp_path)
    assert "sites.csv" in fault
    assert "UTF-8" in fault


def test_a_faulty_row_is_not_told_again_by_the_rows_that_name_it(tmp_path: Path) -> None:
    (fault,) = faults_of(
        tmp_path,
        sites="site_id,latitude,longitude\nS1,39,6,-102.9\nS2,39.7,-102.8\n",
        controls="control_id,site_id\nA,S1\nB,S2\n",
    )
    assert fault.startswith("sites.csv, row 2, column (end): has 4 cells under 3 headings")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("site_id;name\nS1;North\n", "header: is parted by semicolons. Save the file with commas."),
        ("site_id\tname\nS1\tNorth\n", "header: is parted by tabs. Save the file with commas."),
        ('site_id,name\nS1,"North\nS2,South\n', "Look for a quotation mark that is not closed."),
    ],
)
def test_a_register_that_is_no_plain_csv_is_told_in_one_sentence(
    tmp_path: Path, text: str, said: str
) -> None:
    (fault,) = faults_of(tmp_path, sites=text)
    assert fault.startswith("sites.csv")
    assert said in fault


def test_a_row_longer_than_its_header_is_not_cut_silently(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, sites="site_id,name\nS1,a,b\n")
    assert "row 2" in fault
    assert "3 cells under 2 headings" in fault


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("installed_on", "0201-06-01", "between 1900 and 2200"),
        ("installed_on", "June 2021", "YYYY-MM-DD"),
        ("replacement_cost", "nan", "not between 0 and 10\u202f000\u202f000"),
        ("watts_each", "1e9", "not between 0 and 100\u202f000\u202f000"),
    ],
)
def test_a_cell_that_only_looks_right_is_named(tmp_path: Path, column: str, cell: str, said: str) -> None:
    header = f"fixture_id,control_id,luminaires,{column}\n"
    (fault,) = faults_of(tmp_path, fixtures=f"{header}F1,PC-1,1,{cell}\n")
    assert f"fixtures.csv, row 2, column {column}" in fault
    assert said in fault


def test_a_name_of_ten_thousand_characters_is_refused_with_its_row_and_quoted_by_its_beginning(
    tmp_path: Path,
) -> None:
    long = "x" * 10_000
    faults = faults_of(
        tmp_path, controls=f"control_id,site_id,model,kind\nA,S1,{long},timer\nB,S1,X,{long}\n"
    )
    assert len(faults) == 2
    assert "controls.csv, row 2, column model: 'xxx" in faults[0]
    assert "has 10\u202f000 characters; a name has at most 200." in faults[0]
    assert "controls.csv, row 3, column kind" in faults[1]
    assert all(len(fault) < 300 for fault in faults)


def test_values_that_cannot_be_true_do_not_stop_a_build_and_are_told(tmp_path: Path) -> None:
    store = fill(
        tmp_path,
        sites="site_id,latitude,longitude\nS1,-102.9,39.6\n",
        controls="control_id,site_id,latitude,longitude\nC1,S1,39.6,-102.9\n",
        fixtures="fixture_id,control_id,luminaires,watts_each\nF1,C1,1,50000\nF2,C1,1,0\n",
    )
    assert store.rows("SELECT DISTINCT watts_each, input_watts_each FROM fixtures") == [(None, None)]
    assert store.row("SELECT latitude, longitude FROM sites") == pytest.approx(
        (39.6, -102.9)
    )  # its control's
    told = "\n".join(
        f"{place}: {message}" for place, message in store.rows("SELECT place, message FROM notices")
    )
    assert "sites.csv, row 2, columns latitude and longitude: -102.9, 39.6 look swapped" in told
    assert "in 1 row (row 2: 50000 W)" in told
    assert "in 1 row (row 3: 0 W)" in told


def test_a_supplier_of_an_unknown_account_is_told_with_the_registers_faults(tmp_path: Path) -> None:
    factor = {"kg_co2e_per_kwh": 0.1, "year": 2023, "source": "made up"}
    settings = Settings.model_validate(SETTINGS.model_dump() | {"supplier_emissions": {"A9": factor}})
    (tmp_path / "accounts.csv").write_text("account_id,tariff\nA1,none such\n", encoding="utf-8")
    read = registers.read_registers(Portfolio(tmp_path, settings))
    said = [str(fault) for fault in read["accounts"].faults]
    assert any("supplier_emissions.A9: 'A9' is not in accounts.csv." in fault for fault in said)
    assert any("row 2, column tariff: 'none such' is not a tariff" in fault for fault in said)
