"""A centre's own spreadsheet, written again with what is recorded; texts stay texts and never become formulas."""

from fleetbench.paper.core.spreadsheet import Cell, plain, put_cell
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.import_export.give_back import GivenBack


def write_given_back(given: GivenBack, target: Target) -> int:
    """Write the workbook as XLSX, into a copy of the one that was brought where it is there; returns its records."""
    # openpyxl is slow to import, and only whoever writes a workbook waits for it
    from openpyxl import Workbook, load_workbook
    from openpyxl.cell.cell import MergedCell

    book = load_workbook(given.source) if given.source is not None else Workbook()
    sheet = book[given.sheet] if given.sheet in book.sheetnames else book.active
    if given.source is None:
        sheet.title = "".join(sign for sign in plain(given.sheet) if sign not in "[]:*?/\\")[:31] or "given back"
    for (row, column), value in given.cells.items():
        cell = sheet.cell(row + 1, column + 1)
        if isinstance(cell, MergedCell):
            continue
        if value == "":
            cell.value = None
        else:
            put_cell(sheet, row + 1, column + 1, _written(value))
    with written(target) as out:
        book.save(out)
    return given.rows


def _written(value: Cell) -> Cell:
    return int(value) if isinstance(value, float) and value.is_integer() else value
