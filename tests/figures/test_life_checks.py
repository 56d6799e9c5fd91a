"""Do groups really differ, and does the Weibull fit: the tests behind both, on lives that can be reckoned by hand."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from figures.small_store import LOG_TO, SETTINGS, add, small_store
from pipeline import figures
from pipeline.figures import Filters, differences
from pipeline.lives.groups import fill_groups
from pipeline.progress import Silent
from pipeline.store import Store
from pipeline.survival import compare_distributions, fit_weibull, log_rank


def lives_of(store: Store) -> pd.DataFrame:
    """The lives of the small portfolio that enter the ages, as the functions take them."""
    return store.frame(
        "SELECT entry_days, exit_days, failed, quantity, model || ' / ' || lamp AS group_name FROM lives"
        " WHERE excluded_reason IS NULL"
    )


def weibull_fleet(
    scale_days: float, shape: float, model: str, seed: int, store: Store, number: int = 150
) -> None:
    """Controls of one model installed at ages up to 2000 days before the log's end, failing as a Weibull says."""
    rng = np.random.default_rng(seed)
    for at in range(number):
        age, life = rng.uniform(300, 2000), scale_days * rng.weibull(shape)
        failed = bool(life < age)
        days = round(min(life, age)) + 1
        ended = LOG_TO - timedelta(days=round(max(age - life, 0)))
        add(
            store, "lives", life_id=f"{model}{at}", segment=1, control_id=f"{model}{at}", position="p",
            site_id="north", kind="photocontrol", model=model, switching="plain relay", lamp="LED",
            register_case="keeps removed", started_on=ended - timedelta(days=days), quantity=1, imputed=False,
            entered_on=ended - timedelta(days=days), ended_on=ended, entry_days=0.0, exit_days=float(days),
            exit_central_days=float(days), failed=failed, end_reason="fails on" if failed else "in service",
        )  # fmt: skip


@pytest.fixture(scope="module")
def fleets() -> Store:
    """Two models that live very differently, and a third that lives as the first."""
    store = Store.create()
    add(store, "build_info", build_id="b", dayburn_version="0", portfolio_name="p", currency="USD", fiscal_year_start=1,
        log_from=date(2015, 1, 1), log_to=LOG_TO, settings=SETTINGS.model_dump_json())  # fmt: skip
    for model, scale, seed in (("short", 900.0, 1), ("long", 2600.0, 2), ("short too", 900.0, 3)):
        weibull_fleet(scale, 2.5, model, seed, store)
    fill_groups(store, SETTINGS.assumptions, Silent())
    return store


def test_the_difference_is_the_log_rank_test_of_the_lives_that_enter(small: Store) -> None:
    found = figures.group_differences(small)
    test = log_rank(lives_of(small), "group_name")
    assert found.p_value == pytest.approx(test.p_value, rel=1e-9)
    assert found.pairs[["sooner", "later"]].iloc[0].tolist() == ["A / LED", "B / HPS"]
    groups = found.groups.set_index("group_name")
    assert groups["failures"].to_dict() == {"A / LED": 6, "B / HPS": 6, "T / LED": 0}
    assert groups["expected"].sum() == pytest.approx(12)
    assert "draws of doubtful verdicts" not in found.sentence  # nothing is open here
    assert found.pairs["draws_that_differ"].isna().all()


def test_pairs_that_differ_are_told_from_chance(fleets: Store) -> None:
    found = figures.group_differences(fleets, "model")
    said = {
        frozenset(pair[:2]): pair[2]
        for pair in found.pairs[["sooner", "later", "said"]].itertuples(index=False)
    }
    assert said == {
        frozenset(("short", "long")): "differ",
        frozenset(("short too", "long")): "differ",
        frozenset(("short", "short too")): "may be chance",
    }
    assert "The groups really differ" in found.sentence
    assert "Of 3 pairs 2 differ still" in found.sentence
    assert set(found.pairs.loc[found.pairs["said"] == "differ", "later"]) == {"long"}


def test_two_groups_are_told_by_name_and_one_group_is_no_comparison(fleets: Store, small: Store) -> None:
    assert (
        "do not show that these groups live differently" in figures.group_differences(small, "kind").sentence
    )
    north = figures.group_differences(small, filters=Filters(sites=("north",)))
    assert north.sentence.startswith(
        "They really differ: A / LED fails sooner than B / HPS (log-rank test over 2 groups"
    )
    assert "nothing to compare" in figures.group_differences(small, "all").sentence
    only = figures.group_differences(fleets, "lamp")
    assert only.p_value is None
    assert only.sentence.startswith("Only one group")


def test_nothing_failed_and_nothing_at_all_are_sentences(small: Store, empty: Store) -> None:
    south = Filters(sites=("south",))
    assert "nothing to compare" in figures.group_differences(small, "model", south).sentence
    assert figures.group_differences(empty).sentence.startswith("No group")
    assert figures.weibull_checks(empty).empty
    (sentence,) = figures.weibull_check(empty, "all", "all").sentences
    assert sentence.startswith("Too few failures (0)")


def test_a_weibull_that_holds_is_said_to_hold(fleets: Store) -> None:
    found = figures.weibull_check(fleets, "model", "short")
    assert found.sentences[0].startswith(("Of four life distributions the Weibull", "Weibull and"))
    assert found.sentences[1].startswith("The failures fall where the Weibull expects them")
    assert len(found.points) <= 40
    assert np.diff(found.line["y"]) / np.diff(found.line["x"]) == pytest.approx(
        _fit(fleets, "short").shape, rel=1e-6
    )
    assert found.headline.empty  # nothing is open: the headline is the fit as read


def _fit(store: Store, model: str):
    rows = store.frame("SELECT entry_days, exit_days, failed, quantity FROM lives WHERE model = ?", [model])
    return fit_weibull(rows)


def test_distributions_are_those_of_the_function(fleets: Store) -> None:
    found = figures.weibull_check(fleets, "model", "long").distributions.set_index("distribution")
    rows = fleets.frame("SELECT entry_days, exit_days, failed, quantity FROM lives WHERE model = 'long'")
    theirs = compare_distributions(rows).set_index("distribution")
    assert found["aic"].to_dict() == pytest.approx(theirs["aic"].to_dict(), rel=1e-9)
    assert found["aic_above_best"].min() == 0


def test_a_mixture_of_good_and_bad_lots_is_told_from_a_weibull() -> None:
    store = Store.create()
    add(store, "build_info", build_id="b", dayburn_version="0", portfolio_name="p", currency="USD", fiscal_year_start=1,
        log_from=date(2015, 1, 1), log_to=LOG_TO, settings=SETTINGS.model_dump_json())  # fmt: skip
    weibull_fleet(120.0, 3.0, "mixed", 5, store, 120)
    store.run("UPDATE lives SET life_id = 'bad' || life_id, control_id = 'bad' || control_id")
    weibull_fleet(1500.0, 4.0, "mixed", 6, store, 160)
    fill_groups(store, SETTINGS.assumptions, Silent())
    found = figures.weibull_check(store, "model", "mixed")
    assert "do not fall where the Weibull expects them" in found.sentences[1]
    (row,) = figures.weibull_checks(store, "model").to_dict("records")
    assert row["residual_p_value"] < 0.05
    assert row["said"] == " ".join(found.sentences)


def test_filters_choose_the_lives_that_are_judged(fleets: Store) -> None:
    assert figures.weibull_checks(fleets, "model", Filters(sites=("south",))).empty
    cut = figures.weibull_check(fleets, "model", "short", Filters(end=date(2022, 12, 31)))
    assert 0 < cut.failures < figures.weibull_check(fleets, "model", "short").failures


def test_too_few_failures_are_a_sentence_for_their_group(small: Store) -> None:
    checks = figures.weibull_checks(small).set_index("group_name")
    assert checks.loc["T / LED", "said"].startswith("Too few failures (0)")
    assert pd.isna(checks.loc["T / LED", "residual_p_value"])
    assert checks.index[-1] == "T / LED"


def test_an_unknown_grouping_is_refused(small: Store) -> None:
    for ask in (figures.group_differences, figures.weibull_checks):
        with pytest.raises(ValueError, match="is not one of"):
            ask(small, "colour; DROP TABLE lives")


def test_a_long_name_is_a_group_like_any_other() -> None:
    store = small_store()
    store.run("UPDATE lives SET model = repeat('x', 10000) WHERE model = 'A'")
    found = figures.group_differences(store, "model")
    assert found.p_value is not None


def test_curves_are_read_off_with_limits_and_numbers_at_risk(small: Store) -> None:
    readings = figures.curve_readings(small).set_index("group_name")
    assert set(readings.index) == {"A / LED", "B / HPS"}  # nothing failed in the third, so it has no curve
    row = readings.loc["A / LED"]
    # Fails at 200, 400 ... 1200 of seven; one works on at 1300: half have failed at the fourth, 800 days.
    assert row["median_days"] == 800
    assert row["median_days_lower"] < 800
    assert [row[f"at_risk_{years}"] for years in (1, 2, 5, 10)] == [6, 4, 0, 0]
    assert row["mean_until_days"] == 1300
    assert row["mean_days"] == pytest.approx(sum((*range(200, 1400, 200), 1300)) / 7)
    assert row["mean_days_lower"] < row["mean_days"] < row["mean_days_upper"]
    assert row["note"] == ""


def with_a_spoilt_curve() -> Store:
    """The small portfolio, all but one control of model A watched late."""
    store = small_store()
    store.run(
        "UPDATE lives SET entry_days = 250 WHERE life_id LIKE 'a%' AND life_id <> 'a1' AND exit_days > 250"
    )
    store.run("UPDATE lives SET quantity = 5 WHERE life_id LIKE 'a%' AND life_id <> 'a1'")
    for table in ("life_fits", "life_fits_as_read", "life_curves", "failure_rates"):
        store.run(f"DELETE FROM {table}")
    fill_groups(store, SETTINGS.assumptions, Silent())
    return store


def test_a_curve_spoilt_by_an_early_step_says_so() -> None:
    row = figures.curve_readings(with_a_spoilt_curve()).set_index("group_name").loc["A / LED"]
    assert row["note"].startswith("Up to 0.5 years failures fall on fewer than ten controls")


def test_open_verdicts_are_drawn_in_the_test_unless_groups_are_too_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    store = small_store()
    names = (
        "control_id, site_id, kind, model, switching, lamp, started_on, entered_on, ended_on, entry_days, exit_days, "
        "exit_central_days"
    )
    # In every draw the failure of a2 was none: its row is taken away and set again as working on.
    store.run(
        f"INSERT INTO life_draws (draw, row_in_draw, failed, quantity, {names})"
        f" SELECT draw, 2 * draw + side, side = 0, CASE side WHEN 0 THEN -1 ELSE 1 END, {names}"
        " FROM lives, range(1, 21) d(draw), range(2) s(side) WHERE life_id = 'a2'"
    )
    drawn, hard = figures.group_differences(store), figures.group_differences(small_store())
    assert drawn.draws == 20
    assert drawn.p_value == hard.p_value  # the test itself takes verdicts as they stand
    lives = lives_of(store)
    lives.loc[(lives["exit_days"] == 400) & (lives["group_name"] == "A / LED"), "failed"] = False
    other = log_rank(lives, "group_name")
    alike = (other.p_value < 0.05) == (hard.p_value is not None and hard.p_value < 0.05)
    assert f"{20 if alike else 0} of 20 draws of doubtful verdicts say the same" in drawn.sentence
    differ = int((other.pairs["p_value_holm"] < 0.05).sum())
    assert drawn.pairs["draws_that_differ"].sum() == 20 * differ
    monkeypatch.setattr(differences, "MOST_GROUPS_DRAWN", 2)
    assert figures.group_differences(store).draws == 0
