"""Reads of use: what was run, what hires say was run, and what is planned."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Connection, select

from fleetbench.records.canisters import Run
from fleetbench.records.hires import Booking, BookingUnit
from fleetbench.records.read_canisters import still_counts
from fleetbench.records.record_rows import records_of


@dataclass(frozen=True, slots=True)
class RunUseRecord:
    """Minutes and dives of one run of a unit; `dive_clock` where only dive time was known."""

    unit_id: int
    line_id: int | None
    started_at: datetime
    minutes: float
    dive_clock: bool
    dives: int


@dataclass(frozen=True, slots=True)
class LineUseRecord:
    """Loop minutes and dives that a hand-back states for one unit on one booking."""

    line_id: int
    unit_id: int
    out_at: datetime
    received_at: datetime | None
    loop_minutes: float | None
    dives: int | None


@dataclass(frozen=True, slots=True)
class PromiseRecord:
    """A unit on a booking that is not back yet, with what is planned."""

    unit_id: int
    line_id: int
    booking_id: int
    code: str
    kind: str
    starts_on: date
    ends_on: date
    hand_over: str | None
    out_at: datetime | None
    diver_id: int | None
    renter_id: int | None
    instructor_id: int | None
    planned_minutes: float | None
    planned_depth_m: float | None
    planned_water_c: float | None
    planned_co2_l_min: float | None


def read_run_use(connection: Connection, unit_id: int | None = None) -> tuple[RunUseRecord, ...]:
    """Every run of all units or of one, oldest first; one statement."""
    query = (
        select(Run.unit_id, Run.booking_unit_id, Run.started_at, Run.minutes, Run.clock == "dive", Run.dives)
        .where(still_counts())
        .order_by(Run.started_at, Run.id)
    )
    if unit_id is not None:
        query = query.where(Run.unit_id == unit_id)
    return records_of(connection, query, RunUseRecord)


def read_line_use(connection: Connection, unit_id: int | None = None) -> tuple[LineUseRecord, ...]:
    """Every unit that went out on a booking, oldest first; one statement."""
    query = (
        select(
            BookingUnit.id, BookingUnit.unit_id, BookingUnit.out_at, BookingUnit.received_at, BookingUnit.loop_minutes,
            BookingUnit.dives,
        )
        .where(BookingUnit.out_at.is_not(None))
        .order_by(BookingUnit.out_at, BookingUnit.id)
    )  # fmt: skip
    if unit_id is not None:
        query = query.where(BookingUnit.unit_id == unit_id)
    return records_of(connection, query, LineUseRecord)


def read_promises(connection: Connection, unit_id: int | None = None) -> tuple[PromiseRecord, ...]:
    """Units promised and not back, by first day; one statement."""
    query = (
        select(
            BookingUnit.unit_id, BookingUnit.id, Booking.id, Booking.code, Booking.kind, Booking.starts_on,
            Booking.ends_on, BookingUnit.hand_over, BookingUnit.out_at, BookingUnit.diver_id, Booking.renter_id,
            Booking.instructor_id, Booking.planned_minutes, Booking.planned_depth_m, Booking.planned_water_c,
            Booking.planned_co2_l_min,
        )
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .where(Booking.cancelled_at.is_(None), BookingUnit.received_at.is_(None))
        .order_by(Booking.starts_on, Booking.id, BookingUnit.id)
    )  # fmt: skip
    if unit_id is not None:
        query = query.where(BookingUnit.unit_id == unit_id)
    return records_of(connection, query, PromiseRecord)
