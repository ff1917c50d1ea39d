"""Forms to fill in by hand: the daily log of a unit for seven days, and the turn-round card in bench order."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from fleetbench.paper.core.document import (
    HEAD_HEIGHT,
    MARGIN,
    Heading,
    Letterhead,
    PageSize,
    draw_foot,
    draw_head,
    new_canvas,
)
from fleetbench.paper.core.pen import BOLD, Align, Pen
from fleetbench.paper.core.tags import Tag, item_of
from fleetbench.paper.core.words import sheet_texts
from fleetbench.records.core.plain_file import Target, written

_DAYS = 7
_MOST_CELLS, _MOST_HANDSETS = 5, 3
_SMALL = 6.6
_LABEL = 6.0
# In the order in which the day is typed in afterwards.
_NOTED = (
    ("oxygen bar", ("in", "out")),
    ("diluent bar", ("in", "out")),
    ("fill number", ("",)),
    ("loop minutes", ("",)),
    ("deepest m", ("",)),
    ("coldest °C", ("",)),
    ("valves", ("in", "ex")),
    ("loop", ("neg", "pos")),
    ("fault", ("",)),
    ("initials", ("",)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitForm:
    """A form for one unit to be filled in by hand; no unit is a wholly blank one, for a day without power.

    cells, handsets: names of the positions and handsets, for the grid of the daily log.
    """

    letterhead: Letterhead
    record: str
    unit: str | None = None
    unit_type: str | None = None
    booking: str | None = None
    first_day: date | None = None
    cells: tuple[str, ...] = ("cell 1", "cell 2", "cell 3")
    handsets: tuple[str, ...] = ("handset 1", "handset 2")


def write_daily_log(facts: UnitForm, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the seven days' log of one unit; returns its pages, one for each five cells on three handsets.

    ValueError without a cell or a handset.
    """
    if not facts.cells or not facts.handsets:
        raise ValueError("cells, handsets: the log holds none; give the names of the unit's own")
    parts = [
        replace(facts, cells=cells, handsets=handsets)
        for cells in _groups(facts.cells, _MOST_CELLS)
        for handsets in _groups(facts.handsets, _MOST_HANDSETS)
    ]

    def draw(pen: Pen, page: int) -> None:
        high = size.room / _DAYS
        for number in range(_DAYS):
            _draw_day(pen, parts[page], number, MARGIN + HEAD_HEIGHT + number * high, size.inner, high - 6)

    return _write_form("Daily log", facts, target, size, draw, len(parts))


def _groups(names: tuple[str, ...], most: int) -> Iterator[tuple[str, ...]]:
    """The names in groups of nearly one size, none over the most."""
    groups = -(-len(names) // most)
    size = -(-len(names) // groups)
    return (names[at : at + size] for at in range(0, len(names), size))


def write_turn_round_card(facts: UnitForm, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the turn-round card of one unit on one page; returns 1."""

    def draw(pen: Pen, _page: int) -> None:
        steps, listed = sheet_texts().turn_round, Tag("L")
        high = (size.room - 44) / len(steps)
        for number, (do, spots) in enumerate(steps):
            with pen.tagged(item_of(listed)):
                _draw_step(pen, number, do, spots, MARGIN + HEAD_HEIGHT + number * high, size.inner, high)
        _draw_findings(pen, MARGIN + HEAD_HEIGHT + size.room - 40, size.inner)

    return _write_form("Turn-round card", facts, target, size, draw)


def _write_form(
    title: str, facts: UnitForm, target: Target, size: PageSize, draw: Callable[[Pen, int], None], pages: int = 1
) -> int:
    subtitle = f"booking {facts.booking}" if facts.booking else "booking ____________________"
    if facts.unit is None:
        subtitle = f"unit ____________________   {subtitle}"
    heading = Heading(facts.letterhead, title, facts.record, subtitle, code=facts.unit, code_word=facts.unit_type or "")
    with written(target) as stream:
        head = facts.letterhead
        canvas = new_canvas(stream, (size.wide, size.high), f"{title} {facts.record}", head.centre, at=head.at)
        for page in range(pages):
            pen = Pen(canvas, size.high)
            draw_head(pen, size, heading, again=page > 0)
            draw(pen, page)
            draw_foot(pen, size, heading, page + 1, pages)
            canvas.showPage()
        canvas.save()
    return pages


def _draw_day(pen: Pen, facts: UnitForm, number: int, y: float, wide: float, high: float) -> None:
    day = "" if facts.first_day is None else (facts.first_day + timedelta(days=number)).isoformat()
    pen.box(MARGIN, y, wide, high, 0.8)
    pen.text(MARGIN + 4, y + 10, f"day {number + 1}", 8, BOLD)
    pen.text(MARGIN + 4, y + 22, day, 8.5, BOLD)
    pen.rule(MARGIN + 4, y + 25, 58, 0.5)
    pen.text(MARGIN + 4, y + high - 18, "diver", _LABEL)
    pen.rule(MARGIN + 4, y + high - 4, 58, 0.5)
    _draw_cells(pen, facts, MARGIN + 68, y + 3, wide * 0.48, high - 6)
    left = MARGIN + 68 + wide * 0.48 + 6
    _draw_noted(pen, left, y + 3, MARGIN + wide - left - 4, high - 6)


def _draw_cells(pen: Pen, facts: UnitForm, x: float, y: float, wide: float, high: float) -> None:
    """Cells as rows, handsets as columns, the unit beside each empty box."""
    label, head = 28.0, 17.0
    step = (wide - label) / (2 * len(facts.handsets))
    row = (high - head) / len(facts.cells)
    for place, handset in enumerate(facts.handsets):
        left = x + label + 2 * place * step
        pen.fit(left, y + 7, handset, 2 * step - 2, _SMALL, BOLD, Align.CENTRE)
        pen.fit(left, y + 14.5, "air", step, _LABEL, align=Align.CENTRE)
        pen.fit(left + step, y + 14.5, "oxygen", step, _LABEL, align=Align.CENTRE)
    for number, cell in enumerate(facts.cells):
        top = y + head + number * row
        pen.fit(x, top + row / 2 + 2.5, cell, label - 3, _SMALL, BOLD)
        for column in range(2 * len(facts.handsets)):
            pen.box(x + label + column * step, top, step, row, 0.4)
            pen.text(x + label + (column + 1) * step - 2, top + row - 2, "mV", 4.8, align=Align.RIGHT)


def _draw_noted(pen: Pen, x: float, y: float, wide: float, high: float) -> None:
    columns, rows = 2, -(-len(_NOTED) // 2)
    step, row = wide / columns, high / rows
    for place, (label, boxes) in enumerate(_NOTED):
        left, top = x + (place // rows) * step, y + (place % rows) * row
        pen.fit(left + 2, top + row / 2 + 2.5, label, step * 0.42, _SMALL)
        side = (step * 0.56) / len(boxes)
        for number, word in enumerate(boxes):
            box = left + step * 0.44 + number * side
            pen.box(box, top, side, row, 0.4)
            pen.text(box + 1.5, top + 5, word, 4.8)


def _draw_step(pen: Pen, number: int, do: str, spots: Sequence[str], y: float, wide: float, high: float) -> None:
    side = 11.0
    pen.box(MARGIN, y + 5, side, side, 0.8)
    pen.text(MARGIN + side + 6, y + 14, f"{number + 1}", 9, BOLD)
    pen.fit(MARGIN + side + 22, y + 14, do, wide * 0.5, 9.2, BOLD)
    room = (wide * 0.79 - side - 22) / len(spots)
    for place, spot in enumerate(spots):
        left = MARGIN + side + 22 + place * room
        pen.fit(left, y + high - 4.5, spot, room * 0.6, 7)
        begin = left + min(room * 0.6, len(spot) * 3.7 + 3)
        pen.rule(begin, y + high - 4, left + room - 6 - begin, 0.4)
    for share, word in ((0.8, "when"), (0.9, "by")):
        left, begin = MARGIN + wide * share, 16.0 if word == "when" else 9.0
        pen.text(left, y + high - 4.5, word, 6)
        pen.rule(left + begin, y + high - 4, wide * 0.1 - begin - 4, 0.4)
    pen.rule(MARGIN, y + high, wide, 0.25, 0.7)


def _draw_findings(pen: Pen, y: float, wide: float) -> None:
    pen.text(MARGIN, y + 10, "findings, faults, parts wanted", 8, BOLD)
    for line in (24.0, 38.0):
        pen.rule(MARGIN, y + line, wide, 0.4)
