"""Ten made-up exports of very different usage: what a person would say is proposed, by name or by values."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.ingest import propose_layout
from pipeline.portfolio import Portfolio

from .exports import EXPORTS, SITES, TAGS, MadeExport
from .making import write_csv

REGISTERED_SITES = "site_id,name,aliases\n" + "".join(f"S{n},{name},\n" for n, name in enumerate(SITES))
REGISTERED_CONTROLS = "control_id,site_id\n" + "".join(f"{tag},S1\n" for tag in TAGS)


@pytest.mark.parametrize("export", EXPORTS, ids=[export.name for export in EXPORTS])
def test_the_columns_of_many_trades_are_proposed(
    export: MadeExport, portfolio: Portfolio, tmp_path: Path
) -> None:
    path = write_csv(tmp_path / "export.csv", export.rows(), **export.how)
    proposal = propose_layout(path, portfolio)
    columns = proposal.layout.columns
    assert {name: columns.get(name) for name in export.expected} == export.expected
    assert set(columns) - set(export.expected) <= {"category_text", "work_type"}
    assert set(proposal.layout.withheld) == set(export.withheld)


def test_registers_tell_tags_and_sites_whatever_they_look_like(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [["A", "B", "C", "D"]]
    rows += [
        [f"2024-03-{1 + n % 28:02}", f"{n % 7}", ("North", "South")[n % 2], f"light {n} is out"]
        for n in range(40)
    ]
    path = write_csv(tmp_path / "export.csv", rows)
    before = propose_layout(path, portfolio).draft.columns
    assert "asset_text" not in before
    assert "site_text" not in before
    (portfolio.folder / "sites.csv").write_text(
        "site_id,name,aliases\nN,North yard,North\nS,South yard,south\n"
    )
    (portfolio.folder / "controls.csv").write_text(
        "control_id,site_id\n" + "".join(f"{n},N\n" for n in range(9))
    )
    proposal = propose_layout(path, portfolio)
    assert proposal.draft.columns["asset_text"] == ("B",)
    assert proposal.draft.columns["site_text"] == ("C",)
    shown = "\n".join(proposal.lines())
    assert "100% of its cells are tags of controls.csv" in shown
    assert "100% of its cells are sites of sites.csv" in shown


def test_what_rests_on_values_alone_is_never_called_sure_and_says_why(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    export = next(export for export in EXPORTS if export.name == "names that say nothing")
    proposal = propose_layout(write_csv(tmp_path / "export.csv", export.rows()), portfolio)
    assert {match.confidence_word for match in proposal.matches} <= {"likely", "a guess"}
    assert all(match.why != "its name" for match in proposal.matches)
    assert "dates in every row, before those of 'Field8'" in "\n".join(proposal.lines())


def test_a_due_date_is_not_taken_for_the_completion(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [["A", "B", "C"]]
    rows += [
        [f"2024-03-{n:02}", f"2024-04-{n:02}" if n % 4 else "", f"pole light {n} is out again"]
        for n in range(1, 29)
    ]
    columns = propose_layout(write_csv(tmp_path / "export.csv", rows), portfolio).draft.columns
    assert columns["reported_at"] == ("A",)
    assert "completed_at" not in columns


def test_a_total_beside_its_parts_is_not_an_amount_of_its_own(portfolio: Portfolio, tmp_path: Path) -> None:
    header = ["Ticket", "Date", "Problem", "Labor Cost", "Invoice Total"]
    rows = [[n, "2024-03-02", f"light {n} out", n * 2.5, n * 4.5] for n in range(1, 20)]
    path = write_csv(tmp_path / "a.csv", [header, *rows])
    assert "contract_cost" not in propose_layout(path, portfolio).layout.columns
    alone = write_csv(tmp_path / "b.csv", [[*header[:3], header[4]], *([*row[:3], row[4]] for row in rows)])
    assert propose_layout(alone, portfolio).layout.columns["contract_cost"] == ("Invoice Total",)
