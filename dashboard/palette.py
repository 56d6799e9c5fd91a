"""Colours of our own: dark enough to read on white (4.5:1 at least), told apart by lightness as well as hue.

No meaning hangs on colour alone: lines differ in dash and marker too, bars in pattern, verdicts in a word and a sign.
"""

from __future__ import annotations

from typing import NamedTuple

INK, QUIET, LINE, PAPER, PANEL = "#18222c", "#4a5663", "#c3ccd5", "#ffffff", "#f3f5f7"
ACCENT = "#0b4f7d"


class Stroke(NamedTuple):
    """How one of several series is drawn: colour, line dash, marker and bar pattern."""

    colour: str
    dash: str
    marker: str
    pattern: str


STROKES = (
    Stroke("#0b4f7d", "solid", "circle", ""),
    Stroke("#b5480b", "dash", "square", "/"),
    Stroke("#6d2f9c", "dot", "diamond", "x"),
    Stroke("#0a7a6c", "dashdot", "triangle-up", "\\"),
    Stroke("#7d6608", "longdash", "cross", "."),
    Stroke("#3a3f45", "longdashdot", "star", "-"),
)


def stroke(number: int) -> Stroke:
    """The stroke of the series with this number, from 0; past the sixth they begin again."""
    return STROKES[number % len(STROKES)]


def faint(colour: str, opacity: float = 0.14) -> str:
    """A colour for the area between limits."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return f"rgba({red},{green},{blue},{opacity})"
