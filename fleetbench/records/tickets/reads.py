"""Reads of tickets, of what was done under them, and of the journal entries that hold them."""

import json
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, or_, select

from fleetbench.calc.core.languages import say_ref
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.journal import Journal
from fleetbench.records.core.schema import Base, Query, built_once, reads, record_or_none, records_of, select_of
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.people.tables import named
from fleetbench.records.tickets.photographs import Photograph
from fleetbench.records.tickets.tables import Disinfection, Finding, Task, Ticket, TicketTime, still_open
from fleetbench.records.units.tables import Slot, Unit, UnitType


@dataclass(frozen=True, slots=True)
class TicketRecord:
    """One ticket with its unit."""

    ticket_id: int
    year: int
    number: int
    unit_id: int
    unit: str
    unit_type: str
    unit_serial: str | None
    cause: str
    reason: str
    critical: bool
    opened_at: datetime
    opened_by: str
    minutes: float
    refers_to_id: int | None
    signed_at: datetime | None
    signed_by_id: int | None
    signed_by: str | None
    second: str | None
    withdrawn_at: datetime | None

    @property
    def is_open(self) -> bool:
        """Neither signed nor withdrawn."""
        return self.signed_at is None and self.withdrawn_at is None


@dataclass(frozen=True, slots=True)
class TaskCountRecord:
    """How many tasks of a ticket are in a state."""

    ticket_id: int
    state: str
    tasks: int


@dataclass(frozen=True, slots=True)
class FindingRecord:
    """Something seen."""

    finding_id: int
    at: datetime
    person_id: int | None
    person: str | None
    text: str


@dataclass(frozen=True, slots=True)
class TimeRecord:
    """Time worked under a ticket by one person; minutes None while the clock runs."""

    time_id: int
    person_id: int | None
    person: str | None
    began_at: datetime
    ended_at: datetime | None
    minutes: float | None


@dataclass(frozen=True, slots=True)
class PhotographRecord:
    """A photograph of a ticket, a calibration or a bench test; the picture is the file of that SHA-256."""

    photograph_id: int
    ticket_id: int | None
    at: datetime
    person: str | None
    sha256: str
    size: int
    wide: int
    high: int
    caption: str
    calibration_id: int | None = None
    bench_test_id: int | None = None


@dataclass(frozen=True, slots=True)
class TaskRecord:
    """One thing to do."""

    task_id: int
    ordinal: int
    text: str
    critical: bool
    state: str
    minutes: float | None
    settled_at: datetime | None
    person_id: int | None
    person: str | None
    put_off_reason: str | None
    times_put_off: int
    second_person: bool | None


@dataclass(frozen=True, slots=True)
class MoveRecord:
    """A fitting that began or ended under a ticket."""

    fitting_id: int
    ticket_id: int | None
    removal_ticket_id: int | None
    fitted_at: datetime
    fitted_by_id: int | None
    removed_at: datetime | None
    removed_by_id: int | None
    why_removed: str | None
    slot: str
    host_part_id: int | None
    part_id: int
    part_type: str
    serial: str | None
    lot: str | None
    ref: str | None

    @property
    def label(self) -> str:
        """Serial, else lot, else the record's number."""
        lot = say_ref("lot {ref}", self.lot) if self.lot else self.ref
        return self.serial or lot or say_ref("part {ref}", self.part_id)


@dataclass(frozen=True, slots=True)
class CleaningRecord:
    """A disinfection."""

    disinfection_id: int
    at: datetime
    agent: str
    strength: str
    contact_minutes: float
    rinsed: bool
    dry_at: datetime | None
    person_id: int | None


def ticket_number(year: int, number: int) -> str:
    """A ticket's number as printed, for instance 2026-014."""
    return f"{year}-{number:03d}"


@built_once
def _tickets() -> Query:
    return (
        select_of(
            TicketRecord,
            Ticket,
            unit=Unit.tag,
            unit_type=UnitType.name,
            unit_serial=Unit.serial,
            opened_by=named(Ticket.opened_by_id),
            signed_by=named(Ticket.signed_by_id),
            second=named(Ticket.second_id),
        )
        .join(Unit, Unit.id == Ticket.unit_id)
        .join(UnitType, UnitType.id == Unit.unit_type_id)
    )


@reads(TicketRecord)
def read_tickets(*, open_only: bool = False) -> Query:
    """Tickets, newest first; one statement."""
    query = _tickets().order_by(Ticket.year.desc(), Ticket.number.desc())
    if open_only:
        query = query.where(still_open())
    return query


@reads(TicketRecord)
def read_tickets_of(unit_id: int) -> Query:
    """Tickets of a unit, oldest first; one statement."""
    return _tickets().where(Ticket.unit_id == unit_id).order_by(Ticket.year, Ticket.number)


@reads(TicketRecord)
def read_open_tickets(unit_id: int | None = None) -> Query:
    """Tickets that are open, oldest first; one statement."""
    query = _tickets().where(still_open()).order_by(Ticket.year, Ticket.number)
    if unit_id is not None:
        query = query.where(Ticket.unit_id == unit_id)
    return query


def read_ticket(connection: Connection, year: int, number: int) -> TicketRecord | None:
    """One ticket by its number, None where there is none; one statement."""
    query = _tickets().where(Ticket.year == year, Ticket.number == number)
    return record_or_none(connection, query, TicketRecord)


def read_ticket_numbers(connection: Connection) -> dict[int, str]:
    """Printed numbers by key; one statement."""
    found = connection.execute(select(Ticket.id, Ticket.year, Ticket.number))
    return {key: ticket_number(year, number) for key, year, number in found}


def read_referring(connection: Connection, ticket_id: int) -> tuple[int, ...]:
    """Keys of the tickets that refer to this one, oldest first; one statement."""
    query = select(Ticket.id).where(Ticket.refers_to_id == ticket_id).order_by(Ticket.year, Ticket.number)
    return tuple(connection.scalars(query))


@reads(TaskCountRecord)
def read_task_counts() -> Query:
    """How many tasks of each ticket are in each state; one statement."""
    return select_of(TaskCountRecord, Task, tasks=func.count()).group_by(Task.ticket_id, Task.state)


@reads(FindingRecord)
def read_findings(ticket_id: int) -> Query:
    """Findings of a ticket whose place no other took, oldest first; one statement."""
    superseded = select(Finding.supersedes_id).where(Finding.supersedes_id.is_not(None))
    query = select_of(FindingRecord, Finding, person=named(Finding.person_id)).where(
        Finding.ticket_id == ticket_id, Finding.id.not_in(superseded)
    )
    return query.order_by(Finding.at, Finding.id)


@reads(TimeRecord)
def read_times(ticket_id: int) -> Query:
    """Times worked under a ticket whose place no other took, oldest first; one statement."""
    superseded = select(TicketTime.supersedes_id).where(TicketTime.supersedes_id.is_not(None))
    query = select_of(TimeRecord, TicketTime, time_id=TicketTime.id, person=named(TicketTime.person_id)).where(
        TicketTime.ticket_id == ticket_id, TicketTime.id.not_in(superseded)
    )
    return query.order_by(TicketTime.began_at, TicketTime.id)


def read_photographs(
    connection: Connection,
    *,
    ticket_ids: Collection[int] | None = None,
    unit_id: int | None = None,
    part_id: int | None = None,
) -> tuple[PhotographRecord, ...]:
    """Photographs of these tickets, beside what was recorded of a unit or of a part, or every one, oldest first.

    One statement.
    """
    query = select_of(PhotographRecord, Photograph, person=named(Photograph.person_id)).order_by(
        Photograph.at, Photograph.id
    )
    if ticket_ids is not None:
        query = query.where(Photograph.ticket_id.in_(ticket_ids))
    if unit_id is not None or part_id is not None:
        calibrations = select(Calibration.id).where(Calibration.unit_id == unit_id)
        tests = select(BenchTest.id).where(BenchTest.unit_id == unit_id)
        if part_id is not None:
            of_cell = CalibrationOutcome.part_id == part_id
            calibrations = select(CalibrationOutcome.calibration_id).where(of_cell)
            tests = select(BenchTest.id).where(BenchTest.part_id == part_id)
        query = query.where(or_(Photograph.calibration_id.in_(calibrations), Photograph.bench_test_id.in_(tests)))
    return records_of(connection, query, PhotographRecord)


@reads(TaskRecord)
def read_tasks(ticket_id: int) -> Query:
    """Tasks of a ticket in order; one statement."""
    return (
        select_of(TaskRecord, Task, person=named(Task.person_id))
        .where(Task.ticket_id == ticket_id)
        .order_by(Task.ordinal, Task.id)
    )


@built_once
def _moves() -> Query:
    return (
        select_of(MoveRecord, Fitting, Part, slot=Slot.name, part_type=PartType.name, ref=Part.ref)
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, PartType.id == Part.part_type_id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .order_by(Fitting.fitted_at, Fitting.id)
    )


@reads(MoveRecord)
def read_moves_under(ticket_id: int) -> Query:
    """Fittings that began or ended under a ticket, oldest first; one statement."""
    return _moves().where(or_(Fitting.ticket_id == ticket_id, Fitting.removal_ticket_id == ticket_id))


def read_moves_in(connection: Connection, unit_id: int, parts: Query) -> tuple[MoveRecord, ...]:
    """Fittings in a unit, past and present, and in the assemblies that sit in it now; one statement."""
    query = _moves().where(or_(Fitting.unit_id == unit_id, Fitting.host_part_id.in_(parts)))
    return records_of(connection, query, MoveRecord)


@reads(CleaningRecord)
def read_cleanings(*, unit_id: int | None = None, ticket_id: int | None = None) -> Query:
    """Disinfections of one unit or under one ticket, oldest first; one statement."""
    query = select_of(CleaningRecord, Disinfection).order_by(Disinfection.at, Disinfection.id)
    if unit_id is not None:
        query = query.where(Disinfection.unit_id == unit_id)
    if ticket_id is not None:
        query = query.where(Disinfection.ticket_id == ticket_id)
    return query


UNDER_A_TICKET = ("ticket_id", "removal_ticket_id")
"""Columns by which a row belongs to a ticket."""

SHOWN_OF_ITS_UNIT = frozenset(("bench_test", "calibration"))
"""What a ticket shows of its unit, though it was not done under it."""


@dataclass(frozen=True, slots=True)
class AddedRecord:
    """One row that an entry of the journal wrote about a ticket: the entry, whose and when, and the row's values."""

    entry: int
    at: datetime
    person_id: int | None
    act: str
    values: dict[str, Any]


def read_added(connection: Connection, ticket_id: int, unit_id: int, after: int) -> tuple[AddedRecord, ...]:
    """What was written about a ticket after an entry of the journal, oldest first; one statement where nothing was."""
    query = select(Journal).where(Journal.id > after).order_by(Journal.id)
    return tuple(
        AddedRecord(row.id, at=row.at, person_id=row.person_id, act=row.act, values=values)
        for row in connection.execute(query)
        for values in _about(connection, json.loads(row.content)["rows"], ticket_id, unit_id)
    )


def _about(connection: Connection, rows: list[Any], ticket_id: int, unit_id: int) -> Iterator[dict[str, Any]]:
    for name, key, values in rows:
        of_the_unit = name in SHOWN_OF_ITS_UNIT and values.get("unit_id") == unit_id
        itself = name == "ticket" and key == ticket_id
        if itself or of_the_unit or _is_under(connection, name, key, values, ticket_id):
            yield values


def _is_under(connection: Connection, name: str, key: int, values: dict[str, Any], ticket_id: int) -> bool:
    """Whether a row belongs to the ticket; where only changed columns are kept of it, the row itself is read."""
    table = Base.metadata.tables[name]
    columns = [column for column in UNDER_A_TICKET if column in table.c]
    if not columns or any(column in values for column in columns):
        return any(values.get(column) == ticket_id for column in columns)
    whose = connection.execute(select(*(table.c[column] for column in columns)).where(table.c.id == key)).first()
    return whose is not None and ticket_id in tuple(whose)
