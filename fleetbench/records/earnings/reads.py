"""What units were promised for, out on, worked on and fitted with, over all time, in a fixed number of reads."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, func, or_, select
from sqlalchemy.orm import aliased

from fleetbench.records.canisters.tables import Container, Fill
from fleetbench.records.core.schema import Query, records_of, select_of
from fleetbench.records.hires.reads import BookingRecord, read_bookings
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.reads import FittingRecord
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.tickets.reads import TicketRecord, read_tickets
from fleetbench.records.tickets.tables import TicketTime


@dataclass(frozen=True, slots=True)
class LineRecord:
    """One unit on one booking, whatever became of it."""

    booking_id: int
    unit_id: int
    starts_on: date
    ends_on: date
    cancelled_at: datetime | None
    taken_off_at: datetime | None
    hand_over: str | None
    out_at: datetime | None
    received_at: datetime | None


@dataclass(frozen=True, slots=True)
class TimedWork:
    """Minutes worked under a ticket by one person from a moment."""

    ticket_id: int
    began_at: datetime
    minutes: float | None


@dataclass(frozen=True, slots=True)
class UsedPart:
    """A part at its first fitting, in the place of another; host_part_id: in an assembly. price: its own, else its
    type's, None where none is recorded."""

    unit_id: int | None
    host_part_id: int | None
    fitted_at: datetime
    part_type: str
    price: float | None


@dataclass(frozen=True, slots=True)
class PackedRecord:
    """Absorbent packed into a canister, with the price of a kilogram; None is not recorded."""

    part_id: int
    booked_unit_id: int | None
    packed_at: datetime
    mass_g: float | None
    price: float | None


@dataclass(frozen=True, slots=True)
class EarningsRecords:
    """All of it."""

    lines: tuple[LineRecord, ...]
    wanted: tuple[BookingRecord, ...]
    tickets: tuple[TicketRecord, ...]
    timed: tuple[TimedWork, ...]
    used: tuple[UsedPart, ...]
    stays: tuple[FittingRecord, ...]
    packed: tuple[PackedRecord, ...]
    seen_from: dict[int, datetime]


def read_earnings(connection: Connection) -> EarningsRecords:
    """All of it; eight statements. seen_from: when something was first fitted in each unit."""
    superseded = select(TicketTime.supersedes_id).where(TicketTime.supersedes_id.is_not(None))
    first: Query = (
        select(Fitting.unit_id, func.min(Fitting.fitted_at))
        .where(Fitting.unit_id.is_not(None))
        .group_by(Fitting.unit_id)
    )
    packed = (
        select_of(PackedRecord, Fill, booked_unit_id=BookingUnit.unit_id, price=PartType.price)
        .outerjoin(BookingUnit, BookingUnit.id == Fill.booking_unit_id)
        .outerjoin(Container, Container.id == Fill.container_id)
        .outerjoin(PartType, PartType.id == Container.part_type_id)
    )
    lines = select_of(LineRecord, BookingUnit, Booking).join(Booking, Booking.id == BookingUnit.booking_id)
    return EarningsRecords(
        records_of(connection, lines, LineRecord),
        wanted=read_bookings(connection),
        tickets=read_tickets(connection),
        timed=records_of(
            connection, select_of(TimedWork, TicketTime).where(TicketTime.id.not_in(superseded)), TimedWork
        ),
        used=records_of(connection, _used(), UsedPart),
        stays=records_of(connection, select_of(FittingRecord, Fitting, fitting_id=Fitting.id), FittingRecord),
        packed=records_of(connection, packed, PackedRecord),
        seen_from={unit: at for unit, at in connection.execute(first)},
    )


def _used() -> Query:
    """First fittings of parts whose place held another part before; what was found there is no use."""
    earlier, before = aliased(Fitting), aliased(Fitting)
    same_place: Any = or_(
        (earlier.unit_id == Fitting.unit_id) & (earlier.slot_id == Fitting.slot_id),
        (earlier.host_part_id == Fitting.host_part_id) & (earlier.slot_id == Fitting.slot_id),
    )
    replaced = select(earlier.id).where(
        same_place, earlier.part_id != Fitting.part_id, earlier.fitted_at < Fitting.fitted_at
    )
    fitted_before = select(before.id).where(before.part_id == Fitting.part_id, before.fitted_at < Fitting.fitted_at)
    return (
        select_of(UsedPart, Fitting, part_type=PartType.name, price=func.coalesce(Part.price, PartType.price))
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, PartType.id == Part.part_type_id)
        .where(
            or_(Fitting.since_unknown.is_(None), Fitting.since_unknown.is_(False)),
            replaced.exists(),
            ~fitted_before.exists(),
        )
        .order_by(Fitting.fitted_at, Fitting.id)
    )
