"""Reads of use: what was run, what hires say was run, and what is planned.

There are hundreds of runs a unit, so their times stay as the database gives them: they are only ever compared, and
`moment_key` brings any other moment into the same form.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, cast

from sqlalchemy import Connection, case, literal_column, select, type_coerce
from sqlalchemy.types import NullType

from fleetbench.calc.canisters.fill import ADDED_MINUTES_A_DIVE
from fleetbench.records.canisters.reads import still_counts
from fleetbench.records.canisters.tables import Run
from fleetbench.records.core.record_rows import Query, plain_rows, records_of
from fleetbench.records.hires.tables import Booking, BookingTerms, BookingUnit

UseRow = tuple[int, int | None, Any, float, int, int]
"""unit, booking's line, time as the database gives it, minutes (10 a dive added to a dive clock), dives, hires."""

LineRow = tuple[int, int, Any, Any, float | None, int | None]
"""booking's line, unit, out and back (times as the database gives them), loop minutes, dives."""


@dataclass(frozen=True, slots=True)
class PromiseRecord:
    """A unit on a booking that is not back yet, with what is planned, and the gas it asks for in percent."""

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
    bailout: bool | None = None
    diluent_oxygen: float | None = None
    diluent_helium: float | None = None


def moment_key(connection: Connection) -> Callable[[datetime | None], Any]:
    """What turns a moment into the form in which this database gives times that are only compared; None stays."""
    return _as_sqlite_text if connection.dialect.name == "sqlite" else _as_it_is


def _as_sqlite_text(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).replace(tzinfo=None).isoformat(" ", "microseconds")


def _as_it_is(at: datetime | None) -> datetime | None:
    return at


def read_run_use(connection: Connection, unit_id: int | None = None) -> list[UseRow]:
    """Every run that counts, of all units or of one, in no order; one statement."""
    added = case((Run.clock == "dive", ADDED_MINUTES_A_DIVE * Run.dives), else_=0.0)
    query: Query = select(
        Run.unit_id,
        Run.booking_unit_id,
        type_coerce(Run.started_at, NullType()),
        Run.minutes + added,
        Run.dives,
        literal_column("0"),
    ).where(still_counts())
    if unit_id is not None:
        query = query.where(Run.unit_id == unit_id)
    return cast("list[UseRow]", plain_rows(connection, query))


def read_line_use(connection: Connection, unit_id: int | None = None) -> list[LineRow]:
    """Every unit that went out on a booking, in no order; one statement."""
    query = select(
        BookingUnit.id,
        BookingUnit.unit_id,
        type_coerce(BookingUnit.out_at, NullType()),
        type_coerce(BookingUnit.received_at, NullType()),
        BookingUnit.loop_minutes,
        BookingUnit.dives,
    ).where(BookingUnit.out_at.is_not(None))
    if unit_id is not None:
        query = query.where(BookingUnit.unit_id == unit_id)
    return cast("list[LineRow]", plain_rows(connection, query))


def read_promises(connection: Connection, unit_id: int | None = None) -> tuple[PromiseRecord, ...]:
    """Units promised and not back, by first day; one statement."""
    query = (
        select(
            BookingUnit.unit_id, BookingUnit.id, Booking.id, Booking.code, Booking.kind, Booking.starts_on,
            Booking.ends_on, BookingUnit.hand_over, BookingUnit.out_at, BookingUnit.diver_id, Booking.renter_id,
            Booking.instructor_id, Booking.planned_minutes, Booking.planned_depth_m, Booking.planned_water_c,
            Booking.planned_co2_l_min, BookingTerms.bailout, BookingTerms.diluent_oxygen, BookingTerms.diluent_helium,
        )
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .outerjoin(BookingTerms, BookingTerms.booking_id == Booking.id)
        .where(Booking.cancelled_at.is_(None), BookingUnit.received_at.is_(None))
        .order_by(Booking.starts_on, Booking.id, BookingUnit.id)
    )  # fmt: skip
    if unit_id is not None:
        query = query.where(BookingUnit.unit_id == unit_id)
    return records_of(connection, query, PromiseRecord)
