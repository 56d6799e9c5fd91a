"""The statement for a year on the page Wasted energy, the same as in the report."""

from __future__ import annotations

from pathlib import Path

from dashboard_folders import publish
from figures.small_store import small_store
from opening import Open
from reading import tables, words

from pipeline.figures import periods, statement, wording
from pipeline.report.content import document
from pipeline.report.statement_section import NO_BUILD_BEFORE
from pipeline.store import Store


def test_a_year_is_stated_with_method_boundary_uncertainty_coverage_and_top_sites(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    app = open_page(small_folder, "wasted_energy")
    said = words(app)
    for part in (
        "Method:",
        "Boundary:",
        "Factors:",
        "Assumptions:",
        "Uncertainty:",
        "Coverage:",
        "Top sites of the year",
    ):
        assert part in said
    assert "There is no earlier build to compare with" in said
    section = next(one for one in document(small, "sustainability").sections if one.key == "statement")
    amounts = next(table for table in section.tables if table.key == "statement_fiscal_years")
    year = next(one for one in app.selectbox if one.key == "statement")
    assert year.options == [one.label for one in periods(small)]
    label = periods(small)[int(year.value)].label
    asked = figures_of(small, label)
    assert f"Energy kWh {wording.estimate_text(asked)}" in said
    fiscal = {row[0]: row[1] for row in amounts.texts()}
    assert all(name.startswith("FY") for name in fiscal)
    assert next(t for t in section.tables if t.key == "statement_moved").if_empty == NO_BUILD_BEFORE


def figures_of(small: Store, label: str) -> float:
    (year,) = [one for one in periods(small) if one.label == label]
    (row,) = statement(small, year).amounts.query("key == 'kwh'").to_dict("records")
    return float(row["central"])


def test_what_moved_since_the_build_before_stands_with_the_inputs_that_differ(
    open_page: Open, tmp_path: Path
) -> None:
    folder = tmp_path / "two builds"
    publish(small_store(), folder, "b1")
    later = small_store()
    later.run("UPDATE burn_months SET kwh_central = kwh_central * 2")
    later.run(
        "UPDATE build_info SET settings = replace(settings, '\"confidence\":0.95', '\"confidence\":0.9')"
    )
    publish(later, folder, "b2")
    (folder / "built" / "previous").write_text("b1\n", encoding="utf-8")
    app = open_page(folder, "wasted_energy")
    moved = next(table for table in tables(app) if "kwh_change" in table.columns)
    assert len(moved) >= 1
    inputs = next(table for table in tables(app) if "what" in table.columns)
    assert inputs["what"].tolist() == ["setting assumptions.confidence"]
