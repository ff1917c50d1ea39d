"""A workbook that would fill the memory is told before it is unpacked; an ordinary one is read."""

import io
import re
from collections.abc import Callable
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from openpyxl import Workbook

from fleetbench.calc.import_export.tables import MOST_CELLS, too_large

SHEET = "xl/worksheets/sheet1.xml"
NAMES = "".join(
    f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"' for short in ("office", "table", "text")
)
"""Of OASIS OpenDocument 1.3, part 3, section 3."""


FAR = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'


def xlsx() -> bytes:
    """A small workbook."""
    book, stream = Workbook(), io.BytesIO()
    for row in (("tag", "type"), ("A-1", "x"), ("A-2", "y")):
        book.active.append(row)
    book.save(stream)
    return stream.getvalue()


def changed(part: str, change: Callable[[bytes], bytes]) -> bytes:
    """The small workbook with one part of it changed."""
    stream = io.BytesIO()
    with ZipFile(io.BytesIO(xlsx())) as old, ZipFile(stream, "w", ZIP_DEFLATED) as new:
        for each in old.infolist():
            new.writestr(each.filename, change(old.read(each)) if each.filename == part else old.read(each))
    return stream.getvalue()


def ods(rows: str) -> bytes:
    """A workbook of the other standard, with these rows."""
    stream = io.BytesIO()
    with ZipFile(stream, "w", ZIP_DEFLATED) as book:
        book.writestr("content.xml", f"<office:body{NAMES}><table:table>{rows}</table:table></office:body>")
    return stream.getvalue()


def row(cells: str, times: int = 1) -> str:
    """A row, repeated."""
    return f'<table:table-row table:number-rows-repeated="{times}">{cells}</table:table-row>'


def cell(text: str = "", times: int = 1) -> str:
    """A cell, repeated."""
    said = f"<text:p>{text}</text:p>" if text else ""
    return f'<table:table-cell table:number-columns-repeated="{times}">{said}</table:table-cell>'


def test_an_ordinary_workbook_is_read_whatever_empty_cells_follow() -> None:
    assert too_large(xlsx()) == ""
    assert (
        too_large(
            ods(row(cell("tag") + cell("type")) + row(cell("A-1") + cell("", 16382)) + row(cell("", 16384), 1048500))
        )
        == ""
    )
    assert too_large(b"tag,type\nA-1,x\n") == ""


def test_a_workbook_that_says_it_is_packed_in_another_way_is_torn() -> None:
    # The method stands in each part's header and in the directory (PKWARE APPNOTE 6.3.10, 4.3.7, 4.3.12, 4.4.5).
    for method in range(1, 100):
        book = bytearray(xlsx())
        for header, place in ((b"PK\x03\x04", 8), (b"PK\x01\x02", 10)):
            for found in re.finditer(re.escape(header), bytes(book)):
                book[found.start() + place] = method
        assert too_large(bytes(book)).startswith("is torn") == (method != ZIP_DEFLATED), method


@pytest.mark.parametrize(
    "book",
    [
        changed(
            SHEET,
            lambda xml: xml.replace(
                b"</sheetData>", b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
            ),
        ),
        ods(row(cell("tag")) + row(cell("x", 16384), 1048576)),
        ods(row(cell("tag")) + row(cell("", 16000) + cell("x")) + row(cell("", 1), 1_000_000) + row(cell("x"))),
    ],
    ids=["two cells far apart", "one cell a billion times", "far and wide"],
)
def test_a_sheet_that_spans_every_memory_is_told(book: bytes) -> None:
    assert f"more than {MOST_CELLS // 1_000_000} million cells" in too_large(book)
    assert len(book) < 10_000


def test_a_workbook_that_unpacks_to_much_more_than_it_is_is_told() -> None:
    book = changed(SHEET, lambda xml: xml + b" " * 30_000_000)
    assert "would unpack to 30 MB" in too_large(book)


def test_one_long_text_used_by_many_cells_is_told() -> None:
    cells = b"".join(b'<c r="A%d" t="s"><v>0</v></c>' % number for number in range(1, 30_000))
    with ZipFile(io.BytesIO(xlsx())) as old:
        parts = {each: old.read(each) for each in old.namelist()}
    parts |= {SHEET: b"<sheetData>" + cells, "xl/sharedStrings.xml": b"<sst><si>" + b"x" * 30_000 + b"</si></sst>"}
    stream = io.BytesIO()
    with ZipFile(stream, "w", ZIP_DEFLATED) as new:
        for name, data in parts.items():
            new.writestr(name, data)
    assert "too much text" in too_large(stream.getvalue())


@pytest.mark.parametrize("cut", [100, 1000, -30])
def test_a_torn_workbook_is_told_and_never_a_fault_of_ours(cut: int) -> None:
    whole = xlsx()
    assert too_large(whole[:cut]) in ("", "is torn or locked by a password; save it again as XLSX")
