"""Rows by the names that people use: all that carries a text, for the find box; and what an act must look up.

Single rows by their natural keys are read inside the act's transaction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, func, or_, select
from sqlalchemy.orm import Session

from fleetbench.calc.core.languages import folded, say
from fleetbench.calc.notices.scope import Covered, Marks, Weight, covers_part
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.canisters.tables import Container
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.journal import Journal
from fleetbench.records.core.schema import Query, reads, records_of, select_of
from fleetbench.records.hires.tables import Booking
from fleetbench.records.notices.tables import Notice, NoticeScope
from fleetbench.records.parts.tables import Fitting, Part, PartType, PartTypeLife
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification
from fleetbench.records.tickets.tables import Finding, Task, Ticket, TicketTime
from fleetbench.records.units.tables import Hold, Slot, Unit, UnitType


@dataclass(frozen=True, slots=True)
class FoundUnit:
    """A unit whose tag, former tag or serial holds the text."""

    tag: str
    former_tag: str | None
    serial: str | None
    unit_type: str


@dataclass(frozen=True, slots=True)
class FoundPart:
    """A part whose serial, lot or record number holds the text."""

    part_id: int
    kind: str
    part_type: str
    serial: str | None
    lot: str | None
    ref: str | None
    state: str


@dataclass(frozen=True, slots=True)
class FoundContainer:
    """A container of absorbent whose lot holds the text."""

    container_id: int
    part_type: str
    lot: str


@dataclass(frozen=True, slots=True)
class FoundTicket:
    """A ticket by its number."""

    year: int
    number: int
    unit: str
    reason: str


@dataclass(frozen=True, slots=True)
class FoundBooking:
    """A booking whose code holds the text."""

    code: str
    kind: str
    starts_on: date
    ends_on: date


def _holds(column: Any, text: str) -> Any:
    return func.lower(column).contains(text.lower(), autoescape=True)


def find_units(connection: Connection, text: str, limit: int) -> tuple[FoundUnit, ...]:
    """Units that carry the text; one statement."""
    query = (
        select_of(FoundUnit, Unit, unit_type=UnitType.name)
        .join(UnitType, UnitType.id == Unit.unit_type_id)
        .where(or_(_holds(Unit.tag, text), _holds(Unit.former_tag, text), _holds(Unit.serial, text)))
        .order_by(func.lower(Unit.tag) != text.lower(), Unit.tag)
        .limit(limit)
    )
    return records_of(connection, query, FoundUnit)


def find_parts(connection: Connection, text: str, limit: int) -> tuple[FoundPart, ...]:
    """Parts that carry the text, exact serials first; one statement."""
    query = (
        select_of(FoundPart, Part, PartType, part_type=PartType.name)
        .join(PartType, PartType.id == Part.part_type_id)
        .where(or_(_holds(Part.serial, text), _holds(Part.lot, text), func.lower(Part.ref) == text.lower()))
        .order_by(func.lower(func.coalesce(Part.serial, "")) != text.lower(), Part.id)
        .limit(limit)
    )
    return records_of(connection, query, FoundPart)


def find_containers(connection: Connection, text: str, limit: int) -> tuple[FoundContainer, ...]:
    """Containers whose lot holds the text; one statement."""
    query = (
        select_of(FoundContainer, Container, part_type=PartType.name)
        .join(PartType, PartType.id == Container.part_type_id)
        .where(or_(_holds(Container.lot, text), func.lower(Container.ref) == text.lower()))
        .order_by(Container.lot, Container.id)
        .limit(limit)
    )
    return records_of(connection, query, FoundContainer)


@reads(FoundTicket)
def find_ticket(year: int, number: int) -> Query:
    """The ticket with this number; one statement."""
    return (
        select_of(FoundTicket, Ticket, unit=Unit.tag)
        .join(Unit, Unit.id == Ticket.unit_id)
        .where(Ticket.year == year, Ticket.number == number)
    )


def find_bookings(connection: Connection, text: str, limit: int) -> tuple[FoundBooking, ...]:
    """Bookings whose code holds the text, the latest first; one statement."""
    query = (
        select_of(FoundBooking, Booking)
        .where(_holds(Booking.code, text))
        .order_by(func.lower(Booking.code) != text.lower(), Booking.starts_on.desc())
        .limit(limit)
    )
    return records_of(connection, query, FoundBooking)


def last_act_about(session: Session, act: str, subject: str) -> datetime | None:
    """When an act of this name was last done to a subject."""
    return session.scalar(select(func.max(Journal.at)).where(Journal.act == act, Journal.subject == subject))


def entries_about(connection: Connection, subject: str) -> tuple[tuple[datetime, str | None, str, str], ...]:
    """Moment, code of the user, act and content of the journal entries on a subject, newest first; one statement."""
    query = (
        select(Journal.at, Person.code, Journal.act, Journal.content)
        .outerjoin(Person, Person.id == Journal.person_id)
        .where(Journal.subject == subject)
        .order_by(Journal.id.desc())
    )
    return tuple((at, code, act, content) for at, code, act, content in connection.execute(query))


def unit_by_tag(session: Session, tag: str) -> Unit:
    """The unit with this tag, or with it as its former tag, whatever the case of its letters; NotFound otherwise."""
    row = session.scalar(select(Unit).where(or_(Unit.tag == tag, Unit.former_tag == tag)))
    if row is None:
        typed, named = folded(tag), select(Unit.id, Unit.tag, Unit.former_tag)
        alike = [key for key, *names in session.execute(named) if typed in [folded(each) for each in names if each]]
        row = session.get(Unit, alike[0]) if len(alike) == 1 else None
    if row is None:
        raise NotFound(say("unit {tag}: no unit has this tag; check the tag or add the unit first", tag=tag))
    return row


def part_by_serial(session: Session, serial: str) -> Part:
    """The one part with this serial; NotFound where there is none or more than one."""
    rows = session.scalars(select(Part).where(Part.serial == serial).limit(2)).all()
    if len(rows) != 1:
        said = (
            say("no part has this serial")
            if not rows
            else say("parts of several types have this serial; choose one in Stock")
        )
        raise NotFound(say("part {serial}: {said}", serial=serial, said=said))
    return rows[0]


def unit_slots(session: Session, unit: Unit) -> Sequence[Slot]:
    """The slots of the unit's type, in order."""
    return session.scalars(select(Slot).where(Slot.unit_type_id == unit.unit_type_id).order_by(Slot.ordinal)).all()


def fitting_of(session: Session, part_id: int) -> Fitting | None:
    """Where the part sits now, if it sits anywhere."""
    return session.scalar(select(Fitting).where(Fitting.part_id == part_id, Fitting.removed_at.is_(None)))


def lives_of(session: Session, part_type_id: int) -> Sequence[PartTypeLife]:
    """The life limits of a part type."""
    return session.scalars(select(PartTypeLife).where(PartTypeLife.part_type_id == part_type_id)).all()


def open_holds(session: Session, *, unit_id: int | None = None, part_id: int | None = None) -> Sequence[Hold]:
    """Holds not lifted on this unit or part."""
    where = Hold.unit_id == unit_id if unit_id is not None else Hold.part_id == part_id
    return session.scalars(select(Hold).where(where, Hold.lifted_at.is_(None)).order_by(Hold.id)).all()


def notices_on_part(session: Session, part: Part, part_type: PartType, *, by_type: bool = True) -> Sequence[Notice]:
    """Stopping notices whose scope names this part's lot, serial or firmware, or (by_type) its type."""
    marks = Marks(
        part.serial, lot=part.lot, firmware=part.firmware, types=(part_type.code, part_type.name), kind=part_type.kind
    )
    query = (
        select(Notice, NoticeScope)
        .join(NoticeScope, NoticeScope.notice_id == Notice.id)
        .where(Notice.weight == Weight.STOP)
        .order_by(Notice.issued_on, Notice.id)
    )
    found = {
        notice.id: notice
        for notice, scope in session.execute(query)
        if (by_type or scope.covers != "part type")
        and covers_part(Covered(scope.covers, scope.first, scope.last), marks)
    }
    return list(found.values())


def next_ticket_number(session: Session, year: int) -> int:
    """The next number of the year, without gaps."""
    return (session.scalar(select(func.max(Ticket.number)).where(Ticket.year == year)) or 0) + 1


def tasks_of(session: Session, ticket_id: int) -> Sequence[Task]:
    """The tasks of a ticket in order."""
    return session.scalars(select(Task).where(Task.ticket_id == ticket_id).order_by(Task.ordinal)).all()


def last_workshop_opening(session: Session, unit_id: int, *, until: datetime | None = None) -> datetime | None:
    """When the unit was last opened for workshop work, up to a moment where one is given."""
    query = select(func.max(Opening.at)).where(Opening.unit_id == unit_id, Opening.kind == OpeningKind.WORKSHOP)
    return session.scalar(query if until is None else query.where(Opening.at <= until))


def tests_since(session: Session, unit_id: int, since: datetime) -> Sequence[BenchTest]:
    """Bench tests of the unit at or after a moment that no later record supersedes, oldest first."""
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    query = select(BenchTest).where(
        BenchTest.unit_id == unit_id, BenchTest.at >= since, BenchTest.id.not_in(superseded)
    )
    return session.scalars(query.order_by(BenchTest.at, BenchTest.id)).all()


def name_of(session: Session, person_id: int | None) -> str:
    """The person's name; 'erased' where it was erased."""
    if person_id is None:
        return say("not recorded")
    return session.scalar(select(PersonPrivate.name).where(PersonPrivate.person_id == person_id)) or "erased"


def past(day: date | None, today: date) -> bool:
    """Whether a last good day lies behind; an unknown one does not say so."""
    return day is not None and day < today


def ticket_findings(session: Session, ticket_id: int) -> int:
    """How many findings a ticket holds."""
    superseded = select(Finding.supersedes_id).where(Finding.supersedes_id.is_not(None))
    query = select(func.count()).select_from(Finding).where(Finding.ticket_id == ticket_id)
    return session.scalar(query.where(Finding.id.not_in(superseded))) or 0


def running_times(
    session: Session, *, ticket_id: int | None = None, person_id: int | None = None
) -> Sequence[TicketTime]:
    """Clocks that run, under one ticket or of one person."""
    query = select(TicketTime).where(TicketTime.ended_at.is_(None), TicketTime.minutes.is_(None))
    if ticket_id is not None:
        query = query.where(TicketTime.ticket_id == ticket_id)
    if person_id is not None:
        query = query.where(TicketTime.person_id == person_id)
    return session.scalars(query.order_by(TicketTime.id)).all()


def technician_papers(session: Session, person_id: int) -> Sequence[Qualification]:
    """Every technician's qualification that was seen of a person."""
    query = select(Qualification).where(Qualification.person_id == person_id, Qualification.kind == "technician")
    return session.scalars(query.order_by(Qualification.id)).all()
