"""Filters: kept across pages, read from and written to the address, applied by the figures."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from opening import Open
from reading import press, tables, words

from dashboard.filters import said
from pipeline.figures import Choices, Facts, Filters


def test_a_site_filter_reaches_the_figures_and_stays_on_the_next_page(
    open_page: Open, small_folder: Path
) -> None:
    app = open_page(small_folder)
    app.multiselect(key="site_picker").set_value(["south"]).run()
    assert "Shown: South Yard · all kinds of control" in words(app)
    app.switch_page("screens/burning_now.py").run()
    assert app.multiselect(key="site_picker").value == ["south"]
    assert tables(app)[0]["incident_id"].tolist() == ["i08"]
    assert app.query_params["site"] in ("south", ["south"])


def test_the_address_sets_the_filters(open_page: Open, small_folder: Path) -> None:
    app = open_page(
        small_folder, site="north", kind=["photocontrol"], **{"from": "2023-07-01", "to": "2024-06-30"}
    )
    assert app.selectbox(key="period_picker").value == "FY 2024 (Jul 2023 to Jun 2024)"
    assert "Shown: North Yard · photocontrol · 1 Jul 2023 to 30 Jun 2024" in words(app)


def test_a_span_of_its_own_in_the_address_is_shown_as_days(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, **{"from": "2023-02-03", "to": "2023-03-04"})
    assert app.selectbox(key="period_picker").value == "Custom span"
    assert [day.value for day in app.date_input] == [date(2023, 2, 3), date(2023, 3, 4)]
    assert "3 Feb 2023 to 4 Mar 2023" in words(app)


def test_a_site_that_the_build_does_not_have_is_named_and_left_out(
    open_page: Open, small_folder: Path
) -> None:
    app = open_page(small_folder, site=["north", "nowhere"])
    assert app.multiselect(key="site_picker").value == ["north"]
    assert "nowhere" in [text.value for text in app.text]


def test_nonsense_in_the_address_shows_everything(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, **{"from": "yesterday", "to": "2023-13-45"})
    assert "Shown: all sites · all kinds of control · 1 Jan 2022 to 30 Jun 2024" in words(app)


def test_a_year_cut_by_the_log_is_named_as_partial(open_page: Open, small_folder: Path) -> None:
    options = open_page(small_folder).selectbox(key="period_picker").options
    assert options[0] == "Whole log"
    assert "2024, in part" in options
    assert "2023" in options


def test_a_span_that_ends_before_it_begins_is_refused_in_words(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, **{"from": "2023-02-03", "to": "2023-03-04"})
    app.date_input(key="first_day").set_value(date(2024, 1, 1)).run()
    assert "ends before it begins" in app.warning[0].value
    assert "1 Jan 2022 to 30 Jun 2024" in words(app)


def test_one_button_shows_everything_again(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, site="north", **{"from": "2023-01-01", "to": "2023-12-31"})
    assert app.selectbox(key="period_picker").value == "2023"
    press(app, "Show everything")
    assert "Shown: all sites · all kinds of control · 1 Jan 2022 to 30 Jun 2024" in words(app)
    assert dict(app.query_params) == {}


def test_many_sites_are_named_in_short() -> None:
    offered = Choices({f"s{n}": f"Site {n}" for n in range(9)}, ())
    text = said(
        Filters(tuple(offered.sites)), offered, Facts(log_from=date(2020, 1, 1), log_to=date(2021, 1, 1))
    )
    assert text.startswith("9 chosen: Site 0, Site 1, Site 2 … · all kinds")
