"""Time and memory of intake, as ratios to DuckDB's own load of the same file as plain text, all within one run.

    python -m tests.benchmarks.intake                 # 5,000,000 rows, then a portfolio of 1,000,000 calls
    python -m tests.benchmarks.intake --rows 500000 --calls 0

Every step runs in a process of its own, so that its peak memory is its own. Needs about 3 GB of temporary space.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import duckdb

from pipeline.ingest import read, run, stage
from pipeline.ingest.files import open_export
from pipeline.ingest.layouts import write_layout
from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.store import Store
from tests.benchmarks.made_export import HEADER, LAYOUT, make_export

_SEED = 2024
_SETTINGS = 'format = 1\nname = "Benchmark"\ncurrency = "USD"\ntime_zone = "America/Denver"\n'
Seconds = dict[str, float]


def main() -> None:
    """Make the files, run the steps, print the ratios."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--rows", type=int, default=5_000_000, help="rows of the single file (0: leave it out)"
    )
    parser.add_argument(
        "--calls", type=int, default=1_000_000, help="calls of the portfolio (0: leave it out)"
    )
    parser.add_argument("--step", nargs=2, metavar=("STEP", "PATH"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.step:
        begun = time.process_time()
        seconds = STEPS[given.step[0]](Path(given.step[1]))
        used = resource.getrusage(resource.RUSAGE_SELF)
        spent = {"processor": used.ru_utime + used.ru_stime - begun, "GiB": used.ru_maxrss / 1024**2}
        print(json.dumps({**seconds, **spent}))
        return
    with tempfile.TemporaryDirectory(prefix="dayburn-benchmark-") as folder:
        if given.rows:
            _single_file(Path(folder), given.rows)
        if given.calls:
            _growing_portfolio(Path(folder), given.calls)


def _single_file(folder: Path, rows: int) -> None:
    path = folder / "calls.csv"
    make_export(path, rows, _SEED)
    print(f"{rows:,} rows, {path.stat().st_size / 1e6:,.0f} MB")
    into_memory, into_file = _step("load-into-memory", path), _step("load-into-file", path)
    intake = _step("read-and-normalise", path)
    unit = into_file["total"]
    print(
        f"DuckDB's load as text, into a database file: {unit:.1f} s = 1; into memory: {into_memory['total'] / unit:.2f}"
    )
    for name, seconds in intake.items():
        if name not in ("GiB", "processor"):
            print(
                f"  {name:<40} {seconds / unit:6.2f}   ({seconds / into_memory['total']:.2f} of the load into memory)"
            )
    # On a machine that others use, the clock tells little; what the processors did tells more.
    print(f"  processor time                           {intake['processor'] / into_file['processor']:6.2f}")
    print(f"  peak resident memory: {intake['GiB']:.2f} GiB")


def _growing_portfolio(folder: Path, calls: int) -> None:
    portfolio = folder / "portfolio"
    (portfolio / "calls").mkdir(parents=True)
    (portfolio / "portfolio.toml").write_text(_SETTINGS, encoding="utf-8")
    write_layout(Portfolio.read(portfolio), LAYOUT)
    make_export(portfolio / "calls" / "until-now.csv", calls, _SEED)
    print(f"A portfolio of {calls:,} calls, the whole intake = 1")
    first = _step("portfolio", portfolio)
    _print_shares(first, first["total"])
    make_export(portfolio / "calls" / "new.csv", 5_000, _SEED + 1, first_number=calls + 1)
    print("The same with an export of 5,000 rows added")
    _print_shares(_step("portfolio", portfolio), first["total"])


def _print_shares(step: Seconds, unit: float) -> None:
    for name, seconds in step.items():
        if name not in ("GiB", "files parsed", "processor"):
            print(f"  {name:<40} {seconds / unit:6.3f}")
    print(f"  files parsed: {step['files parsed']:.0f}; peak resident memory: {step['GiB']:.2f} GiB")


def _step(name: str, path: Path) -> Seconds:
    """A step's seconds, and its peak memory, from a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.intake", "--step", name, str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    found: Seconds = json.loads(done.stdout.splitlines()[-1])
    return found


def _load_as_text(path: Path, database: str) -> Seconds:
    columns = ", ".join(f"'c{place}': 'VARCHAR'" for place in range(1, len(HEADER) + 1))
    started = time.perf_counter()
    with duckdb.connect(database) as connection:
        connection.execute(
            f"CREATE TABLE calls AS SELECT * FROM read_csv('{path}', auto_detect = false, header = true, "
            f"delim = ',', quote = '\"', escape = '\"', columns = {{{columns}}})"
        )
    return {"total": time.perf_counter() - started}


def _load_into_file(path: Path) -> Seconds:
    database = path.with_suffix(".duckdb")
    seconds = _load_as_text(path, str(database))
    database.unlink()
    return seconds


def _read_and_normalise(path: Path) -> Seconds:
    """From the file's path to its parsed rows in the cache."""
    with tempfile.TemporaryDirectory(prefix="dayburn-benchmark-") as folder:
        settings = Path(folder) / "portfolio.toml"
        (settings.parent / "calls").mkdir()
        settings.write_text(_SETTINGS, encoding="utf-8")
        portfolio = Portfolio.read(settings.parent)
        with _timed(read, "load_rows", "read_file_evidence", "prepare_parsed_rows") as seconds:
            started = time.perf_counter()
            export = open_export(path)
            opened = time.perf_counter() - started
            (recognised,) = read.recognise(export, {LAYOUT.header: LAYOUT}, folder)
            read.parse_export(recognised, portfolio)
            total = time.perf_counter() - started
    rest = total - opened - sum(seconds.values())
    return {"open_export": opened, **seconds, "join and write": rest, "total": total}


def _whole_intake(folder: Path) -> Seconds:
    parts = ("_recognise_all", "parse_export", "judge_texts", "judge_work_types", "tell_overlaps")
    with (
        _timed(stage, *parts) as seconds,
        _counted(read, "load_rows") as parsed,
        closing(Store.create()) as store,
        _timed(store, "fill", "run") as statements,
    ):
        started = time.perf_counter()
        run(store, Portfolio.read(folder), Silent())
        total = time.perf_counter() - started
    return {**seconds, "calls, duplicates and other SQL": sum(statements.values()), "total": total, **parsed}


@contextmanager
def _timed(owner: Any, *names: str) -> Iterator[Seconds]:
    """Seconds spent in functions of a module, while the block runs."""
    seconds = dict.fromkeys(names, 0.0)
    originals = {name: getattr(owner, name) for name in names}

    def timing(name: str) -> Callable[..., Any]:
        def timed(*arguments: Any, **named: Any) -> Any:
            started = time.perf_counter()
            try:
                return originals[name](*arguments, **named)
            finally:
                seconds[name] += time.perf_counter() - started

        return timed

    for name in names:
        setattr(owner, name, timing(name))
    try:
        yield seconds
    finally:
        for name, original in originals.items():
            setattr(owner, name, original)


@contextmanager
def _counted(owner: Any, name: str) -> Iterator[Seconds]:
    """How often a function of a module is called, while the block runs."""
    calls = {"files parsed": 0.0}
    original = getattr(owner, name)

    def counted(*arguments: Any, **named: Any) -> Any:
        calls["files parsed"] += 1
        return original(*arguments, **named)

    setattr(owner, name, counted)
    try:
        yield calls
    finally:
        setattr(owner, name, original)


STEPS: dict[str, Callable[[Path], Seconds]] = {
    "load-into-memory": lambda path: _load_as_text(path, ":memory:"),
    "load-into-file": _load_into_file,
    "read-and-normalise": _read_and_normalise,
    "portfolio": _whole_intake,
}

if __name__ == "__main__":
    main()
