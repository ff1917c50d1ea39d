"""The due list for other programs: as iCalendar (RFC 5545), CSV and XLSX.

An all-day event an item with a UID that stays, and a reminder of each. No cell that a person typed is a formula.

An item stands on its last good day; one that is past, or whose day is not known, on the first day of the list. What the
records show done, and is not due again on any day, is cancelled (3.8.1.11). SEQUENCE (3.8.7.4) is the minute of
writing, so a later calendar always revises an earlier one.
"""

import uuid
from datetime import UTC, date, datetime, timedelta

from icalendar import Alarm, Calendar, Event

from fleetbench.calc.parts.life import LimitBasis
from fleetbench.paper.core.document import Letterhead
from fleetbench.paper.core.marks import NOT_RECORDED, day, said
from fleetbench.paper.core.spreadsheet import Cell, Rows, plain, write_csv, write_xlsx
from fleetbench.paper.due.page import DueList, taken, taken_from
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.orders import FetchRow

_NAMES = uuid.UUID("5d6f1f0e-3a57-5c0a-9f0e-6a3f3f0b7a11")


def write_due_ics(due: DueList, target: Target, *, head: Letterhead, stamp: datetime) -> int:
    """Write the due list as iCalendar; returns its number of items, without those cancelled.

    stamp: the moment of writing, aware; a reader takes the event with the later stamp. Raises ValueError for a stamp
    without a zone.
    """
    if stamp.tzinfo is None:
        raise ValueError("stamp: has no time zone; give an aware moment")
    calendar = Calendar()
    calendar.add("prodid", "-//fleetbench//due list//EN")
    calendar.add("version", "2.0")
    events = [(name, _event(item, due, head)) for item, name in due.named]
    for name, event in (*events, *((name, _cancelled(name, on)) for name, on in due.done.items())):
        event.add("uid", calendar_uid(head.centre, name))
        event.add("dtstamp", stamp.astimezone(UTC))
        event.add("sequence", int(stamp.timestamp()) // 60)
        calendar.add_component(event)
    with written(target) as out:
        out.write(calendar.to_ical())
    return len(due.items)


def calendar_uid(centre: str, uid: str) -> str:
    """The event's UID: a name-based UUID (RFC 9562 version 5) of centre and item, so equal at each export."""
    return str(uuid.uuid5(_NAMES, f"{centre}\n{uid}"))


def _event(line: DueItem, due: DueList, head: Letterhead) -> Event:
    on = line.last_good_day
    if on is None or on < due.on:  # still to do: on its own day nobody would see it any more
        on = due.on
    event = Event()
    event.add("dtstart", on)
    event.add("dtend", _next_day(on))
    event.add("summary", plain(_summary(line)))
    event.add("description", "\n".join(plain(sentence) for sentence in _description(line, due, head)))
    event.add("categories", [plain(said(line.state))])
    event.add("transp", "TRANSPARENT")
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", plain(_summary(line)))
    alarm.add("trigger", BEFORE if on > due.on else NOW)
    event.add_component(alarm)
    return event


def _cancelled(name: str, on: date) -> Event:
    event = Event()
    event.add("dtstart", on)
    event.add("dtend", _next_day(on))
    event.add("summary", plain(f"done {day(on)}: {name}"))
    event.add("status", "CANCELLED")
    event.add("transp", "TRANSPARENT")
    return event


BEFORE, NOW = timedelta(days=-7, hours=9), timedelta(hours=9)
"""The reminder from the midnight of its day on: nine in the morning a week before, or of the day for what is past;
common practice, no published source."""


def _next_day(on: date) -> date:
    return on + timedelta(days=1)


def _summary(line: DueItem) -> str:
    warning = (
        "day not recorded: "
        if line.last_good_day is None
        else f"past since {day(line.last_good_day)}: "
        if _is_past(line)
        else ""
    )
    place = " ".join(filter(None, (line.unit or "in store", line.slot)))
    return f"{warning}{place}: {line.item}"


def _is_past(line: DueItem) -> bool:
    return line.days_left is not None and line.days_left < 0


def _description(line: DueItem, due: DueList, head: Letterhead) -> tuple[str, ...]:
    basis = said(line.basis).replace("_", " ")
    rests_on = "the cell's own calibrations" if line.basis == LimitBasis.FORECAST else "expected use"
    return (
        f"Last valid day {day(line.last_good_day)}, inclusive.",
        f"Set by: {basis}{f', projected from {rests_on}' if line.projected else ''}.",
        f"Part: {line.part_type or NOT_RECORDED}, {line.part}." if line.part else "No part.",
        f"First booking hit: {line.hits or 'none'}.",
        f"From {due.record}, {head.centre}. The maker's manual and local law stand above it.",
    )


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
