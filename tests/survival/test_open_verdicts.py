"""Lives and findings joined into places whose verdicts can be drawn."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulated_places import lives_by, misread_places

from pipeline.survival import ImpossibleLives, fit_weibull, fit_weibull_imputed, open_verdicts


def lives(*rows):
    columns = ["place_id", "from_day", "entry_days", "exit_days", "failed"]
    return pd.DataFrame(rows, columns=columns).assign(quantity=1)


def findings(*rows):
    return pd.DataFrame(rows, columns=["place_id", "day", "failed_probability", "if_not_failed"])


def test_successive_lives_become_one_place_with_the_verdict_between_them():
    # In place for 200 days as the log begins (day 0); failed on day 300, repaired on day 320; watched to day 1000.
    given = lives(("A", 0, 200, 500, True), ("A", 320, 0, 680, False))
    places, events, outside = open_verdicts(given, findings(("A", 300, 0.8, "goes on")))
    assert places[["entry_days", "exit_days", "quantity"]].to_numpy().tolist() == [[200, 1200, 1]]
    assert events[["age_days", "failed_probability", "renewed_days"]].to_numpy().tolist() == [[500, 0.8, 520]]
    assert events["if_not_failed"].tolist() == ["goes on"]
    assert outside == 0


def test_a_finding_judged_no_failure_is_an_event_within_the_life():
    places, events, _ = open_verdicts(lives(("A", 0, 0, 900, False)), findings(("A", 250, 0.1, "goes on")))
    assert places["exit_days"].tolist() == [900]
    assert events[["age_days", "failed_probability"]].to_numpy().tolist() == [[250, 0.1]]


def test_a_change_without_a_finding_is_certain():
    given = lives(("A", 0, 0, 400, False), ("A", 400, 0, 300, True), ("A", 700, 0, 100, False))
    _, events, _ = open_verdicts(given, findings())
    assert events["failed_probability"].tolist() == [0, 1]
    assert events["if_not_failed"].tolist() == ["ends", "ends"]


def test_a_life_cut_where_its_load_changes_stays_one_place():
    given = lives(("A", 0, 100, 400, False), ("A", 300, 400, 800, True))
    places, events, _ = open_verdicts(given, findings(("A", 700, 0.9, "ends")))
    assert places[["entry_days", "exit_days"]].to_numpy().tolist() == [[100, 800]]
    assert events[["age_days", "failed_probability"]].to_numpy().tolist() == [[800, 0.9]]


def test_a_gap_in_what_is_known_begins_a_new_place():
    given = lives(("A", 0, 100, 400, False), ("A", 500, 50, 300, False), ("B", 0, 0, 300, False))
    places, _, outside = open_verdicts(given, findings(("A", 400, 0.5, "goes on"), ("C", 10, 0.5, "goes on")))
    assert len(places) == 3
    assert outside == 2


def test_certain_verdicts_give_the_plain_fit_of_the_lives():
    where, found = misread_places(2.5, 1500, 300, 2200, 3)
    real = found[found["real"]].assign(failed_probability=1.0)
    frame = lives_by(where, real)
    place = _places_in_order(where, real)
    given = frame.assign(place_id=place["place_id"], from_day=place["from_day"])
    opened = open_verdicts(
        given, real.rename(columns={"age_days": "day"})[["place_id", "day", "failed_probability"]]
    )
    imputed, plain = fit_weibull_imputed(opened.places, opened.events), fit_weibull(frame)
    assert opened.findings_outside == 0
    assert imputed.shape == pytest.approx(plain.shape, rel=1e-9)
    assert imputed.scale_days == pytest.approx(plain.scale_days, rel=1e-9)


def _places_in_order(where, events):
    """Place and first day (each place has its own origin: its installation) of every row of ``lives_by``."""
    rows = []
    ages = {place: sorted(part) for place, part in events.groupby("place_id")["age_days"]}
    for place, entry, end in zip(where["place_id"], where["entry_days"], where["exit_days"], strict=True):
        begins = [entry, *ages.get(place, [])]
        rows += [(place, begin) for begin in begins if begin < end]
    return pd.DataFrame(rows, columns=["place_id", "from_day"])


def test_a_batch_and_a_day_that_is_none_are_refused():
    with pytest.raises(ImpossibleLives, match="row 0: quantity 3 is not 1"):
        open_verdicts(lives(("A", 0, 0, 400, False)).assign(quantity=3), findings())
    with pytest.raises(ImpossibleLives, match="findings row 0: day is missing"):
        open_verdicts(lives(("A", 0, 0, 400, False)), findings(("A", np.nan, 0.5, "goes on")))
