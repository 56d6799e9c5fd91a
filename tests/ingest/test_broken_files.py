"""What cannot be read: each file gets one sentence that names it and says what to do, and changes nothing."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter
from typer.testing import CliRunner

from pipeline.cli import app
from pipeline.faults import InputFaults
from pipeline.ingest.files import open_export
from pipeline.ingest.rows import rows_of
from pipeline.portfolio import Portfolio

from .odd_files import (
    CALLS,
    CSV,
    changed,
    claim,
    encrypted,
    in_sheet,
    make_gzip,
    make_ods,
    make_ole,
    make_xls,
    make_xlsx,
    make_zip,
    put,
)

Make = Callable[[Path], Path]
MIB = 1024**2


def _bytes(name: str, content: bytes) -> Make:
    return lambda folder: put(folder / name, content)


def _halved(make: Make) -> Make:
    def half(folder: Path) -> Path:
        path = make(folder)
        return put(path, path.read_bytes()[: path.stat().st_size // 2])

    return half


def _renamed(make: Make, name: str) -> Make:
    return lambda folder: make(folder).rename(folder / name)


def _xlsx(name: str = "calls.xlsx") -> Make:
    return lambda folder: make_xlsx(folder / name)


def _xlsx_with(old: bytes, new: bytes) -> Make:
    return lambda folder: changed(make_xlsx(folder / "calls.xlsx"), in_sheet(old, new))


def _zip(**members: bytes) -> Make:
    return lambda folder: make_zip(
        folder / "calls.zip", {name.replace("__", "."): content for name, content in members.items()}
    )


def _zip_of(members: dict[str, bytes]) -> Make:
    return lambda folder: make_zip(folder / "calls.zip", members)


def _tar(content: bytes) -> bytes:
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w") as archive:
        member = tarfile.TarInfo("calls.csv")
        member.size = len(content)
        archive.addfile(member, io.BytesIO(content))
    return whole.getvalue()


def _json(content: str, name: str = "calls.json") -> Make:
    return _bytes(name, content.encode())


def _xlsx_of_charts(folder: Path) -> Path:
    path = folder / "charts.xlsx"
    book = xlsxwriter.Workbook(path)
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "=Calls!$A$1:$A$2"})
    book.add_chartsheet("Trend").set_chart(chart)
    with pytest.warns(UserWarning, match="Unknown worksheet"):
        book.close()
    return path


def _xlsx_without_sheets(folder: Path) -> Path:
    sheet = b'<sheet name="Calls" sheetId="1" r:id="rId1"/>'
    return changed(
        make_xlsx(folder / "calls.xlsx"),
        lambda name, content: content.replace(sheet, b"") if name == "xl/workbook.xml" else content,
    )


def _xlsx_with_formula_header(folder: Path) -> Path:
    path = folder / "calls.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet()
        for number, row in enumerate(CALLS):
            page.write_row(number, 0, row)
        page.write_formula(0, 3, '="Descr"&"iption"', None, "to be cut")
    return changed(path, in_sheet(b"<v>to be cut</v>", b""))


def _xlsx_with_entity(folder: Path) -> Path:
    def change(name: str, content: bytes) -> bytes:
        if name != "xl/sharedStrings.xml":
            return content
        outside = b'<!DOCTYPE sst [<!ENTITY outside SYSTEM "file:///etc/passwd">]><sst'
        return content.replace(b"<sst", outside, 1).replace(b"Lot light", b"&outside;", 1)

    return changed(make_xlsx(folder / "calls.xlsx"), change)


def _xlsx_bomb(folder: Path) -> Path:
    rows = b'<row r="9"></row>' * (80 * MIB // 17)
    return changed(make_xlsx(folder / "calls.xlsx"), in_sheet(b"</sheetData>", rows + b"</sheetData>"))


def _xlsx_of_one_endless_row(folder: Path) -> Path:
    cells = b'<c r="B9"><v>0.123</v></c>' * (34 * MIB // 26)
    return changed(make_xlsx(folder / "calls.xlsx"), in_sheet(b"</sheetData>", b'<row r="9">' + cells))


def _lying_zip(folder: Path) -> Path:
    return claim(make_zip(folder / "calls.zip", {"calls.csv": CSV + b" " * 80 * MIB}), 1_000)


def _two_of_one_name(folder: Path) -> Path:
    path = folder / "calls.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("calls.csv", CSV)
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr("calls.csv", CSV)
    return path


def _encrypted_xlsx(folder: Path) -> Path:
    return make_ole(folder / "calls.xlsx", ["EncryptedPackage", "EncryptionInfo"])


def _link_to_nothing(folder: Path) -> Path:
    path = folder / "calls.csv"
    path.symlink_to(folder / "gone.csv")
    return path


def _folder(folder: Path) -> Path:
    path = folder / "calls.csv"
    path.mkdir()
    return path


def _wide(folder: Path) -> Path:
    names = ",".join(["Call Number", "Date Reported", "Description", *(f"Note {n}" for n in range(9_997))])
    return put(folder / "wide.csv", f"{names}\n1,2024-01-13,lamp\n".encode())


HTML = b"<html><body><table><tr><td>Call</td></tr></table></body></html>"
XML_BOOK = b'<?xml version="1.0"?><Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet"/>'
ODS_REPEATED = (
    '<table:table table:name="T"><table:table-row table:number-rows-repeated="1048576"><table:table-cell '
    'office:value-type="string" table:number-columns-repeated="16384"><text:p>x</text:p></table:table-cell>'
    "</table:table-row></table:table>"
)
ODS_PASSWORD = (
    '<manifest:file-entry manifest:full-path="content.xml" manifest:size="9"><manifest:encryption-data/>'
    "</manifest:file-entry>"
)
ODS_ENTITY = '<!DOCTYPE x [<!ENTITY outside SYSTEM "file:///etc/passwd">]>'
FAR_CELL = (b'<row r="2"', b'<row r="1000000"><c r="XFD1000000"><v>1</v></c></row><row r="2"')

# What it is, how it is made, and the words that its sentence must have: what is wrong, and what to do.
BROKEN: dict[str, tuple[Make, tuple[str, ...]]] = {
    # nothing there
    "missing": (lambda folder: folder / "calls.csv", ("does not exist", "spelling")),
    "empty": (_bytes("calls.csv", b""), ("is empty (0 bytes)", "Export it again")),
    "blank lines": (_bytes("calls.csv", b"\n \r\n\n"), ("only blank lines", "Export it again")),
    "a folder": (_folder, ("is a folder", "Give a file in it")),
    "a link to nothing": (_link_to_nothing, ("link to a file that does not exist", "Put the file itself")),
    # something else
    "PDF": (_bytes("scan.csv", b"%PDF-1.7 ..."), ("is a PDF", "Export the calls as one of .csv")),
    "PNG": (_bytes("photo.xlsx", b"\x89PNG\r\n\x1a\n...."), ("is a picture", "Export the calls")),
    "JPEG": (_bytes("photo.csv", b"\xff\xd8\xff\xe0...."), ("is a picture", "Export the calls")),
    "RTF": (_bytes("letter.txt", b"{\\rtf1 hello}"), ("is a text document", "Export the calls")),
    "program": (_bytes("export.csv", b"MZ\x90\x00...."), ("is a program", "Export the calls")),
    "Access database": (_bytes("log.csv", b"\x00\x01\x00\x00Standard Jet DB\x00"), ("Access database", "Export")),
    "7-Zip": (_bytes("calls.zip", b"7z\xbc\xaf'\x1c...."), ("is a 7-Zip archive", "Export the calls")),
    "binary": (_bytes("calls.csv", bytes(range(1, 256)) * 40), ("is binary", "Export the calls again")),
    "no ending": (_bytes("calls", CSV), ("has no ending", "Rename it to end in one of .csv")),
    "unknown ending": (_bytes("calls.docx", b"PK\x03\x04...."), ("ends in '.docx'", "Give one of .csv")),
    # another kind than the name says
    "workbook named CSV": (_xlsx("calls.csv"), ("is a workbook or archive although", "Rename it to .xlsx")),
    "CSV named workbook": (_bytes("calls.xlsx", CSV), ("is not a workbook although", "rename it to .csv")),
    "web page named XLS": (_bytes("calls.xls", HTML), ("is a web page although", "save it as .xlsx")),
    "web page named CSV": (_bytes("calls.csv", HTML), ("is a web page although", "save it as .xlsx")),
    "XML named XLS": (_bytes("calls.xls", XML_BOOK), ("is an XML file although", "save it as .xlsx")),
    "XLS named XLSX": (
        lambda folder: make_xls(folder / "calls.xlsx"), ("workbook of the old kind although", "Rename it to .xls."),
    ),
    "XLSX named XLS": (_xlsx("calls.xls"), ("of the kind .xlsx although", "Rename it to .xlsx")),
    "ODS named XLSX": (lambda folder: make_ods(folder / "calls.xlsx"), ("of the kind .ods", "Rename it to .ods")),
    "XLSB named XLSX": (
        _renamed(_zip_of({"xl/workbook.bin": b"x"}), "calls.xlsx"), ("binary workbook (.xlsb)", "Save it as .xlsx"),
    ),
    "DOCX named XLSX": (
        _renamed(_zip_of({"word/document.xml": b"x"}), "calls.xlsx"), ("is a text document", "Save it as .xlsx"),
    ),
    "zip named XLSX": (_renamed(_zip(notes__md=b"x"), "calls.xlsx"), ("without the parts of one", "Unpack it")),
    "gzip named CSV": (
        lambda folder: make_gzip(folder / "calls.csv", CSV), ("is a gzip archive although", "Rename it"),
    ),
    "CSV named gzip": (_bytes("calls.csv.gz", CSV), ("is not a gzip archive although", "Rename it")),
    "CSV named zip": (_bytes("calls.zip", CSV), ("is not a zip archive although", "rename it")),
    # damaged text
    "NUL byte": (_bytes("calls.csv", CSV + b"3,2024-01-14,Elm\x00,out\n"), ("line 4: holds a NUL byte", "again")),
    "half a UTF-16 character": (
        _bytes("calls.csv", CSV.decode().encode("utf-16")[:-1]), ("breaks off in the middle of a character", "again"),
    ),
    "UTF-16 half a pair": (
        _bytes("calls.csv", CSV.decode().encode("utf-16") + b"\x00\xdc\x0a\x00"),
        ("UTF-16 text that is damaged", "again"),
    ),
    "mixed encodings": (
        _bytes("calls.csv", CSV + "3,2024-01-14,Él,out\n".encode() + "4,2024-01-15,Él,out\n".encode("cp1252")),
        ("line 5: mixes encodings", "mend that line"),
    ),
    "one column": (_bytes("calls.csv", b"just\nsome\nlines\n"), ("only one column", "comma-separated table")),
    "unclosed quote": (
        _bytes("calls.csv", CSV + b'3,2024-01-14,"Elm,out\n4,2024-01-15,Elm,out\n'),
        ("row 4", "never ends", "Mend the quotation marks"),
    ),
    "quote inside a quoted cell": (
        _bytes("calls.csv", CSV + b'3,2024-01-14,Elm,"12" pole down"\n'), ("row 4", "without being doubled", "Mend"),
    ),
    "another delimiter stated": (_bytes("calls.csv", b"sep=^\nA^B\n1^2\n"), ("row 1: names '^'", "one of these")),
    "no header": (_bytes("calls.csv", b"1,2\n2,3\n2024-01-02,3\n"), ("no row of column names", "with a header")),
    "header only": (_bytes("calls.csv", CSV.splitlines(True)[0]), ("has a header but no rows", "Export it again")),
    "10,000 columns": (_wide, ("columns; 2", "Export fewer columns")),
    # damaged, protected or oversized workbooks
    "XLSX cut short": (_halved(_xlsx()), ("is a damaged workbook", "Export it again")),
    "XLSX with damaged XML": (_xlsx_with(b"</sheetData>", b"</sheetDa"), ("is a damaged workbook", "save it as .xlsx")),
    "XLSX without its sheet": (
        lambda folder: changed(make_xlsx(folder / "calls.xlsx"), lambda n, c: None if "sheet1" in n else c),
        ("sheet Calls: is a damaged workbook", "save it as .xlsx"),
    ),
    "XLSX without sheets": (_xlsx_without_sheets, ("holds no sheet", "one row for each call")),
    "XLSX of charts": (_xlsx_of_charts, ("only charts or macros", "one row for each call")),
    "XLSX with a password": (_encrypted_xlsx, ("protected by a password", "without a password")),
    "XLSX in an encrypted archive": (lambda folder: encrypted(make_xlsx(folder / "calls.xlsx")), ("by a password",)),
    "XLSX with a formula for a header": (_xlsx_with_formula_header, ("cell D1: holds a formula", "save it")),
    "XLSX that asks for a file": (_xlsx_with_entity, ("is a damaged workbook", "save it as .xlsx")),
    "XLSX with a far cell": (_xlsx_with(*FAR_CELL), ("16 384 columns", "Delete stray cells")),
    "XLSX bomb": (_xlsx_bomb, ("unpacks to over 200 times its size", "look at it")),
    "XLSX of one endless row": (_xlsx_of_one_endless_row, ("a row of it does not end", "save it as CSV")),
    "XLS of its first bytes": (
        _bytes("calls.xls", b"\xd0\xcf\x11\xe0" + bytes(1_000)),
        ("calls.xls: is a damaged workbook.", "save it as .xlsx"),
    ),
    "XLS cut short": (
        _halved(lambda folder: make_xls(folder / "calls.xls")), ("is a damaged workbook", "save it as .xlsx"),
    ),
    "ODS with a password": (
        lambda folder: make_ods(folder / "calls.ods", manifest=ODS_PASSWORD), ("by a password", "without one"),
    ),
    "ODS with damaged XML": (
        lambda folder: make_ods(folder / "calls.ods", "<table:table"), ("is a damaged workbook", "save it as CSV"),
    ),
    "ODS that asks for a file": (
        lambda folder: make_ods(folder / "calls.ods", prolog=ODS_ENTITY), ("declares XML entities", "Export it again"),
    ),
    "ODS bomb": (lambda folder: make_ods(folder / "calls.ods", ODS_REPEATED), ("16 384 columns", "Delete stray cells")),
    # archives
    "gzip cut short": (
        _halved(lambda folder: make_gzip(folder / "calls.csv.gz", CSV)), ("damaged archive (breaks off)", "again"),
    ),
    "gzip of a zip": (
        lambda folder: make_gzip(folder / "calls.zip.gz", b"PK\x03\x04"), ("archive inside an archive", "Unpack it"),
    ),
    "tar in a gzip": (
        lambda folder: make_gzip(folder / "calls.tar.gz", _tar(CSV)), ("is a tar archive", "Unpack it"),
    ),
    "nothing in a gzip": (
        lambda folder: make_gzip(folder / "calls.csv.gz", b""), ("calls.csv.gz/calls.csv: is empty", "again"),
    ),
    "gzip of a gzip": (
        lambda folder: make_gzip(folder / "calls.gz", b"\x1f\x8b\x08"), ("archive inside an archive", "Unpack it"),
    ),
    "gzip bomb": (
        lambda folder: make_gzip(folder / "calls.csv.gz", CSV + b" " * 80 * MIB),
        ("over 200 times its size", "look at it"),
    ),
    "zip cut short": (_halved(_zip(calls__csv=CSV)), ("is a damaged archive", "pack it again")),
    "zip in a zip": (_zip(more__zip=b"PK"), ("calls.zip/more.zip", "archive inside an archive", "Unpack it")),
    "zip without a table": (_zip(photo__jpg=b"x"), ("holds no table (only photo.jpg)", "Put the export into it")),
    "zip of nothing": (_zip(), ("holds no table (nothing)", "Put the export into it")),
    "zip that points outside": (_zip_of({"../calls.csv": CSV}), ("outside of itself ('../calls.csv')", "Ask where")),
    "zip with a root path": (_zip_of({"/tmp/calls.csv": CSV}), ("outside of itself", "Ask where it comes from")),
    "zip with a drive": (_zip_of({"C:\\calls.csv": CSV}), ("outside of itself", "Ask where it comes from")),
    "zip with a password": (lambda folder: encrypted(_zip(calls__csv=CSV)(folder)), ("by a password", "Unpack it")),
    "zip bomb": (_zip(calls__csv=b" " * 80 * MIB), ("calls.zip/calls.csv", "over 200 times its size")),
    "zip that lies": (_lying_zip, ("calls.zip/calls.csv", "over 200 times its size")),
    "zip of two of one name": (_two_of_one_name, ("two files called 'calls.csv'", "Pack it again")),
    "zip with a broken table": (_zip(a__csv=CSV, b__csv=b"%PDF"), ("calls.zip/b.csv: is a PDF", "Export")),
    # JSON
    "JSON number": (_json("17"), ("object 1: is not an object", "one object a line")),
    "JSON of one name": (_json('{"Call": 1}'), ("without two named values", "under its column's name")),
    "JSON array of numbers": (_json("[1, 2]"), ("object 1: is not an object", "one object a line")),
    "JSON cut short": (_json('[{"Call": 1}, {"Call": '), ("object 2: is no well-formed JSON or breaks off",)),
    "JSON array without its end": (_json('[{"Call": 1}'), ("object 2: is missing", "closing bracket")),
    "JSON without a comma": (_json('[{"Call": 1} {"Call": 2}]'), ("object 2: does not follow a comma",)),
    "JSON with more after it": (_json('[{"Call": 1}] {"Call": 2}'), ("object 2: follows the end of the array",)),
    "JSON with a name twice": (_json('{"Call": 1, "Call": 2}'), ("object 1: has the name 'Call' twice",)),
    "JSON that wraps the list": (_json('{"calls": [{"Call": 1}]}'), ("wraps a list ('calls')", "Export one array")),
    "JSON of nothing": (_json("[]"), ("holds no object", "Export one array")),
    "JSON nested deep": (_json('{"a":' * 10_000 + "1" + "}" * 10_000), ("object 1: is nested too deep",)),
    "JSON nested 30 deep": (_json('{"a":' * 30 + "1" + "}" * 30), ("object 1: is nested too deep",)),
    "JSON with too many names": (
        _json(json.dumps([{f"n{place}": 1 for place in range(2_001)}])), ("columns to over 2 000", "Export fewer"),
    ),
    "JSON line that is none": (_json('{"Call": 1}\n{"Call" 2}\n', "calls.jsonl"), ("object 2: is no well-formed",)),
}  # fmt: skip


@pytest.mark.parametrize(("make", "words"), BROKEN.values(), ids=list(BROKEN))
def test_a_broken_file_gets_one_sentence_and_exit_1(
    portfolio: Portfolio, tmp_path: Path, make: Make, words: tuple[str, ...]
) -> None:
    given = tmp_path / "given"
    given.mkdir()
    path = make(given)
    before = path.read_bytes() if path.is_file() else None
    result = CliRunner().invoke(app, ["layout", str(portfolio.folder), str(path), "--accept"])
    said = " ".join(result.output.split())
    assert result.exit_code == 1, said
    assert said.count(path.name) >= 1
    for word in words:
        assert word in said, said
    # One sentence of what is wrong and one of what to do; no traceback, nothing saved, nothing changed.
    assert "Traceback" not in said
    assert len([line for line in result.output.splitlines() if line.strip()]) <= 6
    assert not list(portfolio.layouts.glob("*"))
    assert not list(portfolio.calls.glob("*"))
    assert (path.read_bytes() if path.is_file() else None) == before


def test_there_are_over_forty_kinds_of_broken_files() -> None:
    assert len(BROKEN) > 40
    assert len({words for _, words in BROKEN.values()}) > 40


def test_a_build_tells_all_broken_files_at_once_and_loses_none(portfolio: Portfolio) -> None:
    put(portfolio.calls / "a.csv", b"%PDF-1.7")
    make_zip(portfolio.calls / "b.zip", {"one.csv": b"", "two.json": b"17"})
    (portfolio.calls / "c.csv").symlink_to("gone.csv")
    result = CliRunner().invoke(app, ["build", str(portfolio.folder)])
    said = " ".join(result.output.split())
    assert result.exit_code == 1
    for place in (
        "calls/a.csv: is a PDF",
        "calls/b.zip/one.csv: is empty",
        "calls/b.zip/two.json, object 1",
        "calls/c.csv",
    ):
        assert place in said
    assert not (portfolio.built / "current").exists()


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0,
    reason="the superuser may read every file, permissions or not",
)
def test_a_file_without_permission_is_told(tmp_path: Path) -> None:
    path = put(tmp_path / "calls.csv", CSV)
    path.chmod(0)
    with pytest.raises(InputFaults, match=r"calls\.csv: cannot be read .*Check its permissions"):
        open_export(path)


def test_a_file_that_changes_while_it_is_read_is_told(tmp_path: Path) -> None:
    path = put(tmp_path / "calls.csv", CSV)
    rows = rows_of(open_export(path))
    next(rows)
    put(path, CSV + b"3,2024-01-14,Elm,out\n")
    with pytest.raises(InputFaults, match=r"calls\.csv: changed or went away .*try again"):
        list(rows)


def test_a_file_that_goes_away_before_it_is_read_is_told(tmp_path: Path) -> None:
    path = put(tmp_path / "calls.csv", CSV)
    export = open_export(path)
    path.unlink()
    with pytest.raises(InputFaults, match=r"calls\.csv: changed or went away .*try again"):
        list(rows_of(export))


def test_nothing_of_an_archive_is_written_where_its_names_point(tmp_path: Path) -> None:
    inside = tmp_path / "deep" / "inside"
    inside.mkdir(parents=True)
    path = make_zip(inside / "calls.zip", {"../../stray.csv": CSV, "calls.csv": CSV})
    with pytest.raises(InputFaults, match="outside of itself"):
        open_export(path)
    assert sorted(found.name for found in tmp_path.rglob("*")) == ["calls.zip", "deep", "inside"]


def test_what_was_unpacked_goes_with_the_export(tmp_path: Path) -> None:
    export = open_export(make_gzip(tmp_path / "calls.csv.gz", CSV))
    copy = export.path
    assert copy.exists()
    assert copy.stat().st_mode & 0o077 == 0 or copy.parent.stat().st_mode & 0o077 == 0
    del export
    assert not copy.exists()


_READ_BOUNDED = """
import sys
from pathlib import Path
from pipeline.faults import InputFaults
from pipeline.ingest.files import open_export
from pipeline.ingest.rows import rows_of

def most_kib():
    # The kernel's high-water mark of this program alone; getrusage would carry the parent's over.
    return int(next(line for line in open("/proc/self/status") if line.startswith("VmHWM")).split()[1])

before = most_kib()
try:
    for _ in rows_of(open_export(Path(sys.argv[1]))):
        pass
    print("was read")
except InputFaults as faults:
    print(faults)
print((most_kib() - before) // 1024)
"""

LARGE: dict[str, tuple[Make, str, int]] = {
    # How it is made, what is said, and the most MiB that reading it may add (the texts unpack to 50 MiB or more).
    "a quoted cell of 50 MiB": (
        _bytes("calls.csv", CSV + b'3,2024-01-14,Elm,"' + b"lamp out\n" * (50 * MIB // 9) + b'"\n'),
        "row 4", 80,
    ),
    "a line of 50 MiB": (
        _bytes("calls.csv", CSV + b"3,2024-01-14,Elm," + b"x" * 50 * MIB + b"\n"), "line 4", 30,
    ),
    "a file of 100 MiB without a line end": (_bytes("calls.csv", b"a,b," * 25 * MIB), "line 1", 30),
    "a JSON value of 50 MiB": (
        _json('[{"Call": "1"}, {"Call": "' + "x" * 50 * MIB + '"}]'), "object 2", 160,
    ),
    "a gzip bomb of 200 MiB": (
        lambda folder: make_gzip(folder / "calls.csv.gz", CSV + b"1,2,3\n" * (200 * MIB // 6)), "200 times", 30,
    ),
    "a sheet that claims every cell": (_xlsx_with(*FAR_CELL), "16 384 columns", 30),
}  # fmt: skip


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is measured through Linux's /proc")
@pytest.mark.parametrize(("make", "word", "most_mib"), LARGE.values(), ids=list(LARGE))
def test_memory_stays_bounded(tmp_path: Path, make: Make, word: str, most_mib: int) -> None:
    path = make(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", _READ_BOUNDED, str(path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    said, added_mib = done.stdout.rsplit("\n", 2)[:2]
    assert path.name in said
    assert word in " ".join(said.split())
    assert int(added_mib) <= most_mib, f"{added_mib} MiB"
