"""How a whole number is written for people, in every notice, check, command, document and screen."""

from __future__ import annotations

THIN_SPACE = "\u202f"
MINUS = "\u2212"


def count_text(value: int) -> str:
    """A whole count, thousands parted by a narrow no-break space (U+202F): 12 087."""
    return f"{value:,}".replace(",", THIN_SPACE).replace("-", MINUS)


def counted(value: int, one: str, several: str = "") -> str:
    """A count with what is counted: 1 control, 2 controls; ``several`` where an s does not make it."""
    return f"{count_text(value)} {one if value == 1 else several or one + 's'}"
