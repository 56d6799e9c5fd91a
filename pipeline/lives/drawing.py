"""Fills the tables of lives and of draws: which lives stand as read, and what each draw sets in their place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TypeAlias

import numpy as np
import pandas as pd

from pipeline.lives.drawn_stays import Row, drawn_stays
from pipeline.lives.groups import Group
from pipeline.lives.imputing import IMPUTATIONS, Drawn, Imputer, KnownLives
from pipeline.lives.odds import cases_of_rules
from pipeline.lives.open_places import OpenPlace
from pipeline.lives.seats import Seats
from pipeline.lives.speaking import groups_of
from pipeline.lives.stay_records import Stay
from pipeline.lives.working_tables import fill_stays, make_drawn_stays
from pipeline.store import Store, sql_text

About: TypeAlias = tuple[str | None, str | None, str | None, bool]
"""Kind, model and lamps of a control, and whether its lamps changed while its log was kept."""

_UNKNOWN: About = (None, None, None, False)

# Kind, model and lamps behind every control: its lamps at the end, and whether they changed while its log was kept.
_GROUPS = """
WITH seen AS (
  SELECT site_id, min(observed_from) AS first_day, max(observed_to) AS last_day
  FROM observation_windows GROUP BY site_id
)
SELECT c.control_id, c.kind, c.model, arg_max(l.lamp, l.begins) AS lamp,
       count(DISTINCT coalesce(l.lamp, '')) > 1 AS load_changes
FROM controls c JOIN seen s USING (site_id)
JOIN lamp_spans l ON l.control_id = c.control_id AND l.begins <= s.last_day AND l.ends > s.first_day
GROUP BY ALL
"""


def fill_lives(store: Store, seats: Seats, few_failures: int) -> None:
    """Fill ``lives`` and ``life_draws``.

    Lives stand as the verdicts do, those in batches as the last draw left them (``imputed``).
    """
    if not seats.open_places:
        fill_stays(store, [stay for _, stay in seats.stays])
        _insert_lives(store)
        return
    imputer = _imputer(store, seats, few_failures)
    draws = list(imputer.draws())
    batches = np.array([place.quantity > 1 for place in imputer.places])
    replaced = {number for place in imputer.places if place.quantity > 1 for number in place.stays}
    kept = [stay for number, stay in seats.stays if number not in replaced]
    last = pd.DataFrame(drawn_stays(imputer.places, draws[-1].lived, batches))
    fill_stays(store, kept, last)
    _insert_lives(store)
    _fill_draws(store, seats, imputer, draws, replaced)


def _insert_lives(store: Store) -> None:
    lives = sql_text("pipeline.lives", "lives").replace("{stays}", "stays")
    store.fill("lives", f"SELECT * EXCLUDE (draw) FROM ({lives}) ORDER BY life_id, segment")  # noqa: S608 - our own text


def _imputer(store: Store, seats: Seats, few_failures: int) -> Imputer:
    about = {row[0]: row[1:] for row in store.rows(_GROUPS)}
    expected = _expected_failures(seats, about)
    names: dict[Group, int] = {}

    def group(control_id: str) -> int:
        kind, model, lamp, _ = about.get(control_id, _UNKNOWN)
        chosen = next(
            (g for g in groups_of(kind, model, lamp) if expected.get(g, 0.0) >= few_failures), ("all", "all")
        )
        return names.setdefault(chosen, len(names))

    def informs(control_id: str) -> bool:
        return not about.get(control_id, _UNKNOWN)[3]

    places = seats.open_places
    known = _known_lives(seats, group, informs)
    return Imputer(
        places, np.array([group(place.control_id) for place in places]),
        np.array([informs(place.control_id) for place in places]), known, few_failures, cases_of_rules(store),
    )  # fmt: skip


def _expected_failures(seats: Seats, about: dict[str, About]) -> dict[Group, float]:
    """Failures that each group expects, open ones by their probability."""
    expected: dict[Group, float] = {}

    def add(control_id: str, failures: float) -> None:
        kind, model, lamp, changes = about.get(control_id, (None, None, None, True))
        for group in () if changes else groups_of(kind, model, lamp):
            expected[group] = expected.get(group, 0.0) + failures

    for place in seats.open_places:
        add(place.control_id, sum(found.probability for found in place.findings))
    in_places = _in_open_places(seats.open_places)
    for number, stay in seats.stays:
        if number not in in_places and stay.failed and stay.excluded_reason is None:
            add(stay.control_id, stay.quantity)
    return expected


def _in_open_places(places: list[OpenPlace]) -> set[int]:
    return {number for place in places for number in place.stays}


def _known_lives(seats: Seats, group: Callable[[str], int], informs: Callable[[str], bool]) -> KnownLives:
    """Stays of known age that no draw changes, each with the group of its control."""
    in_places = _in_open_places(seats.open_places)
    known = [
        stay for number, stay in seats.stays
        if number not in in_places and stay.excluded_reason is None and stay.started_on is not None
        and (stay.ended_on > stay.entered_on or stay.failed) and informs(stay.control_id)
    ]  # fmt: skip
    entry = np.array([_age(stay, stay.entered_on) for stay in known], dtype=np.float64)
    exit_ = np.array([_age(stay, stay.ended_on) for stay in known], dtype=np.float64)
    return KnownLives(
        np.array([group(stay.control_id) for stay in known], dtype=np.int64),
        entry,
        np.maximum(exit_, entry + 0.5),
        np.array([stay.failed for stay in known], dtype=bool),
        np.array([stay.quantity for stay in known], dtype=np.float64),
    )


def _age(stay: Stay, day: date) -> float:
    return float((day - (stay.started_on or day)).days)


def _fill_draws(store: Store, seats: Seats, imputer: Imputer, draws: list[Drawn], replaced: set[int]) -> None:
    singles = np.array([place.quantity == 1 for place in imputer.places])
    rows: list[Row] = []
    taken: list[tuple[int, int]] = []
    for number, drawn in enumerate(draws, start=1):
        # The last draw's batches are in the table of lives already.
        other = drawn.differs & singles if number == IMPUTATIONS else drawn.differs
        rows += [row | {"draw": number} for row in drawn_stays(imputer.places, drawn.lived, other)]
        taken += [(number, stay) for i in np.flatnonzero(other).tolist() for stay in imputer.places[i].stays]
    make_drawn_stays(store, pd.DataFrame(rows))
    # Numbers in the table of stays: those kept, in order, then the last draw's lives in batches.
    numbers = {old: new for new, old in enumerate(n for n, _ in seats.stays if n not in replaced)}
    taken = [(draw, numbers[stay]) for draw, stay in taken if stay in numbers]
    store.run("CREATE OR REPLACE TEMP TABLE open_stays (draw BIGINT, stay_number BIGINT)")
    store.fill_frame("open_stays", pd.DataFrame(taken, columns=["draw", "stay_number"]))
    store.run(
        "INSERT INTO open_stays SELECT d.draw, s.stay_number FROM stays s, range(1, ?) d(draw) WHERE s.imputed",
        [IMPUTATIONS],
    )
    lives = sql_text("pipeline.lives", "lives").replace("{stays}", "drawn_stays")
    store.fill("life_draws", sql_text("pipeline.lives", "life_draws").replace("{lives_of_draws}", lives))
