"""Lines of cells from an Excel workbook (xlsx). Nothing in it is run.

A workbook is a packed folder: what it says it unpacks to and what it does unpack to are both
bounded before anything of it is read.
"""

import io
import lzma
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from programs.enrolment.calc.lists.delimited import MAX_CELL, MAX_COLUMNS, MAX_ROWS, Line
from programs.enrolment.calc.lists.letters import UnreadableFile

MAX_UNPACKED = 40 * 1024 * 1024
MAX_RATIO = 200  # of a part larger than a megabyte; real sheets pack 10 to 30 times
MAX_PARTS = 500
# What unpacking raises on a damaged, cut off or locked folder.
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    ValueError,
    OSError,
    NotImplementedError,
    RuntimeError,
)
MAX_BLANK = 2000  # lines in a row; nothing behind them is passed over unread
WORKBOOK = "xl/workbook.xml"
_DIGITS = re.compile(r"0+")


@dataclass(frozen=True)
class Sheet:
    name: str
    lines: list[Line]
    counts_from_1904: bool


def is_workbook(data: bytes) -> bool:
    """Whether the bytes are a packed folder with a workbook in it."""
    if data[:4] != b"PK\x03\x04":
        return False
    try:
        return WORKBOOK in zipfile.ZipFile(io.BytesIO(data)).namelist()
    except DAMAGED:
        return False


def read_sheets(data: bytes) -> list[Sheet]:
    """Every visible sheet that holds at least two lines.

    Raises
    ------
    UnreadableFile : it unpacks to too much, is damaged, or holds no such sheet.
    """
    refuse_bomb(data)
    import openpyxl  # a tenth of a second, for those who send a workbook only

    try:
        values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
        found = [
            Sheet(sheet.title, lines, values.epoch.year == 1904)
            for sheet in values.worksheets
            if sheet.sheet_state == "visible"
            and len(lines := _lines(sheet, formulas[sheet.title])) > 1
        ]
    except UnreadableFile:
        raise
    except Exception as error:  # whatever a damaged part makes of the library
        raise UnreadableFile(
            "The workbook is damaged or of an unknown kind. Open it and save it anew as xlsx."
        ) from error
    if not found:
        raise UnreadableFile("The workbook holds no sheet with a list of people.")
    return found


def refuse_bomb(data: bytes) -> None:
    """Raise UnreadableFile where the parts unpack to more than a list can be, or hold entities."""
    try:
        packed = zipfile.ZipFile(io.BytesIO(data))
        parts = packed.infolist()
        if len(parts) > MAX_PARTS:
            raise UnreadableFile(f"The workbook has {len(parts)} parts; at most {MAX_PARTS}.")
        left = MAX_UNPACKED
        for part in parts:
            ratio = part.file_size / max(1, part.compress_size)
            if part.file_size > left or (part.file_size > 1_000_000 and ratio > MAX_RATIO):
                _refuse_unpacked()
            left -= _unpack(packed, part, left)
    except DAMAGED as error:
        if isinstance(error, UnreadableFile):
            raise
        raise UnreadableFile("The workbook is damaged or locked; send it anew.") from error


def _unpack(packed: zipfile.ZipFile, part: zipfile.ZipInfo, left: int) -> int:
    """The real size of a part, read in pieces and never beyond what is left."""
    size, is_xml = 0, part.filename.endswith((".xml", ".rels"))
    with packed.open(part) as file:
        while piece := file.read(64 * 1024):
            size += len(piece)
            if size > left:
                _refuse_unpacked()
            if is_xml and size <= 128 * 1024 and (b"<!DOCTYPE" in piece or b"<!ENTITY" in piece):
                raise UnreadableFile("The workbook defines entities; no list needs them.")
    return size


def _refuse_unpacked() -> None:
    raise UnreadableFile(
        f"This workbook unpacks to more than {MAX_UNPACKED // 1024 // 1024} MB; no referral list "
        "does. Nothing was read. Is it the right file?"
    )


def _lines(sheet: Any, formulas: Any) -> list[Line]:
    found = []
    for number, (cells, raw) in enumerate(_pairs(sheet, formulas), 1):
        texts = [_text(cell, raw[n] if n < len(raw) else None) for n, cell in enumerate(cells)]
        if len(texts) > MAX_COLUMNS and any(texts[MAX_COLUMNS:]):
            raise UnreadableFile(
                f"Sheet {sheet.title}, line {number} has more than {MAX_COLUMNS} columns. Is it "
                "the right file?"
            )
        if any(texts):
            found.append(Line(number, texts[:MAX_COLUMNS]))
        if number - (found[-1].number if found else 0) > MAX_BLANK:
            raise UnreadableFile(
                f"Sheet {sheet.title} goes on for more than {MAX_BLANK} blank lines before line "
                f"{number}. Copy the list to a sheet of its own."
            )
        if len(found) > MAX_ROWS + 200:
            raise UnreadableFile(
                f"Sheet {sheet.title} has more than {MAX_ROWS} rows, the most at once."
            )
    return found


def _pairs(sheet: Any, formulas: Any) -> Iterator[tuple[Any, Any]]:
    """Rows with the values kept in the file, beside the same rows with their formulas."""
    wide = {"max_col": MAX_COLUMNS + 1}
    for one in (sheet, formulas):
        one.reset_dimensions()  # what a sheet says of its own size is not trusted
    return zip(sheet.iter_rows(**wide), formulas.iter_rows(**wide), strict=False)


def _text(cell: Any, raw: Any) -> str:
    """A cell as a person reads it on the sheet; a formula never calculated stays its own text."""
    value = cell.value
    if value is None:
        is_formula = raw is not None and raw.data_type == "f"
        return str(raw.value)[:MAX_CELL] if is_formula else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        is_day = value.time() == time.min
        return value.date().isoformat() if is_day else value.isoformat(" ", "minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return _number(value, str(cell.number_format))
    text = str(value).strip().strip("\ufeff\u00a0\u200b").strip()
    if len(text) > MAX_CELL:
        raise UnreadableFile(f"A cell has more than {MAX_CELL} letters. Is it the right file?")
    return text


def _number(value: float, shown: str) -> str:
    """Leading zeros and per cents are part of what a person sees."""
    if _DIGITS.fullmatch(shown) and value == int(value):
        return f"{int(value):0{len(shown)}}"
    if shown.endswith("%"):
        return f"{value * 100:.10g} %"
    return f"{int(value)}" if value == int(value) else f"{value:.15g}"
