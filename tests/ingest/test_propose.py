"""Proposals: columns by name and values, people withheld, and what is open is asked."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.ingest import propose_layout, run, save_layout
from pipeline.ingest.layouts import read_layouts
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.store import Store

from .making import accept, write_csv, write_xlsx

CITY = [
    ["case_id", "open_dt", "target_dt", "closed_dt", "case_status", "closure_reason", "case_title", "type", "location",
     "lat", "long", "caller_name", "call_back", "assigned_to"],
    *([str(1000 + n), f"2024-03-{n:02} 10:00", "2024-05-01", f"2024-04-{n:02} 09:00", "Closed", f"replaced lamp {n}",
       f"light {n} out at pole {n}", "Street Light", f"{n} Larch St", "40.1", "-105.2", "Tarka Quendle",
       "415-555-0143", "Bram Ostwick"] for n in range(1, 25)),
]  # fmt: skip


def test_columns_are_found_by_what_they_are_called_and_hold(portfolio: Portfolio, tmp_path: Path) -> None:
    proposal = propose_layout(write_csv(tmp_path / "city.csv", CITY), portfolio)
    assert {field: " + ".join(columns) for field, columns in proposal.layout.columns.items()} == {
        "call_number": "case_id", "reported_at": "open_dt", "completed_at": "closed_dt", "status": "case_status",
        "address_text": "location", "latitude": "lat", "longitude": "long", "problem_text": "case_title",
        "action_text": "closure_reason", "category_text": "type",
    }  # fmt: skip
    assert proposal.layout.withheld == ("caller_name", "call_back", "assigned_to")
    assert proposal.layout.technicians == ("assigned_to",)
    assert proposal.layout.values["status"] == {"Closed": "completed"}
    assert "target_dt" in proposal.layout.unused()


def test_the_printed_proposal_shows_columns_samples_and_no_person(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    rows = [*CITY, ["2000", "2024-03-30", "", "", "Open", "", "call Tarka Quendle 415-555-0143", *[""] * 7]]
    text = "\n".join(propose_layout(write_csv(tmp_path / "city.csv", rows), portfolio).lines())
    for said in ("closed_dt", "2024-04-01 09:00", "withheld", "caller_name", "not used: target_dt"):
        assert said in text
    assert "Quendle" not in text
    assert "0143" not in text


def test_a_date_and_its_time_of_day_become_one_field(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [
        ["Ticket", "Reported Date", "Reported Time", "Description"],
        ["1", "2024-01-02", "14:30", "lamp out there"],
    ]
    layout = propose_layout(write_csv(tmp_path / "t.csv", rows), portfolio).layout
    assert layout.columns["reported_at"] == ("Reported Date", "Reported Time")


def test_an_open_order_of_day_and_month_is_asked_and_not_guessed(
    portfolio: Portfolio, tmp_path: Path
) -> None:
    rows = [["Ticket", "Date", "Description"], ["1", "3/4/2024", "lamp out"], ["2", "5/6/2024", "lamp out"]]
    path = write_csv(tmp_path / "t.csv", rows)
    proposal = propose_layout(path, portfolio)
    assert len(proposal.needs) == 1
    with pytest.raises(InputFaults, match="--date-order MDY"):
        _ = proposal.layout
    assert propose_layout(path, portfolio, date_order="DMY").layout.date_order == "day first"
    assert propose_layout(path, portfolio, date_order="MDY").layout.date_order == "month first"


def test_a_stated_order_that_the_dates_contradict_is_refused(portfolio: Portfolio, tmp_path: Path) -> None:
    path = write_csv(tmp_path / "t.csv", [["Ticket", "Date", "Text"], ["1", "3/25/2024", "lamp out"]])
    with pytest.raises(InputFaults, match="is not day first: 1 of its dates fit only month first"):
        _ = propose_layout(path, portfolio, date_order="DMY").layout
    with pytest.raises(InputFaults, match="is no order"):
        propose_layout(path, portfolio, date_order="XYZ")


def test_a_mixture_of_orders_is_asked(portfolio: Portfolio, tmp_path: Path) -> None:
    rows = [["Ticket", "Date", "Text"], ["1", "3/25/2024", "lamp out"], ["2", "25/3/2024", "lamp out"]]
    with pytest.raises(InputFaults, match="mixes two orders"):
        _ = propose_layout(write_csv(tmp_path / "t.csv", rows), portfolio).layout


def test_columns_that_nobody_knows_are_told_and_can_be_named(portfolio: Portfolio, tmp_path: Path) -> None:
    path = write_csv(tmp_path / "t.csv", [["Foo", "Bar", "Baz"], ["2024-03-26", "2024-03-25", "lamp out"]])
    with pytest.raises(InputFaults, match="no column was recognised as the report date"):
        _ = propose_layout(path, portfolio).layout
    layout = propose_layout(path, portfolio, columns={"reported_at": ["Bar"], "problem_text": ["Baz"]}).layout
    assert layout.columns == {"reported_at": ("Bar",), "problem_text": ("Baz",)}
    with pytest.raises(InputFaults, match="'Qux' is not a column"):
        propose_layout(path, portfolio, columns={"reported_at": ["Qux"]})


def test_the_sheet_with_the_calls_is_found_under_its_titles(portfolio: Portfolio, tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["A district"],
        ["All trades"],
        [],
        ["Request ID", "Created On", "Problem Description"],
    ]
    rows += [["24-01", datetime(2024, 3, 5, 14, 30), "lamp out"], ["Total", 1]]
    proposal = propose_layout(write_xlsx(tmp_path / "r.xlsx", rows, sheet="Requests"), portfolio)
    assert "sheet 'Requests', header in row 4, 1 rows" in proposal.read_as
    assert proposal.layout.columns["reported_at"] == ("Created On",)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([["Ticket", "Date", "Text"]], "has a header but no rows"),
        ([["1", "2024-01-02"], ["2", "2024-01-03"]], "shows no row of column names"),
    ],
)
def test_files_without_calls_or_header_are_refused(
    portfolio: Portfolio, tmp_path: Path, rows: list[list[object]], said: str
) -> None:
    with pytest.raises(InputFaults, match=said):
        propose_layout(write_csv(tmp_path / "t.csv", rows), portfolio)


def test_too_many_columns_are_refused(portfolio: Portfolio, tmp_path: Path) -> None:
    header = [f"Column {n}x" for n in range(2_500)]
    with pytest.raises(InputFaults, match="2\u202f500 columns"):
        propose_layout(write_csv(tmp_path / "t.csv", [header, ["x"] * 2_500]), portfolio)


def test_a_second_proposal_keeps_what_a_person_has_edited(portfolio: Portfolio, tmp_path: Path) -> None:
    path = write_csv(tmp_path / "city.csv", CITY)
    accept(portfolio, path)
    layout = read_layouts(portfolio)[tuple(CITY[0])]
    edited = layout.model_copy(
        update={"source": "desk", "columns": {**layout.columns, "completed_at": ("target_dt",)}}
    )
    save_layout(portfolio, edited)
    assert propose_layout(path, portfolio).layout == edited
    assert propose_layout(path, portfolio, source="other").layout.source == "other"


@pytest.mark.parametrize(
    ("column", "texts", "found"),
    [
        ("Description", ["out", "on"], True),
        ("Work Description", ["Light out", "Lamp out", "Sink leak"], True),
        ("Work Description", ["out", "on"], False),  # neither tells enough: a person is asked
    ],
)
def test_few_and_short_texts_are_found_by_their_columns_name(
    portfolio: Portfolio, column: str, texts: list[str], found: bool
) -> None:
    rows = [["WO", "Date Reported", "Status", "Building", column]]
    rows += [
        [str(n), f"2024-03-{n % 28 + 1:02d}", ("Open", "Closed")[n % 2], "Gym", texts[n % len(texts)]]
        for n in range(150)
    ]
    proposal = propose_layout(write_csv(portfolio.calls / "a.csv", rows), portfolio)
    assert proposal.draft.columns.get("problem_text") == ((column,) if found else None)


def test_columns_of_one_file_have_each_their_own_decimal_sign(portfolio: Portfolio) -> None:
    rows = [["WO", "Date Reported", "Description", "Latitude", "Longitude", "Labor Hours", "Labor Cost"]]
    rows += [
        [str(n), f"2024-03-{n + 1:02d}", f"light {n} out", "39.7392", "-104.9903", f"{n},5", f"1.00{n},50 €"]
        for n in range(9)
    ]
    proposal = propose_layout(write_csv(portfolio.calls / "a.csv", rows), portfolio)
    assert proposal.layout.decimal == "point"
    assert proposal.layout.decimals == {"labour_hours": "comma", "labour_cost": "comma"}
    said = "numbers: decimal point in latitude, longitude; decimal comma in labour_hours, labour_cost"
    assert said in "\n".join(proposal.lines())
    save_layout(portfolio, proposal.layout)
    store = Store.create()
    run(store, portfolio, Silent())
    read = store.row("SELECT latitude, labour_hours, labour_cost FROM calls WHERE call_number = '3'")
    assert read == (39.7392, 3.5, Decimal("1003.50"))


def test_a_workbooks_days_that_are_bare_numbers_are_found_by_their_columns_name(portfolio: Portfolio) -> None:
    rows: list[list[object]] = [["WO", "Date Reported", "Completed", "Description", "Room"]]
    rows += [[f"W{n}", 45300 + n + 0.5, str(45301 + n), f"light {n} out", 45300 + n] for n in range(20)]
    path = write_xlsx(portfolio.calls / "a.xlsx", rows)
    accept(portfolio, path)
    (layout,) = read_layouts(portfolio).values()
    assert layout.columns["reported_at"] == ("Date Reported",)
    assert layout.columns["completed_at"] == ("Completed",)
    assert layout.unused() == ("Room",)
    store = Store.create()
    run(store, portfolio, Silent())
    assert store.row("SELECT min(reported_at), min(completed_at) FROM calls") == (
        datetime(2024, 1, 9, 12), datetime(2024, 1, 10),
    )  # fmt: skip


def test_a_column_that_is_empty_in_the_first_file_is_read_in_a_later_one(portfolio: Portfolio) -> None:
    header = ["WO", "Date Reported", "Date Completed", "Status", "Description", "Action Taken", "Spare"]
    rows = [[str(n), f"2024-01-{n:02d}", "", "Open", f"pole light {n} out", "", ""] for n in range(1, 9)]
    path = write_csv(portfolio.calls / "a.csv", [header, *rows])
    proposal = propose_layout(path, portfolio)
    assert proposal.layout.columns["completed_at"] == ("Date Completed",)
    assert proposal.layout.columns["action_text"] == ("Action Taken",)
    assert "its name; empty in this file" in "\n".join(proposal.lines())
    assert proposal.layout.unused() == ("Spare",)


def test_an_open_order_is_said_as_open(portfolio: Portfolio) -> None:
    rows = [["Ticket", "Date", "Description"], ["1", "3/4/2024", "lamp out"]]
    said = "\n".join(propose_layout(write_csv(portfolio.calls / "t.csv", rows), portfolio).lines())
    assert (
        "dates: order of day and month open: 1 dates fit both, 0 only day first, 0 only month first" in said
    )


def test_short_german_names_and_hours_as_words_are_found(portfolio: Portfolio) -> None:
    header = ["Auftrag", "Meldedatum", "Straße", "Hausnr.", "Störung", "Std."]
    rows = [
        [f"A-{n}", f"{n + 12}.03.2023", street, n, f"Leuchte {n} ist dunkel", hours]
        for n, (street, hours) in enumerate([("Ahornweg", "2 h"), ("Buchenallee", "1h30")] * 5, start=1)
    ]
    path = write_csv(portfolio.folder / "liste.csv", [header, *rows], delimiter=";")
    columns = propose_layout(path, portfolio).layout.columns
    assert columns["address_text"] == ("Hausnr.", "Straße")
    assert columns["labour_hours"] == ("Std.",)


def test_an_order_that_was_told_says_how_many_dates_leave_it_open(portfolio: Portfolio) -> None:
    rows = [["Call", "Reported", "Problem"], *[[n, "3/4/2023", f"pole light {n} out"] for n in range(6)]]
    path = write_csv(portfolio.folder / "log.csv", rows)
    lines = propose_layout(path, portfolio, date_order="MDY").lines()
    assert any(
        "month first: as the layout says; 6 dates fit both orders, 0 only the other" in line for line in lines
    )


def test_amounts_that_all_differ_are_no_call_numbers_and_a_file_without_dates_states_no_order(
    portfolio: Portfolio,
) -> None:
    costs = [["Date Reported", "Cost"], ["2024-01-02", "12"], ["2024-01-03", "13"]]
    proposal = propose_layout(write_csv(portfolio.folder / "costs.csv", costs), portfolio)
    assert not any(match.field == "call_number" for match in proposal.matches)
    texts = [["Call", "Text"], ["1", "lamp out"], ["2", "lamp on"]]
    proposal = propose_layout(write_csv(portfolio.folder / "texts.csv", texts), portfolio)
    assert [(match.field, match.column) for match in proposal.matches] == [
        ("call_number", "Call"), ("problem_text", "Text"),
    ]  # fmt: skip
    assert "  dates: none" in proposal.lines()


def test_what_a_technician_notes_is_a_text_and_no_technician(portfolio: Portfolio) -> None:
    rows = [["WO", "Entered", "Comments", "Tech Notes"]]
    rows += [
        [str(n), f"Sat Jan {n:02} 2022", f"pole light {n} stays on", "replaced eye"] for n in range(1, 9)
    ]
    proposal = propose_layout(write_csv(portfolio.folder / "notes.csv", rows), portfolio)
    assert proposal.layout.columns["action_text"] == ("Tech Notes",)
    assert proposal.layout.columns["reported_at"] == ("Entered",)
    assert proposal.layout.withheld == ()
