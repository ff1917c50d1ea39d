"""The due list as CSV and XLSX. No cell that a person typed is ever a formula."""

import csv
import io
import unicodedata
from collections.abc import Sequence
from datetime import date

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from fleetbench.paper.core.document import Letterhead, Target, written
from fleetbench.paper.core.words import NOT_RECORDED, said
from fleetbench.paper.due.page import DueList, taken, taken_from
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.orders import FetchRow

Cell = str | int | float | date

_DUE_TITLES = (
    "last good day",
    "days left",
    "state",
    "unit",
    "slot",
    "part type",
    "part",
    "item",
    "limit that governs",
    "projected",
    "place",
    "first hit",
    "record",
)
_FETCH_TITLES = ("part type", "wanted", "counted in", "take, oldest usable first", "from", "short")
_STARTS_A_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_LONGEST_CELL = 32_767  # ECMA-376 files are read with this limit on the characters of one cell
_WIDEST = 48


def write_due_csv(due: DueList, target: Target) -> int:
    """Write the due list as CSV (RFC 4180, UTF-8 with its mark for spreadsheets); returns its rows."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(_DUE_TITLES)
    for item, name in due.named:
        writer.writerow([neutral(cell) if isinstance(cell, str) else cell for cell in _due_cells(item, name)])
    with written(target) as out:
        out.write(stream.getvalue().encode("utf-8-sig"))
    return len(due.items)


def write_due_xlsx(due: DueList, target: Target, *, head: Letterhead) -> int:
    """Write the due list and the parts to fetch as XLSX, texts as strings and dates as dates; returns the due rows."""
    book = Workbook()
    sheet = book.active
    sheet.title = "due"
    _fill(sheet, _DUE_TITLES, [_due_cells(item, name) for item, name in due.named])
    if due.fetch is not None:
        _fill(book.create_sheet("fetch"), _FETCH_TITLES, [_fetch_cells(row) for row in due.fetch])
    book.properties.creator = "fleetbench"
    book.properties.title = plain(f"Due list {due.record}, printed {head.printed_at}")
    with written(target) as out:
        book.save(out)
    return len(due.items)


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


def _due_cells(line: DueItem, name: str) -> tuple[Cell, ...]:
    return (
        NOT_RECORDED if line.last_good_day is None else line.last_good_day,
        NOT_RECORDED if line.days_left is None else line.days_left,
        line.state,
        line.unit or "",
        line.slot or "",
        line.part_type or "",
        said(line.part),
        line.item,
        said(line.basis).replace("_", " "),
        "yes" if line.projected else "no",
        line.place or "",
        line.hits or "",
        name,
    )


def _fetch_cells(row: FetchRow) -> tuple[Cell, ...]:
    return (row.part_type, row.wanted, "piece", ", ".join(taken(row)), taken_from(row), row.short)


def _fill(sheet: Worksheet, titles: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    for column, title in enumerate(titles, start=1):
        sheet.cell(1, column, title).font = Font(bold=True)
    for number, row in enumerate(rows, start=2):
        for column, value in enumerate(row, start=1):
            _put(sheet, number, column, value)
    for column, title in enumerate(titles, start=1):
        longest = max((len(str(row[column - 1])) for row in rows), default=0)
        sheet.column_dimensions[get_column_letter(column)].width = min(_WIDEST, max(len(title), longest) + 2)
    sheet.freeze_panes = "A2"
    if rows:
        sheet.auto_filter.ref = f"A1:{get_column_letter(len(titles))}{len(rows) + 1}"


def _put(sheet: Worksheet, row: int, column: int, value: Cell) -> None:
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
