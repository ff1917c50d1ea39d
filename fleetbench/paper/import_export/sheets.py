"""What an import needs on paper: the list to walk along the shelf with, what is to finish, the workbook given back."""

from collections.abc import Sequence
from itertools import groupby

from fleetbench.calc.core.languages import say, strung
from fleetbench.paper.core.document import Heading, Letterhead, PageSize
from fleetbench.paper.core.flow import Block, TableColumn, section, table, text_lines, write_flow
from fleetbench.paper.core.spreadsheet import Cell, plain, put_cell, write_csv, write_xlsx
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.import_export.export import GivenBack
from fleetbench.workshop.import_export.walk_round import WalkLine

_WALK_COLUMNS = (
    TableColumn("unit", 12, bold=True),
    TableColumn("look for", 44),
    TableColumn("answer", 34),
    TableColumn("not readable", 10),
)
_WALK_TITLES = ("place", "unit", "slot", "look for", "answer")
_ROOM = 9
"""Room above and below a line, so that an answer can be written by hand."""


def write_walk_round(
    lines: Sequence[WalkLine], words: str, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4
) -> int:
    """Write the list as PDF; returns its number of pages. words: how far the fleet is known.

    It has a section a place, a line a thing, a box to tick and room for the answer.
    """
    heading = Heading(head, "Walk-round", "WALK", strung("; ", (words, say("{count} to look for", count=len(lines)))))
    return write_flow(_blocks(lines, size.inner), heading, target, size)


def _blocks(lines: Sequence[WalkLine], wide: float) -> list[Block]:
    if not lines:
        return text_lines(say("Nothing is left to look for."), wide, 10)
    blocks: list[Block] = []
    for place, listed in groupby(lines, key=lambda line: line.place):
        blocks.append(section(place))
        rows = []
        last = ""
        for line in listed:
            rows.append((line.unit if line.unit != last else "", line.look_for, "_" * 34, "[   ]"))
            last = line.unit
        blocks += table(_WALK_COLUMNS, rows, wide, 8.6, _ROOM)
    return blocks


def write_walk_table(lines: Sequence[WalkLine], target: Target, *, head: Letterhead, xlsx: bool) -> None:
    """The same as XLSX or CSV, with an empty column for the answers."""
    rows = [(line.place, line.unit, line.slot, line.look_for, "") for line in lines]
    if xlsx:
        write_xlsx({"walk-round": (_WALK_TITLES, rows)}, target, head=head, title="Walk-round")
    else:
        write_csv(_WALK_TITLES, rows, target)


FinishLine = tuple[str, ...]
"""Row, what the row is known by, column, what it says, what is wrong, what it most likely is."""

_FINISH_TITLES = ("row", "known by", "column", "it says", "what is wrong", "is it this?")
_FINISH_COLUMNS = (
    TableColumn("row", 6),
    TableColumn("known by", 14, bold=True),
    TableColumn("column", 22),
    TableColumn("it says", 16),
    TableColumn("what is wrong", 34),
    TableColumn("is it this?", 14),
)


def write_finish_list(
    name: str, lines: Sequence[FinishLine], target: Target, *, head: Letterhead, size: PageSize = PageSize.A4
) -> int:
    """Write what is to finish of a file as PDF, with room for the answer; returns its number of pages."""
    heading = Heading(head, "To finish", name[:40], say("{count} cells of {name}", count=len(lines), name=name))
    return write_flow(table(_FINISH_COLUMNS, lines, size.inner, 8.2, 6), heading, target, size)


def write_finish_table(name: str, lines: Sequence[FinishLine], target: Target, *, head: Letterhead, xlsx: bool) -> None:
    """The same as XLSX or CSV."""
    if xlsx:
        write_xlsx({"to finish": (_FINISH_TITLES, lines)}, target, head=head, title=f"To finish of {name}")
    else:
        write_csv(_FINISH_TITLES, lines, target)


def write_given_back(given: GivenBack, target: Target) -> int:
    """Write the workbook as XLSX, into a copy of the one that was brought where it is there; returns its records.

    Texts stay texts and never become formulas.
    """
    # openpyxl is slow to import, and only the writing of a workbook waits for it
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
