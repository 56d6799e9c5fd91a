"""Chains of controls: those that end, and those that lead back to where they began."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pipeline.register_chains import chain_ends, loops


def test_a_chain_that_ends_is_no_loop() -> None:
    assert loops({"C": "R", "R": "K", "K": None, "D": "R"}) == []


def test_a_loop_is_told_once_from_the_row_that_stands_first() -> None:
    chains = {"P": "B", "A": "C", "B": "A", "C": "B", "S": "S", "Q": "gone"}
    assert loops(chains) == [["A", "C", "B"], ["S"]]


IDS = st.sampled_from("ABCDEFGH")


@given(st.dictionaries(IDS, st.none() | IDS))
def test_a_loop_stands_wherever_following_a_chain_never_ends(chains: dict[str, str | None]) -> None:
    on_loops = [control_id for loop in loops(chains) for control_id in loop]
    assert len(on_loops) == len(set(on_loops))
    for control_id in chains:
        seen: list[str] = []
        here: str | None = chains.get(control_id)
        while here is not None and len(seen) <= len(chains):
            seen.append(here)
            here = chains.get(here)
        assert (control_id in seen) == (control_id in on_loops)


def test_a_chain_is_followed_to_its_end() -> None:
    chains = {"P": "R", "R": "K", "K": None, "D": "gone", "E": "D", "A": "B", "B": "A", "Q": "A"}
    assert chain_ends(chains) == {"P": "K", "R": "K", "E": "D"}
