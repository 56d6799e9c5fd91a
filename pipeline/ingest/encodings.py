"""Which encoding a text file is in: by its mark or by decoding every byte, never by a guess at its language."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from pathlib import Path

from pipeline.faults import InputFaults
from pipeline.numerals import count_text

_BLOCK = 1 << 20
_START = 4096
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]")
_NOT_UTF8 = re.compile("[\udc80-\udcff]")  # how surrogateescape shows a byte that does not fit
_AGAIN = "Export the calls again as CSV (UTF-8) or as a workbook."


def decoded_blocks(path: Path, encoding: str) -> Iterator[str]:
    """The file's text in blocks; raises UnicodeDecodeError where a byte does not fit."""
    decoder = codecs.getincrementaldecoder(encoding)()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            yield decoder.decode(block)
    yield decoder.decode(b"", final=True)


def text_encoding(path: Path, name: str) -> str:
    """The Python codec of a text file; raises InputFaults for binary, damaged or mixed content.

    UTF-8 or UTF-16 by mark; UTF-16 without a mark by its zero bytes; else strict UTF-8, else Windows-1252, else
    Latin-1. A file that is mostly UTF-8 with some bytes that are not is refused: any single choice would garble it.
    """
    with path.open("rb") as file:
        start = file.read(_START)
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return _wide(path, name, "utf-16")
    if b"\x00" in start:
        # Text in the Latin alphabet has a zero in every second byte of UTF-16; other zeros mean binary.
        even, odd = start[0::2].count(0), start[1::2].count(0)
        if max(even, odd) > 0.3 * len(start) / 2 and min(even, odd) < 0.1 * max(even, odd):
            return _wide(path, name, "utf-16-be" if even > odd else "utf-16-le")
    if _looks_binary(start):
        raise InputFaults.one(name, "is binary, not a text table.", _AGAIN)
    return _narrow(path, name, marked=start.startswith(codecs.BOM_UTF8))


def _looks_binary(start: bytes) -> bool:
    """Whether single-byte text would hold more control characters than any export does."""
    controls = bytes(code for code in range(32) if code not in b"\t\n\r\f\v\x1a\x1b")
    return len(start) - len(start.translate(None, controls)) > 0.02 * len(start)


def _wide(path: Path, name: str, encoding: str) -> str:
    lines = 1
    try:
        for text in decoded_blocks(path, encoding):
            if "\x00" in text:
                raise InputFaults.one(name, "is binary, not a text table.", _AGAIN)
            lines += text.count("\n")
    except UnicodeDecodeError as error:
        what = "breaks off in the middle of a character" if "truncated" in error.reason else "is damaged"
        raise InputFaults.one(
            f"{name}, after line {count_text(lines)}", f"is UTF-16 text that {what}.", _AGAIN
        ) from error
    return encoding


def _narrow(path: Path, name: str, marked: bool) -> str:
    if _decodes(path, name, "utf-8"):
        return "utf-8-sig" if marked else "utf-8"
    bad_line, bad_bytes, good_characters = _utf8_score(path)
    if marked or good_characters >= bad_bytes:
        raise InputFaults.one(
            f"{name}, line {count_text(bad_line)}",
            f"mixes encodings: the file is UTF-8, but not {count_text(bad_bytes)} of its bytes, the first of them "
            "there.",
            "Export it again as UTF-8, or mend that line in a text editor.",
        )
    return next(encoding for encoding in ("cp1252", "latin-1") if _decodes(path, name, encoding))


def _decodes(path: Path, name: str, encoding: str) -> bool:
    """Whether every byte decodes; raises InputFaults for a NUL, which betrays binary content."""
    try:
        holds_nul = any("\x00" in text for text in decoded_blocks(path, encoding))
    except UnicodeDecodeError:
        return False
    if holds_nul:
        line = _line_of_nul(path, encoding)
        raise InputFaults.one(
            f"{name}, line {count_text(line)}", "holds a NUL byte, which no text table does.", _AGAIN
        )
    return True


def _line_of_nul(path: Path, encoding: str) -> int:
    lines = 1
    for text in decoded_blocks(path, encoding):
        before, nul, _ = text.partition("\x00")
        lines += before.count("\n")
        if nul:
            break
    return lines


def _utf8_score(path: Path) -> tuple[int, int, int]:
    """Line of the first byte that is not UTF-8, how many such bytes, and how many good characters beyond ASCII."""
    decoder = codecs.getincrementaldecoder("utf-8")("surrogateescape")
    lines, bad_line, bad, good = 1, 0, 0, 0
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            text = decoder.decode(block)
            beyond_ascii = len(_BEYOND_ASCII.findall(text))
            found = _NOT_UTF8.findall(text)
            if found and not bad:
                bad_line = lines + text[: text.index(found[0])].count("\n")
            bad, good = bad + len(found), good + beyond_ascii - len(found)
            lines += text.count("\n")
    return bad_line, bad, good
