"""Well-formed delimited text read by DuckDB, as fast as it can; anything else is left to the streaming reader.

DuckDB is told everything and decides nothing. What it gives is believed only when every byte of the file is accounted
for: the bytes of the cells, the delimiters and line ends between them, and the quotation marks.
"""

from __future__ import annotations

import csv
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.ingest.dialect import LARGEST_CELL_CHARACTERS
from pipeline.ingest.encodings import decoded_blocks
from pipeline.ingest.files import Export
from pipeline.ingest.headers import FOOTER, MOST_TOTALS, Header, is_not_data, is_unlabelled_total
from pipeline.ingest.privacy import literal
from pipeline.store import StageError, Store

_BLOCK = 1 << 22
_TAIL = 4096
_LONGEST_LINE = 2_000_000


@dataclass(frozen=True)
class FastRows:
    """Records of the whole file, data rows among them, and line breaks inside the cells of other rows.

    ``unlabelled_totals``: numbers of the rows at the end that are totals without a label, and so no data.
    """

    records: int
    rows_read: int
    breaks: int
    unlabelled_totals: list[int]


@dataclass(frozen=True)
class _Bytes:
    """A file below its header: all bytes, quotation marks, bytes of one line end, and blank lines at the end.

    ``lines_above`` physical lines and ``breaks_above`` breaks inside cells belong to the header and what is over it.
    """

    all: int
    quotes: int
    line_end: int
    ends_with_line_end: bool
    blank_lines: int
    lines_above: int
    breaks_above: int


def load_fast(
    store: Store,
    export: Export,
    header: Header,
    report_columns: Sequence[int],
    call_columns: Sequence[int] = (),
) -> FastRows | None:
    """Make ``raw`` (see pipeline/ingest/load.py) of a text file; None, and no ``raw``, where it is not well-formed."""
    if export.text is None:
        return None
    export.check_unchanged()
    with _in_utf8(export) as path:
        written = _look_over(path, export.text.delimiter, header.row_number)
        if written is None or not _read(store, path, export.text.delimiter, header, written):
            return None
    export.check_unchanged()
    rows = store.count("raw_cells")
    aside = _set_not_data_aside(store, header, report_columns)
    totals = _set_totals_aside(store, len(header.labels), call_columns, rows, set(aside))
    _offer_raw(store, header, bool(aside or totals))
    no_data = [*aside.values(), *totals.values()]
    breaks = written.breaks_above + sum(cell.count("\n") for cells in no_data for cell in cells)
    records = header.row_number + rows + written.blank_lines
    numbers = [header.row_number + 1 + rowid for rowid in sorted(totals)]
    return FastRows(records, rows - len(no_data), breaks, numbers)


@contextmanager
def _in_utf8(export: Export) -> Iterator[Path]:
    """The file itself, or a private copy of it in UTF-8 while the block runs."""
    assert export.text is not None
    if export.text.encoding in ("utf-8", "utf-8-sig"):
        yield export.path
        return
    with TemporaryDirectory(prefix="dayburn-") as folder:
        path = Path(folder) / "export.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            file.writelines(decoded_blocks(export.path, export.text.encoding))
        yield path


def _look_over(path: Path, delimiter: str, header_row: int) -> _Bytes | None:
    """Count the bytes below the header; None where a carriage return stands alone."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        csv.field_size_limit(LARGEST_CELL_CHARACTERS)
        reader = csv.reader(file, delimiter=delimiter, quotechar='"', doublequote=True, strict=True)
        above = list(islice(reader, header_row))
        lines_above = reader.line_num
    breaks_above = sum(cell.count("\n") for cells in above for cell in cells)
    total = quotes = returns = pairs = 0
    start, end = b"", b""
    with path.open("rb") as file:
        for _ in range(lines_above):
            start = file.readline()
            returns, pairs = returns + start.count(b"\r"), pairs + start.count(b"\r\n")
        while block := file.read(_BLOCK):
            total, quotes = total + len(block), quotes + block.count(b'"')
            if b"\r" in block:
                returns, pairs = returns + block.count(b"\r"), pairs + block.count(b"\r\n")
            pairs += end.endswith(b"\r") and block.startswith(b"\n")
            end = (end + block[-_TAIL:])[-_TAIL:]
    if returns != pairs:
        return None
    blank_lines = max(0, end[len(end.rstrip(b"\r\n")) :].count(b"\n") - 1)
    line_end = 2 if start.endswith(b"\r\n") else 1
    return _Bytes(total, quotes, line_end, end.endswith(b"\n"), blank_lines, lines_above, breaks_above)


def _read(store: Store, path: Path, delimiter: str, header: Header, written: _Bytes) -> bool:
    """Fill ``raw_cells`` with every row below the header; whether each of its bytes is accounted for."""
    # Where a cell above holds a line break, DuckDB skips it with its row.
    for skipped in dict.fromkeys((header.row_number, written.lines_above)):
        if _read_below(store, path, delimiter, len(header.labels), skipped):
            if _accounted_for(store, len(header.labels), written):
                return True
            store.run("DROP TABLE raw_cells")
    return False


def _read_below(store: Store, path: Path, delimiter: str, width: int, skipped: int) -> bool:
    """Whether ``raw_cells`` could be made of what comes after some lines."""
    columns = ", ".join(f"'c{place}': 'VARCHAR'" for place in range(1, width + 1))
    try:
        store.run(
            f"CREATE TABLE raw_cells AS SELECT * FROM read_csv({literal(str(path))}, auto_detect = false, "  # noqa: S608
            f"header = false, skip = {skipped}, delim = {literal(delimiter)}, quote = '\"', escape = '\"', "
            f"columns = {{{columns}}}, nullstr = '', max_line_size = {_LONGEST_LINE})"
        )
    except StageError:
        return False
    return True


def _accounted_for(store: Store, width: int, written: _Bytes) -> bool:
    """Whether cells, delimiters and line ends have all bytes of the file but its quotation marks."""
    cells = [f"c{place}" for place in range(1, width + 1)]
    lengths = ", ".join(f"coalesce(sum(strlen({cell})), 0)" for cell in cells)
    # A CASE, not a FILTER: that would still count in every cell.
    quotes = ", ".join(
        f"coalesce(sum(CASE WHEN contains({cell}, '\"') THEN strlen({cell}) - strlen(replace({cell}, '\"', '')) "
        "ELSE 0 END), 0)"
        for cell in cells
    )
    rows, *sums = store.row(f"SELECT count(*), {lengths}, {quotes} FROM raw_cells")  # noqa: S608
    in_cells = sum(map(int, sums[:width])) - sum(map(int, sums[width:]))
    between = int(rows) * (width - 1 + written.line_end) + written.blank_lines * written.line_end
    if rows and not written.ends_with_line_end:
        between -= written.line_end
    return written.all - written.quotes == in_cells + between


def _set_not_data_aside(store: Store, header: Header, report_columns: Sequence[int]) -> dict[int, list[str]]:
    """The rows below the header that are no data, found among the few that may be; ``raw_aside`` has their rowids."""
    cells = [f"c{place}" for place in range(1, len(header.labels) + 1)]
    found = store.rows(
        f"SELECT rowid, {', '.join(cells)} FROM raw_cells "  # noqa: S608 - names of ours, quoted literals
        f"WHERE {_may_be_no_data(header, report_columns)}"
    )
    rows = {int(number): [cell or "" for cell in row] for number, *row in found}
    aside = {number: row for number, row in rows.items() if is_not_data(row, header.labels, report_columns)}
    store.run(
        "CREATE TABLE raw_aside AS SELECT unnest($numbers::BIGINT[]) AS number",
        {"numbers": list(aside)},
    )
    return aside


def _set_totals_aside(
    store: Store, width: int, call_columns: Sequence[int], rows: int, aside: Collection[int]
) -> dict[int, list[str]]:
    """Totals without a label among the last rows, which join ``raw_aside``."""
    cells = ", ".join(f"c{place}" for place in range(1, width + 1))
    totals: dict[int, list[str]] = {}
    rowid = rows - 1
    while rowid >= 0 and len(totals) < MOST_TOTALS:
        if rowid not in aside:
            found = store.row(f"SELECT {cells} FROM raw_cells WHERE rowid = {rowid}")  # noqa: S608 - numbers of ours
            row = [cell or "" for cell in found]
            if not is_unlabelled_total(row, call_columns):
                break
            totals[rowid] = row
        rowid -= 1
    store.run("INSERT INTO raw_aside SELECT unnest($numbers::BIGINT[])", {"numbers": list(totals)})
    return totals


def _may_be_no_data(header: Header, report_columns: Sequence[int]) -> str:
    """SQL: every row for which ``is_not_data`` holds, and few others."""
    labels = header.labels
    row = f"concat_ws(chr(31), {', '.join(f'c{place}' for place in range(1, len(labels) + 1))})"
    footer = FOOTER.pattern.replace(r"\b", "").replace(r"\d", r"\pN").replace(r"\s", r"[\s\pZ]")
    anywhere = (
        rf"(NOT regexp_matches({row}, '[\pL\pN\pS\pP]') OR regexp_matches({row}, {literal('(?i)' + footer)}) "
        f"OR contains({row}, {literal(labels[0])}) OR contains({row}, '_x') OR contains({row}, '&'))"
    )
    # Blank rows and totals have no report date, and a header again has a name in its place.
    undated = [
        f"(c{place + 1} IS NULL OR NOT ((c{place + 1} >= '0' AND c{place + 1} < ':') "
        f"OR regexp_matches(c{place + 1}, '[0-9]')) "
        f"OR contains(c{place + 1}, {literal(labels[place].split()[0])}) "
        f"OR contains(c{place + 1}, '_x') OR contains(c{place + 1}, '&'))"
        for place in report_columns
    ]
    return " AND ".join([*undated, anywhere])


def _offer_raw(store: Store, header: Header, some_aside: bool) -> None:
    """The view ``raw``: rowids count from 0 in the order of the file."""
    aside = " WHERE rowid NOT IN (SELECT number FROM raw_aside)" if some_aside else ""
    store.run(
        f"CREATE VIEW raw AS SELECT rowid + {header.row_number + 1} AS row_number, NULL::VARCHAR AS surplus, "  # noqa: S608
        f"0::BIGINT AS missing, * FROM raw_cells{aside}"
    )
