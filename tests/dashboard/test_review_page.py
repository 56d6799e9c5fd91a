"""The Review page: what it lists, how a decision is taken and undone, and that nothing else is ever written."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest
from dashboard_folders import publish
from figures.small_store import FORMULA, SCRIPT, small_store
from opening import Open
from reading import markup, press, tables, words
from streamlit.testing.v1 import AppTest

from pipeline.decision_file import append_decisions, read_decisions
from pipeline.decisions import Decision
from pipeline.figures import doubtful_readings, open_ties
from pipeline.store import Store


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    """A copy that a test may write decisions into."""
    return Path(shutil.copytree(small_folder, tmp_path / "own"))


def decide(app: AppTest, name: str, choice: str, *, who: str = "Rev 2", why: str = "saw it") -> AppTest:
    """Choose and confirm in the form of a line."""
    app.text_input(key="review_who").set_value(who)
    radio = next(one for one in app.radio if str(one.key).startswith(f"doubt_{name}"))
    radio.set_value(choice)
    app.text_input(key=str(radio.key).replace("_value", "_why")).set_value(why)
    button = next(one for one in app.button if one.label.startswith("Confirm for all of these"))
    button.click().run()
    assert not app.exception, [one.value for one in app.exception]
    return app


def test_open_and_doubtful_stand_in_their_order_with_file_and_row(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    app = open_page(small_folder, "review")
    ties, doubts = tables(app)[:2]
    assert ties["row_number"].tolist() == open_ties(small)["row_number"].tolist() == [11]
    assert doubts["failures_at_stake"].tolist() == pytest.approx([2.55, 0.4, 0.1])
    assert doubts["rule"].tolist() == doubtful_readings(small)["rule"].tolist()
    assert set(doubts["source_file"]) == {"orders.csv"}
    assert "Nothing has been decided" in words(app)
    assert "There is no earlier build to compare with" in words(app)


def test_choosing_and_confirming_writes_one_row_and_says_that_a_build_is_due(
    open_page: Open, folder: Path
) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    app = decide(open_page(folder, "review"), "rule", "The control did not fail")
    (row,) = read_decisions(folder / "decisions.csv")
    assert (row.who, row.target, row.field, row.value, row.why) == (
        "Rev 2", "pattern", "control_failed", "no", "saw it",
    )  # fmt: skip
    assert row.key == "rule = day burning | control | replaced | burns"
    said = words(app)
    assert "Written to decisions.csv control_failed = no" in said
    assert "1 row waits for the next build" in said
    assert "waits for the next build" in said
    assert tables(app)[1]["decided"].tolist() == ["yes", "", ""]
    assert app.selectbox(key="review_line_doubtful-rule").value == 1  # the next that nobody has decided
    written = {path for path in folder.rglob("*") if path.is_file()} - set(before)
    assert written == {folder / "decisions.csv"}
    assert all(path.read_bytes() == content for path, content in before.items())


def test_a_reason_that_names_people_is_shown_masked_and_the_person_is_told(
    open_page: Open, folder: Path
) -> None:
    app = decide(open_page(folder, "review"), "rule", "The control failed", why="ask for Petra, 970-555-0134")
    said = words(app)
    assert "People are masked: why is shown as 'ask for [name], [phone]'" in said
    assert tables(app)[2]["why"].tolist() == ["ask for [name], [phone]"]
    assert "555-0134" not in said
    (row,) = read_decisions(folder / "decisions.csv")
    assert row.why == "ask for Petra, 970-555-0134"


def test_nothing_is_written_without_a_name_a_choice_and_a_reason(open_page: Open, folder: Path) -> None:
    app = decide(open_page(folder, "review"), "rule", "The control failed", who="", why=" ")
    said = words(app)
    assert "Nothing was written" in said
    assert "Write your name, initials or role first" in said
    assert "Write a reason." in said
    assert not (folder / "decisions.csv").exists()


def test_two_clicks_decide_once_a_name_is_written(open_page: Open, folder: Path) -> None:
    app = open_page(folder, "review")
    app.text_input(key="review_who").set_value("Rev").run()
    next(one for one in app.radio if str(one.key).startswith("doubt_")).set_value("The control failed")
    next(one for one in app.button if one.label.startswith("Confirm for all of these")).click().run()
    (row,) = read_decisions(folder / "decisions.csv")
    assert (row.who, row.value, row.why) == ("Rev", "yes", "read on review")


def test_a_finding_whose_verdict_was_decided_is_still_an_open_tie(open_page: Open, folder: Path) -> None:
    row = Decision(datetime(2024, 5, 1), "Rev", "finding", "k10/1", "control_failed", "yes", "bench")
    append_decisions(folder / "decisions.csv", [row])
    assert tables(open_page(folder, "review"))[0]["decided"].tolist() == [""]


def test_undo_adds_a_row_and_erases_none(open_page: Open, folder: Path) -> None:
    app = decide(open_page(folder, "review"), "rule", "The control failed")
    first = (folder / "decisions.csv").read_bytes()
    press(app, "Undo row 2")
    assert not app.exception
    assert (folder / "decisions.csv").read_bytes().startswith(first)
    rows = read_decisions(folder / "decisions.csv")
    assert [row.value for row in rows] == ["yes", ""]
    assert "Nothing has been decided" in words(app)
    assert "2 rows wait" in words(app)


def test_a_place_is_chosen_from_the_controls_of_its_site(open_page: Open, folder: Path) -> None:
    app = open_page(folder, "review")
    app.text_input(key="review_who").set_value("Rev")
    place = next(one for one in app.radio if str(one.key).startswith("tie_"))
    assert place.options == ["C3, south / C3, timer", "C5, south / C5, photocontrol"]
    place.set_value("C5")
    app.text_input(key=str(place.key).replace("_value", "_why")).set_value("site visit")
    press(app, "Confirm for this one finding")
    (row,) = read_decisions(folder / "decisions.csv")
    assert (row.target, row.key, row.field, row.value) == ("finding", "k10/1", "control_id", "C5")


def test_texts_of_calls_are_never_markup(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "review")
    app.radio(key="review_by").set_value("By text").run()
    assert not app.exception
    doubts = tables(app)[1]
    assert {SCRIPT, FORMULA} <= set(doubts["problem_text"])
    assert "<script" not in markup(app)
    assert not app.markdown


def test_one_text_can_be_told_to_be_no_lighting(open_page: Open, folder: Path) -> None:
    app = open_page(folder, "review")
    app.radio(key="review_by").set_value("By text").run()
    radio = next(one for one in app.radio if str(one.key).startswith("doubt_text ="))
    radio.set_value("This is not exterior lighting")
    app.text_input(key="review_who").set_value("Rev")
    app.text_input(key=str(radio.key).replace("_value", "_why")).set_value("indoors")
    press(app, "Confirm for all calls that say the same")
    (row,) = read_decisions(folder / "decisions.csv")
    assert (row.target, row.field, row.value) == ("pattern", "is_lighting", "no")
    assert row.key.startswith("text = ")


def test_a_faulty_file_is_told_and_nothing_is_added_to_it(open_page: Open, folder: Path) -> None:
    (folder / "decisions.csv").write_text("when,who\n", encoding="utf-8")
    said = words(open_page(folder, "review"))
    assert "decisions.csv cannot be used" in said
    assert "row 1" in said


def test_figures_before_and_after_stand_side_by_side(open_page: Open, folder: Path) -> None:
    later = small_store()
    later.run("UPDATE incidents SET failed_probability = 1 WHERE incident_id = 'i06'")
    publish(later, folder, "b2")
    (folder / "built" / "previous").write_text("b1\n", encoding="utf-8")
    said = words(open_page(folder, "review"))
    assert "Before and after" in said
    assert "5.45" in said
    assert "6.95" in said  # three controls that failed for sure, instead of one in two


def test_reach_of_a_built_decision_is_shown(open_page: Open, folder: Path) -> None:
    decide(open_page(folder, "review"), "rule", "The control did not fail")
    (row,) = read_decisions(folder / "decisions.csv")
    built = small_store()
    built.run(
        "INSERT INTO decisions VALUES (2, ?, ?, ?, ?, ?, ?, ?, 'in force', 8, 9)",
        [row.when, row.who, row.target, row.key, row.field, row.value, row.why],
    )
    publish(built, folder, "b2")
    said = words(open_page(folder, "review"))
    assert "in force; reaches 9 findings in 8 calls" in said
    assert "wait for the next build" not in said


def test_learnt_rules_and_accuracy_are_shown(open_page: Open, folder: Path) -> None:
    built = small_store()
    built.run("INSERT INTO verdict_rules VALUES ('burns', 1, 'built in', 0.6, 10, 8, 2, 14, 6, 0.7, 40)")
    built.run("INSERT INTO decided_cases SELECT n, 'burns', n <= 8, 0.6 FROM range(1, 11) t(n)")
    publish(built, folder, "b3")
    said = words(open_page(folder, "review"))
    assert "burns built in 60 % 8 2 70 %" in said
    assert "precision 80 % 49" in said  # Wilson, 8 of 10: 49.0 to 94.3 %
