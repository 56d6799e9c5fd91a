"""How long work tells that it is alive, on a terminal or off it."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """What a stage may call while it works."""

    def step(self, message: str) -> None:
        """A new piece of work begins."""

    def share(self, done: int, total: int) -> None:
        """How far the present piece is."""


class Silent:
    """Says nothing: for tests and for callers with a display of their own."""

    def step(self, message: str) -> None:
        """Ignore."""

    def share(self, done: int, total: int) -> None:
        """Ignore."""
