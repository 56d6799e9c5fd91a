"""What a person should know of the files that were read, as notices of the build."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.ingest.cache import ParsedFile
from pipeline.ingest.dates import AM_PM_LOST
from pipeline.ingest.read import Recognised
from pipeline.numerals import count_text, counted
from pipeline.store import Store

_MOST_VALUES = 50  # named of each field; a choice of ours


@dataclass(frozen=True)
class ReadFile:
    """An export with its layout and its parsed rows."""

    recognised: Recognised
    parsed: ParsedFile


def tell_files(store: Store, files: list[ReadFile]) -> None:
    """Sheets left aside, encodings guessed, totals without a label, values without a meaning."""
    for one, sheets in _sheets_read(files):
        export = one.recognised.export
        others = [f"'{sheet}'" for sheet in export.sheets if sheet not in sheets]
        if others:
            names = " and ".join(f"'{sheet}'" for sheet in sheets)
            only, verb = ("sheets", "were") if len(sheets) > 1 else ("sheet", "was")
            store.notice(
                "ingest", export.name, f"only {only} {names} {verb} read; left aside: {', '.join(others)}."
            )
        for remark in export.remarks:
            store.notice("ingest", export.name, remark)
        form = export.text or export.json
        if form and form.encoding in ("cp1252", "latin-1"):
            store.notice("ingest", export.name, f"is not UTF-8; read as {form.encoding} text.")
        if AM_PM_LOST in one.parsed.date_order:
            store.notice("ingest", export.name, f"{one.parsed.date_order.partition('; ')[2]}.")
    for one in files:
        _tell_totals(store, one)
    for field in ("status", "work_type"):
        _tell_unknown_values(store, field)


def _tell_unknown_values(store: Store, field: str) -> None:
    """Words of a status or a work type that no layout gives a meaning, the commonest first."""
    what = field.replace("_", " ")
    remedy = f"add it under [values.{field}] of the layout."
    unknown = store.rows(
        f"SELECT *, count(*) OVER () FROM (SELECT file_name, {field}_text, count(*) AS n FROM parsed_rows "  # noqa: S608
        f"WHERE {field}_text IS NOT NULL AND {field} IS NULL AND reject_reason IS NULL GROUP BY ALL) "
        f"ORDER BY n DESC, file_name, {field}_text LIMIT {_MOST_VALUES}"
    )
    for name, value, count, _ in unknown:
        store.notice(
            "ingest", str(name), f"{what} '{value}' ({counted(count, 'row')}) has no meaning; {remedy}"
        )
    more = unknown[0][3] - len(unknown) if unknown else 0
    if more:
        store.notice(
            "ingest",
            "layouts/",
            f"{count_text(more)} rarer values of {what} without a meaning are not named; if the column holds something "
            "else, take it out of the layout's [columns].",
        )


def _tell_totals(store: Store, one: ReadFile) -> None:
    """A total without a label is counted as no data: said, as a call whose cells were lost would look the same."""
    rows = one.parsed.unlabelled_totals
    if rows:
        which = "row {} holds" if len(rows) == 1 else "rows {} hold"
        export = one.recognised.export
        store.notice(
            "ingest",
            f"{export.name}, sheet {export.part}" if export.part else export.name,
            f"{which.format(' and '.join(map(count_text, rows)))} figures alone, at the end and without a date, number "
            "or text of a call: taken for a total.",
        )


def _sheets_read(files: list[ReadFile]) -> list[tuple[ReadFile, list[str | None]]]:
    """Each file once, with the sheets of it that were read."""
    sheets: dict[str, tuple[ReadFile, list[str | None]]] = {}
    for one in files:
        sheets.setdefault(one.recognised.export.sha256, (one, []))[1].append(one.parsed.sheet)
    return list(sheets.values())
