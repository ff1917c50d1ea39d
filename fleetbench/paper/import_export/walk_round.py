"""The list to walk along the shelf with: a section a place, a line a thing, a box to tick and room for the answer."""

from collections.abc import Sequence
from itertools import groupby

from fleetbench.paper.core.document import Heading, Letterhead, PageSize
from fleetbench.paper.core.flow import Block, TableColumn, section, table, text_lines, write_flow
from fleetbench.paper.core.spreadsheet import write_csv, write_xlsx
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.import_export.walk_round import WalkLine

_COLUMNS = (
    TableColumn("unit", 12, bold=True),
    TableColumn("look for", 44),
    TableColumn("answer", 34),
    TableColumn("not readable", 10),
)
_TITLES = ("place", "unit", "slot", "look for", "answer")
_ROOM = 9
"""Room above and below a line, so that an answer can be written by hand."""


def write_walk_round(
    lines: Sequence[WalkLine], words: str, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4
) -> int:
    """Write the list as PDF; returns its number of pages. words: how far the fleet is known."""
    heading = Heading(head, "Walk-round", "WALK", f"{words}; {len(lines)} to look for")
    return write_flow(_blocks(lines, size.inner), heading, target, size)


def _blocks(lines: Sequence[WalkLine], wide: float) -> list[Block]:
    if not lines:
        return text_lines("Nothing is left to look for.", wide, 10)
    blocks: list[Block] = []
    for place, listed in groupby(lines, key=lambda line: line.place):
        blocks.append(section(place))
        rows = []
        last = ""
        for line in listed:
            rows.append((line.unit if line.unit != last else "", line.look_for, "_" * 34, "[   ]"))
            last = line.unit
        blocks += table(_COLUMNS, rows, wide, 8.6, _ROOM)
    return blocks


def write_walk_table(lines: Sequence[WalkLine], target: Target, *, head: Letterhead, xlsx: bool) -> None:
    """The same as XLSX or CSV, with an empty column for the answers."""
    rows = [(line.place, line.unit, line.slot, line.look_for, "") for line in lines]
    if xlsx:
        write_xlsx({"walk-round": (_TITLES, rows)}, target, head=head, title="Walk-round")
    else:
        write_csv(_TITLES, rows, target)
