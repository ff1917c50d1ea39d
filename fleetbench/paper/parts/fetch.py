"""The list of parts to fetch, by the place they lie in, and what is short."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from fleetbench.paper.core.document import Heading, PageSize, joined
from fleetbench.paper.core.flow import Block, Column, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.saving import Target
from fleetbench.paper.core.shapes import Letterhead
from fleetbench.paper.core.words import NOT_RECORDED, day
from fleetbench.workshop.parts.fetch import FetchRow

_TAKE = (
    Column("take", 24, bold=True),
    Column("part type", 28),
    Column("good until", 14),
    Column("for", 30),
    Column("got it", 8),
)
_SHORT = (Column("part type", 40, bold=True), Column("wanted", 12, Align.RIGHT), Column("short", 12, Align.RIGHT),
          Column("for", 40))  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Piece:
    place: str
    part: str
    part_type: str
    good_until: str
    wanted_for: str


def write_fetch_list(
    rows: Sequence[FetchRow],
    head: Letterhead,
    first: date,
    last: date,
    target: Target,
    *,
    size: PageSize = PageSize.A4,
) -> int:
    """Write what to fetch for the days from first through last as PDF, a section a place; returns its pages.

    Pieces are told for the slots in the workshop's order, oldest usable first.
    """
    short = sum(row.short for row in rows)
    subtitle = joined(
        (
            f"{day(first)} through {day(last)}",
            f"{sum(len(row.take) for row in rows)} to take",
            f"{short} short" if short else "",
        )
    )
    heading = Heading(head, "Parts to fetch", f"FETCH-{first.isoformat()}", subtitle)
    return write_flow(_blocks(rows, size.inner), heading, target, size)


def _blocks(rows: Sequence[FetchRow], wide: float) -> list[Block]:
    if not rows:
        return text_lines("Nothing to fetch for these days: no part in a unit ends within them.", wide, 10)
    pieces = sorted(_pieces(rows), key=lambda piece: (piece.place, piece.part_type))
    blocks: list[Block] = []
    for place, listed in groupby(pieces, key=lambda piece: piece.place):
        blocks.append(section(place))
        cells = [(each.part, each.part_type, each.good_until, each.wanted_for, "") for each in listed]
        blocks.extend(table(_TAKE, cells, wide, 8.2, 5))
    short = [row for row in rows if row.short]
    if short:
        blocks.append(section("Short: no usable piece lies on a shelf"))
        blocks.extend(
            table(
                _SHORT,
                [
                    (row.part_type, str(row.wanted), str(row.short), "; ".join(row.wanted_for[len(row.take) :]))
                    for row in short
                ],
                wide,
                8.2,
                5,
            )
        )
    blocks.append(space(6))
    said = "Look at each part before it is fitted: what is marked on it stands above what is recorded."
    return blocks + text_lines(said, wide, 7.4)


def _pieces(rows: Sequence[FetchRow]) -> list[_Piece]:
    return [
        _Piece(
            piece.place or f"place {NOT_RECORDED}",
            piece.part,
            row.part_type,
            "no limit on the shelf" if piece.last_good_day is None else day(piece.last_good_day),
            where,
        )
        for row in rows
        for piece, where in zip(row.take, row.wanted_for, strict=False)
    ]
