"""An invented school district: its portfolio folder, and beside it the true answers.

``docs/demo-model.md`` says how the district behaves. The pipeline never reads the truth folder.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

DEFAULT_SEED = 20260101


def portfolio_folder() -> Path:
    """The invented portfolio as shipped: portfolio.toml, registers and calls/."""
    return Path(str(files("demo_data"))) / "portfolio"


def truth_folder() -> Path:
    """What truly happened, as gzipped CSV (columns in docs/demo-model.md). For tests only."""
    return Path(str(files("demo_data"))) / "truth"
