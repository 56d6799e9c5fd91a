"""Files taken out of a portfolio and put back: they move to removed/ beside calls/ and are never deleted.

The next build does without what was removed; what earlier builds read of it goes from the cache with that build.
"""

from __future__ import annotations

import os
from itertools import count
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.ingest.register_rows import register_files
from pipeline.portfolio import Portfolio

_FOLDERS = ("calls", "registers")


def removable_files(portfolio: Portfolio) -> list[Path]:
    """Every export in calls/ and inventory in registers/, in a fixed order."""
    return [*portfolio.export_files(), *register_files(portfolio)]


def removed_files(portfolio: Portfolio) -> list[Path]:
    """Every file that was removed, in a fixed order."""
    found = (path for folder in _FOLDERS for path in (_removed(portfolio) / folder).rglob("*"))
    return sorted(path for path in found if path.is_file() and not path.name.startswith("."))


def remove_file(portfolio: Portfolio, file: Path) -> Path:
    """Move a file of calls/ or registers/ to the same place below removed/; gives its new place.

    Where another one lies there, the name gets a number. Raises InputFaults for a file that is not one of these.
    """
    if file not in removable_files(portfolio):
        raise InputFaults.one(
            str(file), "is not in calls/ or registers/ any more.", "Look at the page again."
        )
    target = _removed(portfolio) / file.relative_to(portfolio.folder)
    target = next(
        place
        for number in count(1)
        if not os.path.lexists(place := target.with_stem(f"{target.stem}-{number}") if number > 1 else target)
    )
    return _moved(file, target)


def put_back(portfolio: Portfolio, file: Path) -> Path:
    """Move a removed file to where it came from; raises InputFaults where another one has taken its place."""
    if file not in removed_files(portfolio):
        raise InputFaults.one(str(file), "is not in removed/ any more.", "Look at the page again.")
    target = portfolio.folder / file.relative_to(_removed(portfolio))
    if os.path.lexists(target):
        raise InputFaults.one(
            target.relative_to(portfolio.folder).as_posix(),
            "exists already, so the removed file of that name stays where it is.",
            "Rename one of the two.",
        )
    return _moved(file, target)


def _removed(portfolio: Portfolio) -> Path:
    return portfolio.folder / "removed"


def _moved(file: Path, target: Path) -> Path:
    target.parent.mkdir(parents=True, exist_ok=True)
    file.rename(target)
    return target
