"""docs/data-model.md, made from the tables."""

from __future__ import annotations

from pipeline.tables import TABLES
from pipeline.tables.schema import Column


def _row(column: Column) -> str:
    name = column.name + (" !" if column.required else "")
    meaning = column.meaning.replace("|", "\\|")
    return f"| {name} | {column.type} | {meaning} |"


def data_model_page() -> str:
    """docs/data-model.md as text: every table with its columns, types and meanings."""
    parts = [
        "# Data model\n",
        "Made from `pipeline/tables/` by `python -m pipeline.tables`; edit that file, not this page.\n",
        "Times are the site's local wall clock. Money is in the portfolio's currency. A `!` marks a column "
        "that is never empty. Triples `_low`, `_central`, `_high` carry what is not known exactly.\n",
    ]
    for table in TABLES:
        key = f" Key: {', '.join(f'`{name}`' for name in table.key)}." if table.key else ""
        made = "A view of what stands in" if table.view_of else "Written by the stage"
        parts.append(f"## {table.name}\n\nA row is {table.row_is}. {made} *{table.stage}*.{key}\n")
        parts.append("| column | type | meaning |\n|---|---|---|")
        parts += [_row(column) for column in table.columns]
        parts.append("")
    return "\n".join(parts)
