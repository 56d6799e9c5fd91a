"""Cells of registers as people write them -> ISO days and plain numbers, by the same rules as those of calls."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd

from pipeline.ingest.date_forms import DateOrder, formats_for
from pipeline.ingest.dates import DateEvidence, read_evidence, timestamp_sql
from pipeline.ingest.numbers import Decimal, number_sql, proven_decimal
from pipeline.store import Store

Texts = Sequence[str | None]
_YEAR = re.compile(r"^(?:19|20)\d\d$")
_THOUSANDS = r"(?i)[0-9]\s*(?:kw|kv|ka|kva|ms)\s*$"
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}$")


def days(
    store: Store, texts: Texts, time_zone: str, order: DateOrder | None = None, from_1904: bool = False
) -> tuple[list[str | None], DateEvidence]:
    """ISO days of a column, None where there is none, and what its dates prove. A year alone is its middle, 1 July.

    ``order``: of day and month; without one it is that which the column proves.
    """
    if all(text is None or _ISO.match(text) for text in texts):
        return list(texts), DateEvidence()
    _offer(store, texts)
    evidence = read_evidence(store, "raw_cells", "c1")
    formats = formats_for(list(evidence.shapes), order or evidence.decided())
    read = timestamp_sql("c1", formats, time_zone, serials=True, evidence=evidence, from_1904=from_1904)
    found = store.rows(f"SELECT strftime({read}, '%Y-%m-%d') FROM raw_cells ORDER BY n")  # noqa: S608
    return [
        f"{text}-07-01" if text and _YEAR.match(text) else day
        for text, (day,) in zip(texts, found, strict=True)
    ], evidence


def is_year(text: str | None) -> bool:
    """Whether a cell holds a year alone."""
    return bool(text and _YEAR.match(text))


def decimal_of(store: Store, texts: Texts) -> Decimal | None:
    """The decimal sign that a column of numbers proves, if any."""
    _offer(store, texts)
    return proven_decimal(store, "raw_cells", "c1")


def numbers(store: Store, texts: Texts, decimal: Decimal) -> list[str | None]:
    """Plain numbers of a column, None where there is none.

    A unit behind the digits is left out (``150W``), one of a thousand reckoned (``1.5 kW``, ``0.3 ms`` for µs).
    """
    _offer(store, texts)
    scale = f"CASE WHEN regexp_matches(c1, '{_THOUSANDS}') THEN 1000 ELSE 1 END"
    found = store.rows(f"SELECT {number_sql('c1', decimal)} * {scale} FROM raw_cells ORDER BY n")  # noqa: S608
    return [None if value is None else f"{value:.12g}" for (value,) in found]


def _offer(store: Store, texts: Texts) -> None:
    """The cells as a table raw_cells of n and c1."""
    frame = pd.DataFrame({"n": range(len(texts)), "c1": pd.Series(list(texts), dtype=object)})
    with store.frame_as("cells_frame", frame) as name:
        store.run(
            f"CREATE OR REPLACE TEMP TABLE raw_cells AS SELECT n, c1::VARCHAR AS c1 FROM {name}"  # noqa: S608
        )
