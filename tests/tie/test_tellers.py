"""Reading by several processes gives the same as by one, whatever becomes of them."""

from __future__ import annotations

from multiprocessing import parent_process
from pathlib import Path

import pytest

from pipeline.store import Row
from pipeline.tie import tellers
from pipeline.tie.labels import Control
from pipeline.tie.tellers import TellerParts, told_in_shares
from pipeline.tie.told import Teller

REGISTER = [Control("PC-0014", "S1", "S1 / pole 14", "pole 14", None)]
KEYS: list[Row] = [
    (key, "S1", "", "", problem, "replaced photocell", "", "reactive")
    for key, problem in enumerate(("pole 14 on all day", "3 of 8 lights out", "", "light out"), start=1)
]
SHARES = [KEYS[:2], KEYS[2:3], KEYS[3:]]


class StoppedElsewhere(TellerParts):
    """Parts that no other process can make a teller of."""

    def teller(self) -> Teller:
        if parent_process() is not None:
            raise SystemExit(1)
        return super().teller()


@pytest.mark.parametrize("kind", [TellerParts, StoppedElsewhere])
def test_several_processes_tell_the_same_in_the_same_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: type[TellerParts]
) -> None:
    parts = kind(tmp_path, ["pole 14"], REGISTER)
    alone = list(told_in_shares(parts, SHARES, len(KEYS)))
    monkeypatch.setattr(tellers, "WORTH_STARTING", 1)
    monkeypatch.setattr(tellers, "_processes", 2)
    assert list(told_in_shares(parts, iter(SHARES), len(KEYS))) == alone
    assert [len(told) for told in alone] == [2, 1, 1]


def test_no_process_is_started_unless_a_program_says_that_it_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tellers, "_processes", 1)
    assert tellers.processes() == 1
    tellers.use_processes(3)
    assert tellers.processes() == 3
    tellers.use_processes()
    assert tellers.processes() >= 1
