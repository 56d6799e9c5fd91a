"""Lives bounded from below only, or not at all: what every reader of them says, never a blank or a 'nan'."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from figures.small_store import SETTINGS, small_store

from pipeline import figures
from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.report import write_report
from pipeline.report.sections import lives
from pipeline.store import Store
from pipeline.summary import build_summary
from pipeline.summary_text import show_summary

# One failure of B, none of T.
FEW = SETTINGS.assumptions.model_copy(update={"few_failures": 100})


@pytest.fixture(scope="module")
def few() -> Iterator[Store]:
    """The small portfolio with too few failures for any full fit."""
    store = small_store()
    store.run("DELETE FROM lives WHERE model = 'B' AND failed AND life_id <> 'b0'")
    for table in ("life_fits", "life_fits_as_read", "life_curves", "failure_rates"):
        store.run(f"DELETE FROM {table}")
    fill_groups(store, FEW, Silent())
    store.run("UPDATE options SET net_savings_lower = NULL, expected_failures_lower = NULL WHERE model = 'A'")
    store.run("UPDATE options SET lcc = NULL, kwh = NULL WHERE model = 'B'")
    yield store
    store.close()


def test_every_fit_is_bounded_from_below_only(few: Store) -> None:
    upper = few.value("SELECT count(*) FROM life_fits WHERE b10_days_upper IS NOT NULL")
    lower = few.value("SELECT count(*) FROM life_fits WHERE b10_days_lower IS NOT NULL")
    assert (upper, lower) == (0, few.count("life_fits"))


def test_the_report_page_states_at_least(few: Store) -> None:
    table = next(table for table in lives(few).tables if table.key == "failure_groups")
    shown = {
        row[0]: dict(zip([column.name for column in table.page_columns], row, strict=True))
        for row in table.texts()
    }
    one, none = shown["B / HPS"], shown["T / LED"]
    for life in ("b10_years", "mean_life_years"):
        assert "(at least " in one[life]
        assert none[life].startswith("at least ")
    assert not any("nan" in cell or cell in ("", "None") for row in table.texts() for cell in row[:-1])


def test_the_workbook_states_at_least_and_that_there_is_no_limit(few: Store, tmp_path: Path) -> None:
    write_report(few, tmp_path / "book.xlsx", "director")
    sheet = openpyxl.load_workbook(tmp_path / "book.xlsx")["failure groups"]
    headings, *values = sheet.iter_rows(values_only=True)
    rows = {row[0]: dict(zip(map(str, headings), row, strict=True)) for row in values}
    one, none = rows["B / HPS"], rows["T / LED"]
    assert one["B10 [years]"] > one["B10, low [years]"]
    assert (one["B10, high [years]"], one["Weibull shape, high"]) == ("no limit", "–")
    assert str(none["B10 [years]"]).startswith("at least ")
    assert none["B10, low [years]"] > 0
    assert all(
        cell not in (None, "", "nan") for row in rows.values() for name, cell in row.items() if name != "Note"
    )


def test_the_headline_has_no_soonest_group_and_says_that_little_is_known_of_the_savings(few: Store) -> None:
    shown = {part.key: part for figure in figures.headline(few) for part in figure.flat()}
    assert shown["soonest_to_fail"].text() == "not available"
    assert "enough failures" in shown["soonest_to_fail"].note
    assert "(at most " in shown["net_savings"].text()
    assert "How little is saved is not known" in shown["net_savings"].note
    assert not any("nan" in part.text() for part in shown.values())


def test_the_command_line_prints_the_limit_that_is_known(
    few: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    show_summary(build_summary(few, Path("small")))
    printed = capsys.readouterr().out
    assert "(at most " in printed
    assert "nan" not in printed.replace("maintenance", "")


def test_a_sum_of_options_one_of_which_is_unknown_is_unknown(few: Store) -> None:
    totals = figures.business_case(few).set_index(["scope", "option"])
    choice = totals.loc["wherever a rated control is priced"]
    assert choice[["net_savings_lower_cost", "expected_failures_lower", "lcc_cost"]].isna().all().all()
    assert choice["net_savings_upper_cost"].dropna().astype(float).tolist() == [1510.0]
