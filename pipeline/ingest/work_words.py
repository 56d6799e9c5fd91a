"""The type of work by words, where an export has none: planned work, inspections and projects told from reports.

A phrase counts only among the first words of what was asked for, and not after a word that makes it a date or a reason.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from pipeline.ingest.privacy import literal
from pipeline.numerals import counted
from pipeline.store import Store

_FIRST_WORDS = 5
_TYPES = ("inspection", "project", "planned")


@cache
def _words() -> dict[str, Any]:
    return tomllib.loads(files("pipeline.ingest").joinpath("work_words.toml").read_text(encoding="utf-8"))


def judge_work_types(store: Store) -> None:
    """Make the table worded_types of problem, category, work_type and words, for rows that give no work type."""
    texts = (
        "SELECT DISTINCT problem_text AS problem, category_text AS category FROM parsed_rows "
        "WHERE reject_reason IS NULL AND work_type_text IS NULL"
    )
    found = " UNION ALL ".join(
        f"SELECT problem, category, {literal(work_type)} AS work_type, {place} AS place, "  # noqa: S608
        f"{_words_sql(work_type)} AS words FROM texts"
        for place, work_type in enumerate(_TYPES)
    )
    store.run(
        f"CREATE TEMP TABLE worded_types AS WITH texts AS ({texts}), found AS ({found}) "  # noqa: S608 - words of ours
        "SELECT problem, category, work_type, words FROM found WHERE words <> '' "
        "QUALIFY row_number() OVER (PARTITION BY problem, category ORDER BY place) = 1"
    )


def _words_sql(work_type: str) -> str:
    """SQL: what a text says of one type of work: its words, empty where there are none."""
    words = _words()
    begins, odd = _any_of(words[work_type]["begins"]), _any_of(words["not_after"])
    first = rf"^(?:\S+\s+){{0,{_FIRST_WORDS}}}?\W*({begins})(?:$|[^\pL])"
    refused = rf"(?:^|[^\pL]){odd}(?:\s+(?:the|a|an|our|last|this))*\s+{begins}"
    text = "lower(coalesce(problem, ''))"
    by_text = (
        f"CASE WHEN regexp_matches({text}, {literal(refused)}) THEN '' "
        f"ELSE regexp_extract({text}, {literal(first)}, 1) END"
    )
    categories = ", ".join(map(literal, words[work_type]["category"]))
    by_category = (
        "coalesce(list_filter(list_transform(string_split(lower(coalesce(category, '')), '|'), lambda c: trim(c)), "
        f"lambda c: c IN ({categories}))[1], '')"
    )
    return f"coalesce(nullif({by_text}, ''), {by_category})"


def _any_of(words: Sequence[str]) -> str:
    longest_first = sorted(words, key=len, reverse=True)
    return "(?:" + "|".join(re.escape(word).replace(r"\ ", r"\s+") for word in longest_first) + ")"


def tell_work_types(store: Store) -> None:
    """One notice per type of work that words gave, with the calls and the commonest words."""
    found = store.rows(
        """
        SELECT work_type, sum(n)::BIGINT, string_agg('''' || words || ''' ' || n, ', ' ORDER BY n DESC, words)
        FROM (SELECT w.work_type, w.words, count(*) AS n FROM calls c JOIN worded_types w
                ON w.problem IS NOT DISTINCT FROM c.problem_text AND w.category IS NOT DISTINCT FROM c.category_text
              WHERE c.superseded_by IS NULL AND c.is_work_type_by_words GROUP BY ALL)
        GROUP BY 1 ORDER BY 1
        """
    )
    for work_type, count, words in found:
        is_taken, by = ("is taken", "its") if count == 1 else ("are taken", "their")
        store.notice(
            "ingest",
            "work type",
            f"{counted(int(count), 'call')} without a work type {is_taken} as {work_type} by {by} words or category "
            f"({words}); map a work_type column, or those values, in the layout if that is wrong.",
        )
