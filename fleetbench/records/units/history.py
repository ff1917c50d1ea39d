"""Reads of everything that was done to one unit.

Every reading and act of one unit within a span of moments, as plain rows with their columns' names.

What placing a hold after an incident must look up: cylinders in a unit, and what was filled from the same batch.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, func, or_, select
from sqlalchemy.orm import Session

from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.bench.reads import (
    BenchTestRecord,
    GivenRecord,
    OpeningRecord,
    read_given,
    read_openings,
    read_tests,
)
from fleetbench.records.bench.tables import BenchReading, BenchTest, LoopLeak, TestEquipment
from fleetbench.records.canisters.reads import FillRecord, read_fills_in
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.cells.reads import in_force
from fleetbench.records.cells.tables import BenchSession, Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.core.journal import MeterReading, moment_text
from fleetbench.records.core.schema import Query, reads, select_of
from fleetbench.records.gas.tables import CylinderFill
from fleetbench.records.hires.reads import BookedUnit, LogReadingRecord, read_hires_of, read_log_readings
from fleetbench.records.parts.reads import in_unit
from fleetbench.records.parts.tables import Part
from fleetbench.records.tickets.reads import (
    CleaningRecord,
    MoveRecord,
    PhotographRecord,
    TicketRecord,
    read_cleanings,
    read_moves_in,
    read_photographs,
    read_tickets_of,
)
from fleetbench.records.units.reads import HoldRecord, select_of_holds
from fleetbench.records.units.tables import Absence, Hold, Reader, Slot, Unit


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
    tickets: tuple[TicketRecord, ...]
    hires: tuple[BookedUnit, ...]
    fills: tuple[FillRecord, ...]
    cleanings: tuple[CleaningRecord, ...]
    absences: tuple[AbsenceLine, ...]
    holds: tuple[HoldRecord, ...]
    log: tuple[LogReadingRecord, ...]
    given: tuple[GivenRecord, ...] = ()
    photographs: tuple[PhotographRecord, ...] = ()


def read_history(connection: Connection, unit_id: int) -> HistoryRecords:
    """Everything that was done to one unit; thirteen statements."""
    return HistoryRecords(
        _calibrations(connection, unit_id),
        tests=read_tests(connection, unit_id=unit_id),
        openings=read_openings(connection, unit_id=unit_id),
        moves=read_moves_in(connection, unit_id, in_unit(unit_id)),
        tickets=read_tickets_of(connection, unit_id),
        hires=read_hires_of(connection, unit_id),
        fills=read_fills_in(connection, unit_id, in_unit(unit_id)),
        cleanings=read_cleanings(connection, unit_id=unit_id),
        absences=_absences(connection, unit_id),
        holds=_holds(connection, unit_id),
        log=read_log_readings(connection, unit_id=unit_id),
        given=read_given(connection, unit_id),
        photographs=read_photographs(connection, unit_id=unit_id),
    )


@reads(CalibrationLine)
def _calibrations(unit_id: int) -> Query:
    def count(verdict: str) -> ColumnElement[int]:
        return func.count(CalibrationOutcome.id).filter(CalibrationOutcome.verdict == verdict)

    return (
        select_of(
            CalibrationLine,
            Calibration,
            cells=func.count(CalibrationOutcome.id),
            watch=count("watch"),
            repeat=count("repeat"),
            reject=count("reject"),
        )
        .outerjoin(CalibrationOutcome, CalibrationOutcome.calibration_id == Calibration.id)
        .where(Calibration.unit_id == unit_id, in_force())
        .group_by(Calibration.id, Calibration.at, Calibration.made, Calibration.person_id)
        .order_by(Calibration.at, Calibration.id)
    )


@reads(AbsenceLine)
def _absences(unit_id: int) -> Query:
    query = select_of(AbsenceLine, Absence).where(Absence.unit_id == unit_id)
    return query.order_by(Absence.left_at)


@reads(HoldRecord)
def _holds(unit_id: int) -> Query:
    """Holds on the unit or on parts in it now, standing or lifted, newest first."""
    query = select_of_holds().where(or_(Hold.unit_id == unit_id, Hold.part_id.in_(in_unit(unit_id))))
    return query.order_by(Hold.placed_at.desc(), Hold.id.desc())


@dataclass(frozen=True, slots=True)
class EvidenceTable:
    """A table of the evidence: its name, its columns, and its rows as text, figures and None."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


def read_evidence(connection: Connection, unit_id: int, first: datetime, end: datetime) -> tuple[EvidenceTable, ...]:
    """Readings of cells, outcomes, bench tests, leaks and raw readings, to be read; six statements.

    What meters gave stands in a table of its own where there is any.

    Corrected records are there too, with what took their place. first is inclusive, end is not.
    """
    calibrated = (Calibration.unit_id == unit_id, Calibration.at >= first, Calibration.at < end)
    tested = (BenchTest.unit_id == unit_id, BenchTest.at >= first, BenchTest.at < end)
    said = (
        MeterReading.made_of.label("table"), MeterReading.made_id.label("row"), MeterReading.figure,
        MeterReading.value, TestEquipment.name.label("instrument"), TestEquipment.serial, MeterReading.idn,
        MeterReading.answer, MeterReading.unit.label("answered_in"), MeterReading.at,
        MeterReading.u.label("standard_uncertainty"), MeterReading.u_unit.label("uncertainty_in"),
    )  # fmt: skip
    sheets = (
        _sheet(connection, "cell_readings", select(
            Calibration.id.label("calibration"), Calibration.at, Slot.name.label("position"),
            Part.serial.label("cell"), Reader.name.label("reader"), CalibrationReading.point,
            CalibrationReading.mv.label("mV"), CalibrationReading.po2_shown_bar, CalibrationReading.pot_bar,
            CalibrationReading.seconds, Calibration.pressure_mbar, Calibration.temperature_c, Calibration.humidity,
            Calibration.oxygen_shown_percent, Calibration.supersedes_id.label("takes_the_place_of"),
        ).join(Calibration, Calibration.id == CalibrationReading.calibration_id)
        .join(Slot, Slot.id == CalibrationReading.slot_id).join(Part, Part.id == CalibrationReading.part_id)
        .join(Reader, Reader.id == CalibrationReading.reader_id)
        .where(*calibrated).order_by(Calibration.at, CalibrationReading.id)),
        _sheet(connection, "cell_outcomes", select(
            Calibration.id.label("calibration"), Calibration.at, Slot.name.label("position"),
            Part.serial.label("cell"), CalibrationOutcome.verdict, CalibrationOutcome.linearity,
            CalibrationOutcome.expanded_u, CalibrationOutcome.air_mv, CalibrationOutcome.oxygen_mv,
            CalibrationOutcome.verified_up_to_bar, CalibrationOutcome.finding,
        ).join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .join(Slot, Slot.id == CalibrationOutcome.slot_id).join(Part, Part.id == CalibrationOutcome.part_id)
        .where(*calibrated).order_by(Calibration.at, CalibrationOutcome.id)),
        _sheet(connection, "bench_tests", select(
            BenchTest.id.label("test"), BenchTest.at, BenchTest.kind, BenchTest.direction, BenchTest.held,
            BenchTest.watched_minutes, BenchTest.value, BenchTest.unit, BenchTest.supply_bar, BenchTest.result,
            BenchTest.note, BenchTest.supersedes_id.label("takes_the_place_of"),
        ).where(*tested).order_by(BenchTest.at, BenchTest.id)),
        _sheet(connection, "leaks", select(
            LoopLeak.bench_test_id.label("test"), BenchTest.kind, LoopLeak.at, Slot.name.label("place"),
            LoopLeak.place.label("detail"), LoopLeak.method, LoopLeak.supersedes_id.label("takes_the_place_of"),
        ).join(BenchTest, BenchTest.id == LoopLeak.bench_test_id).outerjoin(Slot, Slot.id == LoopLeak.slot_id)
        .where(*tested).order_by(LoopLeak.at, LoopLeak.id)),
        _sheet(connection, "bench_readings", select(
            BenchReading.bench_test_id.label("test"), BenchReading.ordinal, BenchReading.at, BenchReading.quantity,
            BenchReading.value, BenchReading.unit,
        ).join(BenchTest, BenchTest.id == BenchReading.bench_test_id)
        .where(*tested).order_by(BenchTest.at, BenchReading.bench_test_id, BenchReading.ordinal)),
        _sheet(connection, "meter_readings", select(*said)
        .join(TestEquipment, TestEquipment.id == MeterReading.equipment_id)
        .where(or_(*(and_(MeterReading.made_of == table.__tablename__, MeterReading.made_id.in_(keys))
                     for table, keys in (
            (CalibrationReading, select(CalibrationReading.id)
             .join(Calibration, Calibration.id == CalibrationReading.calibration_id).where(*calibrated)),
            (BenchSession, select(Calibration.session_id).where(*calibrated)),
            (Calibration, select(Calibration.id).where(*calibrated)),
            (BenchReading, select(BenchReading.id)
             .join(BenchTest, BenchTest.id == BenchReading.bench_test_id).where(*tested)),
            (BenchTest, select(BenchTest.id).where(*tested)),
        )))).order_by(MeterReading.id)),
    )  # fmt: skip
    return tuple(each for each in sheets if each.rows or each.name != "meter_readings")


def _sheet(connection: Connection, name: str, query: Query) -> EvidenceTable:
    result = connection.execute(query)
    columns = tuple(result.keys())
    return EvidenceTable(name, columns, tuple(tuple(map(_plain, row)) for row in result.all()))


def _plain(value: Any) -> Any:
    return moment_text(value) if isinstance(value, datetime) else value


CYLINDER_KINDS = frozenset(("oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder"))


def cylinders_in(session: Session, unit: Unit) -> tuple[Part, ...]:
    """The cylinders that sit in a unit."""
    return tuple(seat.part for seat in seats_of(session, unit) if seat.part and seat.slot.kind in CYLINDER_KINDS)


def filled_with(session: Session, part_ids: Iterable[int]) -> tuple[Part, ...]:
    """Every other cylinder whose last fill is of a batch that the last fill of one of these is of."""
    superseded = select(CylinderFill.supersedes_id).where(CylinderFill.supersedes_id.is_not(None))
    query = select(CylinderFill.part_id, CylinderFill.batch).where(CylinderFill.id.not_in(superseded))
    last = {row.part_id: row.batch for row in session.execute(query.order_by(CylinderFill.at, CylinderFill.id)).all()}
    mine = set(part_ids)
    batches = {last[key] for key in mine if last.get(key)}
    others = [key for key, batch in last.items() if batch in batches and key not in mine]
    return tuple(session.scalars(select(Part).where(Part.id.in_(others)).order_by(Part.id)))


def packed_with(session: Session, unit: Unit) -> tuple[Part, ...]:
    """Every other canister whose standing fill is from the container that the unit's standing fill is from."""
    mine = {seat.part.id for seat in seats_of(session, unit) if seat.part}
    standing = select(Fill.part_id, Fill.container_id).where(Fill.discarded_at.is_(None))
    rows = session.execute(standing.where(Fill.container_id.is_not(None))).all()
    containers = {row.container_id for row in rows if row.part_id in mine}
    others = {row.part_id for row in rows if row.container_id in containers and row.part_id not in mine}
    return tuple(session.scalars(select(Part).where(Part.id.in_(others)).order_by(Part.id)))


def held_with(session: Session, hold: Hold) -> tuple[tuple[Part, str], ...]:
    """Parts that were held in the same act as a unit, each with its reason; lifted ones left out."""
    query = (
        select(Part, Hold.reason)
        .join(Hold, Hold.part_id == Part.id)
        .where(Hold.kind == hold.kind, Hold.placed_at == hold.placed_at, Hold.lifted_at.is_(None))
    )
    return tuple((part, reason) for part, reason in session.execute(query.order_by(Hold.id)))
