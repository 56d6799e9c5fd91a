"""The page Intake: files dropped, proposals confirmed, a build, and what a failed one leaves."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from core import small_portfolio
from opening import Open
from reading import press, words
from streamlit.testing.v1 import AppTest

from dashboard import building
from pipeline.build import build, current_database
from pipeline.faults import InputFaults
from pipeline.intake_actions import safe_name
from pipeline.lock import sole_build
from pipeline.portfolio import Portfolio
from pipeline.template import lay_out

HEADER = "Ticket,Raised,Done,Building,Details,Caller\n"
OPEN_DATES = HEADER + "".join(
    f"{n},0{n}/0{n + 1}/2023,0{n + 1}/0{n + 2}/2023,North Yard,Pole {n} lit by day call 415-555-0143,Tarka Quendle\n"
    for n in range(1, 8)
)
CLEAR_DATES = HEADER + "".join(
    f"{n},2023-03-{n:02},2023-04-{n:02},North Yard,Pole {n} burning by day; ask for Tarka Quendle,Tarka Quendle\n"
    for n in range(1, 20)
)
MORE_CALLS = small_portfolio.CALLS.splitlines()[0] + (
    "\n201,2023-03-01 09:00,2023-03-05 15:00,Closed,North Yard,PC-0001,Lot light on all day,Replaced photocell\n"
)


@pytest.fixture
def fresh(tmp_path: Path) -> Path:
    """A folder as `dayburn new` lays it out."""
    folder = tmp_path / "fresh"
    lay_out(folder, "USD", "America/Denver")
    return folder


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The portfolio of two yards, built; tests that write take a copy."""
    folder = small_portfolio.make(tmp_path_factory.mktemp("yards") / "yards")
    build(folder)
    return folder


@pytest.fixture
def yards(template: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(template, tmp_path / "yards"))


def drop(app: AppTest, *files: tuple[str, str]) -> AppTest:
    """Drop files (name, text) on the page."""
    app.file_uploader[0].set_value([(name, text.encode(), "text/csv") for name, text in files])
    app.run()
    assert not app.exception, [one.value for one in app.exception]
    return app


def files_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()} if folder.is_dir() else set()


def confirm(app: AppTest) -> AppTest:
    return press(app, "Confirm file 1 of 1")


def test_a_folder_that_was_never_built_opens_on_intake(open_page: Open, fresh: Path) -> None:
    app = open_page(fresh)
    assert [title.value for title in app.title] == ["Intake"]
    assert "Nothing has been built yet" in words(app)
    assert app.file_uploader[0].label == "Work-order exports and inventories"


def test_an_unknown_file_is_proposed_with_masked_examples_and_nothing_is_written(
    open_page: Open, fresh: Path
) -> None:
    app = drop(open_page(fresh), ("tickets.csv", CLEAR_DATES))
    said = words(app)
    for part in ("(reported_at)", "Raised", "sure", "Withheld (people; never loaded): Caller", "[name]"):
        assert part in said
    assert "Quendle" not in said
    assert not files_in(fresh / "calls")
    assert not files_in(fresh / "layouts")


def test_confirming_saves_the_layout_and_the_file_and_a_build_shows_the_reconciliation(
    open_page: Open, fresh: Path
) -> None:
    app = confirm(drop(open_page(fresh), ("tickets.csv", CLEAR_DATES)))
    assert files_in(fresh / "layouts") == {"tickets.toml"}
    assert (fresh / "calls" / "tickets.csv").read_text() == CLEAR_DATES
    assert "Saved layouts/tickets.toml; the file is calls/tickets.csv." in words(app)
    app = press(app, "Build")
    assert current_database(fresh).is_file()
    said = words(app)
    assert "Built" in said
    assert "What the data support" in said
    files = app.dataframe[0].value
    assert list(files["name"]) == ["calls/tickets.csv"]
    assert list(files["rows_read"]) == [19]


def test_what_was_read_does_not_wait_and_a_new_export_in_calls_does(open_page: Open, yards: Path) -> None:
    (yards / "calls" / "more.csv").write_text(MORE_CALLS)
    said = words(open_page(yards, "intake"))
    assert "more.csv: in calls/, read by the next build; layout orders" in said
    assert "orders.csv: in calls/" not in said


def test_a_known_file_is_added_with_one_press(open_page: Open, yards: Path) -> None:
    app = drop(open_page(yards, "intake"), ("more.csv", MORE_CALLS))
    assert "more.csv: known; layout orders" in words(app)
    press(app, "Add 1 known file")
    assert (yards / "calls" / "more.csv").read_text() == MORE_CALLS


def test_a_file_of_another_content_is_never_overwritten(open_page: Open, yards: Path) -> None:
    app = press(drop(open_page(yards, "intake"), ("orders.csv", MORE_CALLS)), "Add 1 known file")
    assert "orders.csv: exists with other content." in words(app)
    assert (yards / "calls" / "orders.csv").read_text() == small_portfolio.CALLS


def test_an_open_order_of_dates_is_asked_and_the_answer_counts(open_page: Open, fresh: Path) -> None:
    app = drop(open_page(fresh), ("tickets.csv", OPEN_DATES))
    assert "Still to decide" in words(app)
    assert next(one for one in app.button if one.label == "Confirm file 1 of 1").disabled
    choice = next(one for one in app.radio if one.label == "How this file writes dates")
    assert choice.value is None
    app = choice.set_value("DMY").run()
    assert "Still to decide" not in words(app)
    confirm(app)
    assert 'date_order = "day first"' in (fresh / "layouts" / "tickets.toml").read_text()


def test_a_column_can_be_changed(open_page: Open, fresh: Path) -> None:
    app = drop(open_page(fresh), ("tickets.csv", CLEAR_DATES))
    boxes = {one.label.split("`")[1]: one for one in app.multiselect if "`" in one.label}
    assert boxes["completed_at"].value == ["Done"]
    boxes["completed_at"].set_value([])
    boxes["address_text"].set_value(["Building"])
    boxes["site_text"].set_value([])
    confirm(press(app, "Propose with these columns"))
    layout = (fresh / "layouts" / "tickets.toml").read_text()
    assert 'address_text = "Building"' in layout
    assert "completed_at" not in layout
    assert "site_text" not in layout


def test_a_name_in_calls_that_is_no_text_does_not_break_the_page(open_page: Open, yards: Path) -> None:
    try:
        Path(os.fsdecode(bytes(yards / "calls") + b"/b\xff.csv")).write_text(MORE_CALLS)
    except OSError:
        pytest.skip("this file system takes only text for names")
    app = press(open_page(yards, "intake"), "Build")
    assert "has a name that is not UTF-8 text" in words(app)


def test_every_broken_file_is_told_at_once(open_page: Open, yards: Path) -> None:
    app = drop(open_page(yards, "intake"), ("a.pdf", "%PDF-1.4 no table"), ("b.xlsx", "no workbook"))
    said = words(app)
    assert "a.pdf:" in said
    assert "b.xlsx:" in said
    assert files_in(yards / "calls") == {"orders.csv"}


@pytest.mark.parametrize("name", ["../x.csv", "a/b.csv", "a\\b.csv", "..", " . "])
def test_a_name_that_is_a_path_is_refused(name: str) -> None:
    with pytest.raises(InputFaults, match="has a name that is a path"):
        safe_name(name)


@pytest.mark.parametrize("name", [".hidden.csv", "~$open.xlsx", "con.csv", "x" * 201])
def test_a_name_that_no_folder_should_hold_is_refused(name: str) -> None:
    with pytest.raises(InputFaults):
        safe_name(name)


def test_other_names_are_kept_or_made_harmless() -> None:
    assert safe_name("März 2024 (2).csv") == "März 2024 (2).csv"
    assert safe_name('a:b"\u202e\x1b.csv') == "a_b___.csv"


def test_a_path_for_a_name_is_refused_on_the_page(open_page: Open, yards: Path) -> None:
    app = drop(open_page(yards, "intake"), ("../portfolio.toml", "x"))
    assert "has a name that is a path" in words(app)


def test_a_failed_build_says_why_and_leaves_the_old_result(open_page: Open, yards: Path) -> None:
    before = current_database(yards)
    (yards / "controls.csv").write_text("control_id\nPC-0001\n", encoding="utf-8")
    app = press(open_page(yards, "intake"), "Build")
    said = words(app)
    assert "The build stopped" in said
    assert "controls.csv" in said
    assert current_database(yards) == before
    assert list(app.dataframe[0].value["name"]) == ["calls/orders.csv"]


def test_a_build_elsewhere_is_told(open_page: Open, yards: Path) -> None:
    with sole_build(yards, yards / "built"):
        app = press(open_page(yards, "intake"), "Build")
    assert "is being built by another dayburn" in words(app)


def test_a_mistake_of_our_own_is_told_and_kept_apart(yards: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(folder: Path, progress: object) -> None:
        raise ZeroDivisionError("no such thing")

    monkeypatch.setattr(building, "build", broken)
    job = building.start(yards)
    assert job.wait(10)
    assert "ZeroDivisionError: no such thing" in job.told[0]


def test_files_put_into_calls_by_hand_are_proposed_too(open_page: Open, fresh: Path) -> None:
    (fresh / "calls" / "tickets.csv").write_text(CLEAR_DATES)
    confirm(open_page(fresh))
    assert files_in(fresh / "layouts") == {"tickets.toml"}


def test_an_inventory_is_read_as_a_register(open_page: Open, yards: Path) -> None:
    text = "LIGHT ID,CONTROLLER,LAMP,LAMP WATTS,CREW\n" + "".join(
        f"L{n},PC-0001,LED,{100 + n},call 415-555-0143\n" for n in range(9)
    )
    app = drop(open_page(yards, "intake"), ("lights.csv", text))
    kind = next(one for one in app.selectbox if one.label == "What file 1 of 1 lists")
    app = kind.set_value("fixtures").run()
    assert "Read as: fixtures" in words(app)
    confirm(app)
    assert (yards / "registers" / "lights.csv").read_text() == text
    assert 'register = "fixtures"' in (yards / "layouts" / "fixtures-inventory.toml").read_text()


def test_the_dropped_file_goes_from_the_temporary_folder_when_it_is_accepted(
    open_page: Open, fresh: Path
) -> None:
    app = drop(open_page(fresh), ("tickets.csv", CLEAR_DATES))
    kept = next(iter(app.session_state["intake_dropped"].values()))
    assert kept.is_file()
    assert not kept.is_relative_to(fresh)
    app = confirm(app)
    assert "intake_dropped" not in app.session_state
    assert Portfolio.read(fresh).export_files() == [fresh / "calls" / "tickets.csv"]


def test_windows_of_record_are_confirmed_site_by_site(open_page: Open, tmp_path: Path) -> None:
    months = [(year, month) for year in (2020, 2023) for month in range(1, 13)]
    lines = [
        f"{year}{month:02}{site[0]},{year}-{month:02}-10 09:00,,Open,{site},,Pole light out at night,"
        for year, month in months
        for site in ("North Yard", "South Yard")
        if site == "North Yard" or year == 2020
    ]
    calls = "\n".join([small_portfolio.CALLS.splitlines()[0], *lines]) + "\n"
    folder = small_portfolio.make(tmp_path / "gaps", calls)
    build(folder)
    app = open_page(folder, "intake")
    sites = next(one for one in app.multiselect if one.label == "Sites whose windows are right")
    assert set(sites.options) == {"S1", "S2"}
    app = press(sites.set_value(["S2"]).run(), "Confirm windows of 1 site")
    assert "to windows.csv" in words(app)
    assert {line.split(",")[0] for line in (folder / "windows.csv").read_text().splitlines()[1:]} == {"S2"}
    again = next(one for one in app.multiselect if one.label == "Sites whose windows are right")
    assert again.options == ["S1"]


def test_a_file_is_removed_and_put_back(open_page: Open, yards: Path) -> None:
    app = open_page(yards, "intake")
    app.selectbox(key="kept_files_remove").select_index(0)
    app = app.run()
    app = app.button(key="kept_files_remove_now").click().run()
    assert "removed/calls/orders.csv" in words(app)
    assert not (yards / "calls" / "orders.csv").exists()
    app.selectbox(key="kept_files_put_back").select_index(0)
    app = app.run()
    app.button(key="kept_files_put_back_now").click().run()
    assert (yards / "calls" / "orders.csv").is_file()
