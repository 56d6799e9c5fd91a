"""What every section of the settings page has in common: no unknown key, and nothing changes once read."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Page(BaseModel):
    """A section of portfolio.toml."""

    model_config = ConfigDict(extra="forbid", frozen=True)
