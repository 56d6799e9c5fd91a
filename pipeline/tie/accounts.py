"""What a text says was done: the parts it mentions, each with its deed, and what names no part."""

from __future__ import annotations

from dataclasses import dataclass, field

DEEDS = ("replaced", "repaired", "reset", "cleaned", "bypassed", "completed")
"""Actions that are work on a part; 'completed' says only that work was done."""

CONTROLS = ("photocontrol", "time switch", "timer", "occupancy sensor", "contactor", "control")
"""Parts that are controls; the last is a control of no named kind."""


@dataclass
class Mention:
    """A part in a text: what was done to it, and whether it was found bad, found sound, or only needed."""

    part: str
    first: int
    last: int
    clause: int
    deed: str = ""
    deed_clause: int = -1
    bad: bool = False
    sound: bool = False
    needed: bool = False
    wanted: str = ""  # what is asked for, where that is said: 'needs adjusting'
    count: int | None = None
    said: str = ""


@dataclass
class Account:
    """What one text says was done: mentions, deeds and outcomes that name no part, and whether it tells of a check."""

    mentions: list[Mention] = field(default_factory=list)
    bare_deeds: list[str] = field(default_factory=list)
    outcomes: list[str] = field(default_factory=list)
    said: dict[str, str] = field(default_factory=dict)
    checked: bool = False

    def mentioned(self) -> list[Mention]:
        """The parts that were not found sound."""
        return [part for part in self.mentions if not part.sound]

    def last_deed(self) -> str:
        """The last deed that names no part; 'done' and 'completed' count only when nothing else was said."""
        bare = self.bare_deeds
        return next((deed for deed in reversed(bare) if deed != "completed"), bare[-1] if bare else "")
