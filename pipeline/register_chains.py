"""Chains of controls that switch one another (``switched_by``), and those that lead back to where they began."""

from __future__ import annotations

from collections.abc import Mapping


def loops(switched_by: Mapping[str, str | None]) -> list[list[str]]:
    """Every loop once, as the control_ids on it in order, beginning with the one that stands first.

    ``switched_by`` gives each control_id the next one, or nothing where the chain ends.
    """
    found: list[list[str]] = []
    done: set[str] = set()
    for first in switched_by:
        path: dict[str, None] = {}  # a set that keeps its order
        here: str | None = first
        while here is not None and here not in done and here not in path:
            path[here] = None
            here = switched_by.get(here) or None
        if here is not None and here in path:
            on_path = list(path)
            found.append(on_path[on_path.index(here) :])
        done |= path.keys()
    order = {control_id: place for place, control_id in enumerate(switched_by)}
    return [_from_first(loop, order) for loop in found]


def chain_ends(switched_by: Mapping[str, str | None]) -> dict[str, str]:
    """The last device of each control's chain; a control that nothing switches, or that is on a loop or leads into
    one, has none, and a device that is no control of the register ends the chain before it."""
    found: dict[str, str] = {}
    for control_id in switched_by:
        last, seen = control_id, {control_id}
        while (after := switched_by.get(last)) in switched_by and after is not None:
            if after in seen:
                break
            last = after
            seen.add(last)
        else:
            if last != control_id:
                found[control_id] = last
    return found


def _from_first(loop: list[str], order: Mapping[str, int]) -> list[str]:
    start = min(range(len(loop)), key=lambda place: order.get(loop[place], len(order)))
    return loop[start:] + loop[:start]
