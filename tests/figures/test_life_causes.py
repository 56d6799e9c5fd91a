"""What shortens lives: what is compared, what is claimed, and what is left out, on fleets with a known truth."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from figures.small_store import LOG_TO, SETTINGS, add
from pipeline import figures
from pipeline.figures import Filters, carried
from pipeline.store import Store
from pipeline.survival import fit_life_regression

ABOUT = {"kind": "photocontrol", "model": "A", "lamp": "LED", "switching": "plain relay", "scale": 1200.0,
         "stress": None, "operations": 730.0, "number": 120}  # fmt: skip


def store_of(*fleets: dict, seed: int = 0, draws: bool = False) -> Store:
    """Fleets that differ from ABOUT as said: shape 2, delayed entry; with draws, some failures are open."""
    store, rng = Store.create(), np.random.default_rng(seed)
    add(store, "build_info", build_id="b", dayburn_version="0", portfolio_name="p", currency="USD", fiscal_year_start=1,
        log_from=date(2015, 1, 1), log_to=LOG_TO, settings=SETTINGS.model_dump_json())  # fmt: skip
    frames = [_fleet({**ABOUT, **fleet}, rng) for fleet in fleets]
    lives = pd.concat(frames, ignore_index=True)
    lives["life_id"] = [f"L{number}" for number in range(len(lives))]
    store.fill_frame("lives", lives.assign(control_id=lives["life_id"]))
    if draws:
        store.fill_frame("life_draws", _draws(lives, rng))
    return store


def _fleet(about: dict, rng: np.random.Generator) -> pd.DataFrame:
    number = about["number"]
    stress = np.exp(rng.normal(0, 0.6, number)) if about["stress"] is not None else np.full(number, np.nan)
    scale = about["scale"] * np.where(np.isnan(stress), 1.0, stress ** -(about["stress"] or 0.0))
    life = np.ceil(scale * rng.weibull(2.0, number))
    entry = np.maximum(np.floor(rng.uniform(-1500, 800, number)), 0)
    end = entry + np.floor(rng.uniform(300, 2500, number))
    failed = life <= end
    frame = pd.DataFrame(
        {
            "segment": 1, "position": "p", "site_id": "north", "kind": about["kind"], "model": about["model"],
            "switching": about["switching"], "lamp": about["lamp"], "inrush_stress": stress, "inrush_unverified": False,
            "operations_per_year": about["operations"], "register_case": "keeps removed",
            "started_on": date(2015, 1, 1), "entered_on": date(2015, 1, 1), "ended_on": LOG_TO, "entry_days": entry,
            "exit_days": np.minimum(life, end), "exit_central_days": np.minimum(life, end), "failed": failed,
            "end_reason": np.where(failed, "fails on", "in service"), "quantity": 1, "imputed": False,
        }
    )  # fmt: skip
    return frame[life > entry]


def _draws(lives: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    names = ["control_id", "site_id", "kind", "model", "switching", "lamp", "inrush_stress",
             "operations_per_year", "started_on", "entered_on", "ended_on", "entry_days", "exit_days",
             "exit_central_days", "failed"]  # fmt: skip
    rows = []
    for draw in range(1, 21):
        failed = lives[lives["failed"]].assign(control_id=lambda part: part["life_id"])
        open_ = failed[rng.random(len(failed)) < 0.05][names]
        rows += [open_.assign(draw=draw, quantity=-1), open_.assign(draw=draw, quantity=1, failed=False)]
    frame = pd.concat(rows, ignore_index=True)
    return frame.assign(row_in_draw=frame.groupby("draw").cumcount() + 1)


def rows_of(found: figures.LifeCauses) -> pd.DataFrame:
    return found.ratios.set_index("cause")


def test_models_and_lamps_are_told_apart_with_limits_and_failures() -> None:
    store = store_of({}, {"model": "B", "scale": 2400.0}, {"lamp": "HPS", "scale": 2400.0}, seed=1)
    found = figures.life_causes(store, "photocontrol")
    rows = rows_of(found)
    assert set(rows.index) == {"model B", "lamps HPS"}
    for cause in rows.index:
        assert rows.loc[cause, "lower"] < 2 < rows.loc[cause, "upper"]
        assert rows.loc[cause, "said"] == "longer lives"
    failed = store.value("SELECT count(*) FROM lives WHERE failed AND model = 'B'")
    assert rows.loc["model B", "failures"] == failed
    assert f"{failed} failures speak for it" in " ".join(found.sentences)
    assert any(
        line.startswith("The failures fall where the regression expects them") for line in found.checks
    )
    assert found.draws == 0


def test_the_ratios_are_those_of_the_function() -> None:
    store = store_of({}, {"model": "B", "scale": 900.0}, seed=2)
    lives = store.frame("SELECT entry_days, exit_days, failed, quantity, model FROM lives")
    expected = fit_life_regression(lives, ["model"]).life_ratios.iloc[0]
    (row,) = figures.life_causes(store, "photocontrol").ratios.to_dict("records")
    commonest = {"model=B": 1, "model=A": -1}[expected["covariate"]]
    assert np.log(row["life_ratio"]) * commonest == pytest.approx(
        np.log(expected["life_ratio"]) * commonest, rel=1e-6
    )
    assert row["lower"] == pytest.approx(expected["lower"], rel=1e-6)


def test_a_doubling_of_stress_is_told_beside_models_and_lamps_without_drivers() -> None:
    fleets = ({"stress": 0.7, "number": 300}, {"lamp": "HPS", "scale": 2000.0})
    rows = rows_of(figures.life_causes(store_of(*fleets, seed=3), "photocontrol"))
    row = rows.loc["each doubling of inrush stress"]
    assert row["lower"] < 2**-0.7 < row["upper"]
    assert row["said"] == "shorter lives"
    assert "lamps HPS" in rows.index


def test_stress_of_devices_that_close_at_the_zero_crossing_tells_nothing() -> None:
    store = store_of(
        {"stress": 0.7, "number": 300}, {"model": "Z", "switching": "zero-cross", "stress": 0.0}, seed=4
    )
    found = figures.life_causes(store, "photocontrol")
    row = rows_of(found).loc["each doubling of inrush stress"]
    assert row["failures"] == store.value("SELECT count(*) FROM lives WHERE failed AND model = 'A'")
    assert row["lower"] < 2**-0.7 < row["upper"]
    assert "switching: determined by model and inrush stress." in found.left_out


def test_all_kinds_compare_kinds_and_operations() -> None:
    store = store_of(
        {"operations": 700.0}, {"operations": 2800.0, "scale": 600.0},
        {"kind": "timer", "model": "T", "operations": 700.0},
        {"kind": "timer", "model": "T", "operations": 2800.0, "scale": 600.0}, seed=5,
    )  # fmt: skip
    assert set(figures.cause_scopes(store)) == {"photocontrol", "timer", "all kinds"}
    rows = rows_of(figures.life_causes(store))
    doubling = rows.loc["each doubling of switching operations a year"]
    assert doubling["lower"] < 2**-0.5 < doubling["upper"]  # four times the operations, half the life
    assert any(cause.startswith("kind ") for cause in rows.index)


def test_levels_with_few_failures_and_models_never_seen_beside_others_are_left_out_by_name() -> None:
    store = store_of(
        {},
        {"lamp": "HPS"},
        {"model": "B"},
        {"model": "rare", "number": 6},
        {"model": "D", "lamp": "coil"},
        seed=6,
    )
    found = figures.life_causes(store, "photocontrol")
    assert set(rows_of(found).index) <= {"model A", "model B", "lamps HPS", "lamps LED"}
    said = " ".join(found.left_out)
    assert "model rare:" in said
    assert "fewer than 10" in said
    assert "D on coil: never seen with what the others have" in said


def test_kinds_of_unlike_shape_are_not_given_one_ratio() -> None:
    store = store_of({"number": 300}, seed=7)
    rng = np.random.default_rng(8)
    store.run("UPDATE lives SET entry_days = 0")
    early = store.frame("SELECT * FROM lives")
    life = np.ceil(2500 * rng.weibull(0.6, len(early)))  # fails early where the other wears out
    early = early.assign(
        life_id="E" + early["life_id"], control_id="E" + early["control_id"], model="early", failed=life < 2500,
        exit_days=np.minimum(life, 2500), exit_central_days=np.minimum(life, 2500),
    )  # fmt: skip
    store.fill_frame("lives", early)
    found = figures.life_causes(store, "photocontrol")
    (row,) = found.ratios.to_dict("records")
    assert row["said"] == "no one ratio"
    assert "not by one ratio at every age" in found.sentences[0]
    assert any("its effect changes with age" in line for line in found.checks)


def test_open_verdicts_widen_the_limits() -> None:
    fleets = ({}, {"model": "B", "scale": 2400.0})
    hard, open_ = (
        figures.life_causes(store_of(*fleets, seed=9, draws=draws), "photocontrol") for draws in (False, True)
    )
    assert (hard.draws, open_.draws) == (0, 20)
    width = [np.log(each.ratios["upper"].iloc[0] / each.ratios["lower"].iloc[0]) for each in (hard, open_)]
    assert width[1] > width[0]


def test_where_nothing_can_be_told_there_is_a_sentence(small: Store, empty: Store) -> None:
    assert figures.cause_scopes(empty) == []
    assert figures.life_causes(empty).sentences == ("No control of known age can be followed here.",)
    found = figures.life_causes(small, "timer")  # one control that has not failed
    assert found.ratios.empty
    assert "cannot tell what shortens lives" in found.sentences[0]
    assert figures.life_causes(small, "timer", Filters(sites=("north",))).ratios.empty
    one = figures.life_causes(store_of({}, seed=10), "photocontrol")
    assert one.ratios.empty
    assert "model, lamps, switching: the same everywhere here." in one.left_out


def test_no_difference_is_said_to_be_none() -> None:
    found = figures.life_causes(store_of({}, {"model": "B"}, seed=11), "photocontrol")
    assert found.ratios["said"].tolist() == ["no difference shown"]
    assert found.sentences[0] == "The data do not show that anything here shortens or lengthens lives."


def test_what_is_carried_needs_no_known_column() -> None:
    store = store_of({"model": None}, {"model": None, "lamp": "HPS"}, seed=12)
    found = figures.life_causes(store, "photocontrol")
    assert "lamps HPS" in rows_of(found).index or "lamps LED" in rows_of(found).index
    assert carried.STRESS not in found.ratios["cause"].tolist()
