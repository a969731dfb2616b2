"""From the bytes a hospital sends to letters.

Which encodings are tried, and in which order, is a project choice.
"""

import codecs
from dataclasses import dataclass

MAX_BYTES = 5 * 1024 * 1024
_MARKS = [
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
]
# First bytes of what is no text, and what to do about it.
_OTHER_KINDS = [
    (b"%PDF", "a PDF. Ask for the table itself as CSV or as an Excel workbook (xlsx)"),
    (
        b"\xd0\xcf\x11\xe0",
        "an old or a locked Excel workbook. Open it, save it as xlsx without a password or as CSV",
    ),
    (b"PK\x03\x04", "a packed file and no Excel workbook (xlsx). Save the list as xlsx or as CSV"),
    (b"\x1f\x8b", "a packed file. Unpack it first"),
    (b"\x89PNG", "a picture. Ask for the table itself as CSV or as an Excel workbook (xlsx)"),
    (b"{\\rtf", "a document of a word processor. Ask for the table as CSV or as xlsx"),
    (b"<", "a web page or XML. Open it in a spreadsheet and save it as xlsx or as CSV"),
    (b"\xff\xd8\xff", "a picture. Ask for the table itself as CSV or as an Excel workbook (xlsx)"),
]


class UnreadableFile(ValueError):
    """The file as a whole cannot be taken; the message says why and what is accepted."""


@dataclass(frozen=True)
class Letters:
    """A text, and the lines of it whose bytes were in another encoding than the rest."""

    text: str
    encoding: str
    odd_lines: frozenset[int] = frozenset()  # counted from 1


def refuse_size(size: int) -> None:
    """Refuse a file over the limit before anything of it is read.

    Parameters
    ----------
    size : size of the file. [bytes], at most 5 242 880 (5 MB)

    Raises
    ------
    UnreadableFile : the file is larger.
    """
    if size > MAX_BYTES:
        raise UnreadableFile(
            f"This file is {size / 1024 / 1024:.1f} MB; a referral list is at most "
            f"{MAX_BYTES // 1024 // 1024} MB. Nothing was read. Is it the right file?"
        )


def decode(data: bytes) -> Letters:
    """Text from UTF-8, UTF-16 and UTF-32 with or without mark, or Windows-1252.

    A file that is UTF-8 but for some lines is read line by line; those lines are named.

    Parameters
    ----------
    data : the whole file. [bytes], at most 5 242 880 of them

    Returns
    -------
    The text without its mark, the encoding by name, and the lines read otherwise than the rest.

    Raises
    ------
    UnreadableFile : too large, another kind of file, not text, or broken off inside a letter.
    """
    refuse_size(len(data))
    for first, words in _OTHER_KINDS:
        if data.startswith(first):
            raise UnreadableFile(f"This is not a text file; it looks like {words}.")
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _whole(data, encoding) if encoding != "utf-8" else _utf8(data[len(mark) :])
    if b"\x00" in data:
        return _without_mark(data)
    return _utf8(data)


def _whole(data: bytes, encoding: str) -> Letters:
    try:
        return Letters(data.decode(encoding).lstrip("\ufeff"), encoding.upper())
    except UnicodeDecodeError as error:
        raise UnreadableFile("The file breaks off inside a letter; send it anew.") from error


def _without_mark(data: bytes) -> Letters:
    """UTF-16 has a zero byte beside nearly every letter of a list, on one side only."""
    half = max(1, len(data) // 2)
    for start, encoding in [(1, "utf-16-le"), (0, "utf-16-be")]:
        if data[start::2].count(0) > 0.5 * half and data[1 - start :: 2].count(0) < 0.05 * half:
            return _whole(data, encoding)
    raise UnreadableFile("This is not a text file. Save the list as CSV or as xlsx and send that.")


def _utf8(data: bytes) -> Letters:
    try:
        return Letters(data.decode("utf-8"), "UTF-8")
    except UnicodeDecodeError:
        pass
    lines = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    read = [_line(line) for line in lines]
    odd = frozenset(n for n, (_, is_utf8) in enumerate(read, 1) if not is_utf8)
    has_utf8 = any(is_utf8 and not line.isascii() for line, is_utf8 in read)
    text = "\n".join(line for line, _ in read)
    return Letters(text, "UTF-8", odd) if has_utf8 else Letters(text, "Windows-1252")


def _line(line: bytes) -> tuple[str, bool]:
    try:
        return line.decode("utf-8"), True
    except UnicodeDecodeError:
        pass
    try:
        return line.decode("cp1252"), False  # what "Latin-1" from a spreadsheet really is
    except UnicodeDecodeError:
        return line.decode("latin-1"), False
