"""What is committed is what the script makes, and it ships."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from demo_data import portfolio_folder, truth_folder
from demo_data.exports import FILES, NEW_COLUMNS
from demo_data.make import District

TEXT_FILES = (
    "portfolio.toml", "sites.csv", "accounts.csv", "controls.csv", "fixtures.csv", "decisions.csv",
    *(f"calls/{file.name}" for file in FILES if file.layout == "older"),
)  # fmt: skip
WORKBOOKS = tuple(file.name for file in FILES if file.layout == "newer")
TRUTH = ("groups", "lives", "incidents", "calls", "energy", "delays")


def cells(path: Path) -> list[list[object]]:
    return CalamineWorkbook.from_path(str(path)).get_sheet_by_index(0).to_python()


@pytest.mark.parametrize("name", TEXT_FILES)
def test_committed_text_file_is_what_the_script_writes(made: Path, name: str) -> None:
    assert (portfolio_folder() / name).read_bytes() == (made / "portfolio" / name).read_bytes()


@pytest.mark.parametrize("name", WORKBOOKS)
def test_committed_workbook_has_the_cells_that_the_script_writes(made: Path, name: str) -> None:
    committed = cells(portfolio_folder() / "calls" / name)
    assert committed[3] == list(NEW_COLUMNS)
    assert committed == cells(made / "portfolio" / "calls" / name)


@pytest.mark.parametrize("name", TRUTH)
def test_committed_truth_is_what_the_script_writes(made: Path, name: str) -> None:
    committed = gzip.decompress((truth_folder() / f"{name}.csv.gz").read_bytes())
    assert committed == gzip.decompress((made / "truth" / f"{name}.csv.gz").read_bytes())


def test_no_file_is_committed_that_the_script_does_not_write(made: Path) -> None:
    committed = {path.name for path in (portfolio_folder() / "calls").iterdir()}
    assert committed == {path.name for path in (made / "portfolio" / "calls").iterdir()}
    assert {path.name for path in truth_folder().iterdir()} == {f"{name}.csv.gz" for name in TRUTH}


def test_files_of_others_in_the_folder_stay(made: Path) -> None:
    assert (made / "portfolio" / "layouts" / "mine.toml").read_text(encoding="utf-8") == "kept"


def test_another_seed_gives_another_district(district: District) -> None:
    other = District(seed=7)
    assert [life.end_day for life in other.lives[:200]] != [life.end_day for life in district.lives[:200]]
    assert len(other.calls) > 14_000


def test_everything_committed_stays_within_six_megabytes() -> None:
    package = portfolio_folder().parent
    total = sum(
        path.stat().st_size for path in package.rglob("*") if path.is_file() and path.suffix != ".pyc"
    )
    assert 1_000_000 < total <= 6_000_000
