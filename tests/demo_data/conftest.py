"""The district under the default seed, made once for all tests here."""

from __future__ import annotations

from pathlib import Path

import pytest
from once import made_once

from demo_data.make import District, make_demo


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with portfolio/ and truth/, just written by the script with its default seed.

    A file that is not the script's lay there before.
    """
    return made_once(tmp_path_factory, "written-demo", _written)


def _written(folder: Path) -> None:
    (folder / "portfolio" / "layouts").mkdir(parents=True)
    (folder / "portfolio" / "layouts" / "mine.toml").write_text("kept", encoding="utf-8")
    make_demo(folder / "portfolio", folder / "truth")


@pytest.fixture(scope="session")
def district() -> District:
    """The same district, not yet written down."""
    return District()
