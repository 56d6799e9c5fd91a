"""Text files that a person writes by hand, read with the faults that any of them can have."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from pipeline.faults import InputFaults


def read_page(path: Path, where: str | None = None) -> str:
    """The file's text, UTF-8 with or without a mark; raises InputFaults naming it as ``where`` (its name).

    That it is not there (FileNotFoundError) only the caller can explain.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise
    except OSError as error:
        raise InputFaults.one(
            str(path), f"cannot be read ({error.strerror}).", "It must be a text file that you may read."
        ) from error
    except UnicodeDecodeError as error:
        raise InputFaults.one(
            where or path.name, f"is not UTF-8 text ({error.reason}).", "Save it as UTF-8."
        ) from error


def read_toml(path: Path, where: str | None = None) -> dict[str, Any]:
    """The file's content; raises InputFaults as ``read_page`` does, and where it is not valid TOML."""
    try:
        return tomllib.loads(read_page(path, where))
    except tomllib.TOMLDecodeError as error:
        raise InputFaults.one(
            where or path.name, f"is not valid TOML: {error}.", "Mend that line."
        ) from error
