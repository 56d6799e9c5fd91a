"""Whose life speaks for a control: the nearest group with a full fit, and only then one with a few failures."""

from __future__ import annotations

from typing import Any

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from pipeline.lives.speaking import EVERYONE, SpeakingFits, Spoken, groups_of, speaker

CONTROL = ("timer", "T", "LED")
OWN = groups_of(*CONTROL)
MODEL_AND_LAMP, MODEL, KIND = OWN


def fits(**rows: tuple[str, int]) -> SpeakingFits:
    """Fits of the control's groups: method and failures by group."""
    groups = {"own": MODEL_AND_LAMP, "model": MODEL, "kind": KIND, "everyone": EVERYONE}
    frame = [_row(groups[name], method, failures) for name, (method, failures) in rows.items()]
    return SpeakingFits(pd.DataFrame(frame))


def _row(group: tuple[str, str], method: str, failures: int) -> dict[str, Any]:
    known = method == "weibull"
    return {
        "grouping": group[0], "group_name": group[1], "method": method, "failures": failures, "shape": 2.0,
        "scale_days": 1000.0 if failures else None, "scale_days_lower": 800.0,
        "scale_days_upper": 1250.0 if known else None,
    }  # fmt: skip


def spoken(found: Spoken | None) -> Spoken:
    assert found is not None
    return found


def test_the_most_particular_full_fit_speaks() -> None:
    found = spoken(fits(own=("weibull", 9), model=("weibull", 20), kind=("weibull", 90)).of(*CONTROL))
    assert found.group == MODEL_AND_LAMP
    assert found.source == "fitted to T / LED (9 failures)"
    assert found.two_sided


def test_one_failure_of_its_own_does_not_outweigh_a_full_fit_of_its_kind() -> None:
    found = spoken(fits(own=("fixed shape", 1), model=("fixed shape", 2), kind=("weibull", 90)).of(*CONTROL))
    assert found.source == "fitted to every timer, models mixed (90 failures)"


def test_the_model_comes_before_its_kind_and_says_that_its_lamps_are_mixed() -> None:
    found = spoken(fits(own=("fixed shape", 4), model=("weibull", 7), kind=("weibull", 90)).of(*CONTROL))
    assert found.source == "fitted to T whatever its lamps (7 failures)"


def test_where_no_group_has_a_full_fit_the_nearest_with_a_failure_speaks_from_below_only() -> None:
    found = spoken(
        fits(own=("fixed shape", 0), model=("fixed shape", 1), kind=("fixed shape", 3)).of(*CONTROL)
    )
    assert found.group == MODEL
    assert found.scale_days_upper is None
    assert found.source == "fitted to T whatever its lamps (1 failure, shape not its own, no upper limit)"


def test_other_kinds_speak_only_where_nothing_of_its_own_kind_has_failed() -> None:
    few = fits(own=("fixed shape", 0), kind=("fixed shape", 1), everyone=("weibull", 300))
    assert spoken(few.of(*CONTROL)).group == KIND
    none = fits(own=("fixed shape", 0), kind=("fixed shape", 0), everyone=("weibull", 300))
    assert spoken(none.of(*CONTROL)).source == "fitted to all controls, kinds mixed (300 failures)"


def test_nothing_speaks_where_nothing_has_failed() -> None:
    assert fits(own=("fixed shape", 0), everyone=("fixed shape", 0)).of(*CONTROL) is None


def test_what_is_unknown_of_a_control_names_no_group() -> None:
    assert groups_of("timer", None, "LED") == [KIND]
    assert groups_of("timer", "T", None) == [MODEL, KIND]
    assert groups_of(None, None, None) == []


@given(st.sets(st.sampled_from([*OWN, EVERYONE])), st.sets(st.sampled_from([*OWN, EVERYONE])))
def test_a_group_with_enough_of_its_own_is_never_passed_over_for_a_farther_one(
    enough: set[tuple[str, str]], some: set[tuple[str, str]]
) -> None:
    anything = enough | some
    found = speaker(OWN, enough.__contains__, anything.__contains__)
    assert (found is None) == (not anything)
    if found in enough and found != EVERYONE:
        assert not any(group in enough for group in OWN[: OWN.index(found)])
    if found not in enough and found is not None:
        assert not any(group in enough for group in OWN)
