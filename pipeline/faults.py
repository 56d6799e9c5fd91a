"""What is wrong with somebody's input, said so that the person can mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong: where it stands, what it is, and what to do about it.

    ``where`` names a file and, if there is one, the row, column or setting in it.
    """

    where: str
    problem: str
    remedy: str = ""

    def __str__(self) -> str:
        sentence = f"{self.where}: {self.problem}"
        return f"{sentence} {self.remedy}" if self.remedy else sentence


class InputFaults(Exception):
    """The input needs a person. Carries every fault found, not only the first."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        if not self.faults:
            raise ValueError("InputFaults needs at least one fault")
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @classmethod
    def one(cls, where: str, problem: str, remedy: str = "") -> InputFaults:
        """The common case of a single fault."""
        return cls([Fault(where, problem, remedy)])


def system_fault(error: OSError) -> Fault:
    """What the operating system refused: a folder without permission, a name too long, a full disk."""
    place = str(error.filename) if error.filename is not None else "the computer"
    reason = error.strerror or str(error)
    return Fault(
        place, f"cannot be used ({reason}).", "Check its name, its permissions and the space on the disk."
    )
