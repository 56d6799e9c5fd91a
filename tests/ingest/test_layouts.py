"""Layout files: what is saved is read back, and everything wrong in them is told at once."""

from __future__ import annotations

import pytest

from pipeline.faults import InputFaults
from pipeline.ingest.layouts import Layout, free_name, name_from, read_layouts, write_layout
from pipeline.portfolio import Portfolio

LAYOUT = Layout(
    name="city",
    source="city desk",
    header=("No", "Opened", "Day", 'What "was" said', "Who"),
    date_order="day first",
    withheld=("Who",),
    columns={"call_number": ("No",), "reported_at": ("Opened", "Day"), "problem_text": ('What "was" said',)},
    values={"status": {"Closed = done": "completed"}},
)


def _save(portfolio: Portfolio, name: str, text: str) -> None:
    portfolio.layouts.mkdir(exist_ok=True)
    (portfolio.layouts / name).write_text(text, encoding="utf-8")


def test_a_saved_layout_is_read_back_the_same(portfolio: Portfolio) -> None:
    write_layout(portfolio, LAYOUT)
    assert read_layouts(portfolio) == {LAYOUT.header: LAYOUT}


def test_a_folder_without_layouts_has_none(portfolio: Portfolio) -> None:
    assert read_layouts(portfolio) == {}


def test_all_faults_of_all_layouts_are_told_at_once(portfolio: Portfolio) -> None:
    _save(
        portfolio, "a.toml",
        'name = "a"\nsource = "a"\nheader = ["No", "Day"]\nwithheld = ["No", "Gone"]\n[columns]\n'
        'call_number = "No"\naddress = "Day"\nproblem_text = "Nowhere"\n[values.status]\nDone = "finished"\n',
    )  # fmt: skip
    _save(
        portfolio, "b.toml", 'name = "B!"\nsource = "b"\nheader = ["No", "Day"]\ndateorder = "x"\n[columns]\n'
    )
    _save(portfolio, "c.toml", "name = \n")
    with pytest.raises(InputFaults) as caught:
        read_layouts(portfolio)
    told = str(caught.value)
    for said in (
        "'No' is withheld as well", "'Gone' is not in the header", "columns.address: is not a field",
        "'Nowhere' is not in the header", "'Done' is given the meaning 'finished'", "no column gives the report date",
        "dateorder: is not a setting of a layout", "layouts/b.toml, name", "layouts/c.toml: is not valid TOML",
    ):  # fmt: skip
        assert said in told


def test_two_layouts_for_one_header_are_refused(portfolio: Portfolio) -> None:
    write_layout(portfolio, LAYOUT)
    write_layout(portfolio, LAYOUT.model_copy(update={"name": "other"}))
    with pytest.raises(InputFaults, match="same header as 'city'"):
        read_layouts(portfolio)


def test_a_layout_that_contradicts_itself_is_not_saved(portfolio: Portfolio) -> None:
    broken = LAYOUT.model_copy(update={"columns": {"reported_at": ("Nowhere",)}})
    with pytest.raises(InputFaults, match="not in the header"):
        write_layout(portfolio, broken)
    assert not portfolio.layouts.exists()


def test_unused_columns_are_those_neither_read_nor_withheld() -> None:
    assert LAYOUT.model_copy(update={"withheld": ()}).unused() == ("Who",)
    assert LAYOUT.unused() == ()


def test_names_come_from_the_file_and_stay_free() -> None:
    assert name_from("Work Orders 2018-2019 (export).csv") == "work-orders"
    assert name_from("2024.csv") == "calls"
    assert free_name("city", [LAYOUT], ("Other",)) == "city-2"
    assert free_name("anything", [LAYOUT], LAYOUT.header) == "city"
