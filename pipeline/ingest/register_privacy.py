"""People masked in the cells of registers and inventories, before anything is made of them.

The rules are those for calls (pipeline/ingest/privacy.py). Tags and other identifiers stay as they are written, but for
those with a blank or an @ in them: what holds a person there is no tag.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from contextlib import closing
from functools import cache

import pandas as pd

from pipeline.ingest.masking import Masker
from pipeline.ingest.privacy import MAY_HOLD_CONTACT, may_hold_cue
from pipeline.settings import Privacy
from pipeline.store import Store

IDENTIFIERS = ("site_id", "account_id", "control_id", "fixture_id", "switched_by")


def masked_rows(
    rows: Sequence[Sequence[str]],
    privacy: Privacy,
    identifiers: Collection[int] = (),
    withheld: Sequence[int] = (),
) -> list[list[str]]:
    """The rows with people masked in every cell but those of the columns ``withheld`` (places counted from 0).

    ``identifiers``: columns whose cells are masked only where they are no tag. The names in ``withheld`` are masked in
    all other columns.
    """
    kept = [list(row) for row in rows]
    if not privacy.mask_free_text:
        return kept
    asked = [
        (number, place, cell)
        for number, row in enumerate(kept)
        for place, cell in enumerate(row)
        if cell and place not in withheld and (place not in identifiers or " " in cell or "@" in cell)
        and (withheld or _may_hold_person().search(cell))
    ]  # fmt: skip
    if asked:
        with closing(Store.scratch()) as scratch:
            for number, place, text in _masked(scratch, kept, asked, privacy, withheld):
                kept[number][place] = text
    return kept


@cache
def _may_hold_person() -> re.Pattern[str]:
    """Finds every cell that masking without names of the file may change, and some more."""
    cue = may_hold_cue().replace(r"\pL", r"[^\W\d_]").removeprefix(r"\b")
    return re.compile(f"{MAY_HOLD_CONTACT}|{cue}")


def _masked(
    store: Store,
    rows: Sequence[Sequence[str]],
    asked: Sequence[tuple[int, int, str]],
    privacy: Privacy,
    withheld: Sequence[int],
) -> list[tuple[int, int, str]]:
    """Of the cells asked for (row, column, text), those that masking changes."""
    columns = [f"c{number}" for number in range(1, len(withheld) + 1)]
    people = [[row[place] if place < len(row) else None for place in withheld] for row in rows]
    raw = pd.DataFrame(people, columns=columns, dtype=object, index=range(len(rows)))
    with store.frame_as("people_of_rows", raw.reset_index(names="of_row")) as name:
        cells = "".join(f", {column}::VARCHAR AS {column}" for column in columns)
        store.run(f"CREATE TABLE raw AS SELECT of_row{cells} FROM {name}")  # noqa: S608 - names of ours
    frame = pd.DataFrame(asked, columns=["of_row", "place", "cell_text"]).reset_index(names="row_number")
    with store.frame_as("cells_asked", frame) as name:
        store.run(f"CREATE TABLE asked AS SELECT * FROM {name}")  # noqa: S608 - a name of ours
    masker = Masker(store, privacy, columns, ())
    store.run(
        f"CREATE VIEW cells AS SELECT asked.row_number, cell_text, {masker.who_sql()} AS who "  # noqa: S608
        "FROM asked JOIN raw USING (of_row)"
    )
    if not masker.masked_cells([("cells", "cell_text")]):
        return []
    found = store.rows("SELECT of_row, place, text FROM masked_cell_text JOIN asked USING (row_number)")
    return [(int(number), int(place), str(text)) for number, place, text in found]
