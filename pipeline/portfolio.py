"""A portfolio folder: where its files lie, and its settings."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.faults import Fault, InputFaults
from pipeline.settings import Settings, read_settings

_NOT_EXPORTS = ("thumbs.db", "desktop.ini", "icon\r")  # what Windows and macOS leave in a folder
_NOT_FOLDERS = ("__macosx",)  # side files of an archive made on macOS

REGISTERS = ("sites", "accounts", "controls", "fixtures")


@dataclass(frozen=True)
class Portfolio:
    """The folder and what portfolio.toml says. Everything else is read by the stage that needs it."""

    folder: Path
    settings: Settings
    cache_folder: Path | None = None

    @classmethod
    def read(cls, folder: Path) -> Portfolio:
        """Open a folder; raises InputFaults when it or its settings page cannot be used."""
        if not folder.is_dir():
            raise InputFaults.one(
                str(folder),
                "is not a folder.",
                "Give a portfolio folder, or make one with `dayburn new DIR`.",
            )
        portfolio = cls(folder, read_settings(folder / "portfolio.toml"))
        in_the_way = [part for part in portfolio._parts() if os.path.lexists(part) and not part.is_dir()]
        if in_the_way:
            raise InputFaults(
                Fault(str(part), "is not a folder.", f"Dayburn needs a folder '{part.name}': move it away.")
                for part in in_the_way
            )
        return portfolio

    def _parts(self) -> tuple[Path, ...]:
        return (self.calls, self.layouts, self.meters, self.cache, self.built)

    @property
    def settings_file(self) -> Path:
        """portfolio.toml."""
        return self.folder / "portfolio.toml"

    @property
    def calls(self) -> Path:
        """Work-order exports, any mix of formats."""
        return self.folder / "calls"

    @property
    def meters(self) -> Path:
        """Interval readings of electricity accounts; it need not exist."""
        return self.folder / "meters"

    @property
    def layouts(self) -> Path:
        """How each export's columns map to ours."""
        return self.folder / "layouts"

    @property
    def decisions_file(self) -> Path:
        """What a person decided on review."""
        return self.folder / "decisions.csv"

    @property
    def cache(self) -> Path:
        """Parsed exports; can be deleted at any time."""
        return self.cache_folder or self.folder / "cache"

    @property
    def built(self) -> Path:
        """Finished databases and the name of the current one; can be deleted at any time."""
        return self.folder / "built"

    def register_file(self, register: str) -> Path:
        """The CSV of one of REGISTERS; it need not exist."""
        return self.folder / f"{register}.csv"

    def export_files(self) -> list[Path]:
        """Every file in calls/, subfolders included, in a fixed order; hidden files are not exports."""
        return sorted(_files_below(self.calls, frozenset()))

    def meter_files(self) -> list[Path]:
        """Every file in meters/, in the same way."""
        return sorted(_files_below(self.meters, frozenset()))


def _files_below(folder: Path, above: frozenset[Path]) -> Iterator[Path]:
    """Files that a person put there, through linked folders too, each folder on a path once."""
    real = folder.resolve()
    if real in above or not folder.is_dir():
        return
    for path in folder.iterdir():
        name = path.name.lower()
        if name.startswith((".", "~$")):
            continue
        if path.is_dir():
            if name not in _NOT_FOLDERS:
                yield from _files_below(path, above | {real})
        elif name not in _NOT_EXPORTS and (path.is_file() or path.is_symlink()):
            yield path


def as_typed(path: Path | str) -> str:
    """A path as a person types it in a command, in quotation marks where it needs them."""
    return subprocess.list2cmdline([str(path)]) if sys.platform == "win32" else shlex.quote(str(path))
