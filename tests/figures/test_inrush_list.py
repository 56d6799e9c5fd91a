"""The screening list of circuits above rating, and what the data say of stress and life."""

from __future__ import annotations

import math

import pytest

from figures.small_store import add, small_store
from pipeline import figures
from pipeline.figures import Filters
from pipeline.inrush import default_peak_a
from pipeline.store import Store
from pipeline.survival import DoublingEffect


def with_drivers() -> Store:
    """C1: 4 drivers of 40 A behind 90 A at 277 V. C4: a batch of ten with 20 drivers of unknown peak, 54 W each. C5:
    no rated peak. C3: LED whose drivers nobody counted, zero-cross."""
    store = small_store()
    store.run(
        "UPDATE controls SET voltage_v = 277, rated_inrush_a = 90 WHERE control_id IN ('C1', 'C3', 'C4')"
    )
    store.run("UPDATE controls SET voltage_v = 277 WHERE control_id = 'C5'")
    store.run("UPDATE controls SET switching = 'zero-cross' WHERE control_id = 'C3'")
    store.run("UPDATE fixtures SET drivers = 4, inrush_peak_a_each = 40 WHERE control_id = 'C1'")
    rows = [("C3", 3, None, 30.0), ("C4", 20, 20, None), ("C5", 5, 10, 25.0)]
    for number, (control, luminaires, drivers, peak) in enumerate(rows, start=10):
        add(
            store, "fixtures", fixture_id=f"f{number}", control_id=control, lamp="LED", luminaires=luminaires,
            watts_each=54.0, watts_basis="input", input_watts_each=54.0, drivers=drivers, inrush_peak_a_each=peak,
            row_number=number,
        )  # fmt: skip
    return store


def test_stress_is_the_sum_of_the_peaks_and_the_source_limited_one_over_the_rated_peak() -> None:
    row = figures.inrush_circuits(with_drivers()).set_index("control_id").loc["C1"]
    assert (row["lamps"], row["drivers"], row["peak_sum_a"], row["unverified"]) == ("LED", 4, 160, False)
    assert row["stress_sum"] == pytest.approx(160 / 90)
    crest = 277 * math.sqrt(2)  # 430 milliohms unless the settings say otherwise
    assert row["stress_source_limited"] == pytest.approx(crest / (0.43 + crest / 160) / 90)
    assert row["unknown"] == ""
    assert row["site"] == "North Yard"
    assert row["failures"] == 2  # i01 and i05


def test_an_unknown_driver_peak_takes_a_default_by_running_current_and_says_so() -> None:
    # The batch of ten shares 20 drivers: two behind each control, of 54 W at 277 V.
    row = figures.inrush_circuits(with_drivers()).set_index("control_id").loc["C4"]
    assert (row["circuits"], row["drivers"], row["unverified"]) == (10, 2, True)
    assert row["peak_sum_a"] == pytest.approx(2 * default_peak_a(54 / 277, 277))
    assert "unverified" in row["unknown"]


def test_what_is_missing_is_named_and_not_screened() -> None:
    rows = figures.inrush_circuits(with_drivers()).set_index("control_id")
    assert math.isnan(rows.loc["C5", "stress_sum"])
    assert rows.loc["C5", "unknown"] == "rated peak of the control is not known"
    assert rows.loc["C5", "peak_sum_a"] == 250 / 5  # a batch of five
    assert rows.loc["C3", "drivers"] == 3
    assert "one for each luminaire is supposed" in rows.loc["C3", "unknown"]
    assert "zero crossing" in rows.loc["C3", "unknown"]
    assert "C2" not in rows.index  # HPS without drivers


def test_the_list_holds_what_is_above_rating_the_most_stressed_first() -> None:
    store = with_drivers()
    above = figures.above_rating(figures.inrush_circuits(store))
    assert list(above["control_id"]) == ["C1"]
    figure = figures.inrush_figure(store)
    assert figure.value == 1
    assert "Of 12 screened" in figure.note  # C1, C3 and ten of C4
    assert "5 more lack" in figure.note
    assert figures.inrush_circuits(store, Filters(sites=("south",)))["control_id"].tolist() == ["C3", "C5"]


def test_of_successive_controls_at_a_place_the_one_in_place_is_screened() -> None:
    store = with_drivers()
    add(
        store, "controls", control_id="C1b", site_id="north", position="north / C1", kind="photocontrol", model="Z",
        switching="zero-cross", quantity=1, installed_on="2024-02-04", rated_inrush_a=480, voltage_v=277, row_number=9,
    )  # fmt: skip
    rows = figures.inrush_circuits(store).set_index("control_id")
    assert "C1" not in rows.index
    assert rows.loc["C1b", "stress_sum"] == pytest.approx(160 / 480)  # the lamps stay behind the new control


def test_without_drivers_the_figure_says_what_to_give(small: Store) -> None:
    store = small_store()
    store.run("UPDATE fixtures SET lamp = 'HPS'")
    assert figures.inrush_circuits(store).empty
    figure = figures.inrush_figure(store)
    assert figure.value is None
    assert "give drivers and lamps in fixtures.csv" in figure.note


def test_no_ratio_is_claimed_where_no_stress_is_known(small: Store) -> None:
    said = figures.stress_effect(small)
    assert isinstance(said, str)
    assert "Only 0 failed controls have a known inrush stress" in said


def test_the_demos_stresses_are_those_of_its_lives(demo_store: Store) -> None:
    circuits = figures.inrush_circuits(demo_store)
    lives = demo_store.frame(
        "SELECT control_id, any_value(inrush_stress) AS stress FROM lives"
        " WHERE end_reason = 'in service' AND inrush_stress IS NOT NULL GROUP BY 1"
    )
    both = circuits[circuits["stress_sum"].notna()].merge(lives, on="control_id")
    assert len(both) > 900
    assert both["unverified"].any()
    assert both["stress_sum"].to_numpy() == pytest.approx(both["stress"].to_numpy(), rel=1e-6)


def test_the_demos_controls_do_not_live_by_stress_and_none_is_claimed(demo_store: Store) -> None:
    # Truth (docs/demo-model.md): a model's life depends on the technology of its lamps and on nothing else of the load.
    effect = figures.stress_effect(demo_store)
    assert isinstance(effect, DoublingEffect)
    assert effect.lower <= 1 <= effect.upper
    assert "do not show that inrush stress changes life" in effect.sentence
    assert effect.failures > 500
