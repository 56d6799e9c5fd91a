"""The demo portfolio, copied to where a person wants it and never over what a person changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import demo_data
from pipeline.faults import InputFaults
from pipeline.portfolio import as_typed
from pipeline.template import contents

DECISIONS = Path("decisions.csv")
"""Of the demo's files the one that a person adds to on review, and that a demo keeps as it finds it."""


def lay_out_demo(folder: Path) -> None:
    """Copy the demo into a folder that is absent or empty; an unchanged demo stays as it is.

    Raises InputFaults for any other folder, naming the files of a demo that differ from those shipped.
    """
    if contents(folder):
        _require_unchanged_demo(folder)
    else:
        shutil.copytree(demo_data.portfolio_folder(), folder, dirs_exist_ok=True)


def _require_unchanged_demo(folder: Path) -> None:
    """Raise InputFaults unless every file of the demo lies in the folder as it was shipped."""
    if not (folder / "portfolio.toml").is_file():
        raise InputFaults.one(
            str(folder), "exists and is not the demo.", "Name another folder: `dayburn demo DIR`."
        )
    shipped = demo_data.portfolio_folder()
    names = sorted(path.relative_to(shipped) for path in shipped.rglob("*") if path.is_file())
    names.remove(DECISIONS)
    differing = [name.as_posix() for name in names if not _same_bytes(shipped / name, folder / name)]
    if len(differing) == len(names):
        raise InputFaults.one(
            str(folder), "exists and is not the demo.", "Name another folder: `dayburn demo DIR`."
        )
    if differing:
        raise InputFaults.one(
            str(folder),
            f"holds a demo whose files were changed ({', '.join(differing)}); nothing was overwritten.",
            f"Build it as it is with `dayburn build {as_typed(folder)}`, or name another folder: `dayburn demo DIR`.",
        )


def _same_bytes(one: Path, other: Path) -> bool:
    return other.is_file() and one.read_bytes() == other.read_bytes()
