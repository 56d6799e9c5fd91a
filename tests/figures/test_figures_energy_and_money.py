from __future__ import annotations

from datetime import date

import pytest

from figures.small_store import small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.figures.business import WHERE_IT_PAYS, WITH_CHOICE, WITHOUT_CHOICE
from pipeline.figures.wording import date_text
from pipeline.store import Store, sql_text


def test_energy_adds_up_to_the_same_total_however_it_is_parted(small: Store) -> None:
    # 50 + 200 + 80 + 20 + 300 + 60 = 710 kWh; low is half and high is double of each.
    for by in ("all", "month", "calendar year", "fiscal year", "site", "kind"):
        frame = figures.energy_by(small, by)  # type: ignore[arg-type]
        sums = [frame[f"kwh_{level}"].sum() for level in ("low", "central", "high")]
        assert sums == pytest.approx([355, 710, 1420]), by


def test_energy_by_fiscal_year_parts_at_its_first_month(small: Store) -> None:
    years = figures.energy_by(small, "fiscal year").set_index("part")
    assert years["kwh_central"].to_dict() == {"FY 2023": 250.0, "FY 2024": 460.0}
    assert figures.energy_by(small, "calendar year").set_index("part")["kwh_central"].to_dict() == {
        "2022": 50.0,
        "2023": 200.0,
        "2024": 460.0,
    }


def test_energy_by_site_puts_the_largest_first(small: Store) -> None:
    sites = figures.energy_by(small, "site")
    assert list(sites["part"]) == ["North Yard", "South Yard"]
    assert list(sites["cost_central"]) == [65.0, 0.0]  # the south is unmetered


def test_a_month_that_the_period_touches_counts_whole(small: Store) -> None:
    frame = figures.energy_by(small, "month", Filters(start=date(2024, 1, 20), end=date(2024, 2, 3)))
    assert frame.set_index("part")["kwh_central"].to_dict() == {"2024-01": 80.0, "2024-02": 20.0}


def test_each_part_of_the_energy_names_the_incidents_that_wasted_it(small: Store) -> None:
    months = small.rows(
        "SELECT DISTINCT strftime(month, '%Y'), incident_id FROM burn_months WHERE kwh_central > 0"
    )
    years = figures.energy_by(small, "calendar year")
    named = [(row["part"], one) for row in years.to_dict("records") for one in row["incident_ids"]]
    assert sorted(named) == sorted(months)
    assert [len(ids) for ids in years["incident_ids"]] == years["incidents"].tolist()


def test_energy_left_out_is_counted_with_its_reason(small: Store) -> None:
    left_out = figures.energy_left_out(small).set_index("symptom")
    assert [len(ids) for ids in left_out["incident_ids"]] == left_out["incidents"].tolist()
    assert left_out["incidents"].to_dict() == {"day burning": 1, "wrong time": 1}
    assert "no load" in left_out.loc["day burning", "left_out_reason"]
    assert "by how many hours" in left_out.loc["wrong time", "left_out_reason"]


def test_the_business_case_adds_groups_everywhere_and_where_it_pays(small: Store) -> None:
    case = figures.business_case(small).set_index(["scope", "option"])
    now = "replace all now with a rated control"
    assert case.loc[(WITH_CHOICE, now), "net_savings_cost"] == 880
    assert case.loc[(WHERE_IT_PAYS, now), "net_savings_cost"] == 900
    assert case.loc[(WHERE_IT_PAYS, now), "investment_cost"] == 660
    assert case.loc[(WHERE_IT_PAYS, "repair like for like"), "groups"] == 1


def test_totals_of_both_options_cover_the_same_controls(small: Store) -> None:
    # The timer of the south has no rated option: it stands apart instead of making repair look dearer.
    case = figures.business_case(small)
    for scope, part in case.groupby("scope"):
        assert part["controls"].nunique() == 1, scope
    apart = case[case["scope"] == WITHOUT_CHOICE].iloc[0]
    assert (apart["option"], apart["controls"]) == ("repair like for like", 1)


def test_options_put_the_group_that_saves_most_first(small: Store) -> None:
    options = figures.options_table(small)
    assert list(options["model"]) == ["A", "A", "B", "B", "T"]
    assert list(figures.options_table(small, Filters(sites=("south",)))["option"]) == ["repair like for like"]


def test_cash_flows_are_those_of_one_option_when_asked(small: Store) -> None:
    key = "north / A / repair like for like"
    flows = figures.cash_flow_table(small, key)
    assert list(flows["option_id"]) == [key]
    assert list(flows["cost"]) == [160]
    assert len(figures.cash_flow_table(small)) == 5


def test_sites_of_one_name_are_told_apart_and_not_added_together() -> None:
    store = small_store()
    apart = figures.energy_by(store, "site").set_index("part")["kwh_central"]
    store.run("UPDATE sites SET name = 'Yard'")
    sites = figures.energy_by(store, "site").set_index("part")["kwh_central"]
    assert sites.to_dict() == {
        "Yard (north)": apart["North Yard"],
        "Yard (south)": apart["South Yard"],
    }


def test_hours_of_a_failure_without_a_load_on_record_are_no_wasted_energy() -> None:
    store = small_store()
    hours = "pipeline.payback", "hours_per_failure"
    before = dict(store.rows(sql_text(*hours)))["photocontrol"]
    store.run("UPDATE burn_episodes SET hours_without_load_central = 60 WHERE incident_id = 'i02'")
    after = dict(store.rows(sql_text(*hours)))["photocontrol"]
    # 60 h less, shared by the controls failed in i01, i02, i05, i07 (one each) and i08 (two)
    assert before - after == pytest.approx(60 / 6)


def test_a_year_that_the_log_covers_in_part_is_named_with_its_days(small: Store) -> None:
    # The log runs from 1 January 2022 to 30 June 2024.
    assert (
        figures.partial_years_text(small)
        == f"2024 is covered in part, {date_text(date(2024, 1, 1))} to {date_text(date(2024, 6, 30))}."
    )
    fiscal = figures.partial_years_text(
        small, "fiscal year"
    )  # July to June: the energy begins within one that is whole
    assert fiscal == ""
    chosen = figures.partial_years_text(small, filters=Filters(start=date(2022, 9, 1)))
    assert chosen.startswith("2024 is covered in part, ")


def test_a_year_before_the_log_that_only_later_reports_reach_is_no_whole_year() -> None:
    store = small_store()
    store.run("UPDATE build_info SET log_from = DATE '2023-01-01'")
    said = figures.partial_years_text(store)
    assert said.startswith("2022 is no whole year: it ended before")
