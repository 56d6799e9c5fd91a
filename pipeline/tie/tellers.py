"""Distinct calls told by several processes: reading is work for the processor, and no call needs another.

A process is started only where it pays, and only where a program has said that it may (``use_processes``): a new
process imports the program's main module, and a script without a guard would run again in it.
"""

from __future__ import annotations

import gc
import os
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from itertools import islice
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa

from pipeline.lexicon import load_lexicon
from pipeline.store import Row
from pipeline.tie.labels import Control
from pipeline.tie.names import PlaceWords
from pipeline.tie.places import PlaceBook
from pipeline.tie.told import Teller
from pipeline.tie.told_columns import told_columns
from pipeline.tie.verdict import load_verdicts

WORTH_STARTING = 60_000
"""Distinct calls below which starting processes costs more than it saves."""
_MOST = 8
_processes = 1


def use_processes(count: int | None = None) -> None:
    """Let large portfolios be read by ``count`` processes (None: as many as there are processors)."""
    global _processes
    _processes = min(count or os.cpu_count() or 1, _MOST)


def processes() -> int:
    """How many processes may read."""
    return _processes


class TellerParts(NamedTuple):
    """What a teller is made of: the portfolio's folder (words, verdicts), names of places, and the register."""

    folder: Path
    names: list[str]
    controls: list[Control]

    def teller(self) -> Teller:
        """A teller of its own."""
        lexicon = load_lexicon(self.folder)
        words = PlaceWords(lexicon.place_forms, self.names)
        return Teller(lexicon, PlaceBook(words, self.controls), load_verdicts(self.folder))


def told_in_shares(parts: TellerParts, shares: Iterable[list[Row]], count: int) -> Iterator[pa.Table]:
    """What each share of the distinct calls says, in their order; ``count`` is how many they are in all.

    A row is key_id, site_id and the texts of ``Teller.tell``; what comes back is key_id and the fields of Told, as
    ``told_columns`` gives them.
    """
    if _processes < 2 or count < WORTH_STARTING:
        teller = parts.teller()
        yield from (_told_of(teller, keys) for keys in shares)
        return
    with ProcessPoolExecutor(_processes, get_context("spawn"), _begin, (parts,)) as pool:
        rest = iter(shares)
        waiting: deque[tuple[list[Row], Future[pa.Table]]] = deque()
        while True:
            for keys in islice(rest, 2 * _processes - len(waiting)):
                waiting.append((keys, pool.submit(_told_here, keys)))
            if not waiting:
                return
            keys, future = waiting.popleft()
            try:
                told = future.result()
            except BrokenProcessPool:  # a process was stopped from outside, or may not be started here
                break
            yield told
    teller = parts.teller()
    for left in (keys, *(keys for keys, _ in waiting)):
        yield _told_of(teller, left)
    yield from (_told_of(teller, keys) for keys in rest)


def _told_of(teller: Teller, keys: Iterable[Row]) -> pa.Table:
    with _without_collection():
        return told_columns(
            [
                (key_id, *finding)
                for key_id, site_id, *texts in keys
                for finding in teller.tell(site_id, *[text or "" for text in texts])
            ]
        )


@contextmanager
def _without_collection() -> Iterator[None]:
    """No search for rings of objects: reading makes none, and looking for them takes a quarter of its time."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


_here: list[Teller] = []


def _begin(parts: TellerParts) -> None:
    """A new process: its teller, and an end when the one that started it ends."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _here[:] = [parts.teller()]
    gc.freeze()
    gc.disable()  # for good: see _without_collection


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _told_here(keys: list[Row]) -> pa.Table:
    return _told_of(_here[0], keys)
