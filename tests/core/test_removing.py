"""A file taken out of a portfolio is moved, never deleted, and can be put back."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.portfolio import Portfolio
from pipeline.removing import put_back, removable_files, remove_file, removed_files


@pytest.fixture
def portfolio(tmp_path: Path) -> Portfolio:
    texts = {
        "portfolio.toml": 'format = 1\nname = "A"\ncurrency = "USD"\ntime_zone = "America/Denver"\n',
        "calls/2024/a.csv": "first", "calls/b.csv": "b", "registers/lamps.csv": "lamps", "sites.csv": "site_id\n",
    }  # fmt: skip
    for name, text in texts.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return Portfolio.read(tmp_path)


def test_exports_and_inventories_can_be_removed_and_nothing_else(portfolio: Portfolio) -> None:
    names = [path.relative_to(portfolio.folder).as_posix() for path in removable_files(portfolio)]
    assert names == ["calls/2024/a.csv", "calls/b.csv", "registers/lamps.csv"]
    with pytest.raises(InputFaults, match="is not in calls/ or registers/"):
        remove_file(portfolio, portfolio.folder / "sites.csv")
    with pytest.raises(InputFaults, match="is not in removed/"):
        put_back(portfolio, portfolio.calls / "b.csv")


def test_a_removed_file_is_no_input_any_more_and_comes_back_to_its_place(portfolio: Portfolio) -> None:
    before = removable_files(portfolio)
    place = remove_file(portfolio, portfolio.calls / "2024" / "a.csv")
    assert place == portfolio.folder / "removed" / "calls" / "2024" / "a.csv"
    assert portfolio.export_files() == [portfolio.calls / "b.csv"]
    assert removed_files(portfolio) == [place]
    assert put_back(portfolio, place).read_text() == "first"
    assert removable_files(portfolio) == before


def test_two_removed_files_of_one_name_are_both_kept(portfolio: Portfolio) -> None:
    file = portfolio.calls / "b.csv"
    first = remove_file(portfolio, file)
    file.write_text("later")
    second = remove_file(portfolio, file)
    assert (first.read_text(), second.read_text()) == ("b", "later")
    file.write_text("third")
    with pytest.raises(InputFaults, match=r"calls/b\.csv: exists already"):
        put_back(portfolio, first)
    assert (first.read_text(), file.read_text()) == ("b", "third")
