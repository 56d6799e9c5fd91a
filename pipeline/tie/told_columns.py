"""Findings told as columns: what processes hand to one another and to the database without a look at each value.

Most columns hold few different words: each goes once, with the number of its word in every row.
"""

from __future__ import annotations

import pyarrow as pa

from pipeline.tie.told import Told

ToldRows = list[tuple[object, ...]]

_TYPES = {
    **dict.fromkeys(("key_id", "part_number", "units"), pa.int64()),
    **dict.fromkeys(
        ("confidence", "probability", "share_of_lamps", "burning_shift_h", "dark_shift_h"), pa.float64()
    ),
    **dict.fromkeys(("alone", "bad", "is_round", "tested_dark"), pa.bool_()),
}
_COLUMNS = ("key_id", *Told._fields)
_OWN_WORDS = ("evidence",)  # nearly every row has its own


def told_columns(rows: ToldRows) -> pa.Table:
    """Rows of key_id and the fields of Told as a table; without rows an empty one of the same types."""
    values = zip(*rows, strict=True) if rows else [()] * len(_COLUMNS)
    return pa.table({name: _column(name, said) for name, said in zip(_COLUMNS, values, strict=True)})


def _column(name: str, values: tuple[object, ...]) -> pa.Array:
    column = pa.array(values, _TYPES.get(name, pa.string()))
    return column if name in _TYPES or name in _OWN_WORDS else column.dictionary_encode()
