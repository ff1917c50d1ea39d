"""Reads of the time line: who has which unit on which days, and which bookings still want units."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, func, select

from fleetbench.records.core.record_rows import records_of
from fleetbench.records.hires.tables import Booking, BookingTerms, BookingUnit


@dataclass(frozen=True, slots=True)
class BookedUnitRecord:
    """One unit on one booking that is not cancelled, whether it is to come, out or back."""

    line_id: int
    unit_id: int
    booking_id: int
    code: str
    kind: str
    starts_on: date
    ends_on: date
    out_at: datetime | None
    received_at: datetime | None
    diver_id: int | None
    renter_id: int | None
    instructor_id: int | None


@dataclass(frozen=True, slots=True)
class WantingRecord:
    """One booking that still wants units. lacking: how many. waiting_since: where it stands on the waiting line."""

    booking_id: int
    code: str
    kind: str
    unit_type_id: int
    starts_on: date
    ends_on: date
    units_wanted: int
    lacking: int
    waiting_since: datetime | None
    renter_id: int | None
    instructor_id: int | None


def read_booked_units(connection: Connection, first: date) -> tuple[BookedUnitRecord, ...]:
    """Units on bookings that end on a day or later, or are out still, by first day; one statement."""
    query = (
        select(
            BookingUnit.id, BookingUnit.unit_id, Booking.id, Booking.code, Booking.kind, Booking.starts_on,
            Booking.ends_on, BookingUnit.out_at, BookingUnit.received_at, BookingUnit.diver_id, Booking.renter_id,
            Booking.instructor_id,
        )
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .where(
            Booking.cancelled_at.is_(None),
            (Booking.ends_on >= first) | (BookingUnit.out_at.is_not(None) & BookingUnit.received_at.is_(None)),
        )
        .order_by(Booking.starts_on, Booking.id, BookingUnit.id)
    )  # fmt: skip
    return records_of(connection, query, BookedUnitRecord)


def read_wanting(connection: Connection, today: date) -> tuple[WantingRecord, ...]:
    """Bookings not over that lack units, in the order in which they came; one statement."""
    lines = select(BookingUnit.booking_id, func.count().label("lines")).group_by(BookingUnit.booking_id).subquery()
    lacking = Booking.units_wanted - func.coalesce(lines.c.lines, 0)
    query = (
        select(
            Booking.id, Booking.code, Booking.kind, Booking.unit_type_id, Booking.starts_on, Booking.ends_on,
            Booking.units_wanted, lacking, BookingTerms.waiting_since, Booking.renter_id, Booking.instructor_id,
        )
        .outerjoin(BookingTerms, BookingTerms.booking_id == Booking.id)
        .outerjoin(lines, lines.c.booking_id == Booking.id)
        .where(Booking.cancelled_at.is_(None), Booking.ends_on >= today, lacking > 0)
        .order_by(Booking.id)
    )  # fmt: skip
    return records_of(connection, query, WantingRecord)
