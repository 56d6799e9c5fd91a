"""How a whole number is written for people, in every notice, check, command, document and screen."""

from __future__ import annotations

THIN_SPACE = "\u202f"
MINUS = "\u2212"


def count_text(value: int) -> str:
    """A whole count, thousands parted by a narrow no-break space (U+202F): 12 087."""
    return f"{value:,}".replace(",", THIN_SPACE).replace("-", MINUS)
