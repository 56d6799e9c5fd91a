"""Planned work, inspections and projects told from reports where an export has no work type."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.portfolio import Portfolio
from pipeline.store import Store

from .making import accept, write_csv

Intake = Callable[[Portfolio], Store]


def _types(
    portfolio: Portfolio, intake: Intake, texts: list[str], category: str = "Electrical"
) -> tuple[Store, list[str]]:
    header = ["Ticket", "Date", "Problem", "Category"]
    rows = [[f"T{n:03}", f"2024-01-{1 + n % 28:02}", text, category] for n, text in enumerate(texts)]
    # Twenty ordinary calls make the category a category.
    rows += [[f"U{n:03}", "2024-01-02", f"Pole light {n} out", "Electrical"] for n in range(20)]
    path = write_csv(portfolio.calls / "log.csv", [header, *rows])
    accept(portfolio, path, columns={"category_text": ["Category"]})
    store = intake(portfolio)
    found = store.rows("SELECT work_type FROM calls WHERE call_number LIKE 'T%' ORDER BY call_number")
    return store, [work_type for (work_type,) in found]


WORDED = {
    "Annual PM - exterior lighting": "planned",
    "GROUP RELAMP parking lot B": "planned",
    "Larch School: monthly night walk, 3 lights out": "inspection",
    "LED retrofit of the wall packs": "project",
    "Annual check of photocells": "inspection",
    "Convert lot to LED": "project",
    "Semiannual PM time clocks": "planned",
    "Pole 4 out since the LED retrofit": "reactive",
    "Lights on since the annual check": "reactive",
    "Light 7 found out on night walk": "reactive",
    "Wall pack missed during group relamp": "reactive",
    "Lights on all day": "reactive",
    "Please come and look at the light by the office, it was part of the lighting project": "reactive",
    "Needs preventive maintenance, photocell stuck": "reactive",
}


def test_words_tell_the_type_of_work(portfolio: Portfolio, intake: Intake) -> None:
    found = _types(portfolio, intake, list(WORDED))[1]
    assert dict(zip(WORDED, found, strict=True)) == WORDED


def test_a_category_of_planned_work_counts_and_the_notice_says_how_many(
    portfolio: Portfolio, intake: Intake
) -> None:
    store, types = _types(portfolio, intake, ["Check timers", "Check photocells"], "Preventive Maintenance")
    assert types == ["planned", "planned"]
    told = str(store.value("SELECT message FROM notices WHERE place = 'work type'"))
    assert told.startswith("2 calls without a work type are taken as planned by their words or category "
                           "('preventive maintenance' 2)")  # fmt: skip


def test_a_work_type_that_the_export_gives_is_not_overruled(portfolio: Portfolio, intake: Intake) -> None:
    header = ["Ticket", "Date", "Problem", "Work Type"]
    rows = [
        ["1", "2024-01-02", "Group relamp lot B", "Corrective"],
        ["2", "2024-01-02", "Group relamp lot C", ""],
    ]
    accept(portfolio, write_csv(portfolio.calls / "log.csv", [header, *rows]))
    store = intake(portfolio)
    assert store.rows("SELECT work_type, is_work_type_by_words FROM calls ORDER BY call_number") == [
        ("reactive", False), ("planned", True),
    ]  # fmt: skip
