"""What the survival functions say when the data do not support an answer."""

from __future__ import annotations

from pipeline.faults import InputFaults


class ImpossibleLives(InputFaults, ValueError):
    """Rows that no control can have lived. Carries every fault, each naming its row."""


class CannotFit(ValueError):
    """The data do not determine the answer. The message says why, and what to do instead.

    ``why`` is the message without ``for_analysts``, which may name functions.
    """

    def __init__(self, why: str, for_analysts: str = "") -> None:
        super().__init__(f"{why} {for_analysts}".strip())
        self.why = why


class SmallRiskSetWarning(UserWarning):
    """An early step of a curve rests on so few controls that it spoils everything after it."""


def check_confidence(confidence: float) -> None:
    """Refuse a confidence that is not strictly between 0 and 1 (0.95, not 95)."""
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence must lie between 0 and 1 (such as 0.95); got {confidence!r}")
