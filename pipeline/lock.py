"""One build of a folder at a time, and nothing left behind by one that was killed.

The operating system holds the lock and lets go of it however the process ends, so a killed build never bars the next.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from pipeline.faults import InputFaults

LOCK = "lock"
_UNFINISHED = re.compile(r"\.unfinished-(?P<process>\d+)(\.wal|\.tmp)?$")


@contextlib.contextmanager
def sole_build(folder: Path, built: Path) -> Iterator[None]:
    """Hold a portfolio's ``built`` for one build; raises InputFaults when another process or thread holds it."""
    built.mkdir(exist_ok=True)
    with (built / LOCK).open("a") as file:
        if not _locked(file.fileno()):
            raise InputFaults.one(
                str(folder),
                "is being built by another dayburn.",
                "Wait until it has finished, then try again.",
            )
        yield


def unfinished_name(build_id: str) -> str:
    """What a build of this process is called until it is whole."""
    return f"{build_id}.unfinished-{os.getpid()}"


def sweep(built: Path) -> None:
    """Remove what builds left behind whose process no longer runs, or is this one. Call it under ``sole_build``."""
    for path in built.glob("*.unfinished-*"):
        found = _UNFINISHED.search(path.name)
        if found and not _runs_elsewhere(int(found["process"])):
            with contextlib.suppress(OSError):  # Windows: another process has it open
                shutil.rmtree(path) if path.is_dir() else path.unlink()


def _runs_elsewhere(process: int) -> bool:
    """Whether another process of that number runs; on Windows an open file cannot be removed, so nobody asks."""
    if process == os.getpid() or sys.platform == "win32":
        return False
    try:
        os.kill(process, 0)  # signal 0 only asks
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


if sys.platform == "win32":
    import msvcrt

    def _locked(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _locked(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True  # a file system without locks: builds there have no guard but their names
        return True
