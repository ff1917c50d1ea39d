"""How large a workbook would become in memory, told from its packed file before a reader unpacks it.

A workbook is a ZIP file of XML (ECMA-376 part 2; OASIS OpenDocument 1.3 part 2): a small one can hold terabytes of
zeros, or two cells so far apart that the sheet between them fills every memory.
"""

import re
from collections.abc import Iterator
from io import BytesIO
from lzma import LZMAError
from xml.etree.ElementTree import ParseError, iterparse
from zipfile import BadZipFile, ZipFile, ZipInfo, is_zipfile
from zlib import error as TornStream  # noqa: N812 - it is an exception

from fleetbench.calc.core.languages import say

MOST_UNPACKED = 300_000_000
"""Bytes of all parts together: some five million cells."""
MOST_TIMES, FROM_BYTES = 200, 20_000_000
"""How many times larger than packed it may be, where it is large at all; figures pack to a twentieth."""
MOST_CELLS = 5_000_000
"""Of the rectangle from the first cell to the last one of a sheet."""
MOST_TEXT = 500_000_000
"""Characters of all cells together, each use of a shared text counted."""
_TORN = BadZipFile, TornStream, LZMAError, OSError, NotImplementedError, RuntimeError, EOFError, ParseError, ValueError
"""What the unpackers of a ZIP file raise; that of bzip2 an OSError."""

_CHUNK = 1 << 20
_OVERLAP = 200
_CELL = re.compile(rb'\br="([A-Z]{1,3})([0-9]{1,7})"')
_SHARED = re.compile(rb'\bt="s"')
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"


def too_large(packed: bytes) -> str:
    """Why a workbook is not read, with the remedy; empty where it may be, and for what is no ZIP file at all."""
    if not is_zipfile(BytesIO(packed)):
        return ""
    try:
        with ZipFile(BytesIO(packed)) as book:
            return _too_packed(book, len(packed)) or _too_wide(book)
    except _TORN:
        return say("is torn or locked by a password; save it again as XLSX")


def _too_packed(book: ZipFile, packed: int) -> str:
    unpacked = sum(part.file_size for part in book.infolist())
    if unpacked <= MOST_UNPACKED and (unpacked <= FROM_BYTES or unpacked <= MOST_TIMES * packed):
        return ""
    return say(
        "would unpack to {unpacked:,} MB; {most_unpacked} MB is the most that is read, and "
        "{most_times} times its own size; split it or save it as CSV",
        unpacked=unpacked // 1000000,
        most_unpacked=MOST_UNPACKED // 1000000,
        most_times=MOST_TIMES,
    )


def _too_wide(book: ZipFile) -> str:
    shared = [_longest_text(book, part) for part in book.infolist() if "sharedStrings" in part.filename]
    for part in book.infolist():
        cells, texts = _extent(book, part)
        if cells > MOST_CELLS or texts * max(shared, default=0) > MOST_TEXT:
            return say(
                "has a sheet that spans more than {most_cells} million cells or holds too much text; "
                "delete what stands far out, split it, or save it as CSV",
                most_cells=MOST_CELLS // 1000000,
            )
    return ""


def _pieces(book: ZipFile, part: ZipInfo) -> Iterator[bytes]:
    """The part in pieces, each beginning with the end of the one before."""
    before = b""
    with book.open(part) as stream:
        while piece := stream.read(_CHUNK):
            yield before + piece
            before = piece[-_OVERLAP:]


def _longest_text(book: ZipFile, part: ZipInfo) -> int:
    longest = run = 0
    with book.open(part) as stream:
        while piece := stream.read(_CHUNK):
            first, *rest = piece.split(b"</si>")
            longest = max(longest, run + len(first), *map(len, rest), 0)
            run = len(rest[-1]) if rest else run + len(first)
    return longest


def _extent(book: ZipFile, part: ZipInfo) -> tuple[int, int]:
    """Cells that a part may make of a sheet, and how many of them use a shared text."""
    if part.filename == "content.xml":
        return max(_spanned_by_repeats(book, part), default=0), 0
    if part.filename.endswith(".bin"):
        return _spanned_binary(book, part), 0
    return _spanned(book, part)  # where a sheet lies is told by another part, so any may be one


def _spanned(book: ZipFile, part: ZipInfo) -> tuple[int, int]:
    """Cells of the rectangle that a sheet's cells span, and how many of them use a shared text."""
    columns = rows = texts = 0
    for piece in _pieces(book, part):
        texts += len(_SHARED.findall(piece))
        for letters, row in _CELL.findall(piece):
            columns, rows = max(columns, _number(letters)), max(rows, int(row))
    return columns * rows, texts


def _spanned_binary(book: ZipFile, part: ZipInfo) -> int:
    """Cells of the rectangle that a binary sheet's records span: rows are record 0, cells records 1 to 11 (XLSB)."""
    if not part.filename.startswith("xl/") or "vba" in part.filename or "printer" in part.filename:
        return 0
    data, at, rows, columns = book.read(part), 0, 0, 0
    while at + 2 < len(data):
        kind, at = _varying(data, at, 2)
        size, at = _varying(data, at, 4)
        first = int.from_bytes(data[at : at + 4], "little") + 1
        rows, columns = (max(rows, first) if kind == 0 else rows), (max(columns, first) if 1 <= kind <= 11 else columns)
        at += size
    return rows * columns


def _varying(data: bytes, at: int, most: int) -> tuple[int, int]:
    """A number of seven bits a byte, low ones first, and where it ends."""
    number = 0
    for place, byte in enumerate(data[at : at + most]):
        number |= (byte & 0x7F) << (7 * place)
        at += 1
        if byte < 0x80:
            break
    return number, at


def _number(letters: bytes) -> int:
    number = 0
    for sign in letters:
        number = number * 26 + sign - 64
    return number


def _spanned_by_repeats(book: ZipFile, part: ZipInfo) -> Iterator[int]:
    """Cells of the rectangle that each table spans, repetitions counted, up to the last cell that holds anything."""
    column = row = wide = broad = high = 0
    with book.open(part) as stream:
        for _event, element in iterparse(stream):
            if element.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                column += int(element.get(f"{_TABLE}number-columns-repeated", 1))
                wide = column if len(element) or len(element.attrib) > 1 else wide
            elif element.tag == f"{_TABLE}table-row":
                row += int(element.get(f"{_TABLE}number-rows-repeated", 1))
                broad, high = (max(broad, wide), row) if wide else (broad, high)
                column = wide = 0
                element.clear()
            elif element.tag == f"{_TABLE}table":
                yield broad * high
                row = broad = high = 0
                element.clear()
