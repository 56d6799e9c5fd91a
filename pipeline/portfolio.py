"""A portfolio folder: where its files lie, and its settings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.settings import Settings, read_settings

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
        return cls(folder, read_settings(folder / "portfolio.toml"))

    @property
    def settings_file(self) -> Path:
        """portfolio.toml."""
        return self.folder / "portfolio.toml"

    @property
    def calls(self) -> Path:
        """Work-order exports, any mix of formats."""
        return self.folder / "calls"

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
        if not self.calls.is_dir():
            return []
        found = (path for path in self.calls.rglob("*") if path.is_file())
        return sorted(path for path in found if not path.name.startswith((".", "~$")))
