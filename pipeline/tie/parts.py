"""Which of the parts that the texts mention counts, and which were worked on with it."""

from __future__ import annotations

from dataclasses import replace

from pipeline.tie.accounts import CONTROLS, Account, Mention

CLOCKED = ("day burning", "wrong time")
"""Symptoms that a lamp cannot cause."""
_RANK = {"replaced": 5, "repaired": 4, "bypassed": 3, "completed": 3, "reset": 2, "cleaned": 1, "": 0}
HOLDER = "holder"
"""What a photocontrol plugs into: wiring, but no rival of the control that it is changed with."""
_RIVALS = ("lamp", "driver", "wiring", "supply", "pole")


def parts_of(reported: Account, done: Account) -> list[Mention]:
    """The parts that count: those of the action; the problem's where the action names none."""
    parts = _condemned([part for part in done.mentioned() if part.deed or part.bad or part.needed])
    if any(part.deed or part.bad for part in parts):
        return parts
    suspects = [part for part in reported.mentioned() if part.deed or part.bad or part.needed]
    sound = {part.part for part in done.mentions if part.sound}
    suspects = [part for part in suspects if part.part not in sound]
    suspects = [part for part in suspects if part.part in CONTROLS or part.part == "driver" or _is_bulb(part)]
    deed = done.last_deed()
    settled = []
    for part in suspects:
        asked_for = part.deed or ((part.wanted or "replaced") if part.needed else "")
        settled.append(replace(part, deed=asked_for if deed == "completed" and asked_for else deed))
    return settled or parts


def only_named(done: Account) -> list[Mention]:
    """'Fuse', 'lamp & cell': parts that a short closing text names alone, without saying what was done."""
    silent = not (done.bare_deeds or done.outcomes or done.checked)
    return [part for part in done.mentioned() if part.part != "other"] if silent else []


def _condemned(parts: list[Mention]) -> list[Mention]:
    """'Reset timer, ordered new timer': a part that was set going and then asked for anew is one that failed."""
    told = []
    for at, part in enumerate(parts):
        wanted = any(later.part == part.part and later.needed and not later.deed for later in parts[at + 1 :])
        stopgap = part.deed in ("reset", "cleaned") and wanted
        told.append(replace(part, deed="", bad=True, needed=True) if stopgap else part)
    return told


def _is_bulb(part: Mention) -> bool:
    """A lamp named as a part; 'fixture' and 'light' in a report only say where."""
    return part.part == "lamp" and part.said.lower().rstrip("s") in ("lamp", "bulb")


def main_part(parts: list[Mention], symptom: str) -> Mention | None:
    """The part that the fault was in: a replaced control first, else what was worked on hardest and last."""

    best: Mention | None = None
    for part in parts:
        if best is None:
            best = part
            continue
        ahead, behind = _weight(part, symptom), _weight(best, symptom)
        # Of equals, the last statement counts; within one statement, what it names first.
        if ahead > behind or (ahead == behind and part.deed_clause != best.deed_clause):
            best = part
    return best


def _weight(part: Mention, symptom: str) -> tuple[int, int, int]:
    is_control = part.part in CONTROLS
    told = bool(part.deed) or part.bad or part.needed
    decisive = is_control and (part.deed == "replaced" or (symptom in CLOCKED and told))
    decisive = decisive or (symptom == "damage" and part.part == "pole")
    named = part.part not in ("control", "other")
    return int(decisive), _RANK.get(part.deed, 0) * 2 + int(part.bad) + int(is_control), int(named)


def component_of(main: Mention | None) -> str:
    if main is None:
        return "unknown"
    if main.part == HOLDER:
        return "wiring"
    return "control" if main.part in CONTROLS else main.part


def rivals_of(parts: list[Mention], main: Mention | None) -> list[Mention]:
    """Other parts, of a kind that can cause the same darkness, that were replaced or repaired with the main one."""
    if main is None:
        return []
    return [
        part
        for part in parts
        if part.part in _RIVALS
        and component_of(part) != component_of(main)
        and part.deed in ("replaced", "repaired")
    ]
