"""Photographs on a page: two beside each other, each with its caption, its moment and the start of its SHA-256."""

import io
from collections.abc import Sequence

from fleetbench.paper.core.faces import BOLD
from fleetbench.paper.core.flow import Block, section
from fleetbench.paper.core.pen import Pen
from fleetbench.paper.core.shapes import PhotographFact
from fleetbench.paper.core.words import by_whom

_HIGH = 150.0
_GAP = 12.0
_SMALL = 7.0
MISSING = "the picture is missing or was changed: see verify"


def photograph_blocks(photographs: Sequence[PhotographFact]) -> list[Block]:
    """Blocks that show the photographs under a title; none where there is none."""
    if not photographs:
        return []
    rows = [photographs[place : place + 2] for place in range(0, len(photographs), 2)]
    return [section("Photographs"), *(_row(row) for row in rows)]


def _row(row: Sequence[PhotographFact]) -> Block:
    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        room = (wide - _GAP) / 2
        for place, each in enumerate(row):
            _draw(pen, each, x + place * (room + _GAP), y, room)

    return Block(_HIGH + 3 * _SMALL + 12, draw)


def _draw(pen: Pen, fact: PhotographFact, x: float, y: float, room: float) -> None:
    if fact.data is None:
        pen.box(x, y, room, _HIGH, 0.6)
        pen.fit(x + 6, y + _HIGH / 2, MISSING, room - 12, _SMALL + 1, BOLD)
    else:
        scale = min(room / max(1, fact.wide), _HIGH / max(1, fact.high))
        pen.picture(x, y, io.BytesIO(fact.data), fact.wide * scale, fact.high * scale)
    under = y + _HIGH + _SMALL + 2
    pen.fit(x, under, fact.caption or "no caption", room, _SMALL + 0.6, BOLD)
    pen.fit(x, under + _SMALL + 2, f"{by_whom(fact.at, fact.by)}; SHA-256 {fact.sha256[:16]}", room, _SMALL)
