"""The cells of a file that cannot be imported yet, as a page to finish it by and as a table."""

from collections.abc import Sequence

from fleetbench.paper.core.document import Heading, Letterhead, PageSize
from fleetbench.paper.core.flow import TableColumn, table, write_flow
from fleetbench.paper.core.spreadsheet import write_csv, write_xlsx
from fleetbench.records.core.plain_file import Target

FinishLine = tuple[str, ...]
"""Row, what the row is known by, column, what it says, what is wrong, what it most likely is."""

TITLES = ("row", "known by", "column", "it says", "what is wrong", "is it this?")
_COLUMNS = (
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
    heading = Heading(head, "To finish", name[:40], f"{len(lines)} cells of {name}")
    return write_flow(table(_COLUMNS, lines, size.inner, 8.2, 6), heading, target, size)


def write_finish_table(name: str, lines: Sequence[FinishLine], target: Target, *, head: Letterhead, xlsx: bool) -> None:
    """The same as XLSX or CSV."""
    if xlsx:
        write_xlsx({"to finish": (TITLES, lines)}, target, head=head, title=f"To finish of {name}")
    else:
        write_csv(TITLES, lines, target)
