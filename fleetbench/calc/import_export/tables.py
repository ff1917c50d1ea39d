"""Where the tables stand in a foreign workbook: under titles, beside each other, with one or two rows of names.

How large it would become in memory is told from its packed file before a reader unpacks it.

A workbook is a ZIP file of XML (ECMA-376 part 2; OASIS OpenDocument 1.3 part 2): a small one can hold terabytes of
zeros, or two cells so far apart that the sheet between them fills every memory.

A grid is a list of rows of text. Nothing is thrown away: each found table says which rows and columns it is.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from lzma import LZMAError
from xml.etree.ElementTree import ParseError, iterparse
from zipfile import BadZipFile, ZipFile, ZipInfo, is_zipfile
from zlib import error as TornStream  # noqa: N812 - it is an exception

from fleetbench.calc.core.languages import say
from fleetbench.calc.import_export.cells import is_unknown, likely_date

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


Grid = list[list[str]]
Merged = tuple[int, int, int, int]
"""First row, first column, last row and last column of cells that were made one."""

DIVIDERS = (",", ";", "\t", "|")
ENCODINGS = ("utf-8", "cp1252", "cp1250", "cp1251", "cp1253", "cp850", "mac_roman")
"""Codings that can be asked for by hand, the usual ones first."""

FIRST_LINES = 400
"""Rows from which the form of a file is judged."""
_TITLE_LINES = 30
_NO_ROW = re.compile(
    r"(total|sum|summe|subtotal|count|legend|note|notes|remark|checked|updated|printed)\b", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class FoundTable:
    """One table in a grid.

    title: what stands above it. names: what each of its columns is called. columns, rows: where they stand in the grid,
    counted from 0. name_rows: the rows that hold the names, none where it has none.
    """

    title: str
    names: tuple[str, ...]
    columns: tuple[int, ...]
    rows: tuple[int, ...]
    name_rows: tuple[int, ...]


def decoded(data: bytes, encoding: str = "") -> tuple[str, str]:
    """The text of a file and the coding it was read in.

    A mark at its start or valid UTF-8 is proof; else it is taken as Western European (cp1252), which the reader may
    change. Raises ValueError where the file is no text.
    """
    if encoding:
        return data.decode(encoding, errors="replace"), encoding
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if data.startswith(mark):
            return data.decode(name, errors="replace"), name
    if data[:2000].count(0) > len(data[:2000]) // 4:
        name = "utf-16-le" if data[1:2] == b"\x00" else "utf-16-be"
        return data.decode(name, errors="replace"), name
    if b"\x00" in data:
        raise ValueError(say("the file holds zero bytes and is no text; save it again as CSV or XLSX"))
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "cp1252"


def divided(text: str, sign: str = "") -> tuple[Grid, str]:
    """The cells of a text and the sign that divides them: the one that gives most rows the same width."""
    if not sign:
        head = "\n".join(text.splitlines()[:FIRST_LINES])
        sign = max(DIVIDERS, key=lambda each: (_evenness(_parsed(head, each)), -DIVIDERS.index(each)))
    return _parsed(text, sign), sign


def _parsed(text: str, sign: str) -> Grid:
    limit = csv.field_size_limit(max(len(text), 131_072))
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=sign))
    except csv.Error:
        return [line.split(sign) for line in text.splitlines()]
    finally:
        csv.field_size_limit(limit)


def _evenness(grid: Grid) -> float:
    """The share of rows with the usual width times that width; 0 where nothing is divided."""
    widths = Counter(len(row) for row in grid if any(cell.strip() for cell in row))
    wide = {width: count for width, count in widths.items() if width > 1}
    if not wide:
        return 0.0
    width, count = max(wide.items(), key=lambda each: (each[1], each[0]))
    return count / sum(widths.values()) * min(width, 12)


def spread(grid: Grid, merged: Iterable[Merged]) -> Grid:
    """The grid with what stands in merged cells written into each of them."""
    filled = [list(row) for row in grid]
    for top, left, bottom, right in merged:
        if top >= len(filled) or left >= len(filled[top]):
            continue
        text = filled[top][left]
        for at, row in enumerate(filled[top : bottom + 1], top):
            tail = [*row[right + 1 :]]
            filled[at] = [*row[:left], *[""] * (left - len(row)), *[text] * (right + 1 - left), *tail]
    return filled


def find_tables(grid: Grid, is_name: Callable[[str], bool]) -> tuple[FoundTable, ...]:
    """Every table of the grid, in reading order.

    is_name: whether a text is known as the name of a column. A table ends at a row without any cell, unless what
    follows goes on in the same columns without names of its own.
    """
    cells = [[" ".join(cell.split()) for cell in row] for row in grid]
    found: list[FoundTable] = []
    title = ""
    for block in _blocks(cells):
        titles, body = _off_titles(cells, block)
        if titles:
            title = titles
        if not body:
            continue
        tables = [_table(cells, body, columns, is_name, title) for columns in _bands(cells, body)]
        used = {column for at in body for column, cell in enumerate(cells[at]) if cell}
        goes_on = not titles and not any(table.name_rows for table in tables)
        earlier = next((at for at in reversed(range(len(found))) if used <= set(found[at].columns)), None)
        if goes_on and earlier is not None:
            more = _true_rows(cells, body, found[earlier].columns)
            found[earlier] = replace(found[earlier], rows=found[earlier].rows + more)
        else:
            found += tables
    return tuple(table for table in found if table.rows)


def _blocks(cells: Grid) -> list[list[int]]:
    """Runs of rows that hold anything."""
    blocks: list[list[int]] = [[]]
    for at, row in enumerate(cells):
        if any(row):
            blocks[-1].append(at)
        elif blocks[-1]:
            blocks.append([])
    return [block for block in blocks if block]


def _off_titles(cells: Grid, block: list[int]) -> tuple[str, list[int]]:
    """The block's titles, which say one thing across the whole row, and the rows under them."""
    said: list[str] = []
    for place, at in enumerate(block[:_TITLE_LINES]):
        different = {cell for cell in cells[at] if cell}
        if len(different) > 1 or (place and len(different) == 1 and not said):
            return " ".join(said), block[place:]
        said += list(different)
    return " ".join(said), []


def _bands(cells: Grid, body: Sequence[int]) -> list[tuple[int, ...]]:
    """Runs of columns that hold anything in these rows; one column alone is a note, unless it is all there is."""
    wide = max(len(cells[at]) for at in body)
    bands: list[list[int]] = [[]]
    for column in range(wide):
        if any(column < len(cells[at]) and cells[at][column] for at in body):
            bands[-1].append(column)
        elif bands[-1]:
            bands.append([])
    kept = [tuple(band) for band in bands if band]
    return [band for band in kept if len(band) > 1] or kept[:1]


def _table(
    cells: Grid, body: Sequence[int], columns: tuple[int, ...], is_name: Callable[[str], bool], title: str
) -> FoundTable:
    rows = [at for at in body if any(_at(cells, at, column) for column in columns)]
    names_at = next(
        (place for place in range(min(len(rows), 5)) if _names_it(cells, rows, place, columns, is_name)), None
    )
    if names_at is None:
        names = tuple(say("Column {column}", column=_letter(column)) for column in columns)
        return FoundTable(title, names=names, columns=columns, rows=_true_rows(cells, rows, columns), name_rows=())
    upper = [_at(cells, rows[names_at], column) for column in columns]
    name_rows = [rows[names_at]]
    after = rows[names_at + 1 :]
    if after and _second_row(cells, upper, after[0], columns, is_name):
        lower = [_at(cells, after[0], column) for column in columns]
        upper = [_joined(above, below) for above, below in zip(_carried(upper, lower), lower, strict=True)]
        name_rows.append(after[0])
        after = after[1:]
    names = tuple(
        name or say("Column {column}", column=_letter(column)) for name, column in zip(upper, columns, strict=True)
    )
    return FoundTable(
        title, names=names, columns=columns, rows=_true_rows(cells, after, columns), name_rows=tuple(name_rows)
    )


def _names_it(
    cells: Grid, rows: Sequence[int], place: int, columns: Sequence[int], is_name: Callable[[str], bool]
) -> bool:
    """Whether a row names the columns: words alone, across at least half of them, known or unlike what is below."""
    texts = [text for column in columns if (text := _at(cells, rows[place], column))]
    if len(texts) < 2 or not all(_wordy(text) for text in texts):
        return False
    known = sum(is_name(text) for text in texts)
    if known >= 2 or (known == 1 and len(columns) <= 3):
        return True
    below = [text for at in rows[place + 1 : place + 6] for column in columns if (text := _at(cells, at, column))]
    half = 2 * len(texts) >= len(columns) and len(set(texts)) == len(texts)
    return half and any(not _wordy(text) for text in below)


def _second_row(
    cells: Grid, upper: Sequence[str], row: int, columns: Sequence[int], is_name: Callable[[str], bool]
) -> bool:
    """Whether a second row of names follows: the first spans columns, and the second is words, two of them known."""
    spans = len(set(upper)) < len(upper)
    texts = [text for column in columns if (text := _at(cells, row, column))]
    return spans and len(texts) >= 2 and all(map(_wordy, texts)) and sum(map(is_name, texts)) >= 2


def _carried(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """The upper names, each carried on over the columns that it spans."""
    carried, last = [], ""
    for above, below in zip(upper, lower, strict=True):
        last = above or (last if below else "")
        carried.append(last)
    return carried


def _joined(above: str, below: str) -> str:
    if not below or not above or above == below:
        return above or below
    return f"{above} {below}"


def _true_rows(cells: Grid, rows: Sequence[int], columns: Sequence[int]) -> tuple[int, ...]:
    """The rows without those that only sum up or remark."""
    kept = []
    for at in rows:
        texts = [text for column in columns if (text := _at(cells, at, column))]
        if len(texts) <= 2 and len(columns) > 3 and texts and _NO_ROW.match(texts[0]):
            continue
        kept.append(at)
    return tuple(kept)


def _wordy(text: str) -> bool:
    """Whether it reads as a name rather than as a figure, a date or a mark for nothing."""
    if is_unknown(text) or not re.search(r"[^\W\d_]{2}|[#№]|S/N|^[A-Za-z]\d?$|^O2$", text):
        return False
    return likely_date(text) is None and not re.fullmatch(r"[\d.,]+\s*\w{0,4}", text)


def _at(cells: Grid, row: int, column: int) -> str:
    line = cells[row]
    return line[column] if column < len(line) else ""


def _letter(column: int) -> str:
    """The letters by which a spreadsheet names a column."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name
