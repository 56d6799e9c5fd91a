"""Builds that this server runs: each in a thread of its own, so that whoever leaves the page does not end one."""

from __future__ import annotations

import logging
import threading
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.build import build
from pipeline.faults import InputFaults, system_fault
from pipeline.plain_text import plain

_jobs: dict[Path, Job] = {}
_starting = threading.Lock()
_log = logging.getLogger(__name__)


@dataclass
class Job:
    """One build: what it is at, and at its end what stood against it (nothing, where it went well)."""

    folder: Path
    message: str = "Beginning"
    done_share: float | None = None
    told: tuple[str, ...] = ()
    _ended: threading.Event = field(default_factory=threading.Event)

    @property
    def running(self) -> bool:
        """Whether it is still at work."""
        return not self._ended.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait for its end, so long at most; whether it has come."""
        return self._ended.wait(seconds)

    def step(self, message: str) -> None:
        """A new piece of work begins."""
        self.message, self.done_share = message, None

    def share(self, done: int, total: int) -> None:
        """How far the present piece is."""
        self.done_share = min(done / total, 1.0) if total else None

    def run(self) -> None:
        """Build; whatever goes wrong is told, and the last good build stays as it is."""
        try:
            build(self.folder, self)
        except InputFaults as faults:
            self.told = tuple(plain(str(fault)) for fault in faults.faults)
        except OSError as error:
            self.told = (plain(str(system_fault(error))),)
        except Exception as error:
            _log.exception("the build of %s stopped", self.folder)
            first = (str(error).splitlines() or [""])[0]
            self.told = (f"The build met a mistake of dayburn's own: {type(error).__name__}: {first}",)
        finally:
            self._ended.set()


def start(folder: Path) -> Job:
    """Build a folder; where this server already does, that build."""
    folder = folder.resolve()
    with _starting:
        job = _jobs.get(folder)
        if job is None or not job.running:
            job = _jobs[folder] = Job(folder)
            threading.Thread(target=job.run, name="dayburn build", daemon=True).start()
    return job


def latest(folder: Path) -> Job | None:
    """The build of a folder that this server started last, running or ended."""
    return _jobs.get(folder.resolve())


def forget(folder: Path) -> None:
    """What an ended build told is no longer of interest."""
    with _starting:
        job = _jobs.get(folder.resolve())
        if job is not None and not job.running:
            del _jobs[folder.resolve()]
