"""What a reader can filter by: the sites and kinds of control that a build knows."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.store import Store


@dataclass(frozen=True)
class Choices:
    """``sites``: id to name, by name. ``kinds``: kinds of control in the register, by name."""

    sites: dict[str, str]
    kinds: tuple[str, ...]


def choices(store: Store) -> Choices:
    """The sites and kinds of a build; empty where it has no register."""
    sites = store.rows("SELECT site_id, coalesce(name, site_id) FROM sites ORDER BY 2, 1")
    kinds = store.rows("SELECT DISTINCT kind FROM controls WHERE kind IS NOT NULL ORDER BY 1")
    return Choices(dict(sites), tuple(row[0] for row in kinds))
