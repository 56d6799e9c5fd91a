"""One build of a folder at a time, and what a killed build leaves behind."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
import small_portfolio

from pipeline.build import build, current_database
from pipeline.faults import InputFaults
from pipeline.lock import sole_build, sweep
from pipeline.store import Store

ROOT = Path(__file__).parents[2]
HOLD = (
    "import sys; from pathlib import Path; from pipeline.lock import sole_build\n"
    "folder = Path(sys.argv[1])\n"
    "with sole_build(folder, folder / 'built'):\n"
    "    print('held', flush=True); sys.stdin.readline()\n"
)


def dead_process() -> int:
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def living_process() -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", "import sys; sys.stdin.read()"], stdin=subprocess.PIPE)


def leave_behind(built: Path, process: int) -> set[str]:
    """What a build of that process has written when it is killed: database, log and spilled memory."""
    built.mkdir(exist_ok=True)
    database = built / f"0123456789ab.unfinished-{process}"
    database.write_bytes(b"half")
    Path(f"{database}.wal").write_bytes(b"half")
    Path(f"{database}.tmp").mkdir()
    (Path(f"{database}.tmp") / "spill").write_bytes(b"half")
    return {f"{database.name}{ending}" for ending in ("", ".wal", ".tmp")}


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return small_portfolio.make(tmp_path / "yards")


def test_only_what_a_dead_process_left_is_swept(tmp_path: Path) -> None:
    built = tmp_path / "built"
    living = living_process()
    try:
        leave_behind(built, dead_process())
        leave_behind(built, os.getpid())  # a number that this process has inherited from a dead one
        kept = leave_behind(built, living.pid)
        (built / "0123456789ab.duckdb").write_bytes(b"whole")
        sweep(built)
        assert names(built) == kept | {"0123456789ab.duckdb"}
    finally:
        living.communicate(b"")


def test_the_next_build_removes_what_a_killed_one_left(folder: Path) -> None:
    leave_behind(folder / "built", dead_process())
    built = build(folder)
    assert names(folder / "built") == {built.database.name, "current", "lock"}


def test_a_second_build_is_refused_while_a_first_runs_and_not_after_it_was_killed(folder: Path) -> None:
    first = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT
    )
    assert first.stdout is not None
    assert first.stdout.readline().strip() == b"held"
    with pytest.raises(InputFaults, match="is being built by another dayburn"):
        build(folder)
    first.kill()
    first.communicate()
    assert build(folder).database == current_database(folder)


def test_a_second_thread_is_refused_too(folder: Path) -> None:
    refused: list[str] = []

    def try_it() -> None:
        try:
            build(folder)
        except InputFaults as faults:
            refused.append(str(faults))

    with sole_build(folder, folder / "built"):
        thread = threading.Thread(target=try_it)
        thread.start()
        thread.join()
    assert len(refused) == 1


def test_of_two_commands_at_once_each_gives_a_whole_build_or_one_sentence(folder: Path) -> None:
    command = [sys.executable, "-m", "pipeline.cli", "build", str(folder)]
    runs = [
        subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for _ in range(2)
    ]
    ends = [(run.communicate()[1], run.returncode) for run in runs]
    assert 0 in [code for _, code in ends]
    for said, code in ends:
        assert code == 0 or said.splitlines()[-1].endswith("Wait until it has finished, then try again."), (
            said
        )
    store = Store.open(current_database(folder))
    assert store.rows("FROM checks WHERE NOT holds") == []
    store.close()
    assert names(folder / "built") == {current_database(folder).name, "current", "lock"}
