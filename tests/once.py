"""What is dear to make, made once for a whole run though several workers test with it."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

_LONGEST_WAIT_S = 600


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A folder of that name as ``make`` fills it; tests must not change it.

    Parallel workers share it: the first to come makes it, the others wait for its mark. ``make`` is given a path that
    does not exist yet.
    """
    base = factory.getbasetemp()
    shared = base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base
    folder, done = shared / name, shared / f"{name}-is-made"
    try:
        (shared / f"{name}-claimed").mkdir()
    except FileExistsError:
        _wait_for(done)
        return folder
    try:
        make(folder)
        done.write_text("made", encoding="utf-8")
    except BaseException:
        done.write_text("failed", encoding="utf-8")
        raise
    return folder


def _wait_for(done: Path) -> None:
    until = time.monotonic() + _LONGEST_WAIT_S
    while not (done.exists() and done.read_text(encoding="utf-8")):
        if time.monotonic() > until:
            pytest.fail(f"{done.name}: not so within {_LONGEST_WAIT_S} s by another worker")
        time.sleep(0.2)
    if done.read_text(encoding="utf-8") != "made":
        pytest.fail(f"{done.name}: making it failed in another worker")
