"""Reads of bookings and of the units on them.

Reads of the time line: who has which unit on which days, and which bookings still want units.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy import Connection, and_, exists, func, or_, select

from fleetbench.calc.hires.log import LogFigure
from fleetbench.calc.hires.promises import CallFact
from fleetbench.records.canisters.tables import RunCorrection
from fleetbench.records.core.schema import (
    Query,
    built_once,
    columns_of,
    read_if_changed,
    reads,
    record_or_none,
    records_of,
    select_of,
)
from fleetbench.records.hires.tables import IS_OUT, Booking, BookingTerms, BookingUnit, HireCall, HireNote, LogReading
from fleetbench.records.people.tables import PersonPrivate
from fleetbench.records.units.tables import Unit, UnitType


@dataclass(frozen=True, slots=True)
class BookingRecord:
    """One booking with its terms: the gas it asks for in percent, and since when it stands on the waiting list."""

    booking_id: int
    code: str
    kind: str
    unit_type_id: int
    unit_type: str
    starts_on: date
    ends_on: date
    units_wanted: int
    renter_id: int | None
    instructor_id: int | None
    planned_minutes: float | None
    planned_depth_m: float | None
    planned_water_c: float | None
    planned_co2_l_min: float | None
    cancelled_at: datetime | None
    ended_as: str | None
    ended_for: str | None
    language: str | None
    back_by: str | None
    bailout: bool | None
    diluent_oxygen: float | None
    diluent_helium: float | None
    waiting_since: datetime | None
    price_terms: str | None


@dataclass(frozen=True, slots=True)
class BookedUnit(BookingRecord):
    """One unit on one booking, whether it is to come, out or back, with all that is said of the booking."""

    line_id: int
    ref: str | None
    unit_id: int
    unit: str
    diver_id: int | None
    hand_over: str | None
    out_at: datetime | None
    out_by_id: int | None
    received_at: datetime | None
    received_by_id: int | None
    wet: bool | None
    flooded: bool | None
    fault: bool | None
    loop_minutes: float | None
    dives: int | None


@dataclass(frozen=True, slots=True)
class WantedRecord(BookingRecord):
    """One booking that is not cancelled with how many units are on it."""

    lines: int

    @property
    def lacking(self) -> int:
        """How many units it still wants."""
        return self.units_wanted - self.lines


@built_once
def _bookings() -> Query:
    return (
        select_of(BookingRecord, Booking, BookingTerms, unit_type=UnitType.name)
        .join(UnitType, UnitType.id == Booking.unit_type_id)
        .outerjoin(BookingTerms, BookingTerms.booking_id == Booking.id)
        .order_by(Booking.starts_on, Booking.id)
    )


def read_bookings(connection: Connection, since: date | None = None) -> tuple[BookingRecord, ...]:
    """Bookings by first day; since a day: those that end on it or later, or of which a unit is still out."""
    query = _bookings()
    if since is not None:
        out = select(BookingUnit.booking_id).where(IS_OUT)
        query = query.where(or_(Booking.ends_on >= since, Booking.id.in_(out)))
    return records_of(connection, query, BookingRecord)


def read_booking(connection: Connection, code: str) -> BookingRecord | None:
    """One booking by its code, None where there is none; one statement."""
    return record_or_none(connection, _bookings().where(Booking.code == code), BookingRecord)


@built_once
def _booked_units() -> Query:
    return (
        select_of(
            BookedUnit,
            Booking,
            BookingTerms,
            BookingUnit,
            unit_type=UnitType.name,
            line_id=BookingUnit.id,
            ref=BookingUnit.ref,
            unit=Unit.tag,
        )
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .join(Unit, Unit.id == BookingUnit.unit_id)
        .join(UnitType, UnitType.id == Booking.unit_type_id)
        .outerjoin(BookingTerms, BookingTerms.booking_id == Booking.id)
        .where(BookingUnit.taken_off_at.is_(None))
    )


def read_lines(
    connection: Connection, *, booking_id: int | None = None, since: date | None = None, unit_id: int | None = None
) -> tuple[BookedUnit, ...]:
    """Units on bookings: of one booking, of bookings as in `read_bookings`, or of one unit; one statement."""
    query = _booked_units().order_by(Booking.starts_on, Booking.id, Unit.tag, BookingUnit.id)
    if booking_id is not None:
        query = query.where(Booking.id == booking_id)
    if unit_id is not None:
        query = query.where(Unit.id == unit_id)
    if since is not None:
        out = select(BookingUnit.booking_id).where(IS_OUT)
        query = query.where(or_(Booking.ends_on >= since, Booking.id.in_(out)))
    return records_of(connection, query, BookedUnit)


@reads(BookedUnit)
def read_hires_of(unit_id: int) -> Query:
    """Every booking that a unit is or was on, in the order in which it left; one statement."""
    return _booked_units().where(BookingUnit.unit_id == unit_id).order_by(BookingUnit.out_at, BookingUnit.id)


@reads(BookedUnit)
def read_promises(units: tuple[int, ...] | None = None) -> Query:
    """Units promised and not back, all or given ones, by first day; one statement."""
    query = _not_cancelled().where(BookingUnit.received_at.is_(None))
    if units is not None:
        query = query.where(BookingUnit.unit_id.in_(units))
    return query


def read_booked_units(connection: Connection, first: date | None = None) -> tuple[BookedUnit, ...]:
    """Units on bookings not cancelled, by first day; from a day: those that end then or later, or are out still."""
    query = _not_cancelled()
    if first is not None:
        out = BookingUnit.out_at.is_not(None) & BookingUnit.received_at.is_(None)
        query = query.where((Booking.ends_on >= first) | out)
    return records_of(connection, query, BookedUnit)


@built_once
def _not_cancelled() -> Query:
    query = _booked_units().where(Booking.cancelled_at.is_(None))
    return query.order_by(Booking.starts_on, Booking.id, BookingUnit.id)


def read_hire_notes(connection: Connection, booking_id: int) -> dict[int, str]:
    """Notes of the units on one booking, oldest first in one text, by line; one statement."""
    query = (
        select(HireNote.booking_unit_id, HireNote.text)
        .join(BookingUnit, BookingUnit.id == HireNote.booking_unit_id)
        .where(BookingUnit.booking_id == booking_id)
        .order_by(HireNote.at, HireNote.id)
    )
    notes: dict[int, str] = {}
    for line_id, text in connection.execute(query):
        notes[line_id] = f"{notes[line_id]}\n{text}" if line_id in notes else text
    return notes


@read_if_changed
def read_wanted(connection: Connection, today: date) -> tuple[WantedRecord, ...]:
    """Every booking not cancelled that ends today or later, by first day; one statement."""
    coming = select(Booking.id).where(Booking.cancelled_at.is_(None), Booking.ends_on >= today)
    lines = (
        select(BookingUnit.booking_id, func.count().label("lines"))
        .where(BookingUnit.taken_off_at.is_(None), BookingUnit.booking_id.in_(coming))
        .group_by(BookingUnit.booking_id)
        .subquery()
    )
    query = (
        select_of(WantedRecord, Booking, BookingTerms, unit_type=UnitType.name, lines=func.coalesce(lines.c.lines, 0))
        .join(UnitType, UnitType.id == Booking.unit_type_id)
        .outerjoin(BookingTerms, BookingTerms.booking_id == Booking.id)
        .outerjoin(lines, lines.c.booking_id == Booking.id)
        .where(Booking.cancelled_at.is_(None), Booking.ends_on >= today)
        .order_by(Booking.starts_on, Booking.id)
    )
    return records_of(connection, query, WantedRecord)


def read_wanting(connection: Connection, today: date) -> tuple[WantedRecord, ...]:
    """Bookings not over that lack units, in the order in which they came; one statement."""
    lacking = (each for each in read_wanted(connection, today) if each.lacking > 0)
    return tuple(sorted(lacking, key=lambda each: each.booking_id))


@dataclass(frozen=True, slots=True)
class CallRecord:
    """A call to the diver of one unit on one booking, with what was said beyond the answer, as far as it is kept."""

    line_id: int
    booking: str
    person: str | None
    words: str | None
    fact: CallFact


@reads(CallRecord)
def read_calls(*, unit_id: int | None = None, booking_id: int | None = None) -> Query:
    """Calls about units that are out, or every call about one unit or on one booking, oldest first; one statement."""
    query = (
        select_of(
            CallRecord, HireCall, Booking, line_id=HireCall.booking_unit_id, booking=Booking.code,
            person=PersonPrivate.name, words=HireNote.text, fact=columns_of(CallFact, HireCall),
        )
        .join(BookingUnit, BookingUnit.id == HireCall.booking_unit_id)
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .outerjoin(PersonPrivate, PersonPrivate.person_id == HireCall.person_id)
        .outerjoin(HireNote, and_(HireNote.booking_unit_id == HireCall.booking_unit_id, HireNote.at == HireCall.at))
        .order_by(HireCall.at, HireCall.id)
    )  # fmt: skip
    if unit_id is not None:
        query = query.where(BookingUnit.unit_id == unit_id)
    elif booking_id is not None:
        query = query.where(BookingUnit.booking_id == booking_id)
    else:
        query = query.where(IS_OUT)
    return query


class LogReadingRecord(NamedTuple):
    """One reading of a renter's log, with the hire, the unit and the dive on which it was made."""

    line_id: int
    booking: str
    unit: str
    dive: int
    on_day: date | None
    started_at: datetime | None
    received_at: datetime | None
    quantity: str
    handset: str | None
    position: str | None
    value: float
    note: str | None

    @property
    def figure(self) -> LogFigure:
        """The reading alone."""
        return LogFigure(self.quantity, self.handset or "", self.position or "", self.value, self.note)


@reads(LogReadingRecord)
def read_log_readings(*, part_id: int | None = None, unit_id: int | None = None) -> Query:
    """What renters read of one part, or on one unit, dive by dive, oldest hire first; one statement.

    Left out is a line whose run was taken out as entered wrongly, with none in its place.
    """
    query = (
        select_of(LogReadingRecord, LogReading, line_id=LogReading.booking_unit_id, booking=Booking.code,
                  unit=Unit.tag, received_at=BookingUnit.received_at)
        .join(BookingUnit, BookingUnit.id == LogReading.booking_unit_id)
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .join(Unit, Unit.id == LogReading.unit_id)
        .where(~exists().where(RunCorrection.run_id == LogReading.run_id, RunCorrection.instead_id.is_(None)))
        .order_by(BookingUnit.received_at, LogReading.booking_unit_id, LogReading.dive, LogReading.id)
    )  # fmt: skip
    if part_id is not None:
        query = query.where(LogReading.part_id == part_id)
    return query if unit_id is None else query.where(LogReading.unit_id == unit_id)
