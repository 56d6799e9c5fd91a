"""What the Review page shows, by hand arithmetic on the small portfolio."""

from __future__ import annotations

import pytest
from scipy.stats import beta

from figures.small_store import add, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.store import Store


@pytest.fixture
def own() -> Store:
    """A small portfolio that a test may change."""
    return small_store()


def test_doubt_is_weighed_by_controls_times_the_smaller_probability(small: Store) -> None:
    frame = figures.doubtful_readings(small).set_index("rule")
    # i01 .1, i02 .2, i05 .05, i06 3 x .5, i07 .1, i08 2 x .3
    assert frame.loc["burns", "failures_at_stake"] == pytest.approx(2.55)
    assert frame.loc["burns", "controls"] == 9
    assert frame.loc["burns", "failed_probability"] == pytest.approx((0.9 + 0.8 + 0.95 + 1.5 + 0.9 + 1.4) / 9)
    assert frame.loc["dark", "failures_at_stake"] == pytest.approx(0.4)  # i09 is sure and not among them
    assert frame.loc["dark", "incidents"] == 1
    assert frame.loc["wrong", "failures_at_stake"] == pytest.approx(0.1)
    assert frame["failures_at_stake"].is_monotonic_decreasing


def test_the_three_ways_of_gathering_hold_the_same_stakes(small: Store) -> None:
    stakes = {
        by: figures.doubtful_readings(small, by)["failures_at_stake"] for by in ("rule", "text", "incident")
    }
    for stake in stakes.values():
        assert stake.sum() == pytest.approx(3.05)
    assert len(stakes["incident"]) == 8
    # 'lights on' without an action was said of two incidents
    assert len(stakes["text"]) == 7


def test_a_text_that_tells_of_several_faults_is_offered_only_one_by_one(own: Store) -> None:
    add(own, "findings", finding_id="k04/2", call_id="k04", part_number=2, symptom="out", component="lamp",
        action="replaced", units=1, failed_probability=0.03, incident_id="i03")  # fmt: skip
    assert len(figures.doubtful_readings(own, "text")) == 6
    assert len(figures.doubtful_readings(own, "incident")) == 8


def test_a_line_keeps_its_largest_incidents_as_examples_with_a_row(small: Store) -> None:
    line = figures.doubtful_readings(small).iloc[0]
    assert list(line["examples"])[:2] == ["i06", "i08"]
    assert (line["source_file"], line["row_number"]) == ("orders.csv", 8)
    assert line["key"] == "rule = day burning | control | replaced | burns"


def test_filters_choose_what_is_reviewed(small: Store) -> None:
    south = figures.doubtful_readings(small, filters=Filters(sites=("south",)))
    assert south["failures_at_stake"].sum() == pytest.approx(0.4 + 0.1 + 0.6)


def test_open_ties_are_keyed_by_what_one_answer_settles(own: Store) -> None:
    own.run("UPDATE incidents SET control_id = NULL WHERE incident_id IN ('i01', 'i02', 'i05')")
    own.run("UPDATE calls SET asset_text = ' Tag  7 ' WHERE call_id IN ('k01', 'k03')")
    own.run("UPDATE incidents SET site_id = NULL WHERE incident_id IN ('i02', 'i05')")
    own.run("UPDATE calls SET site_text = 'Bldg 9' WHERE call_id = 'k03'")
    frame = figures.open_ties(own)
    keyed = {row.key: (row.target, row.field, row.kind) for row in frame.itertuples()}
    assert keyed == {
        "site text = bldg 9": ("pattern", "site_id", "site text"),
        "k06": ("call", "site_id", "call"),
        "asset = north / tag 7": ("pattern", "control_id", "asset"),
        "k10/1": ("finding", "control_id", "finding"),
    }
    assert frame["failures_left_out"].tolist() == pytest.approx([0.95, 0.9, 0.8, 0.0])


def test_day_burning_left_out_is_half_of_every_day_lit(own: Store) -> None:
    own.run("UPDATE incidents SET control_id = NULL WHERE incident_id = 'i02'")
    hours = figures.open_ties(own).set_index("key").loc["k03/1", "day_burning_hours_left_out"]
    assert hours == pytest.approx((5 + 20) * 12)  # five days before the report, twenty until it was mended


def test_without_a_register_no_tie_is_open(own: Store) -> None:
    own.run("DELETE FROM controls; DELETE FROM sites")
    assert figures.open_ties(own).empty


def test_a_rule_shows_prior_cases_and_posterior_with_limits(own: Store) -> None:
    own.run("INSERT INTO verdict_rules VALUES ('burns', 1, 'built in', 0.6, 10, 8, 2, 14, 6, 0.7, 40)")
    own.run("INSERT INTO verdict_rules VALUES ('never', 2, 'built in', 0, 10, 0, 0, 0, 10, 0, 3)")
    own.run("INSERT INTO verdict_rules VALUES ('idle', 3, 'built in', 0.5, 10, 0, 0, 5, 5, 0.5, 0)")
    rules = figures.rules_learnt(own).set_index("rule")
    assert list(rules.index) == ["burns", "never"]
    # 10 x 0.6 + 8 and 10 x 0.4 + 2
    assert rules.loc["burns", ["lower", "upper"]].tolist() == pytest.approx(beta(14, 6).ppf([0.025, 0.975]))
    assert rules.loc["never", ["lower", "upper"]].tolist() == [0, 0]


def test_accuracy_has_wilson_limits_from_ten_cases_on(own: Store) -> None:
    """Wilson's limits in closed form: centre (p + z²/2n) / (1 + z²/n), as in any text on proportions."""
    assert figures.verdict_accuracy(own).empty
    own.run("INSERT INTO decided_cases SELECT n, 'r', n <= 6, CASE WHEN n BETWEEN 2 AND 9 THEN 0.9 ELSE 0.1 END"
            " FROM range(1, 10) t(n)")  # fmt: skip
    assert figures.verdict_accuracy(own).empty
    own.run("INSERT INTO decided_cases VALUES (10, 'r', false, 0.1)")
    precision, recall = figures.verdict_accuracy(own).to_dict("records")
    assert (precision["right"], precision["of"], recall["of"]) == (5, 8, 6)
    z, n, p = 1.959963984540054, 8, 5 / 8
    centre, half = (p + z * z / (2 * n)), z * (p * (1 - p) / n + z * z / (4 * n * n)) ** 0.5
    assert precision["lower"] == pytest.approx((centre - half) / (1 + z * z / n))
    assert precision["upper"] == pytest.approx((centre + half) / (1 + z * z / n))
    assert recall["share"] == pytest.approx(5 / 6)


def test_a_verdict_that_called_nothing_has_no_precision(own: Store) -> None:
    own.run("INSERT INTO decided_cases SELECT n, 'r', true, 0.1 FROM range(1, 11) t(n)")
    precision, recall = figures.verdict_accuracy(own).to_dict("records")
    assert precision["share"] is None or precision["share"] != precision["share"]
    assert recall["share"] == 0


def test_two_builds_are_compared_figure_by_figure(small: Store, own: Store) -> None:
    own.run("UPDATE incidents SET failed_probability = 1 WHERE incident_id = 'i06'")
    frame = figures.before_and_now(figures.headline(small), figures.headline(own)).set_index("key")
    moved = frame[frame["moved"]]
    assert list(moved.index) == ["failures_12_months"]
    assert moved.loc["failures_12_months", "before"].startswith("5.45")
    assert moved.loc["failures_12_months", "now"].startswith("6.95")


def test_controls_of_a_site_are_offered_with_place_and_kind(small: Store) -> None:
    assert figures.controls_to_choose(small, "south") == {
        "C3": "C3, south / C3, timer",
        "C5": "C5, south / C5, photocontrol",
    }
    assert len(figures.controls_to_choose(small, None)) == 5


def test_a_database_without_rows_has_nothing_to_review(empty: Store) -> None:
    assert figures.open_ties(empty).empty
    assert figures.doubtful_readings(empty).empty
    assert figures.rules_learnt(empty).empty
    assert figures.decisions_made(empty).empty
    assert figures.verdict_accuracy(empty).empty
