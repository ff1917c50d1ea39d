"""Notices on paper: the units on which an action is not done, and a recall with everything that it touched."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.notices.scope import Weight
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.words import day, said, span
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.notices.acts import NotDone, NoticePage
from fleetbench.workshop.notices.touched import TouchedContainer, TouchedHire, TouchedPart, TouchedUnit

_NOT_DONE = (
    TableColumn("unit", 10, bold=True),
    TableColumn("place", 16),
    TableColumn("what is named", 44),
    TableColumn("done on, by", 24),
)
_UNITS = (
    TableColumn("unit", 10, bold=True),
    TableColumn("state", 16, mark=True),
    TableColumn("place", 16),
    TableColumn("what is named", 52),
)
_PARTS = (
    TableColumn("part", 22, bold=True),
    TableColumn("part type", 30),
    TableColumn("state", 16),
    TableColumn("where", 28),
)
_HIRES = (
    TableColumn("booking", 18, bold=True),
    TableColumn("state", 14),
    TableColumn("unit", 10),
    TableColumn("diver or renter", 26),
    TableColumn("dives with it", 24),
    TableColumn("from and to", 26),
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
            f"{units} {'unit' if units == 1 else 'units'} with something not done",
            f"{late} after the last day for it" if late else "",
        )
    )
    blocks: list[Block] = []
    if not left:
        none = "Every notice is done on every unit that it names, as far as the records go."
        blocks.extend(text_lines(none, size.inner, 10))
    for (number, title), rows in groupby(left, key=lambda row: (row.notice.number, row.notice.title)):
        blocks.extend(_notice(number, title, list(rows), size.inner))
    heading = Heading(head, "Notices not done", f"NOTICES-{on.isoformat()}", subtitle)
    return write_flow(blocks, heading, target, size)


def write_recall(notice: NoticePage, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write a notice with every hire, unit and part it touched, those to ring first; returns the number of pages."""
    subtitle = joined(
        (
            "stops units and parts" if notice.notice.weight == Weight.STOP else "recommendation",
            f"issued {day(notice.notice.issued_on)}",
            f"by {day(notice.notice.by_when)}" if notice.notice.by_when else "at once",
        )
    )
    heading = Heading(head, f"Notice {notice.notice.number}", notice.notice.number, subtitle)
    return write_flow(_recall(notice, size.inner), heading, target, size)


def _notice(number: str, title: str, rows: Sequence[NotDone], wide: float) -> list[Block]:
    first = rows[0]
    notice = first.notice
    due = f"by {day(notice.by_when)}{', past' if first.late else ''}" if notice.by_when else "at once"
    weight = "stops the unit" if notice.weight == Weight.STOP else "recommendation"
    return [
        section(f"{number}: {title}"),
        *text_lines(f"{weight}; {due}. To do: {notice.action}", wide, 8.6),
        *table(_NOT_DONE, (_not_done(row) for row in rows), wide, 7.8),
    ]


def _not_done(row: NotDone) -> tuple[str, ...]:
    return row.unit.unit, said(row.unit.place), "; ".join(row.unit.why), _BLANK


def _recall(notice: NoticePage, wide: float) -> list[Block]:
    touched = notice.touched
    out = [_hire(row) for row in touched.hires if row.state == "out now"]
    blocks = [
        *pairs((("what", notice.notice.title), ("to do", notice.notice.action)), 1, label_share=0.12),
        space(4),
        *text_lines(notice.notice.text, wide),
        section("Out now: ring first"),
    ]
    blocks += _table_or(_HIRES, out, "No hire with it is out.", wide)
    blocks.append(section("Units"))
    blocks += _table_or(_UNITS, [_unit(row) for row in touched.units], "No unit holds or held it.", wide)
    blocks.append(section("Parts and containers"))
    parts = [*map(_part, touched.parts), *map(_container, touched.containers)]
    blocks += _table_or(_PARTS, parts, "None is recorded.", wide)
    blocks.append(section("Other hires and courses that it was on, or will be on"))
    rest = [_hire(row) for row in touched.hires if row.state != "out now"]
    return blocks + _table_or(_HIRES, rest, "None is recorded.", wide)


def _table_or(columns: Sequence[TableColumn], rows: Sequence[tuple[str, ...]], none: str, wide: float) -> list[Block]:
    return list(table(columns, rows, wide, 7.8)) if rows else text_lines(none, wide, 8.2)


def _unit(row: TouchedUnit) -> tuple[str, ...]:
    return row.unit, "hold" if row.now else "look", said(row.place), "; ".join(row.why)


def _part(row: TouchedPart) -> tuple[str, ...]:
    fitted = ", ".join(filter(None, (row.unit, row.slot)))
    return row.part, row.part_type, row.state, said(fitted or row.place)


def _container(row: TouchedContainer) -> tuple[str, ...]:
    return f"lot {row.lot}", row.part_type, f"{KILOGRAM.words(row.left_kg)} left", said(row.place)


def _hire(row: TouchedHire) -> tuple[str, ...]:
    days = span(row.starts_on, row.ends_on)
    return f"{row.booking}, {row.kind}", row.state, row.unit, said(row.diver or row.renter), row.exposed, days
