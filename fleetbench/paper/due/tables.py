"""The due list as CSV and XLSX. No cell that a person typed is ever a formula."""

from fleetbench.paper.core.document import Letterhead
from fleetbench.paper.core.spreadsheet import Cell, Rows, write_csv, write_xlsx
from fleetbench.paper.core.words import NOT_RECORDED, said
from fleetbench.paper.due.page import DueList, taken, taken_from
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.orders import FetchRow

_DUE_TITLES = (
    "last valid day",
    "days left",
    "state",
    "unit",
    "slot",
    "part type",
    "part",
    "item",
    "set by",
    "projected",
    "place",
    "affects booking",
    "record",
)
_FETCH_TITLES = ("part type", "wanted", "counted in", "take, oldest usable first", "from", "short")


def write_due_csv(due: DueList, target: Target) -> int:
    """Write the due list as CSV; returns its rows."""
    return write_csv(_DUE_TITLES, [_due_cells(item, name) for item, name in due.named], target)


def write_due_xlsx(due: DueList, target: Target, *, head: Letterhead) -> int:
    """Write the due list and the parts to fetch as XLSX; returns the due rows."""
    sheets: dict[str, Rows] = {"due": (_DUE_TITLES, [_due_cells(item, name) for item, name in due.named])}
    if due.fetch is not None:
        sheets["fetch"] = _FETCH_TITLES, [_fetch_cells(row) for row in due.fetch]
    write_xlsx(sheets, target, head=head, title=f"Due list {due.record}")
    return len(due.items)


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
