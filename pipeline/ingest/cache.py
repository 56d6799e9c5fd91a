"""Parsed, masked exports kept as Parquet, so that a build reads again only what changed.

The key is the hash of everything that decides the parsed rows: the file's bytes, its layout and sheet, the settings of
privacy and time zone, the data files beside this code, and the reader's version.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

from pipeline.ingest.files import Export
from pipeline.ingest.layouts import Layout
from pipeline.settings import Settings

# Raise it whenever the parsed rows of the same file could come out differently.
READER_VERSION = 14
_DATA = ("synonyms.toml", "privacy.toml")


@dataclass(frozen=True)
class ParsedFile:
    """What is known of a parsed file beside its rows. ``unlabelled_totals``: numbers of rows taken for totals."""

    rows_file: str
    sheet: str | None
    header_row: int
    rows_read: int
    not_data: int
    unlabelled_totals: list[int]
    date_order: str
    read_as: str


def cache_key(export: Export, layout: Layout, sheet: str | None, settings: Settings) -> str:
    """32 hex digits that change with anything that could change the parsed rows."""
    parts = {
        "reader": READER_VERSION,
        "data": _data_digest(),
        "file": export.sha256,
        "kind": export.kind,
        "sheet": sheet,
        "layout": layout.model_dump(mode="json"),
        "privacy": settings.privacy.model_dump(mode="json"),
        "time_zone": settings.time_zone,
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:32]


@cache
def _data_digest() -> str:
    texts = (files("pipeline.ingest").joinpath(name).read_bytes() for name in _DATA)
    return hashlib.sha256(b"".join(texts)).hexdigest()


def cached(folder: Path, key: str) -> ParsedFile | None:
    """A file parsed before, or None; a damaged note counts as none."""
    try:
        found = ParsedFile(**json.loads((folder / f"{key}.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None
    return found if (folder / found.rows_file).is_file() else None


def keep(folder: Path, key: str, parsed: ParsedFile) -> None:
    """Write the note that makes a parsed file count as finished: last, and whole or not at all."""
    partial = folder / f"{key}.json.partial"
    partial.write_text(json.dumps(asdict(parsed), indent=1), encoding="utf-8")
    partial.replace(folder / f"{key}.json")


def forget_others(folder: Path, keys: set[str]) -> None:
    """Delete what no present export uses: a file that is gone must not leave its text behind."""
    for path in folder.glob("*"):
        if path.is_file() and path.name.split(".")[0] not in keys:
            path.unlink(missing_ok=True)
