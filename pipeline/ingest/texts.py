"""The texts of a file's fields: its columns joined, what other programs left in them turned back, as a view."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.ingest.fields import FIELDS
from pipeline.ingest.layouts import Layout
from pipeline.ingest.privacy import literal
from pipeline.ingest.remnants import without_remnants_sql
from pipeline.store import Store


def text_sql(layout: Layout, field: str) -> str:
    """SQL: the text of a field, its columns joined; NULL where all are blank or the field is not mapped."""
    cells = [f"c{place}" for place in layout.places(field)]
    if not cells:
        return "NULL::VARCHAR"
    if FIELDS[field].kind == "time" and len(cells) > 1:
        # A workbook's pure date may carry midnight before the time of day from the other column.
        cells = [f"regexp_replace(trim({cell}), ' 00:00:00$', '')" for cell in cells]
    is_words = FIELDS[field].kind in ("text", "label", "choice")
    texts = [without_remnants_sql(cell) if is_words else cell for cell in cells]
    visible = [
        # What begins above the blank is visible: for most cells one comparison tells.
        f"CASE WHEN {cell} >= '!' OR regexp_matches({cell}, '\\S') THEN {text} END"
        for cell, text in zip(cells, texts, strict=True)
    ]
    if len(visible) == 1:
        return visible[0]
    if field == "address_text":
        # A house number and its street are one address, not two parts of one.
        joined = f"concat_ws({literal(FIELDS[field].joint)}, {', '.join(visible)})"
        return rf"nullif(regexp_replace({joined}, '^\s*([0-9]+[A-Za-z]?)\s*, ', '\1 '), '')"
    return f"nullif(concat_ws({literal(FIELDS[field].joint)}, {', '.join(visible)}), '')"


def cells_of(layout: Layout, columns: Sequence[str]) -> list[str]:
    """Columns of the header as columns of ``raw``."""
    return [f"c{layout.header.index(column) + 1}" for column in columns]


def offer_texts(store: Store, layout: Layout, who: str) -> None:
    """A view ``texts`` of ``raw`` with the text of every field (FIELD_t) and what tells the row's people (``who``)."""
    texts = ",\n    ".join(f"{text_sql(layout, field)} AS {field}_t" for field in FIELDS)
    store.run(
        f"CREATE TEMP VIEW texts AS SELECT row_number, surplus, missing, {who} AS who, {texts} FROM raw"  # noqa: S608
    )
    # What has neither blank nor @ is a number or a tag, however much it may look like a telephone's. A table, because
    # most exports have none, and it is looked at more than once.
    store.run(
        "CREATE TEMP TABLE worded_numbers AS SELECT row_number, who, trim(call_number_t) AS call_number_t FROM texts "
        "WHERE (contains(call_number_t, ' ') AND contains(trim(call_number_t), ' ')) OR contains(call_number_t, '@')"
    )
