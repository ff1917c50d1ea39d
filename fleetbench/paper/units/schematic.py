"""The schematic on paper: boxes in the order of the flow, arrows as paths, each slot's state in shape and word."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.core.languages import shown as shown_here
from fleetbench.paper.core.flow import Block
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, all_whole, settable, width, wrapped
from fleetbench.workshop.units.schematic import Box, Pipe, Schematic, SchematicPlan, Sizes, Station, planned

MOST_COLUMNS = 11
_LEAST_COLUMNS = 6
"""Boxes beside each other, so that a word of any language stands whole in one."""
_GAP, _ARROW = 9.0, 3.6
_USUAL_LINES = 3


def schematic_block(
    drawn: Schematic, wide: float, size: float, *, beside: bool = True, touched: frozenset[int] = frozenset()
) -> Block:
    """The drawing as one block of that width; size: of the text in the boxes.

    beside: draw what stands beside loop and gas sides too. touched: slots framed heavily, for what was worked on.
    """
    shown = drawn if beside else replace(drawn, beside=())
    columns = max(1, min(MOST_COLUMNS, max([len(shown.loop), *(len(feed.stations) for feed in shown.feeds)])))
    while columns > _LEAST_COLUMNS and not all(
        _stands_whole(each, size, _box(wide, columns) - 4) for each in shown.stations()
    ):
        columns -= 1
    box = _box(wide, columns)
    lines = max((_line_count(each, size, box - 4) for each in shown.stations()), default=0)
    high = size * (3.75 + 1.1 * max(0, lines - _USUAL_LINES))
    sizes = Sizes(wide=box, high=high, gap=_GAP, channel=size * 2.0, inside=size * 2.35, columns=columns)
    plan = planned(shown, sizes)

    def draw(pen: Pen, x: float, y: float, _wide: float) -> None:
        with pen.tagged(pen.figure(x, y, wide, plan.high, _in_words(shown))):
            for pipe in plan.pipes:
                _draw_pipe(pen, pipe, x, y, size)
            _draw_boxes(pen, plan, x, y, size, touched)

    return Block(plan.high + size * 0.6, draw)


def _box(wide: float, columns: int) -> float:
    return min(92.0, (wide - _GAP) / columns - _GAP)


def _in_words(drawn: Schematic) -> str:
    """What the drawing shows, for a listener: each station with its state, as the gas flows."""
    told = strung("; ", (strung(": ", (each.slot, each.shown)) for each in drawn.stations()))
    return shown_here(say("Schematic of breathing loop and gas side. {told}", told=told))


def _draw_boxes(pen: Pen, plan: SchematicPlan, x: float, y: float, size: float, touched: frozenset[int]) -> None:
    for box in plan.boxes:
        _draw_box(pen, box, x, y, size, box.station.slot_id in touched)
        for inner in box.inner:
            _draw_inner(pen, inner, x, y, size, inner.station.slot_id in touched)


def _draw_box(pen: Pen, box: Box, x: float, y: float, size: float, heavy: bool) -> None:
    left, top, room = x + box.x, y + box.y, box.wide - 4
    pen.box(left, top, box.wide, box.high, 1.6 if heavy else 0.5, 1.0)
    state, below = _state_lines(box.station, size, room)
    name = shown_here(box.station.slot)
    for number, line in enumerate(_name_lines(name, size, room)):
        pen.text(left + 2, top + size * (1.05 + 1.1 * number), line, size)
    base = top + box.high - size * (0.4 + 1.1 * (len(state) - 1))
    pen.shape(left + 2, base - size * 1.1 * below, box.station.worst, size)
    for number, line in enumerate(state):
        pen.text(left + 2 + size * 1.1 * (not below), base + size * 1.1 * number, line, size, BOLD)


def _line_count(station: Station, size: float, room: float) -> int:
    """How many lines the name and the state of a station need, each whole."""
    state, below = _state_lines(station, size, room)
    name = shown_here(station.slot)
    return len(_name_lines(name, size, room)) + len(state) + below


def _state_lines(station: Station, size: float, room: float) -> tuple[Sequence[str], bool]:
    """The state beside its mark, or below it where a word of it is too long for that, and whether it is below."""
    words = worded(station.shown)
    beside = wrapped(words, BOLD, size, room - size * 1.1)
    return (beside, False) if all_whole(beside) else (wrapped(words, BOLD, size, room), True)


def _stands_whole(station: Station, size: float, room: float) -> bool:
    names = _name_lines(shown_here(station.slot), size, room)
    return all_whole(names) and all_whole(_state_lines(station, size, room)[0])


def _name_lines(name: str, size: float, room: float) -> Sequence[str]:
    """The name on one line where it fits, or broken between words into two of about the same length, or into more."""
    words = name.split()
    if len(words) < 2 or width(settable(name), REGULAR, size) <= room:
        return wrapped(name, REGULAR, size, room)
    halves = [(" ".join(words[:cut]), " ".join(words[cut:])) for cut in range(1, len(words))]
    two = min(halves, key=lambda each: max(map(len, each)))
    fits = all(width(settable(line), REGULAR, size) <= room for line in two)
    return two if fits else wrapped(name, REGULAR, size, room)


def _draw_inner(pen: Pen, box: Box, x: float, y: float, size: float, heavy: bool) -> None:
    left, top = x + box.x, y + box.y
    pen.box(left, top, box.wide, box.high, 1.6 if heavy else 0.5, 1.0)
    digits = "".join(sign for sign in box.station.slot if sign.isdigit()) or box.station.slot[:2]
    pen.fit(left, top + size * 1.0, digits, box.wide, size, align=Align.CENTRE)
    pen.shape(left + box.wide / 2 - size * 0.42, top + box.high - size * 0.3, box.station.worst, size)


def _draw_pipe(pen: Pen, pipe: Pipe, x: float, y: float, size: float) -> None:
    points = [(x + px, y + py) for px, py in pipe.points]
    # White first, so that a line crosses another visibly and never seems to run into it.
    pen.polyline(points, 4.0, grey=1.0)
    if pipe.oxygen:
        # A wide black line with a white one on it reads as two, round every corner.
        pen.polyline(points, 2.6)
        pen.polyline(points, 1.3, grey=1.0)
    else:
        pen.polyline(points, 0.8)
    pen.arrow(points[-2], points[-1], _ARROW)
    if not pipe.label:
        return
    if len(points) == 2:
        pen.text(points[-1][0] + 2, points[-1][1] + size * 0.35, pipe.label, size)
        return
    (x0, y0), (x1, _y1) = max(pairwise(points), key=lambda each: abs(each[1][0] - each[0][0]))
    half = (width(settable(pipe.label), REGULAR, size) + size) / 2
    pen.caption(max((x0 + x1) / 2, x + half), y0 + size * 0.35, pipe.label, size)
