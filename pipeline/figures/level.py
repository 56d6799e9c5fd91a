"""How far the data carry: calls only, rates, or lives; and the cheapest thing to add."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.figures import wording
from pipeline.numerals import counted
from pipeline.store import Store

_COUNTS = """
SELECT
  (SELECT count(*) FROM calls WHERE is_lighting AND superseded_by IS NULL) AS lighting_calls,
  (SELECT coalesce(sum(quantity), 0) FROM controls) AS controls,
  (SELECT coalesce(sum(quantity), 0) FROM controls WHERE installed_on IS NOT NULL) AS dated,
  (SELECT count(*) FROM lives WHERE excluded_reason IS NULL) AS lives,
  (SELECT count(*) FROM sites WHERE latitude IS NULL OR longitude IS NULL) AS sites_without_place,
  -- A control that only drives another device's coil has no lamps of its own.
  (SELECT coalesce(sum(quantity), 0) FROM controls
   WHERE removed_on IS NULL AND switched_by IS NULL
     AND position NOT IN (SELECT c.position FROM fixtures f JOIN controls c USING (control_id))) AS without_load
"""


@dataclass(frozen=True)
class DataLevel:
    """What the data support. ``level``: 0 nothing, 1 calls, 2 rates, 3 lives."""

    level: int
    name: str
    statement: str
    next_step: str


def data_level(store: Store) -> DataLevel:
    """The level of analysis that the build supports, and the cheapest thing to add to reach further."""
    calls, controls, dated, lives, unplaced, unloaded = (int(n) for n in store.row(_COUNTS))
    if calls == 0:
        return _no_calls()
    if controls == 0:
        return _calls_only(calls)
    return _lives(controls, dated, unplaced, unloaded) if lives else _rates(controls)


def _no_calls() -> DataLevel:
    return DataLevel(
        0,
        "no lighting calls",
        "No call about exterior lighting was found, so nothing can be counted.",
        "Put work-order exports into calls/ and check with `dayburn layout` that their texts are read.",
    )


def _calls_only(calls: int) -> DataLevel:
    return DataLevel(
        1,
        "calls only",
        f"{wording.count_text(calls)} lighting calls give incidents, calls per month and time to restore. There is no "
        "register of controls, so failures cannot be set against how many controls there are: no rate and no life "
        "can be fitted.",
        "Add controls.csv with one row per site and kind of control: control_id, site_id, kind and quantity. "
        "That gives failure rates. With installed_on it gives lives.",
    )


def _rates(controls: int) -> DataLevel:
    return DataLevel(
        2,
        "sites and counts: rates",
        f"{wording.count_text(controls)} controls are registered, so failures have a rate per control-year. "
        "No installation dates are known, so no life can be fitted.",
        "Add installed_on to controls.csv, first for the kinds with the most failures; a year read off the purchase "
        "order is better than nothing. Give as_of if the register lists only what is in place today.",
    )


def _lives(controls: int, dated: int, unplaced: int, unloaded: int) -> DataLevel:
    statement = (
        f"{wording.count_text(dated)} of {wording.count_text(controls)} registered controls have an installation date, "
        "so lives can be fitted."
    )
    return DataLevel(
        3, "installation dates: lives", statement, _beyond_lives(controls, dated, unplaced, unloaded)
    )


def _beyond_lives(controls: int, dated: int, unplaced: int, unloaded: int) -> str:
    """The cheapest addition once lives can be fitted."""
    if unloaded:
        return (
            f"Without fixtures in fixtures.csv: {counted(unloaded, 'control')} in place, of unknown wasted energy. "
            "Add lamp, luminaires and watts_each."
        )
    if unplaced:
        return f"Without coordinates in sites.csv: {counted(unplaced, 'site')}, where burn hours are unknown. Add them."
    if dated < controls:
        return (
            f"Without installed_on in controls.csv: {counted(controls - dated, 'control')}, kept in rates only. "
            "Add the dates."
        )
    return "Nothing is missing for these analyses. One row per control instead of a batch would sharpen ages further."
