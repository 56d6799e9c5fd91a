"""How well the files were read: rows refused and flagged by reason, what calls lack, when sites kept their calls."""

from __future__ import annotations

import pandas as pd

from pipeline.numerals import count_text
from pipeline.store import Store
from pipeline.windows import proposed

_ROWS_NAMED = 8

_REJECTED = """
SELECT s.name AS source_file,
  -- the reason without the cell that it quotes: rows refused alike are told together
  regexp_replace(r.reason, '''[^'']*''', '''…''') AS reason, count(*) AS rows,
  list(r.row_number ORDER BY r.row_number) AS n
FROM rejected_rows r LEFT JOIN source_files s USING (file_id)
GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2
"""

_FLAGGED = """
SELECT s.name AS source_file, f.flag, count(*) AS calls, list(f.row_number ORDER BY f.row_number) AS n
FROM (SELECT file_id, row_number, unnest(flags) AS flag FROM calls WHERE superseded_by IS NULL) f
LEFT JOIN source_files s USING (file_id)
GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2
"""

_LEFT_OUT = """
SELECT file_name, regexp_replace(reason, '''[^'']*''', '''…''') AS reason, count(*) AS rows,
  list(row_number ORDER BY row_number) AS n
FROM register_rows_left_out GROUP BY 1, 2 ORDER BY 1, 3 DESC, 2
"""

_COVERAGE = """
WITH tied AS (
  SELECT call_id, bool_or(site_id IS NOT NULL) AS site, bool_or(control_id IS NOT NULL) AS control
  FROM findings GROUP BY 1
)
SELECT s.name AS source_file, count(*) AS calls,
  avg((c.site_text IS NOT NULL)::INT) AS with_site, avg((c.asset_text IS NOT NULL)::INT) AS with_tag,
  avg((c.completed_at IS NOT NULL)::INT) AS with_completion, avg((c.problem_text IS NOT NULL)::INT) AS with_problem,
  avg((c.action_text IS NOT NULL)::INT) AS with_action,
  count(*) FILTER (c.is_lighting) AS lighting_calls,
  count(*) FILTER (c.is_lighting AND t.call_id IS NOT NULL) AS lighting_with_finding,
  -- a round of inspection whose faults stand in orders of their own has nothing that could be tied
  avg(t.site::INT) FILTER (c.is_lighting) AS lighting_at_a_site,
  avg(t.control::INT) FILTER (c.is_lighting) AS lighting_at_a_control
FROM calls c JOIN source_files s USING (file_id) LEFT JOIN tied t USING (call_id)
WHERE c.superseded_by IS NULL
GROUP BY 1 ORDER BY 1
"""


def rejected_reasons(store: Store) -> pd.DataFrame:
    """Rejected rows by file and reason: source_file, reason, rows, row_numbers (the first of them, as text)."""
    return _named(store.frame(_REJECTED))


def flagged_reasons(store: Store) -> pd.DataFrame:
    """Flagged calls by file and flag: source_file, flag, calls, row_numbers (the first of them, as text)."""
    return _named(store.frame(_FLAGGED))


def _named(frame: pd.DataFrame) -> pd.DataFrame:
    frame["row_numbers"] = [_some([int(n) for n in numbers]) for numbers in frame["n"]]
    return frame.drop(columns="n")


def _some(numbers: list[int]) -> str:
    shown = ", ".join(str(number) for number in numbers[:_ROWS_NAMED])
    more = len(numbers) - _ROWS_NAMED
    return f"{shown} and {count_text(more)} more" if more > 0 else shown


def coverage(store: Store) -> pd.DataFrame:
    """What the calls of each file say, as shares (0 to 1) of its calls: source_file, calls, with_site, with_tag,
    with_completion, with_problem, with_action (as written); lighting_calls, how many of them hold a finding
    (lighting_with_finding), and the shares of those that were tied to a registered site and to a registered control:
    lighting_at_a_site, lighting_at_a_control (missing without any)."""
    return store.frame(_COVERAGE)


def rows_left_out(store: Store) -> pd.DataFrame:
    """Rows of inventories that could not be used: register, file_name, row_number, reason, raw."""
    return store.frame("SELECT * FROM register_rows_left_out ORDER BY file_name, row_number")


def left_out_reasons(store: Store) -> pd.DataFrame:
    """Rows of inventories left out, by file and reason: file_name, reason, rows, row_numbers (the first, as text)."""
    return _named(store.frame(_LEFT_OUT))


def windows_in_force(store: Store) -> pd.DataFrame:
    """Each site's windows of record: site_id, observed_from, observed_to, origin."""
    return store.frame("SELECT * FROM observation_windows ORDER BY site_id, observed_from")


def windows_proposed(store: Store) -> pd.DataFrame:
    """Windows of record that the calls suggest and nobody has confirmed: site_id, windows, evidence."""
    rows = [
        {
            "site_id": one.site_id,
            "windows": ", ".join(f"{span.first} to {span.last}" for span in one.windows),
            "evidence": one.evidence,
        }
        for one in proposed(store)
    ]
    return pd.DataFrame(rows, columns=["site_id", "windows", "evidence"])
