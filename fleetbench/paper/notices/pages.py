"""Notices on paper: the units on which an action is not done, and a recall with everything that it touched."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Weight
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.marks import day, said, span
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.notices.acts import NotDone, NoticePage
from fleetbench.workshop.notices.touched import TouchedContainer, TouchedHire, TouchedPart, TouchedUnit

_NOT_DONE = (
    TableColumn("unit", 10, bold=True),
    TableColumn("place", 16),
    TableColumn(say("what is named"), 44),
    TableColumn(say("done on, by"), 24),
)
_UNITS = (
    TableColumn("unit", 10, bold=True),
    TableColumn("state", 16, mark=True),
    TableColumn("place", 16),
    TableColumn(say("what is named"), 52),
)
_PARTS = (
    TableColumn("part", 22, bold=True),
    TableColumn(say("part type"), 30),
    TableColumn("state", 16),
    TableColumn("where", 28),
)
_HIRES = (
    TableColumn("booking", 18, bold=True),
    TableColumn("state", 14),
    TableColumn("unit", 10),
    TableColumn(say("diver or renter"), 26),
    TableColumn(say("dives with it"), 24),
    TableColumn(say("from and to"), 26),
)
_BLANK = "____________________"


def write_notice_list(
    left: Sequence[NotDone], target: Target, *, head: Letterhead, on: date, size: PageSize = PageSize.A4
) -> int:
    """Write the units on which a notice's action is not done, a section a notice; returns the number of pages."""
    units = len({row.unit.unit for row in left})
    late = len({row.unit.unit for row in left if row.late})
    subtitle = joined(
        (
            day(on),
            say_count("{count} unit with something not done", "{count} units with something not done", units),
            say("{late} after the last day for it", late=late) if late else "",
        )
    )
    blocks: list[Block] = []
    if not left:
        none = say("Every notice is done on every unit that it names, as far as the records go.")
        blocks.extend(text_lines(none, size.inner, 10))
    for (number, title), rows in groupby(left, key=lambda row: (row.notice.number, row.notice.title)):
        blocks.extend(_notice(number, title, list(rows), size.inner))
    heading = Heading(head, say("Notices not done"), f"NOTICES-{on.isoformat()}", subtitle)
    return write_flow(blocks, heading, target, size)


def write_recall(notice: NoticePage, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a notice with every hire, unit and part it touched, those to ring first; returns the number of pages."""
    subtitle = joined(
        (
            say("stops units and parts") if notice.notice.weight == Weight.STOP else say("recommendation"),
            say("issued {issued_on}", issued_on=day(notice.notice.issued_on)),
            say("by {by_when}", by_when=day(notice.notice.by_when)) if notice.notice.by_when else say("at once"),
        )
    )
    heading = Heading(head, say("Notice {number}", number=notice.notice.number), notice.notice.number, subtitle)
    return write_flow(_recall(notice, size.inner), heading, target, size)


def _notice(number: str, title: str, rows: Sequence[NotDone], wide: float) -> list[Block]:
    first = rows[0]
    notice = first.notice
    due = say("by {by_when}", by_when=day(notice.by_when)) if notice.by_when else say("at once")
    due = strung(", ", (due, say("past"))) if first.late and notice.by_when else due
    weight = say("stops the unit") if notice.weight == Weight.STOP else say("recommendation")
    return [
        section(f"{number}: {title}"),
        *text_lines(say("{weight}; {due}. To do: {action}", weight=weight, due=due, action=notice.action), wide, 8.6),
        *table(_NOT_DONE, (_not_done(row) for row in rows), wide, 7.8),
    ]


def _not_done(row: NotDone) -> tuple[str, ...]:
    return row.unit.unit, said(row.unit.place), strung("; ", row.unit.why), _BLANK


def _recall(notice: NoticePage, wide: float) -> list[Block]:
    touched = notice.touched
    out = [_hire(row) for row in touched.hires if row.state is HireState.OUT]
    blocks = [
        *pairs(((say("what"), notice.notice.title), (say("to do"), notice.notice.action)), 1, label_share=0.12),
        space(4),
        *text_lines(notice.notice.text, wide),
        section(say("Out now: ring first")),
    ]
    blocks += _table_or(_HIRES, out, say("No hire with it is out."), wide)
    blocks.append(section(say("Units")))
    blocks += _table_or(_UNITS, [_unit(row) for row in touched.units], say("No unit holds or held it."), wide)
    blocks.append(section(say("Parts and containers")))
    parts = [*map(_part, touched.parts), *map(_container, touched.containers)]
    blocks += _table_or(_PARTS, parts, say("None is recorded."), wide)
    blocks.append(section(say("Other hires and courses that it was on, or will be on")))
    rest = [_hire(row) for row in touched.hires if row.state is not HireState.OUT]
    return blocks + _table_or(_HIRES, rest, say("None is recorded."), wide)


def _table_or(columns: Sequence[TableColumn], rows: Sequence[tuple[str, ...]], none: str, wide: float) -> list[Block]:
    return list(table(columns, rows, wide, 7.8)) if rows else text_lines(none, wide, 8.2)


def _unit(row: TouchedUnit) -> tuple[str, ...]:
    return row.unit, say("hold") if row.now else say("look"), said(row.place), strung("; ", row.why)


def _part(row: TouchedPart) -> tuple[str, ...]:
    fitted = strung(", ", filter(None, (row.unit, row.slot)))
    return row.part, row.part_type, row.state, said(fitted or row.place)


def _container(row: TouchedContainer) -> tuple[str, ...]:
    return (
        say("lot {lot}", lot=row.lot),
        row.part_type,
        say("{left_kg} left", left_kg=KILOGRAM.words(row.left_kg)),
        said(row.place),
    )


def _hire(row: TouchedHire) -> tuple[str, ...]:
    days = span(row.starts_on, row.ends_on)
    return (
        strung(", ", (row.booking, say(row.kind))),
        say(row.state),
        row.unit,
        said(row.diver or row.renter),
        row.exposed,
        days,
    )
