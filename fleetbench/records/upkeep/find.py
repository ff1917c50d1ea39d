"""Reads behind the find box: whatever carries a text in a name that people use."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, or_

from fleetbench.records.canisters.tables import Container
from fleetbench.records.core.schema import Query, reads, records_of, select_of
from fleetbench.records.hires.tables import Booking
from fleetbench.records.parts.tables import Part, PartType
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.tables import Unit, UnitType


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
