"""What stands wherever a figure may send somebody to equipment."""

from __future__ import annotations

CAUTION = (
    "Work on lighting circuits can kill. Before any work: de-energise, lock out and verify. Mind arc flash and work "
    "at height. Licensed electricians only; local codes and the authority having jurisdiction decide."
)
"""The usual cautions in two lines (common practice, no source)."""
