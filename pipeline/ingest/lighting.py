"""Which calls concern exterior lighting: each distinct combination of texts is judged once."""

from __future__ import annotations

import pandas as pd

from pipeline.lexicon import load_lexicon
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import Store

_CHUNK_ROWS = 100_000


def judge_texts(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Make the table lighting_verdicts of problem, action, category, is_lighting, by_text, evidence."""
    store.run(
        """
        CREATE TEMP TABLE texts AS
        SELECT row_number() OVER () AS n, * FROM (
          SELECT DISTINCT problem_text AS problem, action_text AS action, category_text AS category
          FROM parsed_rows WHERE reject_reason IS NULL ORDER BY ALL);
        CREATE TEMP TABLE lighting_verdicts (
          problem VARCHAR, action VARCHAR, category VARCHAR, is_lighting BOOLEAN, by_text BOOLEAN, evidence VARCHAR)
        """
    )
    total = store.count("texts")
    lexicon = load_lexicon(portfolio.folder)
    for start in range(0, total, _CHUNK_ROWS):
        chunk = store.rows(
            "SELECT problem, action, category FROM texts WHERE n > ? AND n <= ? ORDER BY n",
            [start, start + _CHUNK_ROWS],
        )
        judged = []
        for done, texts in enumerate(chunk, start=start):
            if done % 1000 == 0:
                progress.share(done, total)
            verdict = lexicon.lighting(*texts)
            judged.append((*texts, verdict.is_lighting, verdict.by_text, verdict.evidence))
        _append(store, judged)
    progress.share(total, total)
    store.run("DROP TABLE texts")


def _append(store: Store, judged: list[tuple[object, ...]]) -> None:
    names = ["problem", "action", "category", "is_lighting", "by_text", "evidence"]
    store.fill_frame("lighting_verdicts", pd.DataFrame(judged, columns=names))
