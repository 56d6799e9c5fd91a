"""What failed controls cost besides energy: lamp life burnt by day, and nights without light."""

from __future__ import annotations

import pandas as pd

from pipeline.figures import query
from pipeline.figures.facts import facts
from pipeline.figures.figure import Figure, known
from pipeline.figures.filters import EVERYTHING, Filters
from pipeline.figures.wording import number_text
from pipeline.numerals import counted
from pipeline.store import Store


def also_lost(store: Store, filters: Filters = EVERYTHING) -> tuple[Figure, Figure]:
    """Lamp life burnt out of schedule, and night hours without light, of incidents first reported in the period.

    Limits are bounds, as for hours: all from the first report only, to all back to the last evidence.
    """
    row = query.frame(store, "also_lost", filters).iloc[0]
    return _lamps(row, facts(store).money), _unlit(row)


def _lamps(row: pd.Series, money: str) -> Figure:
    hours = Figure("lamp_hours", "Luminaire-hours lit out of schedule", "h", *_levels(row, "lamp_hours"))
    lives = Figure(
        "lamp_lives", "Lives of one lamp that they are", "lives", *_levels(row, "lamp_lives"),
        f"Luminaire-hours over the rated life. {_unknown(row['without_life'], 'the rated life', 'no lives')}".strip(),
    )  # fmt: skip
    note = (
        "The lives burnt at the cost of replacing the lamps. Bounds. Apart from the energy and its cost. "
        f"{_unknown(row['without_cost'], 'the rated life or the replacement cost', 'no cost')}"
    ).strip()
    if not row["lamp_incidents"]:
        note = "No incident with a known load kept lamps lit."
    levels = _levels(row, "lamp_cost")
    return Figure("lamp_life_burnt", "Lamp life burnt", money, *levels, note, beside=(lives, hours))


def _unknown(incidents: int, what: str, so: str) -> str:
    return (
        f"In {counted(int(incidents), 'incident')} {what} of some lamps is not known: {so} for these."
        if incidents
        else ""
    )


def _unlit(row: pd.Series) -> Figure:
    note = (
        f"{counted(int(row['unlit_incidents']), 'incident')} of a control that failed and left its lamps dark, each "
        "counted once. Bounds. A safety figure: never set off against energy."
    )
    luminaire_hours = row["unlit_luminaire_hours_central"]
    if not pd.isna(luminaire_hours):
        note += f" With the luminaires behind each: {number_text(float(luminaire_hours))} luminaire-hours."
    if row["without_place"]:
        note += f" Of {counted(int(row['without_place']), 'incident')} the place is not known, so no hours."
    return Figure("unlit_hours", "Nights without light", "h", *_levels(row, "unlit_hours"), note)


def _levels(row: pd.Series, name: str) -> tuple[float | None, float | None, float | None]:
    levels = (row[f"{name}_{level}"] for level in ("central", "low", "high"))
    central, low, high = map(known, levels)
    return central, low, high
