"""Runs the SQL kept beside the figures, with the filters always as parameters."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import pandas as pd

from pipeline.figures.filters import Filters
from pipeline.lives.groups import GROUPINGS
from pipeline.store import Row, Store, sql_text

_PACKAGE = "pipeline.figures"
_NAMES = {**GROUPINGS, "site": "site_id"}


@cache
def _text(name: str, grouping: str | None) -> str:
    text = sql_text(_PACKAGE, "chosen") + sql_text(_PACKAGE, name)
    return text if grouping is None else text.replace("{group_name}", _NAMES[grouping])


def frame(
    store: Store,
    name: str,
    filters: Filters,
    by_group: str | None = None,
    texts: Mapping[str, str] | None = None,
    **more: Any,
) -> pd.DataFrame:
    """``name``.sql over what the filters choose, as a frame.

    ``by_group``: a grouping of pipeline.lives, or 'site', whose group name takes the place of ``{group_name}``.
    ``texts``: SQL of this project's own that takes the place of other marks.
    """
    sql = _text(name, by_group)
    for mark, text in (texts or {}).items():
        sql = sql.replace(mark, text)
    return store.frame(sql, filters.parameters() | more)


def rows(store: Store, name: str, filters: Filters, **more: Any) -> list[Row]:
    """The same as rows."""
    return store.rows(_text(name, None), filters.parameters() | more)
