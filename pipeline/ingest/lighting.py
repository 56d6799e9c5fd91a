"""Which calls concern exterior lighting: each distinct combination of texts is judged once, also over later builds.

The verdicts lie in the cache, in lighting/. Their name holds a digest of all that they rest on, the words
and the code that reads them, so that a verdict is never older than either.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from pathlib import Path

import pandas as pd

from pipeline.ingest.cache import forget_others
from pipeline.ingest.privacy import literal
from pipeline.lexicon import load_lexicon
from pipeline.lexicon.load import FILE
from pipeline.portfolio import Portfolio
from pipeline.progress import Progress
from pipeline.store import StageError, Store

_CHUNK_ROWS = 100_000
_TEXTS = ("problem", "action", "category")


def _digest(portfolio: Portfolio) -> str:
    """32 hex digits that change with anything that could change a verdict."""
    page = portfolio.folder / FILE
    own = page.read_bytes() if page.is_file() else b""
    return hashlib.sha256(_code_digest() + own).hexdigest()[:32]


@cache
def _code_digest() -> bytes:
    parts = sorted(files("pipeline.lexicon").iterdir(), key=lambda part: part.name)
    texts = (part.read_bytes() for part in parts if part.name.endswith((".py", ".toml")))
    return hashlib.sha256(b"\x00".join(texts)).digest()


def judge_texts(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Make the table lighting_verdicts of problem, action, category, is_lighting, by_text, evidence."""
    kept = portfolio.cache / "lighting" / f"{_digest(portfolio)}.parquet"
    store.run(
        """
        CREATE TEMP TABLE texts AS
        SELECT DISTINCT problem_text AS problem, action_text AS action, category_text AS category
        FROM parsed_rows WHERE reject_reason IS NULL;
        CREATE TEMP TABLE lighting_verdicts (
          problem VARCHAR, action VARCHAR, category VARCHAR, is_lighting BOOLEAN, by_text BOOLEAN, evidence VARCHAR)
        """
    )
    known = _take_known(store, kept)
    judged = _judge_new(store, portfolio, progress)
    # What no text asks for any more goes: a file that is gone must not leave its text behind.
    if judged or store.count("lighting_verdicts") != known:
        _keep(store, kept)
    forget_others(kept.parent, {kept.stem})
    store.run("DROP TABLE texts")


def _take_known(store: Store, kept: Path) -> int:
    """Fill lighting_verdicts with those of earlier builds that are wanted; gives how many are kept in all."""
    if not kept.is_file():
        return 0
    source = f"read_parquet({literal(str(kept))})"
    alike = " AND ".join(f"k.{one} IS NOT DISTINCT FROM t.{one}" for one in _TEXTS)
    try:
        store.run(
            f"INSERT INTO lighting_verdicts BY NAME SELECT k.* FROM {source} k SEMI JOIN texts t ON {alike}"  # noqa: S608
        )
        return int(store.value(f"SELECT count(*) FROM {source}"))  # noqa: S608 - a path of ours
    except StageError:  # damaged: judged anew
        store.run("DELETE FROM lighting_verdicts")
        return 0


def _judge_new(store: Store, portfolio: Portfolio, progress: Progress) -> int:
    """Judge the texts without a verdict; gives their number."""
    alike = " AND ".join(f"v.{one} IS NOT DISTINCT FROM t.{one}" for one in _TEXTS)
    store.run(
        f"CREATE TEMP TABLE new_texts AS SELECT row_number() OVER () AS n, t.* FROM texts t "  # noqa: S608
        f"ANTI JOIN lighting_verdicts v ON {alike}"
    )
    total = store.count("new_texts")
    lexicon = load_lexicon(portfolio.folder)
    for start in range(0, total, _CHUNK_ROWS):
        chunk = store.rows(
            "SELECT problem, action, category FROM new_texts WHERE n > ? AND n <= ?",
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
    store.run("DROP TABLE new_texts")
    return total


def _append(store: Store, judged: list[tuple[object, ...]]) -> None:
    names = [*_TEXTS, "is_lighting", "by_text", "evidence"]
    store.fill_frame("lighting_verdicts", pd.DataFrame(judged, columns=names))


def _keep(store: Store, path: Path) -> None:
    """Write the verdicts whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".parquet.partial")
    store.run(f"COPY lighting_verdicts TO {literal(str(partial))} (FORMAT parquet, COMPRESSION zstd)")
    partial.replace(path)
