"""What a file is: every kind that cannot be read is refused in one sentence that names it."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from pipeline.faults import InputFaults
from pipeline.ingest.files import open_export
from pipeline.ingest.rows import rows_of

from .making import write_csv, write_xlsx

ROWS = [["Call", "Date", "Text"], ["1", "2024-01-02", "lamp out"], ["2", "2024-01-03", "lamp on"]]


def _refusal(path: Path) -> str:
    with pytest.raises(InputFaults) as caught:
        open_export(path)
    assert len(caught.value.faults) == 1
    assert path.name in str(caught.value)
    assert caught.value.faults[0].remedy
    return str(caught.value)


def test_a_missing_file_is_said_to_be_missing(tmp_path: Path) -> None:
    assert "does not exist" in _refusal(tmp_path / "nowhere.csv")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("empty.csv", b"", "is empty (0 bytes)"),
        ("blank.csv", b"\n \r\n\n", "only blank lines"),
        ("binary.csv", bytes(range(256)) * 40, "binary"),
        ("controls.txt", b"a,b\n" + bytes(range(1, 9)) * 60, "binary"),
        ("scan.csv", b"%PDF-1.7 ...", "is a PDF"),
        ("photo.xlsx", b"\x89PNG\r\n\x1a\n....", "is a picture"),
        ("log.csv", b"\x1f\x8b\x08\x00....", "gzip"),
        ("calls.docx", b"PK\x03\x04....", "ends in '.docx'"),
        ("book.csv", b"PK\x03\x04....", "is a workbook or archive although its name ends in .csv"),
        ("old.csv", b"\xd0\xcf\x11\xe0....", "is a workbook or archive"),
        ("page.xls", b"<html><table><tr><td>1</td></tr></table></html>", "is a web page"),
        ("text.xlsx", b"Call,Date\n1,2024-01-02\n", "is not a workbook although its name ends in .xlsx"),
        ("cut.xlsx", b"PK\x03\x04 and then nothing of use", "damaged workbook"),
        ("one.csv", b"just\nsome\nlines\n", "has only one column"),
    ],
)
def test_what_is_no_export_is_refused_and_named(tmp_path: Path, name: str, content: bytes, said: str) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert said in _refusal(path)


def test_a_zip_that_is_no_workbook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "archive.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("notes.txt", "nothing")
    assert "damaged workbook" in _refusal(path)


def test_a_workbook_that_unpacks_beyond_the_limit_is_not_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pipeline.ingest.workbook_parts.LARGEST_UNPACKED_BYTES", 1000)
    assert "would unpack to more than" in _refusal(write_xlsx(tmp_path / "bomb.xlsx", ROWS))


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found(tmp_path: Path, delimiter: str) -> None:
    export = open_export(write_csv(tmp_path / "calls.csv", ROWS, delimiter=delimiter))
    assert export.text is not None
    assert export.text.delimiter == delimiter
    assert [cells for _, cells in rows_of(export)] == ROWS


def test_decimal_commas_are_no_delimiters_though_broken_texts_make_the_rows_uneven(tmp_path: Path) -> None:
    row = "7;05.01.2023;Halle Nord;Lampe{};1,50;20,00\n"
    lines = [
        "Nr.;Datum;Gebäude;Störung;Std.;Kosten\n",
        *(row.format(end) for end in ("", "\nzweite Zeile") * 3),
    ]
    path = tmp_path / "calls.csv"
    path.write_text("".join(lines), encoding="utf-8")
    export = open_export(path)
    assert export.text is not None
    assert export.text.delimiter == ";"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_text_comes_back_in_every_encoding(tmp_path: Path, encoding: str) -> None:
    rows = [*ROWS, ["3", "2024-01-04", "façade lamp – naïve “quote”"]]
    export = open_export(write_csv(tmp_path / "calls.csv", rows, encoding=encoding))
    assert [cells for _, cells in rows_of(export)] == rows


def test_bytes_that_are_neither_utf8_nor_windows_text_are_read_as_latin1(tmp_path: Path) -> None:
    path = tmp_path / "calls.csv"
    path.write_bytes(b"Call,Text\n1,\x81\xe9\n")
    export = open_export(path)
    assert export.text is not None
    assert export.text.encoding == "latin-1"


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_every_line_end_is_a_line_end(tmp_path: Path, ending: str) -> None:
    export = open_export(write_csv(tmp_path / "calls.csv", ROWS, lineterminator=ending))
    assert export.text is not None
    assert export.text.lines == len(ROWS)
    assert [cells for _, cells in rows_of(export)] == ROWS
