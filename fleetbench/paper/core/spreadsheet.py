"""Rows of cells as CSV and XLSX. No cell that a person typed is ever a formula (CWE-1236)."""

import csv
import io
import re
import unicodedata
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from fleetbench.paper.core.document import Letterhead, PageSize
from fleetbench.records.core.plain_file import Target, written

Cell = str | int | float | date
Rows = tuple[Sequence[str], Sequence[Sequence[Cell]]]
"""Titles and the rows below them."""

_STARTS_A_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_LONGEST_CELL = 32_767  # ECMA-376 files are read with this limit on the characters of one cell
_WIDEST = 48
_FIGURE = re.compile(r"[-−]?(0|[1-9][0-9]{0,14})(\.[0-9]+)?", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_NOT_IN_A_NAME = re.compile(r"[\[\]:*?/\\]")


def write_csv(titles: Sequence[str], rows: Sequence[Sequence[Cell]], target: Target) -> int:
    """Write the rows as CSV (RFC 4180, UTF-8 with its mark for spreadsheets); returns how many they are."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(titles)
    for row in rows:
        writer.writerow([neutral(cell) if isinstance(cell, str) else cell for cell in row])
    with written(target) as out:
        out.write(stream.getvalue().encode("utf-8-sig"))
    return len(rows)


def write_shown(
    title: str, titles: Sequence[str], rows: Sequence[Sequence[str]], target: Target, *, figures: Sequence[bool]
) -> None:
    """Write a list as it is shown, as the ending says: XLSX or CSV. figures: which columns hold figures, not names."""
    cells = [[shown_cell(text, figure) for text, figure in zip(row, figures, strict=True)] for row in rows]
    if str(target).lower().endswith(".csv"):
        write_csv(titles, cells, target)
    else:
        write_xlsx({_NOT_IN_A_NAME.sub(" ", title)[:31]: (titles, cells)}, target, title=title)


def shown_cell(text: str, figure: bool) -> Cell:
    """A text of a list as a cell: a figure of a column of figures as a number, a day as a date, all else as it is."""
    if figure and _FIGURE.fullmatch(text):
        plain_sign = text.replace("−", "-")
        return float(plain_sign) if "." in plain_sign else int(plain_sign)
    if _DAY.fullmatch(text):
        with suppress(ValueError):
            return date.fromisoformat(text)
    return text


def write_xlsx(sheets: Mapping[str, Rows], target: Target, *, title: str, head: Letterhead | None = None) -> None:
    """Write a sheet a name, texts as strings and dates as dates."""
    book = Workbook()
    book.remove(book.active)
    for name, (titles, rows) in sheets.items():
        sheet = book.create_sheet(name)
        _fill(sheet, titles, rows)
        _set_up_print(sheet, head.size if head is not None else PageSize.A4)
    book.properties.creator = "fleetbench"
    book.properties.title = plain(f"{title}, printed {head.printed_at}" if head is not None else title)
    with written(target) as out:
        book.save(out)


def plain(text: str) -> str:
    """The text on one line without control signs or lone surrogates, no longer than a cell may be."""
    if not (text.isascii() and text.isprintable()):
        text = "".join(" " if unicodedata.category(sign) in ("Cc", "Zl", "Zp") else sign for sign in text)
        text = "".join(sign for sign in text if unicodedata.category(sign) not in ("Cf", "Cs", "Cn"))
    return text[:_LONGEST_CELL]


def neutral(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula."""
    line = plain(text)
    risky = text[:1] in ("\t", "\r", "\n") or line.lstrip().startswith(_STARTS_A_FORMULA)
    return f"'{line}" if risky else line


def _fill(sheet: Worksheet, titles: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    for column, title in enumerate(titles, start=1):
        sheet.cell(1, column, title).font = Font(bold=True)
    for number, row in enumerate(rows, start=2):
        for column, value in enumerate(row, start=1):
            put_cell(sheet, number, column, value)
    for column, title in enumerate(titles, start=1):
        longest = max((len(str(row[column - 1])) for row in rows), default=0)
        sheet.column_dimensions[get_column_letter(column)].width = min(_WIDEST, max(len(title), longest) + 2)
    sheet.freeze_panes = "A2"
    if rows:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(titles))}{len(rows) + 1}"


def _set_up_print(sheet: Worksheet, size: PageSize) -> None:
    """Lying, all columns on one page's width, the titles again on each page: standing, a wide list took fourteen."""
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 1 if size is PageSize.LETTER else 9
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = "1:1"


def put_cell(sheet: Worksheet, row: int, column: int, value: Cell) -> None:
    """Write one cell: a text as a string whatever it begins with, a date as a date."""
    cell = sheet.cell(row, column)
    if isinstance(value, str):
        cell.value = plain(value)
        # Set after the value, which would make a text that begins with = a formula; the prefix keeps it so in editing.
        cell.data_type = "s"
        cell.quotePrefix = True
        cell.alignment = Alignment(vertical="top")
        return
    cell.value = value
    if isinstance(value, date):
        cell.number_format = "yyyy-mm-dd"
