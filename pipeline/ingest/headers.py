"""Where the header stands, what its columns are called, and which rows below it are not data."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pipeline.faults import InputFaults
from pipeline.ingest.remnants import without_remnants
from pipeline.ingest.rows import Row

ROWS_SEARCHED = 40
# So many rows of figures at a file's end may be totals without a label.
MOST_TOTALS = 5
# What stands under a group's name, beside the names of whole columns (common usage, no source).
_UNDER_GROUPS = frozenset(
    {"no", "number", "nr", "id", "code", "name", "type", "tag", "date", "day", "time", "hour", "hours", "hrs", "from",
     "to", "in", "out", "cost", "amount", "datum", "zeit", "uhrzeit", "stunden", "fecha", "hora", "numero",
     "heure", "jour"}
)  # fmt: skip
FOOTER = re.compile(
    r"(?:grand |sub ?|report )?totals?\b|(?:sum|count|average|summe|gesamt|gesamtsumme|somme|suma)\b"
    r"|page \d|end of (?:report|file|list)"
    r"|report (?:generated|run|printed|date)|(?:printed|generated|exported|run) (?:on|by|at)\b"
    r"|(?:number of )?(?:records?|rows?)\s*[:=]|\d[\d,]* (?:records?|rows?|work orders?)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Header:
    """A header: the row it stands in, counted from 1, and its columns' names, each different."""

    row_number: int
    labels: tuple[str, ...]


def no_header(name: str, objects: bool) -> InputFaults:
    """The fault of a file in which no header is found; ``objects``: of JSON, whose names are the header."""
    if objects:
        return InputFaults.one(
            name,
            "holds objects without two named values, such as a date and a text.",
            "Export one object for each row, each value under its column's name.",
        )
    return InputFaults.one(
        name,
        f"shows no row of column names within its first {ROWS_SEARCHED} rows.",
        "Export it with a header, one name over each column.",
    )


def column_labels(cells: Sequence[str]) -> tuple[str, ...]:
    """Names of the columns: trimmed, line breaks as spaces; blank ones numbered, repeated ones told apart."""
    names = [" ".join(without_remnants(cell).split()) for cell in cells]
    while names and not names[-1]:
        names.pop()
    labels: dict[str, None] = {}
    repeats: dict[str, int] = {}
    for place, name in enumerate(names, start=1):
        label = plain = name or f"column {place}"
        while label in labels:
            repeats[plain] = repeats.get(plain, 1) + 1
            label = f"{plain} ({repeats[plain]})"
        labels[label] = None
    return tuple(labels)


def find_header(first_rows: Sequence[Row], known: Collection[tuple[str, ...]]) -> Header | None:
    """The first row, or two rows of group and column names, that is exactly a known header."""
    for number, cells in _candidates(first_rows):
        labels = column_labels(cells)
        if labels and labels in known:
            return Header(number, labels)
    return None


def guess_header(first_rows: Sequence[Row], recognised: Collection[str] = ()) -> Header | None:
    """The likeliest header: wide, all words, most of them names in ``recognised`` (normalised column names).

    A title row above it has one or two cells filled; a data row below it holds dates and numbers. Where a row of
    group names stands over a row of column names, both are the header.
    """
    widest = max((sum(bool(cell.strip()) for cell in cells) for _, cells in first_rows), default=0)
    best, best_score = None, 0.0
    for number, cells in _candidates(first_rows):
        filled = [cell.strip() for cell in cells if cell.strip()]
        if len(filled) < max(2, 0.6 * widest) or any(not _is_name(cell) for cell in filled):
            continue
        if isinstance(cells, _Grouped) and not cells.are_names(recognised):
            continue
        share_known = sum(normalised(cell) in recognised for cell in filled) / len(filled)
        score = share_known + 0.3 * len(set(filled)) / widest
        # Two rows that make one header count before either of them alone: the upper is as wide, the lower as good.
        as_good = isinstance(cells, _Grouped) and best and (best.row_number < number or score == best_score)
        if score > best_score or as_good:
            best, best_score = Header(number, column_labels(cells)), max(score, best_score)
    return best


class _Grouped(list[str]):
    """Cells of a header in two rows, group and column name joined.

    ``doubted``: the lower row, where it could as well be data under a complete header.
    """

    def __init__(self, cells: Sequence[str], doubted: Sequence[str] = ()) -> None:
        super().__init__(cells)
        self._doubted = doubted

    def are_names(self, recognised: Collection[str]) -> bool:
        """Whether the lower row holds names of columns: in doubt, most of its cells must be known ones."""
        lower = [normalised(cell) for cell in self._doubted if cell]
        return 2 * sum(name in recognised or name in _UNDER_GROUPS for name in lower) >= len(lower)


def _candidates(first_rows: Sequence[Row]) -> Iterator[Row]:
    """Each row, and after it, where it stands under a row of group names, the two as one."""
    above: Sequence[str] = ()
    for number, cells in first_rows:
        yield number, cells
        joined = _joined(above, cells)
        if joined:
            yield number, joined
        above = cells


def _joined(above: Sequence[str], below: Sequence[str]) -> _Grouped | None:
    """Group names over column names as one row (``Dates In``, ``Dates Out``); None where they are no such pair.

    A group name stands over all its columns (a merged cell) or over the first of them, blank over the others. Where a
    column in no group is named in both rows, too, the lower one is in doubt.
    """
    upper = [" ".join(cell.split()) for cell in above]
    lower = [" ".join(cell.split()) for cell in below]
    if not any(lower) or not all(_is_name(cell) for cell in (*upper, *lower) if cell):
        return None
    width = max(len(upper), len(lower))
    upper += [""] * (width - len(upper))
    lower += [""] * (width - len(lower))
    found = _over_groups(upper, lower)
    if found is None:
        return None
    groups, is_doubted = found
    joined = [f"{group} {name}".strip() for group, name in zip(groups, lower, strict=True)]
    return _Grouped(joined, lower if is_doubted else ())


def _over_groups(upper: list[str], lower: list[str]) -> tuple[list[str], bool] | None:
    """The upper row with each group's name over all its columns, and whether the lower row may be data.

    None where the lower row is no row of their names. A group of one column cannot be told from a row of data under a
    complete header.
    """
    if any(here and here == following for here, following in pairwise(upper)):
        members = [place for place, name in enumerate(upper) if name and _stretches(upper, place)]
        alone = [place for place, name in enumerate(upper) if name and place not in members]
        whole = all(lower[place] for place in members) and any(map(_is_one_only, upper, lower))
        # A title merged over every column is no group.
        return (upper, any(lower[place] for place in alone)) if whole and len(members) < len(upper) else None
    groups, group, grouped = list(upper), "", False
    for place, name in enumerate(upper):
        if name:
            group = name if lower[place] else ""
        elif lower[place] and group:
            groups[place], grouped = group, True
    lone = any(
        upper[place] and lower[place] and not _continues(upper, lower, place) for place in range(len(upper))
    )
    some_alone = any(upper[place] and not lower[place] for place in range(len(upper)))
    return (groups, lone) if grouped and some_alone else None


def _is_one_only(one: str, other: str) -> bool:
    return bool(one) != bool(other)


def _stretches(upper: list[str], place: int) -> bool:
    return upper[place] in (
        upper[place - 1] if place else "",
        upper[place + 1] if place + 1 < len(upper) else "",
    )


def _continues(upper: list[str], lower: list[str], place: int) -> bool:
    """Whether the group that begins here has a second column."""
    return place + 1 < len(upper) and not upper[place + 1] and bool(lower[place + 1])


def normalised(name: str) -> str:
    """A column's name as lower-case words: ``WORK_ORDER#`` and ``WorkOrder No.`` both begin ``work order``."""
    spaced = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", name).replace("#", " number ")
    return " ".join(re.findall(r"[^\W_]+", spaced.lower()))


def _is_name(cell: str) -> bool:
    """Whether a cell can be a column's name: has a letter, is short, and is no date or number."""
    return len(cell) <= 80 and any(letter.isalpha() for letter in cell) and not re.match(r"\d+[-/.:]\d", cell)


def is_not_data(cells: Sequence[str], labels: tuple[str, ...], report_columns: Sequence[int]) -> bool:
    """Whether a row below the header is blank, the header again, or a total or footnote.

    A row with anything in its report-date columns is always data.
    """
    filled = [cell for cell in cells if cell and not cell.isspace()]
    if not filled:
        return True
    if filled[0].strip() == labels[0] and column_labels(cells) == labels:
        return True
    # A total's other cells are figures: a row with more words is somebody's text.
    if not FOOTER.match(filled[0].strip()) or any(letter.isalpha() for cell in filled[1:] for letter in cell):
        return False
    dated = any(place < len(cells) and cells[place].strip() for place in report_columns)
    return not dated


def is_unlabelled_total(cells: Sequence[str], call_columns: Sequence[int]) -> bool:
    """Whether a row may be a total without a label: figures alone, and nothing where a call says what it is.

    ``call_columns``: places of the columns that tell a call; without any, no row is taken for a total.
    """
    if not call_columns or any(place < len(cells) and cells[place].strip() for place in call_columns):
        return False
    signs = "".join(cells)
    return any(sign.isdigit() for sign in signs) and not any(sign.isalpha() for sign in signs)
