"""Reads of everything that was done to one unit."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, func, or_, select

from fleetbench.records.bench.reads import BenchTestRecord, OpeningRecord, read_openings, read_tests
from fleetbench.records.canisters.tables import Fill, Run
from fleetbench.records.cells.reads import in_force
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.record_rows import records_of
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.reads import in_unit
from fleetbench.records.tickets.reads import CleaningRecord, MoveRecord, read_cleanings, read_moves_in
from fleetbench.records.tickets.tables import Ticket
from fleetbench.records.units.reads import HoldRecord
from fleetbench.records.units.tables import Absence, Hold


@dataclass(frozen=True, slots=True)
class CalibrationLine:
    """A calibration of the unit with how many cells got which verdict; worst is the rank of the worst."""

    calibration_id: int
    at: datetime
    made: str
    person_id: int | None
    cells: int
    watch: int
    repeat: int
    reject: int


@dataclass(frozen=True, slots=True)
class TicketLine:
    """A ticket of the unit."""

    ticket_id: int
    year: int
    number: int
    cause: str
    reason: str
    opened_at: datetime
    opened_by_id: int
    signed_at: datetime | None
    signed_by_id: int | None


@dataclass(frozen=True, slots=True)
class HireRecord:
    """The unit on one booking."""

    line_id: int
    code: str
    kind: str
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
class PackingRecord:
    """A fill that was run in the unit, or packed in the canister that sits in it now."""

    fill_id: int
    packed_at: datetime
    packed_by_id: int | None
    mass_g: float | None
    discarded_at: datetime | None
    why_discarded: str | None


@dataclass(frozen=True, slots=True)
class AbsenceLine:
    """The unit was away."""

    absence_id: int
    why: str
    left_at: datetime
    back_at: datetime | None


@dataclass(frozen=True, slots=True)
class HistoryRecords:
    """Everything that was done to one unit, oldest first in each kind."""

    calibrations: tuple[CalibrationLine, ...]
    tests: tuple[BenchTestRecord, ...]
    openings: tuple[OpeningRecord, ...]
    moves: tuple[MoveRecord, ...]
    tickets: tuple[TicketLine, ...]
    hires: tuple[HireRecord, ...]
    fills: tuple[PackingRecord, ...]
    cleanings: tuple[CleaningRecord, ...]
    absences: tuple[AbsenceLine, ...]
    holds: tuple[HoldRecord, ...]


def read_history(connection: Connection, unit_id: int) -> HistoryRecords:
    """Everything that was done to one unit; ten statements."""
    return HistoryRecords(
        _calibrations(connection, unit_id),
        read_tests(connection, unit_id=unit_id),
        read_openings(connection, unit_id=unit_id),
        read_moves_in(connection, unit_id, in_unit(unit_id)),
        _tickets(connection, unit_id),
        _hires(connection, unit_id),
        _fills(connection, unit_id),
        read_cleanings(connection, unit_id=unit_id),
        _absences(connection, unit_id),
        _holds(connection, unit_id),
    )


def _calibrations(connection: Connection, unit_id: int) -> tuple[CalibrationLine, ...]:
    def count(verdict: str) -> ColumnElement[int]:
        return func.count(CalibrationOutcome.id).filter(CalibrationOutcome.verdict == verdict)

    query = (
        select(
            Calibration.id, Calibration.at, Calibration.made, Calibration.person_id,
            func.count(CalibrationOutcome.id), count("watch"), count("repeat"), count("reject"),
        )
        .outerjoin(CalibrationOutcome, CalibrationOutcome.calibration_id == Calibration.id)
        .where(Calibration.unit_id == unit_id, in_force())
        .group_by(Calibration.id, Calibration.at, Calibration.made, Calibration.person_id)
        .order_by(Calibration.at, Calibration.id)
    )  # fmt: skip
    return records_of(connection, query, CalibrationLine)


def _tickets(connection: Connection, unit_id: int) -> tuple[TicketLine, ...]:
    query = (
        select(
            Ticket.id, Ticket.year, Ticket.number, Ticket.cause, Ticket.reason, Ticket.opened_at, Ticket.opened_by_id,
            Ticket.signed_at, Ticket.signed_by_id,
        )
        .where(Ticket.unit_id == unit_id)
        .order_by(Ticket.year, Ticket.number)
    )  # fmt: skip
    return records_of(connection, query, TicketLine)


def _hires(connection: Connection, unit_id: int) -> tuple[HireRecord, ...]:
    query = (
        select(
            BookingUnit.id, Booking.code, Booking.kind, BookingUnit.hand_over, BookingUnit.out_at,
            BookingUnit.out_by_id, BookingUnit.received_at, BookingUnit.received_by_id, BookingUnit.wet,
            BookingUnit.flooded, BookingUnit.fault, BookingUnit.loop_minutes, BookingUnit.dives,
        )
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .where(BookingUnit.unit_id == unit_id)
        .order_by(BookingUnit.out_at, BookingUnit.id)
    )  # fmt: skip
    return records_of(connection, query, HireRecord)


def _fills(connection: Connection, unit_id: int) -> tuple[PackingRecord, ...]:
    run_here = select(Run.fill_id).where(Run.unit_id == unit_id)
    query = (
        select(Fill.id, Fill.packed_at, Fill.packed_by_id, Fill.mass_g, Fill.discarded_at, Fill.why_discarded)
        .where(or_(Fill.id.in_(run_here), Fill.part_id.in_(in_unit(unit_id))))
        .order_by(Fill.packed_at, Fill.id)
    )
    return records_of(connection, query, PackingRecord)


def _absences(connection: Connection, unit_id: int) -> tuple[AbsenceLine, ...]:
    query = select(Absence.id, Absence.why, Absence.left_at, Absence.back_at).where(Absence.unit_id == unit_id)
    return records_of(connection, query.order_by(Absence.left_at), AbsenceLine)


def _holds(connection: Connection, unit_id: int) -> tuple[HoldRecord, ...]:
    """Holds on the unit or on parts in it now, standing or lifted, newest first."""
    query = select(
        Hold.id, Hold.unit_id, Hold.part_id, Hold.kind, Hold.reason, Hold.placed_at, Hold.placed_by_id, Hold.lifted_at,
        Hold.lifted_by_id, Hold.lift_reason,
    ).where(or_(Hold.unit_id == unit_id, Hold.part_id.in_(in_unit(unit_id))))  # fmt: skip
    return records_of(connection, query.order_by(Hold.placed_at.desc(), Hold.id.desc()), HoldRecord)
