"""The stage: every row accounted for, the latest state told, odd things flagged, people kept out."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.ingest import propose_layout, save_layout
from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import HEADER, accept, make_portfolio, reconciles, write_csv, write_xlsx

Intake = Callable[[Portfolio], Store]

ROWS: list[list[object]] = [
    [
        "1",
        "2024-01-02 08:00",
        "2024-01-05 10:00",
        "Closed",
        "Larch School",
        "Lot light on all day",
        "Replaced photocell",
    ],
    ["2", "2024-01-03 08:00", "", "Open", "Larch School", "Pole light out", ""],
    ["3", "2024-01-04 08:00", "2024-01-06", "Cancelled", "Quill Hall", "Exterior light cycling", ""],
]


def _calls(store: Store, columns: str, where: str = "superseded_by IS NULL") -> list[tuple[object, ...]]:
    return store.rows(f"SELECT {columns} FROM calls WHERE {where} ORDER BY reported_at, call_id")


def _one_file(portfolio: Portfolio, rows: list[list[object]]) -> None:
    path = write_csv(portfolio.calls / "log.csv", [HEADER, *rows])
    accept(portfolio, path)


def test_rows_become_calls_with_times_status_and_lighting(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, ROWS)
    store = intake(portfolio)
    assert reconciles(store)
    assert _calls(
        store, "call_number, completed_at, status, work_type, row_number, is_lighting, no_finding_reason"
    ) == [
        ("1", datetime(2024, 1, 5, 10), "completed", "reactive", 2, True, None),
        ("2", None, "open", "reactive", 3, True, None),
        ("3", datetime(2024, 1, 6), "cancelled", "reactive", 4, True, "cancelled"),
    ]


def test_a_file_without_layout_is_told_with_the_command_to_type(portfolio: Portfolio, intake: Intake) -> None:
    one = write_csv(portfolio.calls / "one.csv", [HEADER, *ROWS])
    two = write_csv(portfolio.calls / "two.csv", [["A", "B"], ["1", "2"]])
    (portfolio.calls / "empty.csv").write_bytes(b"")
    with pytest.raises(InputFaults) as caught:
        intake(portfolio)
    told = [str(fault) for fault in caught.value.faults]
    assert len(told) == 3
    for path in (one, two):
        assert any(f"`dayburn layout {portfolio.folder} {path} --accept`" in fault for fault in told)
    assert any(fault.startswith("calls/empty.csv: is empty") for fault in told)


def test_a_folder_without_exports_is_told(portfolio: Portfolio, intake: Intake) -> None:
    with pytest.raises(InputFaults, match="holds no export"):
        intake(portfolio)


def test_rows_that_cannot_be_calls_are_kept_with_their_reason(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, ROWS)
    write_csv(
        portfolio.calls / "more.csv",
        [
            HEADER,
            ["10", "", "", "", "Larch School", "no date; call 415-555-0143", ""],
            ["11", "soon", "", "", "Larch School", "odd date", ""],
            ["", "2024-02-01", "", "Open", "Larch School", "", ""],
            ["12", "2024-02-02", "", "Open", "Larch School", "too", "many", "cells"],
            [],
            ["13", "2024-02-03"],
            ["Total", "", "", "", "", "5"],
        ],
    )
    store = intake(portfolio)
    assert reconciles(store)
    rejected = store.rows("SELECT row_number, reason, raw FROM rejected_rows ORDER BY row_number")
    assert [row[:2] for row in rejected] == [
        (2, "no report date: column Date Reported is empty"),
        (3, "report date 'soon' in column Date Reported is not a date"),
        (4, "neither a call number nor any text"),
        (5, "has 1 more cell than the header (7)"),
    ]
    assert json.loads(str(rejected[0][2])) == {
        "Call Number": "10", "Building": "Larch School", "Description": "no date; call [phone]",
    }  # fmt: skip
    assert json.loads(json.loads(str(rejected[3][2]))["cells beyond the header"]) == ["cells"]
    assert store.row("SELECT not_data, rows_read FROM source_files WHERE name = 'calls/more.csv'") == (3, 5)
    assert store.value("SELECT flags FROM calls WHERE call_number = '13'") == ["cells missing"]


@pytest.mark.parametrize("write", [write_csv, write_xlsx])
def test_a_total_without_a_label_is_no_data_and_told(
    portfolio: Portfolio, intake: Intake, write: Callable[..., Path]
) -> None:
    path = portfolio.calls / ("log.csv" if write is write_csv else "log.xlsx")
    header = [*HEADER, "Labor Hours", "Labor Cost"]
    rows = [[*row, "1.5", "90.00"] for row in ROWS]
    no_date = ["9", "", "", "Open", "", "", "", "2", ""]
    write(path, [header, *rows, no_date, ["", "", "", "", "", "", "", "4.5", "270.00"]])
    accept(portfolio, path)
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT rows_read, rejected, not_data FROM source_files") == (4, 1, 2)
    told = store.rows("SELECT message FROM notices WHERE message LIKE '%taken for a total.'")
    assert [str(message).startswith("row 6 holds figures alone, at the end") for (message,) in told] == [True]


def test_the_later_state_of_a_call_wins_and_the_earlier_is_kept(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, ROWS)
    later = [
        "2",
        "2024-01-03 08:00",
        "2024-01-09 09:00",
        "Closed",
        "Larch School",
        "Pole light out",
        "New lamp",
    ]
    write_csv(
        portfolio.calls / "a_later_export.csv",
        [HEADER, later, ROWS[0], ["4", "2024-02-01", "", "Open", "", "x", ""]],
    )
    store = intake(portfolio)
    assert reconciles(store)
    (winner,) = _calls(store, "call_id, status, action_text", "call_number = '2' AND superseded_by IS NULL")
    (loser,) = _calls(
        store, "call_id, status, superseded_by", "call_number = '2' AND superseded_by IS NOT NULL"
    )
    assert winner[1:] == ("completed", "New lamp")
    assert loser == (f"{winner[0]}-1", "open", winner[0])
    # The same state twice: the copy in the later export stays.
    assert store.value(
        "SELECT name FROM calls JOIN source_files USING (file_id) WHERE call_number = '1' AND superseded_by IS NULL"
    ) == "calls/a_later_export.csv"  # fmt: skip
    assert store.value("SELECT count(*) FROM calls WHERE no_finding_reason = 'superseded'") == 2


def test_exact_repeats_in_one_file_are_superseded(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, [*ROWS, ROWS[0], ROWS[0]])
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT calls, superseded FROM source_files") == (3, 2)
    assert store.value("SELECT count(DISTINCT call_id) FROM calls") == 5


def test_identities_do_not_depend_on_file_or_row(
    portfolio: Portfolio, tmp_path: Path, intake: Intake
) -> None:
    _one_file(portfolio, ROWS)
    other = make_portfolio(tmp_path / "other")
    accept(other, write_csv(other.calls / "log.csv", [HEADER, *reversed(ROWS)]))
    (other.calls / "log.csv").rename(other.calls / "renamed.csv")
    assert _calls(intake(portfolio), "call_id, call_number") == _calls(intake(other), "call_id, call_number")


def test_alike_rows_without_a_number_are_two_calls_in_one_file_and_one_in_two(
    portfolio: Portfolio, intake: Intake
) -> None:
    header = ["Date Reported", "Building", "Description"]
    alike = ["2024-01-02 08:00", "Larch School", "Lot light out again"]
    path = write_csv(portfolio.calls / "a.csv", [header, alike, alike])
    accept(portfolio, path)
    write_csv(
        portfolio.calls / "b.csv", [header, alike, ["2024-01-03 08:00", "Larch School", "Lot light out"]]
    )
    store = intake(portfolio)
    assert reconciles(store)
    assert store.row("SELECT sum(calls)::INT, sum(superseded)::INT FROM source_files") == (3, 1)


def test_a_file_copied_twice_is_read_once(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, ROWS)
    (portfolio.calls / "copy.csv").write_bytes((portfolio.calls / "log.csv").read_bytes())
    store = intake(portfolio)
    assert store.count("source_files") == 1
    assert "byte for byte" in str(store.value("SELECT message FROM notices"))


def test_a_stated_duplicate_is_tied_to_the_call_it_repeats(portfolio: Portfolio, intake: Intake) -> None:
    said = [
        "Duplicate of Existing Case CRM # 355105", "DUPLICATE OF WO 101000355105", "same as 355105 of 1/2/24",
        "duplicate", "duplicate of 999999", "replaced fuse 355105",
    ]  # fmt: skip
    rows: list[list[object]] = [["101000355105", "2024-01-02", "", "Closed", "S", "Lot light out", "done"]]
    rows += [
        [str(500 + n), "2024-01-03", "", "Closed", "S", "Lot light out", text] for n, text in enumerate(said)
    ]
    _one_file(portfolio, rows)
    store = intake(portfolio)
    tied = store.rows(
        "SELECT c.call_number FROM calls c JOIN calls o ON o.call_id = c.duplicate_of "
        "WHERE o.call_number = '101000355105' ORDER BY 1"
    )
    assert tied == [("500",), ("501",), ("502",)]
    assert store.value("SELECT count(duplicate_of) FROM calls") == 3


def test_two_calls_that_name_each_other_are_tied_one_way(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, [
        ["70001", "2024-01-02", "", "Closed", "S", "Light out", "dup of 70002"],
        ["70002", "2024-01-03", "", "Closed", "S", "Light out", "dup of 70001"],
    ])  # fmt: skip
    assert intake(portfolio).rows("SELECT call_number FROM calls WHERE duplicate_of IS NOT NULL") == [
        ("70002",)
    ]


def test_impossible_dates_are_flagged_and_not_used(tmp_path: Path, intake: Intake) -> None:
    portfolio = make_portfolio(tmp_path / "p", "[log]\nstart = 2024-01-01\nend = 2024-12-31\n")
    _one_file(portfolio, [
        ["1", "2024-03-02 08:00", "2024-03-01 10:00", "Closed", "S", "Light out", ""],
        ["2", "2024-03-03 08:00", "2104-03-01 10:00", "Closed", "S", "Light out", ""],
        ["3", "1924-03-04 08:00", "", "Open", "S", "Light out", ""],
        ["4", "2024-03-05 08:00", "never", "Closed", "S", "Light out", ""],
        ["5", "2024-03-06 08:00", "2024-03-06", "Closed", "S", "Light out", ""],
    ])  # fmt: skip
    store = intake(portfolio)
    found = {row[0]: row[1:] for row in _calls(store, "call_number, completed_at, status, flags")}
    assert found == {
        "1": (None, "completed", ["completed before reported"]),
        "2": (None, "completed", ["date to check"]),
        "3": (None, "open", ["outside the log"]),
        "4": (None, "completed", ["date to check"]),
        "5": (datetime(2024, 3, 6, 8), "completed", None),
    }
    assert store.value("SELECT flagged FROM source_files") == 4


def test_without_a_stated_log_a_stray_year_is_still_noticed(portfolio: Portfolio, intake: Intake) -> None:
    rows: list[list[object]] = [
        [str(n), f"2024-{1 + n % 12:02}-11", "", "Open", "S", f"Light {n} out", ""] for n in range(60)
    ]
    _one_file(portfolio, [*rows, ["900", "2204-01-11", "", "Open", "S", "Light out", ""]])
    flagged = intake(portfolio).rows("SELECT call_number, flags FROM calls WHERE flags IS NOT NULL")
    assert flagged == [("900", ["outside the log"])]


def test_a_default_coordinate_is_flagged_and_a_busy_site_is_not(portfolio: Portfolio, intake: Intake) -> None:
    header = ["Ticket", "Date", "Address", "Latitude", "Longitude", "Description"]
    rows = [[n, "2024-01-02", f"{n} Larch St", "40.5", "-105.5", "light out"] for n in range(150)]
    rows += [[1000 + n, "2024-01-02", "Quill Hall", "40.7", "-105.7", "light out"] for n in range(150)]
    rows += [
        [2000, "2024-01-02", "x", "0", "0", "light out"],
        [2001, "2024-01-02", "y", "91", "0", "light out"],
    ]
    accept(portfolio, write_csv(portfolio.calls / "t.csv", [header, *rows]))
    store = intake(portfolio)
    flagged = "SELECT flags, count(*), min(latitude) FROM calls WHERE flags IS NOT NULL GROUP BY 1 ORDER BY 2"
    assert store.rows(flagged) == [(["coordinate to check"], 1, None), (["default coordinate"], 151, 0.0)]


def test_values_without_a_meaning_are_unknown_and_told(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, [[*ROWS[0][:3], "Zorp", *ROWS[0][4:]], *ROWS[1:]])
    store = intake(portfolio)
    assert store.value("SELECT status FROM calls WHERE call_number = '1'") == "unknown"
    assert "status 'Zorp' (1 row) has no meaning" in str(store.value("SELECT message FROM notices"))


def test_of_many_values_without_a_meaning_the_commonest_are_named_and_the_rest_counted(
    portfolio: Portfolio, intake: Intake
) -> None:
    header = ["Ticket", "Date", "Problem", "State"]
    rows = [[f"T{n}", "2024-01-02", f"Pole light {n} out", f"zorp {min(n, 59):02}"] for n in range(70)]
    path = write_csv(portfolio.calls / "log.csv", [header, *rows])
    accept(portfolio, path, columns={"status": ["State"]})
    told = [
        message
        for (message,) in intake(portfolio).rows("SELECT message FROM notices WHERE message LIKE '%status%'")
    ]
    assert told[0].startswith("status 'zorp 59' (11 rows) has no meaning")
    assert sum("has no meaning" in one for one in told) == 50
    assert told[-1].startswith("10 rarer values of status without a meaning are not named")


def test_a_file_in_the_other_date_order_is_refused(portfolio: Portfolio, intake: Intake) -> None:
    header = ["Ticket", "Date", "Description"]
    accept(portfolio, write_csv(portfolio.calls / "a.csv", [header, ["1", "3/25/2024", "light out"]]))
    write_csv(portfolio.calls / "b.csv", [header, ["2", "25/3/2024", "light out"]])
    with pytest.raises(
        InputFaults, match=r"calls/b.csv: is read month first .* 1 of its dates fit only day first"
    ):
        intake(portfolio)


def test_a_layout_that_does_not_say_the_order_is_refused(portfolio: Portfolio, intake: Intake) -> None:
    path = write_csv(
        portfolio.calls / "a.csv", [["Ticket", "Date", "Description"], ["1", "3/4/2024", "light out"]]
    )
    save_layout(portfolio, propose_layout(path, portfolio).draft)
    with pytest.raises(InputFaults, match="does not say which comes first"):
        intake(portfolio)


def test_two_systems_that_share_calls_are_told(portfolio: Portfolio, intake: Intake) -> None:
    rows = [[str(n), f"2024-01-{1 + n % 28:02}", "", "Open", "S", f"light {n} out", ""] for n in range(40)]
    _one_file(portfolio, rows)
    other = [["Ticket", "Created", "Problem"], *([row[0], row[1], row[5]] for row in rows)]
    accept(portfolio, write_csv(portfolio.calls / "other.csv", other))
    assert "share 40 call numbers" in str(intake(portfolio).value("SELECT string_agg(message) FROM notices"))


def test_several_sheets_with_calls_are_read_each_as_an_export(portfolio: Portfolio, intake: Intake) -> None:
    import xlsxwriter

    path = portfolio.calls / "book.xlsx"
    with xlsxwriter.Workbook(path) as book:
        for name in ("2023", "2024"):
            page = book.add_worksheet(name)
            for number, row in enumerate([HEADER, *ROWS]):
                page.write_row(number, 0, [name + row[0] if number else row[0], *row[1:]])
        book.add_worksheet("Notes").write(0, 0, "printed for the board")
    accept(portfolio, path)
    store = intake(portfolio)
    assert reconciles(store)
    files = store.rows("SELECT name, sheet, rows_read, calls FROM source_files ORDER BY sheet")
    assert files == [("calls/book.xlsx", year, len(ROWS), len(ROWS)) for year in ("2023", "2024")]
    assert store.value("SELECT count(DISTINCT file_id) FROM calls") == 2
    said = store.rows("SELECT message FROM notices WHERE stage = 'ingest'")
    assert ("only sheets '2023' and '2024' were read; left aside: 'Notes'.",) in said


PEOPLE = [
    ["Call Number", "Date Reported", "Description", "Action Taken", "Requester", "Phone", "Technician"],
    ["1", "2024-01-02", "Light on. Call Tarka Quendle 415-555-0143", "Bram Ostwick reset it", "Tarka Quendle",
     "415-555-0143", "Bram Ostwick"],
    ["2", "2024-01-03", "Quendle says light out, t.quendle@school.example.org", "", "Quendle, Tarka", "", ""],
    ["3", "", "Tarka Quendle again", "", "Tarka Quendle", "415-555-0143", ""],
]  # fmt: skip


def test_no_person_reaches_the_database_or_the_cache(portfolio: Portfolio, intake: Intake) -> None:
    accept(portfolio, write_xlsx(portfolio.calls / "people.xlsx", PEOPLE))
    store = intake(portfolio)
    assert store.value("SELECT withheld_columns FROM source_files") == ["Requester", "Phone", "Technician"]
    stored = str(store.rows("FROM calls")) + str(store.rows("FROM rejected_rows"))
    store.run(f"CREATE TABLE kept AS FROM read_parquet('{portfolio.cache}/*.parquet')")
    stored += str(store.rows("FROM kept")) + "".join(
        path.read_text() for path in portfolio.cache.glob("*.json")
    )
    for person in ("tarka", "quendle", "bram", "ostwick", "0143", "@"):
        assert person not in stored.lower()
    assert "Light on. Call [name] [phone]" in stored


def test_the_cache_is_used_again_and_forgets_what_changed(
    portfolio: Portfolio, intake: Intake, monkeypatch: pytest.MonkeyPatch
) -> None:
    _one_file(portfolio, ROWS)
    first = intake(portfolio).rows("FROM calls ORDER BY call_id")
    kept = {path.name: path.stat().st_mtime_ns for path in portfolio.cache.glob("*.*")}
    with monkeypatch.context() as patched:
        patched.setattr("pipeline.ingest.read.load_rows", lambda *_: pytest.fail("the file was parsed again"))
        assert intake(portfolio).rows("FROM calls ORDER BY call_id") == first
    assert {path.name: path.stat().st_mtime_ns for path in portfolio.cache.glob("*.*")} == kept
    write_csv(portfolio.calls / "log.csv", [HEADER, *ROWS[:2]])
    assert intake(portfolio).count("calls") == 2
    assert not set(kept) & {path.name for path in portfolio.cache.glob("*.*")}


def test_a_privacy_setting_reads_the_file_anew(portfolio: Portfolio, intake: Intake) -> None:
    _one_file(portfolio, [[*ROWS[0][:5], "call 415-555-0143", ""]])
    assert intake(portfolio).value("SELECT problem_text FROM calls") == "call [phone]"
    settings = portfolio.settings_file
    settings.write_text(settings.read_text() + "[privacy]\nmask_free_text = false\n")
    assert (
        intake(Portfolio.read(portfolio.folder)).value("SELECT problem_text FROM calls")
        == "call 415-555-0143"
    )


def test_text_that_looks_like_sql_or_formulas_is_only_text(portfolio: Portfolio, intake: Intake) -> None:
    nasty = [
        "'; DROP TABLE calls; --",
        '=HYPERLINK("x")',
        "<script>",
        "{{7*7}}",
        "\\1 $text %s",
        "a''b",
        "\x00".join(["", ""]),
    ]
    rows: list[list[object]] = [
        [str(n), "2024-01-02", "", "Open", "S'; --", text or "x", ""] for n, text in enumerate(nasty)
    ]
    header = [*HEADER[:4], "Building", "Description", "Action 'Taken"]
    path = write_csv(
        portfolio.calls / "it's.csv",
        [header, *([*row[:6], "x"] for row in rows if "\x00" not in str(row[5]))],
    )
    accept(portfolio, path)
    found = intake(portfolio).rows("SELECT problem_text FROM calls ORDER BY call_number")
    assert [text for (text,) in found] == nasty[:6]


def test_clock_changes_are_flagged_and_no_reason_to_doubt_a_completion(
    portfolio: Portfolio, intake: Intake
) -> None:
    """Denver's clocks went from 2:00 to 3:00 on 2024-03-10 and from 2:00 back to 1:00 on 2024-11-03 (IANA tz data)."""
    _one_file(portfolio, [
        ["1", "2024-03-10 02:30", "2024-03-12 10:00", "Closed", "S", "Light out", ""],
        ["2", "2024-03-11 02:30", "2024-03-12 10:00", "Closed", "S", "Light out", ""],
        ["3", "2024-11-03 01:50", "2024-11-03 01:10", "Closed", "S", "Light out", ""],
        ["4", "2024-11-04 01:50", "2024-11-04 01:10", "Closed", "S", "Light out", ""],
    ])  # fmt: skip
    found = {row[0]: row[1:] for row in _calls(intake(portfolio), "call_number, completed_at, flags")}
    assert found == {
        "1": (datetime(2024, 3, 12, 10), ["hour to check"]),
        "2": (datetime(2024, 3, 12, 10), None),
        "3": (datetime(2024, 11, 3, 1, 50), None),
        "4": (None, ["completed before reported"]),
    }


def test_times_without_am_and_pm_are_told_and_only_their_days_are_used(
    portfolio: Portfolio, intake: Intake
) -> None:
    _one_file(portfolio, [
        [str(n), f"{n % 12 + 1}/{n % 27 + 1}/2024 {n % 12 + 1}:15", "", "Open", "S", f"Light {n} out", ""]
        for n in range(40)
    ])  # fmt: skip
    store = intake(portfolio)
    assert store.value("SELECT count(*) FROM calls WHERE hour(reported_at) <> 0") == 0
    assert "without AM or PM, none later than 12:59: only their days are used (reported_at)" in str(
        store.value("SELECT message FROM notices")
    )


def test_a_house_number_and_its_street_are_one_address(portfolio: Portfolio, intake: Intake) -> None:
    header = ["Ticket", "Date", "House No", "Street", "Description"]
    rows = [[n, "2024-01-02", n + 10, "Larch St", f"light {n} out"] for n in range(20)]
    accept(portfolio, write_csv(portfolio.calls / "t.csv", [header, *rows]))
    assert intake(portfolio).value("SELECT min(address_text) FROM calls") == "10 Larch St"
