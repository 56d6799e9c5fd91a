"""A build: the stages in order, what must hold at the end, and publication.

A build is a pure function of the folder. It writes a new database, closes it, and only then names it in
``built/current``; readers open what ``current`` names, so they never see half a build and a build that
fails or is killed changes nothing. A second build of the same folder at the same time is refused.
"""

from __future__ import annotations

import contextlib
import hashlib
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import pipeline
from pipeline import registers
from pipeline.checks import fill_checks
from pipeline.decision_file import read_decisions
from pipeline.energy import stage as energy
from pipeline.faults import Fault, InputFaults
from pipeline.ingest import stage as ingest
from pipeline.ingest.register_rows import register_files
from pipeline.ingest.signatures import READABLE
from pipeline.lexicon import load_lexicon
from pipeline.lives import stage as lives
from pipeline.lock import sole_build, sweep, unfinished_name
from pipeline.meters import intake as meter_intake
from pipeline.meters import stage as meters
from pipeline.payback import stage as payback
from pipeline.portfolio import REGISTERS, Portfolio, as_typed
from pipeline.progress import Progress, Silent
from pipeline.span import fill_span
from pipeline.store import Store
from pipeline.tie import stage as tie
from pipeline.tie.verdict import FILE as VERDICTS_FILE
from pipeline.tie.verdict import load_verdicts
from pipeline.window_file import FILE as WINDOWS_FILE
from pipeline.window_file import read_windows

CURRENT = "current"
PREVIOUS = "previous"


@dataclass(frozen=True)
class Built:
    """A finished build: its id and its database."""

    build_id: str
    database: Path


def build(folder: Path, progress: Progress | None = None) -> Built:
    """Build a portfolio and make the result the current one; raises InputFaults when a person is needed."""
    progress = progress or Silent()
    portfolio = Portfolio.read(folder)
    _require_exports(portfolio)
    with sole_build(folder, portfolio.built):
        sweep(portfolio.built)
        build_id = _build_id(portfolio)
        unfinished = portfolio.built / unfinished_name(build_id)
        try:
            _run_stages(portfolio, build_id, unfinished, progress)
            return _publish(portfolio, build_id, unfinished)
        finally:
            sweep(portfolio.built)


@contextlib.contextmanager
def rehearsal(folder: Path, progress: Progress | None = None) -> Iterator[Store]:
    """What a build of the folder would give, changing nothing in it; gone when the block ends."""
    portfolio = Portfolio.read(folder)
    _require_exports(portfolio)
    with tempfile.TemporaryDirectory() as scratch:
        apart = replace(portfolio, cache_folder=Path(scratch) / "cache")
        database = Path(scratch) / "rehearsal.duckdb"
        _run_stages(apart, _build_id(portfolio), database, progress or Silent())
        store = Store.open(database)
        try:
            yield store
        finally:
            store.close()


def current_database(folder: Path) -> Path:
    """The database of the last good build; raises InputFaults when there is none."""
    database = last_database(folder)
    if database is not None:
        return database
    raise InputFaults.one(str(folder), "has not been built yet.", f"Run `dayburn build {as_typed(folder)}`.")


def last_database(folder: Path) -> Path | None:
    """The database of the last good build; None where there is none yet."""
    return _named_by(Portfolio.read(folder), CURRENT)


def previous_database(folder: Path) -> Path | None:
    """The database of the good build before the last one, kept to compare with; None where there is none."""
    portfolio = Portfolio.read(folder)
    previous = _named_by(portfolio, PREVIOUS)
    return None if previous == _named_by(portfolio, CURRENT) else previous


def previous_store(folder: Path) -> Store | None:
    """The same, opened; None also where it cannot be read."""
    database = previous_database(folder)
    if database is None:
        return None
    try:
        return Store.open(database)
    except InputFaults:
        return None


def _named_by(portfolio: Portfolio, name: str) -> Path | None:
    """The database that a pointer in built/ names, if both are there."""
    pointer = portfolio.built / name
    if not pointer.is_file():
        return None
    named = pointer.read_text(encoding="utf-8", errors="replace").strip()
    database = portfolio.built / f"{named}.duckdb"
    return database if named and database.is_file() else None


def _require_exports(portfolio: Portfolio) -> None:
    exports = portfolio.export_files()
    unreadable = [path for path in (*exports, *portfolio.meter_files()) if not _is_text(str(path))]
    if unreadable:
        raise InputFaults(
            Fault(str(path), "has a name that is not UTF-8 text.", "Rename it.") for path in unreadable
        )
    if not exports:
        raise InputFaults.one(
            str(portfolio.calls),
            "holds no export.",
            f"Put the work-order exports into that folder: {READABLE}.",
        )


def _is_text(name: str) -> bool:
    """Whether a name can be kept: a file name may be any bytes, which Python shows as lone surrogates."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def _run_stages(portfolio: Portfolio, build_id: str, database: Path, progress: Progress) -> None:
    store = Store.create(database)
    try:
        _fill_build_info(store, portfolio, build_id)
        _read_inputs(store, portfolio, progress)
        windows = read_windows(portfolio.folder / WINDOWS_FILE, portfolio.settings.time_zone)
        fill_span(store, portfolio.settings, windows)
        for stage in (tie, meters, lives, energy, payback):
            stage.run(store, portfolio, progress)
        progress.step("Checking the result")
        fill_checks(store)
    finally:
        store.close()


def _read_inputs(store: Store, portfolio: Portfolio, progress: Progress) -> None:
    """Registers, exports and meter readings; what is wrong in them, or in pages read later, is told together."""
    folder, zone = portfolio.folder, portfolio.settings.time_zone
    readers: tuple[Callable[[], object], ...] = (
        lambda: read_windows(folder / WINDOWS_FILE, zone),
        lambda: read_decisions(portfolio.decisions_file),
        lambda: load_lexicon(folder),
        lambda: load_verdicts(folder),
        *(partial(reader.run, store, portfolio, progress) for reader in (registers, ingest, meter_intake)),
    )
    faults: list[Fault] = []
    for read in readers:
        try:
            read()
        except InputFaults as error:
            faults += [fault for fault in error.faults if fault not in faults]
    if faults:
        raise InputFaults(faults)


def _fill_build_info(store: Store, portfolio: Portfolio, build_id: str) -> None:
    settings = portfolio.settings
    store.run(
        "INSERT INTO build_info VALUES (?, ?, ?, ?, ?, NULL, NULL, ?)",
        [
            build_id, pipeline.__version__, settings.name, settings.currency,
            settings.fiscal_year_start, settings.model_dump_json(),
        ],
    )  # fmt: skip


def _build_id(portfolio: Portfolio) -> str:
    """A name made from everything the build depends on: the same inputs give the same name."""
    digest = hashlib.sha256(pipeline.__version__.encode())
    inputs = [portfolio.settings_file, portfolio.decisions_file, portfolio.folder / "lexicon.toml"]
    inputs += [portfolio.register_file(name) for name in REGISTERS]
    inputs += sorted(portfolio.layouts.glob("*.toml")) + portfolio.export_files() + register_files(portfolio)
    inputs += portfolio.meter_files()
    inputs += [portfolio.folder / WINDOWS_FILE, portfolio.folder / VERDICTS_FILE]
    for path in inputs:
        if path.is_file():
            digest.update(path.relative_to(portfolio.folder).as_posix().encode() + b"\0")
            with path.open("rb") as file:
                digest.update(hashlib.file_digest(file, "sha256").digest())
    return digest.hexdigest()[:12]


def _publish(portfolio: Portfolio, build_id: str, unfinished: Path) -> Built:
    """Name the finished database, point ``current`` at it, and drop builds that nobody holds open.

    The build that was current until now stays as ``previous``: the effect of decisions is seen beside it.
    """
    database, last = portfolio.built / f"{build_id}.duckdb", _named_by(portfolio, CURRENT)
    with contextlib.suppress(PermissionError):  # Windows: the same inputs' database is open and equal
        unfinished.replace(database)
    if last is not None and last != database:
        _point(portfolio, PREVIOUS, last.stem)
    _point(portfolio, CURRENT, build_id)
    kept = {database, _named_by(portfolio, PREVIOUS)}
    for old in portfolio.built.glob("*.duckdb"):
        if old not in kept:
            with contextlib.suppress(OSError):  # still held by a reader: the next build tries again
                old.unlink()
    return Built(build_id, database)


def _point(portfolio: Portfolio, name: str, build_id: str) -> None:
    """Make a pointer in built/ name a build, in one step."""
    pointer = portfolio.built / f"{name}.new"
    pointer.write_text(build_id + "\n", encoding="utf-8")
    pointer.replace(portfolio.built / name)
