"""Every page on a small portfolio, on a build that read nothing, and without a build."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from dashboard_folders import publish
from figures.small_store import FORMULA, SCRIPT
from figures.test_life_checks import with_a_spoilt_curve
from figures.test_rates_and_trends import watched
from opening import Open
from reading import markup, press, tables, words

from pipeline.figures import (
    business_case,
    calls_behind,
    group_differences,
    headline,
    headline_keys,
    life_causes,
    options_table,
    repeat_calls,
    weibull_check,
)
from pipeline.store import Store
from pipeline.template import lay_out

PAGES = {
    "overview": "Lights that burn by day",
    "burning_now": "Burning now",
    "failure_trends": "Failure trends",
    "wasted_energy": "Wasted energy",
    "business_case": "Business case",
    "next_year": "What comes next",
    "calls_behind": "Calls behind a figure",
    "review": "Review",
    "what_was_read": "What was read",
}


@pytest.mark.parametrize("page", PAGES)
def test_page_has_its_title_and_says_what_part_it_shows(
    open_page: Open, small_folder: Path, page: str
) -> None:
    app = open_page(small_folder, page)
    assert [title.value for title in app.title] == [PAGES[page]]
    assert "all sites · all kinds of control ·" in words(app)
    assert "30 Jun 2024" in words(app)


@pytest.mark.parametrize("page", PAGES)
def test_page_on_a_build_that_read_nothing_says_what_to_do(
    open_page: Open, empty_folder: Path, page: str
) -> None:
    app = open_page(empty_folder, page)
    assert [title.value for title in app.title] == [PAGES[page]]
    assert not app.dataframe
    helps = ("build again", "hoose", "dayburn layout", "portfolio.toml")
    assert any(word in words(app) for word in helps)


@pytest.mark.parametrize("page", [page for page in PAGES if page != "overview"])
def test_page_without_a_build_names_the_command(open_page: Open, tmp_path: Path, page: str) -> None:
    folder = tmp_path / "new"
    lay_out(folder, "USD", "America/Denver")
    app = open_page(folder, page)
    assert f"Run `dayburn build {folder}`" in words(app)
    assert not app.title


def test_a_folder_that_is_not_there_is_named(open_page: Open, tmp_path: Path) -> None:
    assert f"{tmp_path / 'gone'}: is not a folder" in words(open_page(tmp_path / "gone"))


def test_a_damaged_build_is_told_plainly(open_page: Open, tmp_path: Path) -> None:
    folder = tmp_path / "damaged"
    lay_out(folder, "USD", "America/Denver")
    (folder / "built").mkdir()
    (folder / "built" / "b1.duckdb").write_bytes(b"no database at all" * 1000)
    (folder / "built" / "current").write_text("b1\n")
    said = words(open_page(folder))
    assert "cannot be opened as a database" in said
    assert "dayburn build" in said


def test_overview_shows_every_headline_figure_as_the_figures_give_it(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    said = words(open_page(small_folder))
    figures = headline(small)
    assert len(figures) == 6
    for figure in figures:
        for text in (figure.label, figure.note, *(beside.text() for beside in figure.beside)):
            assert " ".join(text.split()) in said


def test_limits_stand_beside_the_figure(open_page: Open, small_folder: Path, small: Store) -> None:
    wasted = next(figure for figure in headline(small) if figure.key == "wasted_energy")
    assert (wasted.value, wasted.low, wasted.high) == (
        710,
        pytest.approx(408, rel=0.01),
        pytest.approx(1367, rel=0.01),
    )
    assert "710 kWh limits 411–1 360" in words(open_page(small_folder))


@pytest.mark.parametrize("key", headline_keys())
def test_every_headline_figure_opens_to_calls_with_file_and_row(
    open_page: Open, small_folder: Path, small: Store, key: str
) -> None:
    app = open_page(small_folder, "calls_behind", figure=key)
    assert app.selectbox(key="behind_key").value == key
    expected = calls_behind(small, key)
    if expected.empty:
        assert "No call stands behind this" in words(app)
        return
    (calls,) = tables(app)
    assert calls["row_number"].tolist() == expected["row_number"].tolist()
    assert set(calls["source_file"]) == {"orders.csv"}


def test_most_headline_figures_have_calls(small: Store) -> None:
    """Without this, the test above could pass on empty pages alone."""
    assert sum(not calls_behind(small, key).empty for key in headline_keys()) >= 6


def test_a_card_leads_to_the_calls_behind_it(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder)
    app.button(key="behind_wasted_energy").click().run()
    assert not app.exception
    assert app.title[0].value == "Calls behind a figure"
    assert app.selectbox(key="behind_key").value == "wasted_energy"
    assert sorted(tables(app)[0]["row_number"]) == [2, 3, 4, 7, 9, 10]


def test_an_incident_opens_to_its_calls(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "calls_behind", incident="i01")
    assert tables(app)[0]["row_number"].tolist() == [2, 3]
    assert "2 calls in 1 incident." in words(app)


def test_a_single_call_shows_its_texts_in_full_as_plain_text(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "calls_behind", incident="i05")
    assert [text.value for text in app.main.text] == ["orders.csv, row 7", FORMULA, "new photo eye", "words"]


def test_an_unknown_incident_is_told(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "calls_behind", incident="no such")
    assert not app.dataframe
    assert "no incident has this id" in words(app)


def test_a_group_opens_to_the_calls_of_its_failures(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "calls_behind", grouping="model and lamp", group="A / LED")
    assert app.selectbox(key="behind_group").value == "A / LED"
    assert tables(app)[0]["row_number"].tolist() == [7]


def test_call_texts_are_never_markup(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "calls_behind", figure="wasted_energy")
    texts = tables(app)[0]["problem_text"].tolist()
    assert SCRIPT in texts
    assert FORMULA in texts
    assert "<script" not in markup(app)
    assert not app.markdown


def test_crew_list_shows_the_dearest_first_with_cautions(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "burning_now")
    (crew,) = tables(app)
    assert crew["incident_id"].tolist() == ["i07", "i08"]
    assert crew["cost_per_day"].tolist() == [1.4, 0.0]
    assert crew["age_days"].tolist() == [20, 10]
    assert "de-energise, lock out and verify" in words(app)
    assert "authority having jurisdiction" in words(app)


def test_crew_list_has_a_plain_table_for_paper(open_page: Open, small_folder: Path) -> None:
    printed = next(
        e.proto.body
        for e in open_page(small_folder, "burning_now").get("html")
        if "only-print" in e.proto.body
    )
    assert printed.count("<tr>") == 3
    assert "Small &amp; Sons &lt;test&gt;: day burning open on 30" in printed
    assert "Cost, USD/day" in printed


def test_lives_stand_in_years_with_limits(open_page: Open, small_folder: Path, small: Store) -> None:
    app = open_page(small_folder, "failure_trends")
    fits = tables(app)[1].set_index("group_name")
    days = small.value(
        "SELECT b10_days FROM life_fits WHERE grouping = 'model and lamp' AND group_name = 'A / LED'"
    )
    assert fits.loc["A / LED", "b10_years"] == pytest.approx(days / 365.25)
    assert fits.loc["A / LED", "b10_limits"] == "0.153–1.54"
    assert fits.loc["T / LED", "b10_limits"].startswith("at least ")


def test_another_grouping_is_shown_when_chosen(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "failure_trends")
    app.selectbox(key="grouping").set_value("kind").run()
    assert not app.exception
    assert tables(app)[1]["group_name"].tolist() == ["photocontrol", "timer"]


def test_the_fit_as_read_stands_beside_and_what_entered_is_counted(
    open_page: Open, small_folder: Path
) -> None:
    app = open_page(small_folder, "failure_trends")
    _, fits, over_all, by_group, *others = tables(app)
    shares = next(frame for frame in others if "end" in frame)
    fits = fits.set_index("group_name")
    # nothing in this portfolio is doubtful: both fits are one
    assert fits.loc["A / LED", "b10_as_read"] == pytest.approx(fits.loc["A / LED", "b10_years"])
    assert fits.loc["A / LED", "as_read_limits"] == fits.loc["A / LED", "b10_limits"]
    assert over_all.loc[over_all["counted_in"] == "ages", "failures"].tolist() == [12]
    assert {"A / LED", "B / HPS", "T / LED"} <= set(by_group["group_name"])
    assert set(shares["end"]) == {"fails on", "fails off", "other"}
    assert "where the others can come first" in words(app)


def test_how_far_the_lives_can_be_trusted_stands_below_them(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    app = open_page(small_folder, "failure_trends")
    said = words(app)
    assert [box.value for box in app.subheader] == [
        "Do the groups really differ?",
        "How well does the Weibull fit?",
    ]
    assert group_differences(small).sentence in said
    pairs = next(frame for frame in tables(app) if "sooner" in frame)
    assert pairs["p_value_holm"].tolist() == pytest.approx(
        group_differences(small).pairs["p_value_holm"].tolist(), nan_ok=True
    )
    for sentence in weibull_check(small, "model and lamp", "A / LED").sentences:
        assert sentence in said
    assert "No site's log was kept here" in said  # the small portfolio has no windows of record
    causes = life_causes(small, "photocontrol")
    assert causes.sentences[0] in said
    assert causes.left_out[0] in said
    app.selectbox(key="weibull_model and lamp").set_value("B / HPS").run()
    assert weibull_check(small, "model and lamp", "B / HPS").sentences[0] in words(app)


def test_a_curve_spoilt_by_an_early_step_is_warned_of(
    open_page: Open, tmp_path_factory: pytest.TempPathFactory, small_folder: Path
) -> None:
    folder = tmp_path_factory.mktemp("portfolios") / "spoilt"
    publish(with_a_spoilt_curve(), folder)
    assert "A / LED: Up to 0.5 years failures fall on fewer than ten controls" in words(
        open_page(folder, "failure_trends")
    )
    assert "Mind these curves" not in words(open_page(small_folder, "failure_trends"))


def test_repeat_calls_open_to_the_calls_of_a_site(
    open_page: Open, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("portfolios") / "watched"
    publish(watched(), folder)
    app = open_page(folder, "failure_trends")
    sites = next(frame for frame in tables(app) if "power_law_shape" in frame)
    assert sites["site"].tolist() == ["North Yard", "South Yard"]
    assert repeat_calls(watched()).sentences[0] in words(app)
    app.selectbox(key="repeats_counted").set_value("control failures").run()
    assert next(frame for frame in tables(app) if "power_law_shape" in frame)["events"].tolist() == [5, 2]


def test_wasted_energy_is_split_by_fiscal_year(open_page: Open, small_folder: Path) -> None:
    app = open_page(small_folder, "wasted_energy")
    app.selectbox(key="energy_by").set_value("fiscal year").run()
    years, _, _ = tables(app)
    assert years["part"].tolist() == ["FY 2023", "FY 2024"]
    assert years["kwh_central"].tolist() == [250, 460]
    assert years["kwh_bounds"].tolist() == ["125–500", "230–920"]
    assert years["kwh_range"].tolist() == ["145–480", "266–884"]
    assert "Day burning that nobody reported is outside" in words(app)
    assert "no load with watts is registered" in words(app)
    assert "Lamp life burnt" in words(app)
    assert "Nights without light" in words(app)


@pytest.mark.parametrize(
    ("key", "label"), [("statement_calls", "Statement of"), ("left_out_0", "day burning, no load")]
)
def test_a_years_statement_and_what_is_left_out_open_to_their_calls(
    open_page: Open, small_folder: Path, small: Store, key: str, label: str
) -> None:
    app = open_page(small_folder, "wasted_energy")
    way = app.button(key=key)
    assert label in way.label
    way.click().run()
    assert app.title[0].value == "Calls behind a figure"
    shown, ids = app.session_state["look_at"]
    assert label in shown
    assert sorted(set(tables(app)[0]["incident_id"])) == sorted(
        set(calls_behind(small, list(ids))["incident_id"])
    )
    assert len(ids) > 0


def test_wasted_energy_is_priced_by_tariff_period_and_its_emissions_told_by_method(
    open_page: Open, small_folder: Path
) -> None:
    app = open_page(small_folder, "wasted_energy")
    app.selectbox(key="energy_by").set_value("fiscal year").run()
    _, periods, emissions = tables(app)
    assert periods[["period", "when", "cost_central"]].values.tolist() == [
        ["all hours", "at all times", 65], ["unmetered", "", 0],
    ]  # fmt: skip
    assert emissions["co2e_kg_central"].tolist() == [100, 184]
    assert emissions["co2e_t_central"].tolist() == [0.1, 0.184]
    assert "co2e_market_kg_central" not in emissions
    for said in (
        "It is not said whether prices hold taxes.", "No tariff gives a demand charge", "No supplier's factor is given",
        "No rate of grid loss", "Location-based: energy times the average factor",
    ):  # fmt: skip
        assert said in words(app), said


def test_business_case_gives_each_group_with_limits_and_basis(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    app = open_page(small_folder, "business_case")
    totals, groups = tables(app)[:2]
    assert totals["scope"].tolist() == business_case(small)["scope"].tolist()
    assert groups["model"].tolist() == ["A", "B"]
    assert groups["savings_limits"].tolist() == ["300–1\u202f500", "−50.00 to 10.00"]
    assert "Where the lives come from fitted" in words(app)


def test_repair_like_for_like_joins_the_options_when_asked(
    open_page: Open, small_folder: Path, small: Store
) -> None:
    app = open_page(small_folder, "business_case")
    app.toggle(key="both_options").set_value(True).run()
    assert len(tables(app)[1]) == len(options_table(small)) > 2


def test_verdicts_are_words_with_a_sign(open_page: Open, small_folder: Path) -> None:
    said = words(open_page(small_folder, "what_was_read"))
    assert "✗ does not hold something else 1 <b>differs</b>" in said
    assert "✓ holds rows reconcile 11 rows" in said


def test_what_was_read_reconciles_and_keeps_the_refused_row(open_page: Open, small_folder: Path) -> None:
    page = open_page(small_folder, "what_was_read")
    shown = tables(page)
    files, refused = shown[:2]
    assumed = next(table for table in shown if "setting" in table)
    said = next(table for table in shown if "with_completion" in table)
    assert files.loc[0, ["rows_read", "calls", "superseded", "rejected"]].tolist() == [11, 10, 0, 1]
    assert refused.loc[0, ["row_number", "reason"]].tolist() == [12, "no date"]
    assert re.search(r"no date\W+1\W+12\b", words(page))
    assert said.loc[0, "calls"] == files.loc[0, "calls"]
    assert "assumptions.detection_delay_days" in assumed["setting"].tolist()


def test_the_empty_build_names_its_data_level(open_page: Open, empty_folder: Path) -> None:
    said = words(open_page(empty_folder))
    assert "What the data support: no lighting calls" in said
    assert "dayburn layout" in said


def test_look_again_shows_a_build_published_meanwhile(open_page: Open, tmp_path: Path, small: Store) -> None:
    from dashboard_folders import publish

    folder = tmp_path / "later"
    lay_out(folder, "USD", "America/Denver")
    app = open_page(folder, "burning_now")
    publish(small, folder)
    press(app, "Look again")
    assert app.title[0].value == PAGES["burning_now"]


def test_a_new_build_shows_on_the_next_run(open_page: Open, tmp_path: Path, small: Store) -> None:
    from dashboard_folders import empty_but_built, publish

    folder = tmp_path / "again"
    publish(empty_but_built(), folder, "b0")
    app = open_page(folder)
    assert "no lighting calls" in words(app)
    publish(small, folder, "b1")
    app.run()
    assert not app.exception
    assert "710 kWh" in words(app)
