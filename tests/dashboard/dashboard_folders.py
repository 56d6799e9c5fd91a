"""Portfolio folders with a finished build, made from a store in memory."""

from __future__ import annotations

from pathlib import Path

from pipeline.build import CURRENT
from pipeline.store import Store
from pipeline.template import lay_out


def publish(store: Store, folder: Path, build_id: str = "b1") -> Path:
    """Lay out a folder if need be, write the store's tables as its current build; gives the database."""
    if not folder.exists():
        lay_out(folder, "USD", "America/Denver")
    built = folder / "built"
    built.mkdir(exist_ok=True)
    database = built / f"{build_id}.duckdb"
    store.run(f"ATTACH '{database}' AS disk; COPY FROM DATABASE memory TO disk; DETACH disk")
    (built / CURRENT).write_text(build_id + "\n", encoding="utf-8")
    return database


def empty_but_built() -> Store:
    """A build that read nothing: every table, and the one row that says what the build is."""
    store = Store.create()
    store.run(
        "INSERT INTO build_info VALUES ('e1', '0', 'Nothing yet', 'USD', 1, NULL, NULL, '{}')",
    )
    return store
