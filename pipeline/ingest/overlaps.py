"""Call numbers shared by two systems, or reused within one: told to a person, never settled by a guess."""

from __future__ import annotations

from pipeline.numerals import count_text
from pipeline.store import Store

_FEWEST = 3  # fewer may be chance where reports have no time of day; a choice of ours

# The same number with the same minute of report in two systems is one call exported twice.
_SAME_CALLS = """
SELECT a.source, b.source, count(*)
FROM calls a JOIN calls b ON a.call_number = b.call_number AND a.source < b.source
  AND date_trunc('minute', a.reported_at) = date_trunc('minute', b.reported_at)
WHERE a.superseded_by IS NULL AND b.superseded_by IS NULL
GROUP BY ALL HAVING count(*) >= $fewest ORDER BY ALL
"""

# The same number reported more than a day apart within one system is two calls taken for one.
_DIFFERENT_CALLS = """
SELECT a.source, count(*), min(a.call_number)
FROM calls a JOIN calls b ON b.superseded_by = a.call_id
WHERE abs(date_diff('hour', a.reported_at, b.reported_at)) > 24
GROUP BY ALL ORDER BY ALL
"""


def tell_overlaps(store: Store) -> None:
    """Notices about systems whose call numbers say that they are one, or that one is two."""
    for one, other, count in store.rows(_SAME_CALLS, {"fewest": _FEWEST}):
        store.notice(
            "ingest",
            "layouts/",
            f"systems '{one}' and '{other}' share {count_text(count)} call numbers with the same report times, so "
            "these calls count twice; if they are one system, give both layouts the same `source`.",
        )
    for source, count, example in store.rows(_DIFFERENT_CALLS):
        store.notice(
            "ingest",
            "layouts/",
            f"in system '{source}' {count_text(count)} rows share a call number with a row reported more than a day "
            f"apart (such as {example}) and count as its earlier state; if these are two systems, give their layouts "
            "different `source`s, or name the files of one under [sources].",
        )
