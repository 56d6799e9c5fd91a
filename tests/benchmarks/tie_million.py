"""A million calls tied and read: time, memory, and how both grow with distinct texts.

Run:  python -m tests.benchmarks.tie_million [--calls 1000000] [--seed 1]

Prints a Markdown table: for texts that repeat as in a real export, and for texts that all differ, the seconds of the
stage (places, reading, incidents), its peak memory, and the same time as a multiple of what DuckDB needs to sort and
write the same calls in the same process. Each case runs in a process of its own, so that its peak is its own. Peak: the
most that the process and those it started held in memory at once, looked at ten times a second.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import active_children
from pathlib import Path

from pipeline.portfolio import Portfolio
from pipeline.progress import Silent
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.tie import stage, tellers
from tests.benchmarks.made_calls import fill_calls

CASES = {"as in a real export": False, "all texts distinct": True}


def measured(calls: int, seed: int, *, all_distinct: bool) -> dict[str, float]:
    """One run of the stage: calls, distinct texts and combinations, seconds and peak memory."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store.create(Path(folder) / "made.duckdb")
        fill_calls(store, calls, seed, all_distinct=all_distinct)
        texts, pairs = store.row(
            "SELECT count(DISTINCT action_text), count(DISTINCT (problem_text, action_text)) FROM calls"
        )
        begun = time.perf_counter()
        store.run(
            "CREATE TEMP TABLE sorted AS FROM calls ORDER BY problem_text, action_text, site_text, call_id"
        )
        sorting_s = time.perf_counter() - begun
        store.run("DROP TABLE sorted")
        before_mb = _held_mb([os.getpid()])
        settings = Settings(format=1, name="made", currency="USD", time_zone="UTC")
        begun, cpu = time.perf_counter(), time.process_time()
        with _watched_memory() as peak:
            stage.run(store, Portfolio(Path(folder), settings), Silent())
        result = {
            "calls": calls, "texts": texts, "pairs": pairs, "sorting_s": sorting_s,
            "stage_s": time.perf_counter() - begun, "before_mb": before_mb,
            "cpu_s": time.process_time() - cpu + _used_by_others(), "peak_mb": max(peak),
            "findings": store.count("findings"), "incidents": store.count("incidents"),
        }  # fmt: skip
        store.close()
    return result


def _used_by_others() -> float:
    """Seconds of the processors that ended child processes used."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@contextmanager
def _watched_memory() -> Iterator[list[float]]:
    """What this process and its children held at once, MiB, time after time while the block runs."""
    seen, done = [0.0], threading.Event()

    def watch() -> None:
        while not done.wait(0.1):
            children = [child.pid for child in active_children() if child.pid]
            seen.append(_held_mb([os.getpid(), *children]))

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield seen
    finally:
        done.set()
        watcher.join()


def _held_mb(processes: list[int]) -> float:
    """Memory that processes hold, MiB (Linux); one that has just ended holds none."""
    held = 0
    for number in processes:
        try:
            held += int(Path(f"/proc/{number}/statm").read_text().split()[1]) * resource.getpagesize()
        except OSError:
            continue
    return held / 2**20


def in_own_process(calls: int, seed: int, processes: int, case: str) -> dict[str, float]:
    """The same in a fresh process."""
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.tie_million",
        "--calls",
        str(calls),
        "--seed",
        str(seed),
    ]
    command += ["--processes", str(processes)]
    done = subprocess.run([*command, "--case", case], capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main() -> None:
    """Both cases, as a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--calls", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--case", choices=CASES)
    asked = parser.parse_args()
    if asked.case:
        tellers.use_processes(asked.processes)
        print(json.dumps(measured(asked.calls, asked.seed, all_distinct=CASES[asked.case])))
        return
    print("| texts | calls | distinct work texts | distinct pairs | findings | incidents | stage, s | CPU, s |"
          " times a sort of the calls | peak, MiB | peak before, MiB |\n" + "|---" * 11 + "|")  # fmt: skip
    for case in CASES:
        r = in_own_process(asked.calls, asked.seed, asked.processes, case)
        print(
            f"| {case} | {r['calls']:,} | {r['texts']:,} | {r['pairs']:,} | {r['findings']:,} | {r['incidents']:,} |"
            f" {r['stage_s']:.1f} | {r['cpu_s']:.1f} | {r['stage_s'] / r['sorting_s']:.1f} | {r['peak_mb']:,.0f} |"
            f" {r['before_mb']:,.0f} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
