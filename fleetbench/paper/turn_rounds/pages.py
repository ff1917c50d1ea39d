"""The turn-round card on paper, as far as it was done; and forms to fill in: card, daily log and service plan."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fleetbench.calc.core.languages import say, shown, strung
from fleetbench.calc.core.measures import BAR
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.hires.log import COLUMNS, LINES, LOG_OF, LogColumn, columns_of, field_name, log_of
from fleetbench.calc.tickets.steps import PlanStep, StepKind, asks, unit_of
from fleetbench.calc.turn_rounds.card import WORDS, Step, steps
from fleetbench.paper.core.document import (
    HEAD_HEIGHT,
    MARGIN,
    Heading,
    Letterhead,
    PageSize,
    draw_foot,
    draw_head,
    joined,
    new_canvas,
)
from fleetbench.paper.core.flow import (
    Block,
    TableColumn,
    fair_rooms,
    pairs,
    section,
    space,
    table,
    text_lines,
    write_flow,
)
from fleetbench.paper.core.marks import by_whom, moment, plain_number, said, sheet_texts
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, settable, width, wrapped
from fleetbench.paper.core.tags import Tag, item_of
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.tickets.service_plan import PlanLine, who_words
from fleetbench.workshop.turn_rounds.page import TurnRoundCard, TurnRoundDesk

_CARD_SMALL = 8.2
_COLUMNS = (
    TableColumn("no.", 5, Align.RIGHT),
    TableColumn("line", 42, bold=True),
    TableColumn("state", 10, mark=True),
    TableColumn(say("how, or why left out"), 20),
    TableColumn(say("when, by whom"), 34),
)
NOT_SIGNED = say("Not finished: the unit is on hold until this card is signed.")


def write_turn_round(desk: TurnRoundDesk, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a unit's turn-round card, open or finished, as PDF; returns its number of pages.

    ValueError for a unit that never had one.
    """
    card = desk.card
    if card is None:
        raise ValueError(say("unit {unit}: has no turn-round card; open one first", unit=desk.unit))
    subtitle = joined(
        (
            say("back from {booking}", booking=card.record.booking) if card.record.booking else "",
            say("AFTER A FLOOD") if card.record.flooded_at else "",
        )
    )
    heading = Heading(
        head, say("Turn-round card"), card.record.number, subtitle, code=desk.unit, code_word=said(desk.unit_type)
    )
    return write_flow(_blocks(desk, card, size.inner), heading, target, size)


def _blocks(desk: TurnRoundDesk, card: TurnRoundCard, wide: float) -> list[Block]:
    drying = card.drying
    known = pairs(
        (
            (say("opened"), by_whom(card.record.opened_at, card.record.opened_by)),
            (say("flood found"), moment(card.record.flooded_at) if card.record.flooded_at else "none"),
            (say("disinfected"), by_whom(drying.disinfected_at, drying.bath) if drying else say("not yet")),
            (say("found dry"), moment(drying.dry_at) if drying and drying.dry_at else say("not yet")),
        ),
        2,
        label_share=0.2,
    )
    rows = [
        (
            str(line.line.ordinal),
            line.text,
            line.state,
            line.line.how or "",
            by_whom(line.line.settled_at, line.line.person) if line.line.settled_at else "",
        )
        for line in card.lines
    ]
    blocks = [space(2), *known, section(say("Lines in bench order")), *table(_COLUMNS, rows, wide, _CARD_SMALL)]
    if card.ticket:
        blocks += [
            section(say("What was found")),
            *text_lines(say("It stands on ticket {ticket}.", ticket=card.ticket), wide),
        ]
    blocks.append(section(say("Sign-off")))
    if card.record.finished_at is not None:
        blocks += text_lines(
            say(
                "Finished {finished_at}; the hold is lifted.",
                finished_at=by_whom(card.record.finished_at, card.record.finished_by),
            ),
            wide,
        )
    else:
        to_do = sum(line.state == WorkState.TO_DO for line in card.lines)
        blocks += text_lines(say("{not_signed} Lines still to do: {to_do}.", not_signed=NOT_SIGNED, to_do=to_do), wide)
        for reason in desk.against:
            if not reason.endswith(": still to do"):
                blocks += text_lines(f"- {reason}", wide, _CARD_SMALL)
    if desk.reference:
        blocks += [
            space(4),
            *text_lines(
                say("Disinfection of shared breathing parts: {reference}.", reference=desk.reference), wide, 7.2
            ),
        ]
    return blocks


_MOST_CELLS, _MOST_HANDSETS = 5, 3
_SMALL = 7.0
_WIDTHS = {
    "day": 52.0,
    "fault": 95.0,
    "fill": 50.0,
    "start": 36.0,
    "minutes": 34.0,
    "deepest_m": 34.0,
    "coldest_c": 34.0,
}
_NARROW, _NUMBER = 28.0, 14.0
_LEADING, _INDENT = 11.5, 33.0
_GASES = (say("air"), say("oxygen"))
HOW = say(
    "A line a dive and fill. Start: the true one, or ? where it is not known. mV: before the dive. y or n where tested."
)
FURTHER = say("Further cells and handsets of the dives on page 1, line by line. mV: before the dive.")


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitForm:
    """A form for one unit to be filled in by hand; no unit is a wholly blank one, for a day without power.

    cells, handsets: names of the positions and handsets, for the grid of the daily log. card: step and words of each
    line of its turn-round card; a card of no unit has every step but those after a flood.
    """

    letterhead: Letterhead
    record: str
    unit: str | None = None
    unit_type: str | None = None
    booking: str | None = None
    cells: tuple[str, ...] = ("cell 1", "cell 2", "cell 3")
    handsets: tuple[str, ...] = ("handset 1", "handset 2")
    card: tuple[tuple[Step, str], ...] = tuple(
        (step, WORDS[step])
        for step in steps(flooded=False, batteries=True, handsets=True, cells=True, oxygen_side=True)
    )


def write_daily_log(facts: UnitForm, target: Target, *, size: PageSize = PageSize.A4, fields: bool = False) -> int:
    """Write the log of one unit, a line a dive and fill; returns its pages, one for each five cells on three handsets.

    fields: as a form to fill in on a screen. ValueError without a cell or a handset.
    """
    if not facts.cells or not facts.handsets:
        raise ValueError(say("cells, handsets: the log holds none; give the names of the unit's own"))
    columns = columns_of(facts.cells, facts.handsets)
    place = {each.key: number for number, each in enumerate(columns)}
    groups = [
        [each for each in columns if each.group in handsets and each.short in cells]
        for cells in _groups(facts.cells, _MOST_CELLS)
        for handsets in _groups(facts.handsets, _MOST_HANDSETS)
    ]

    def draw(pen: Pen, page: int) -> None:
        log = _Log(pen, size, place if fields else {})
        log.draw([each for each in columns if not each.group], groups[page], again=page > 0)
        if fields and page == 0:
            named = log_of(facts.booking or "", facts.unit or "")
            titles = json.dumps([each.title for each in columns])
            for name, value in ((LOG_OF, named), (COLUMNS, titles)):
                pen.field(name, MARGIN, MARGIN + HEAD_HEIGHT, 9, 9, said=name, value=value, hidden=True)

    return _write_form(say("Daily log"), facts, target, size, draw, len(groups), archival=not fields)


class _Log:
    """Draws the lines of one page: a strip of boxes a dive, and under it what each handset showed of each cell."""

    def __init__(self, pen: Pen, size: PageSize, places: Mapping[str, int]) -> None:
        self.pen, self.places = pen, places
        self.top, self.wide = MARGIN + HEAD_HEIGHT + 54, size.inner
        self.high = (size.room - 54) / LINES
        self.strip, self.row = self.high * 0.42, self.high * 0.255

    def draw(self, first: Sequence[LogColumn], readings: Sequence[LogColumn], *, again: bool) -> None:
        """Headings and lines; again: of a further page, which refers to the dive's own boxes on the first."""
        with self.pen.tagged(Tag("P")):
            self.pen.fit(MARGIN, MARGIN + HEAD_HEIGHT + 4, FURTHER if again else HOW, self.wide, 7.4)
        if again:
            self._referring()
        else:
            self._strips(first)
        self._readings(readings)
        for line in range(1, LINES):
            self.pen.rule(MARGIN, self.top + line * self.high - 1.6, self.wide, 0.8)

    def _referring(self) -> None:
        listed = Tag("L")
        for number in range(LINES):
            with self.pen.tagged(item_of(listed)):
                base = self._y(number) + self.strip * 0.7
                self.pen.text(MARGIN, base, f"{number + 1}", 9, BOLD)
                self.pen.text(
                    MARGIN + _NUMBER, base, say("the dive of line {number} on page 1", number=number + 1), _SMALL
                )

    def _strips(self, columns: Sequence[LogColumn]) -> None:
        pen, whole = self.pen, Tag("Table")
        head, left = Tag("TR", whole), MARGIN + _NUMBER
        lines = [Tag("TR", whole) for _ in range(LINES)]
        Tag("TH", head, table="/Scope /Column")
        for number, line in enumerate(lines):
            with pen.tagged(Tag("TH", line, table="/Scope /Row")):
                pen.text(MARGIN, self._y(number) + self.strip * 0.7, f"{number + 1}", 9, BOLD)
        for column, room in zip(columns, _rooms(columns, self.wide - _NUMBER), strict=True):
            with pen.tagged(Tag("TH", head, table="/Scope /Column")):
                for at, word in enumerate(wrapped(column.title, REGULAR, _SMALL, room - 5)):
                    pen.text(left, MARGIN + HEAD_HEIGHT + 13 + at * 7.4, word, _SMALL)
            for number, line in enumerate(lines):
                self._box(Tag("TD", line), left, self._y(number), room, self.strip, number, column)
            left += room

    def _readings(self, columns: Sequence[LogColumn]) -> None:
        pen, whole, label = self.pen, Tag("Table"), 42.0
        over, names = Tag("TR", whole), Tag("TR", whole)
        rows = [Tag("TR", whole) for _ in range(2 * LINES)]
        Tag("TH", over, table="/Scope /Column /RowSpan 2")
        across = list(dict.fromkeys((each.group, each.short) for each in columns))
        step = (self.wide - label) / len(across)
        for number, row in enumerate(rows):
            base = self._row_y(number) + self.row * 0.72
            with pen.tagged(Tag("TH", row, table="/Scope /Row")):
                pen.fit(MARGIN, base, say("{gases} mV", gases=_GASES[number % 2]), label - 3, _SMALL)
        for handset in dict.fromkeys(group for group, _ in across):
            mine = [at for at, (group, _) in enumerate(across) if group == handset]
            x, y = MARGIN + label + mine[0] * step, MARGIN + HEAD_HEIGHT + 42
            with pen.tagged(Tag("TH", over, table=f"/Scope /Column /ColSpan {len(mine)}")):
                pen.fit(x, y, handset, len(mine) * step - 4, _SMALL, BOLD)
        for at, (group, cell) in enumerate(across):
            x = MARGIN + label + at * step
            with pen.tagged(Tag("TH", names, table="/Scope /Column")):
                pen.fit(x, MARGIN + HEAD_HEIGHT + 50, cell, step - 2, _SMALL)
            mine_of = {
                each.key.rpartition("|")[2]: each for each in columns if (each.group, each.short) == (group, cell)
            }
            for number, row in enumerate(rows):
                column = mine_of[_GASES[number % 2]]
                self._box(Tag("TD", row), x, self._row_y(number), step, self.row, number // 2, column)

    def _y(self, line: int) -> float:
        return self.top + line * self.high

    def _row_y(self, number: int) -> float:
        """The top of a row of readings, of which each line has one a gas."""
        return self._y(number // 2) + self.strip + (number % 2) * self.row

    def _box(self, tag: Tag, x: float, y: float, wide: float, high: float, line: int, column: LogColumn) -> None:
        """A box to write in, which is a field of the form where there is one."""
        with self.pen.tagged(tag):
            self.pen.box(x, y, wide, high, 0.4)
        if self.places:
            said = say("line {line}: {column}", line=line + 1, column=column.title)
            self.pen.field(
                field_name(line + 1, self.places[column.key]), x + 0.6, y + 0.6, wide - 1.2, high - 1.2, said=said
            )


def _rooms(columns: Sequence[LogColumn], wide: float) -> list[float]:
    """The width of each column: what is written in it by hand decides, and no word of its heading is broken."""
    widths = [_WIDTHS.get(each.key, _NARROW) for each in columns]
    rooms = [each * wide / sum(widths) for each in widths]
    words = [[width(word, REGULAR, _SMALL) + 5.1 for word in settable(each.title).split()] for each in columns]
    least = [max(each) for each in words]
    return fair_rooms(rooms, least, least)


def _groups(names: tuple[str, ...], most: int) -> Iterator[tuple[str, ...]]:
    """The names in groups of nearly one size, none over the most."""
    groups = -(-len(names) // most)
    size = -(-len(names) // groups)
    return (names[at : at + size] for at in range(0, len(names), size))


def write_turn_round_card(facts: UnitForm, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the turn-round card of one unit on one page; returns 1."""

    def draw(pen: Pen, _page: int) -> None:
        listed, y = Tag("L"), MARGIN + HEAD_HEIGHT
        lines = [(words, _rows_of(sheet_texts().turn_round[step])) for step, words in facts.card]
        high = (size.room - 44) / sum(1 + _FURTHER * (len(rows) - 1) for _, rows in lines)
        for number, (words, rows) in enumerate(lines, start=1):
            whole = high * (1 + _FURTHER * (len(rows) - 1))
            with pen.tagged(item_of(listed)):
                _draw_step(pen, f"{number}", [words], rows[-1], y, size.inner, whole)
                for up, spots in enumerate(reversed(rows[:-1]), start=1):
                    _draw_spots(pen, spots, y + whole - up * high * _FURTHER, size.inner)
            y += whole
        _draw_findings(pen, MARGIN + HEAD_HEIGHT + size.room - 40, size.inner)

    return _write_form(say("Turn-round card"), facts, target, size, draw)


_IN_A_ROW, _FURTHER = 5, 0.45
"""Spots beside each other, and the height of a further row of them as a share of a line's."""


def _rows_of(spots: Sequence[str]) -> list[list[str]]:
    words = [say(each, bar=BAR) if "{" in each else say(each) for each in spots]
    rows = -(-len(words) // _IN_A_ROW)
    step = -(-len(words) // rows)
    return [words[at : at + step] for at in range(0, len(words), step)]


def write_service_card(
    plan: Sequence[PlanLine], facts: UnitForm, target: Target, *, size: PageSize = PageSize.A4
) -> int:
    """Write the tasks of a unit type's service plan with their steps and room to write in; returns its pages."""
    blocks: list[Block] = text_lines(PLAN_OF, size.inner, _SMALL)
    if not plan:
        blocks += text_lines(NO_PLAN, size.inner)
    for number, line in enumerate(plan, start=1):
        blocks += _task_blocks(number, line, size.inner)
    blocks += [section(say("Findings")), Block(66, lambda pen, _x, y, wide: _draw_findings(pen, y, wide))]
    return write_flow(blocks, _heading(say("Service card"), facts, "ticket"), target, size)


PLAN_OF = say(
    "From the centre's service plan; the maker's manual stands above it, and only whom the "
    "maker and local law allow may do it. Enter it into the ticket afterwards: nothing "
    "counts before it is signed there."
)
NO_PLAN = say("No service plan is on record for this type: use the maker's manual.")
_SPOTS: dict[StepKind, tuple[str, ...]] = {
    StepKind.WORK: (say("done"),), StepKind.TORQUE: (say("set, N·m"),), StepKind.SEAL: (say("inspected or replaced"),
        say("lot")),
    StepKind.LUBRICANT: (say("lubricant"), say("lot")), StepKind.PARTS: (say("lots or serials"),),
        StepKind.PHOTOGRAPH: (say("taken"),),
    StepKind.SECOND: (say("name"), say("signature")),
}  # fmt: skip
"""What is written by hand for a step, beside when and by whom; a figure's spots have its own unit."""


def _task_blocks(number: int, line: PlanLine, wide: float) -> Iterator[Block]:
    task, listed = line.task, Tag("L")
    needs = [say("tests: {tests}", tests=strung(", ", map(say, line.tests))) if line.tests else "",
        say("parts: {parts}", parts=strung(", ", line.parts)) if line.parts
             else "", plain_number(line.minutes, "min") if line.minutes is not None else ""]  # fmt: skip
    told = strung(
        "; ", filter(None, (task.describe(), who_words(task), *needs, say("by {source}", source=task.source)))
    )
    yield section(f"{number}  {task.text}")
    for each in text_lines(told, wide, _SMALL):
        yield replace(each, with_next=True)
    for place, step in enumerate(line.steps, start=1):
        yield _step_block(
            f"{number}.{place}", strung(": ", filter(None, (step.text, asks(step)))), _spots(step), listed, wide
        )
    ends = (say("minutes"), say("left out because"), *((say("second person"),) if task.second_person else ()))
    yield _step_block(f"{number}", say("Task done"), ends, listed, wide)


def _spots(step: PlanStep) -> tuple[str, ...]:
    if step.kind != StepKind.FIGURE:
        return _SPOTS[StepKind(step.kind)]
    unit = f", {unit_of(step)}" if unit_of(step) else ""
    return tuple(
        strung("", (when, unit)) for when in ((say("before"), say("after")) if step.before else (say("read"),))
    )


def _step_block(number: str, words: str, spots: Sequence[str], listed: Tag, wide: float) -> Block:
    lines = wrapped(words, BOLD, 9.2, wide - 40)
    high = 25.0 + _LEADING * len(lines)

    def draw(pen: Pen, _x: float, y: float, wide: float) -> None:
        _draw_step(pen, number, lines, spots, y, wide, high)

    return Block(high, draw, tag=item_of(listed))


def _write_form(
    title: str,
    facts: UnitForm,
    target: Target,
    size: PageSize,
    draw: Callable[[Pen, int], None],
    pages: int = 1,
    *,
    archival: bool = True,
) -> int:
    heading = _heading(title, facts)
    with written(target) as stream:
        head = facts.letterhead
        named = f"{title} {facts.record}"
        canvas = new_canvas(stream, (size.wide, size.high), named, head.centre, at=head.at, archival=archival)
        for page in range(pages):
            pen = Pen(canvas, size.high)
            draw_head(pen, size, heading, again=page > 0)
            draw(pen, page)
            draw_foot(pen, size, heading, page + 1, pages)
            canvas.showPage()
        canvas.save()
    return pages


def _heading(title: str, facts: UnitForm, refers_to: str = "booking") -> Heading:
    subtitle = strung(" ", (say(refers_to), facts.booking or "_" * 20))
    if facts.unit is None:
        subtitle = say("unit ____________________   {subtitle}", subtitle=subtitle)
    return Heading(facts.letterhead, title, facts.record, subtitle, code=facts.unit, code_word=facts.unit_type or "")


def _draw_step(
    pen: Pen, number: str, lines: Sequence[str], spots: Sequence[str], y: float, wide: float, high: float
) -> None:
    side = _INDENT - 22
    pen.box(MARGIN, y + 5, side, side, 0.8)
    pen.text(MARGIN + side + 6, y + 14, number, 9, BOLD)
    for at, line in enumerate(lines):
        pen.fit(MARGIN + _INDENT, y + 14 + at * _LEADING, line, wide - _INDENT, 9.2, BOLD)
    _draw_spots(pen, spots, y + high, wide)
    for share, word in ((0.8, say("when")), (0.9, say("by"))):
        left, begin = MARGIN + wide * share, 20.0 if word == "when" else 11.0
        begin = max(begin, width(settable(word), REGULAR, 7) + 2)
        pen.text(left, y + high - 4.5, word, 7)
        pen.rule(left + begin, y + high - 4, wide * 0.1 - begin - 4, 0.4)
    pen.rule(MARGIN, y + high, wide, 0.25, 0.7)


def _draw_spots(pen: Pen, spots: Sequence[str], base: float, wide: float) -> None:
    room = (wide * 0.79 - _INDENT) / len(spots)
    for place, spot in enumerate(spots):
        left = MARGIN + _INDENT + place * room
        pen.fit_on_two(left, base - 4.5, spot, room * 0.6, 7, 6.6)
        begin = left + min(room * 0.6, len(shown(spot)) * 3.7 + 3)
        pen.rule(begin, base - 4, left + room - 6 - begin, 0.4)


def _draw_findings(pen: Pen, y: float, wide: float) -> None:
    pen.text(MARGIN, y + 10, say("findings, faults, parts wanted"), 8, BOLD)
    for line in (24.0, 38.0):
        pen.rule(MARGIN, y + line, wide, 0.4)
