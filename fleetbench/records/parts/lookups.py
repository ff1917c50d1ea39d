"""What an act on parts must look up before it writes, and what happened to a part outside its slots."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, func, literal, null, or_, select
from sqlalchemy.orm import Session, aliased

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.kinds import OwnerKind, PartState, ShelfEvent
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.schema import Query, reads, records_of, select_of
from fleetbench.records.parts.tables import (
    Fitting,
    Part,
    PartEvent,
    PartOrder,
    PartProof,
    PartType,
    StockCount,
)
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.tickets.tables import Ticket, still_open
from fleetbench.records.units.tables import Slot, SlotPartType, Unit


@dataclass(frozen=True, slots=True)
class PartEventRecord:
    """One event of a part; undone: a later event took it back."""

    event_id: int
    part_id: int
    kind: str
    at: datetime
    person_id: int | None
    place: str | None
    place_before: str | None
    state_before: str | None
    reason: str | None
    undoes_id: int | None


@dataclass(frozen=True, slots=True)
class StockCountRecord:
    """One count of a lot on the shelf."""

    part_type_id: int
    lot: str | None
    at: datetime
    person_id: int | None
    book: int
    counted: int
    reason: str


def part_type_by_code(session: Session, code: str) -> PartType:
    """The part type with this code; NotFound otherwise."""
    row = session.scalar(select(PartType).where(PartType.code == code.strip()))
    if row is None:
        raise NotFound(say("part type {code}: not in the catalogue; add it or check the code", code=code))
    return row


def orders_standing(session: Session, *, part_type_id: int | None = None, made_for: str = "") -> list[PartOrder]:
    """Orders not cancelled, those expected first at the head: all that one asked for, or what a type still awaits."""
    query = select(PartOrder).where(PartOrder.cancelled_at.is_(None))
    awaited = PartOrder.part_type_id == part_type_id, PartOrder.arrived < PartOrder.pieces
    query = query.where(*(awaited if part_type_id is not None else (PartOrder.made_for == made_for,)))
    return list(session.scalars(query.order_by(PartOrder.expected_on, PartOrder.id)))


def read_coming(connection: Connection) -> dict[int, list[tuple[date, int]]]:
    """Of each part type the pieces on order and the day on which they are expected, in order; one statement."""
    lacking = PartOrder.pieces - PartOrder.arrived
    query = select(PartOrder.part_type_id, PartOrder.expected_on, lacking).where(
        PartOrder.cancelled_at.is_(None), lacking > 0
    )
    found: dict[int, list[tuple[date, int]]] = {}
    for key, day, pieces in connection.execute(query.order_by(PartOrder.expected_on, PartOrder.id)):
        found.setdefault(key, []).append((day, pieces))
    return found


def read_suppliers(connection: Connection) -> dict[int, str]:
    """Of each part type who supplied the newest piece of which that is recorded; one statement."""
    query = select(Part.part_type_id, Part.supplier).where(Part.supplier.is_not(None), Part.supplier != "")
    newest_last = query.order_by(Part.received_on.is_not(None), Part.received_on, Part.id)
    return {key: supplier for key, supplier in connection.execute(newest_last) if supplier is not None}


def serial_taken(session: Session, part_type_id: int, serial: str) -> bool:
    """Whether a part of this type has this serial already."""
    query = select(Part.id).where(Part.part_type_id == part_type_id, Part.serial == serial)
    return session.scalar(query) is not None


def places_of_kind(session: Session, kind: str) -> Sequence[Place]:
    """Every place of a kind."""
    return session.scalars(select(Place).where(Place.kind == kind).order_by(Place.id)).all()


def centres_own(session: Session) -> Owner | None:
    """The first owner that is the centre itself."""
    return session.scalar(select(Owner).where(Owner.kind == OwnerKind.CENTRE).order_by(Owner.id).limit(1))


def held_inside(session: Session, part_id: int) -> int:
    """How many parts sit in this assembly now."""
    query = select(func.count()).select_from(Fitting)
    return session.scalar(query.where(Fitting.host_part_id == part_id, Fitting.removed_at.is_(None))) or 0


def shelf_of(session: Session, part_type_id: int, lot: str | None, *, serials: bool = False) -> Sequence[Part]:
    """Parts in stock of a type and lot without a serial of their own, or all of them; oldest first."""
    lots = Part.lot.is_(None) if lot is None else Part.lot == lot
    query = select(Part).where(Part.part_type_id == part_type_id, lots, Part.state == PartState.STOCK)
    if not serials:
        query = query.where(Part.serial.is_(None))
    return session.scalars(query.order_by(Part.received_on, Part.id)).all()


def shelf_of_type(session: Session, part_type_id: int) -> Sequence[Part]:
    """Parts in stock of a type; those received first come first."""
    query = select(Part).where(Part.part_type_id == part_type_id, Part.state == PartState.STOCK)
    return session.scalars(query.order_by(Part.received_on, Part.id)).all()


def last_counted_out(session: Session, part_type_id: int, lot: str | None) -> Sequence[Part]:
    """Parts of a lot that a count did not find and nobody found since, newest first."""
    lots = Part.lot.is_(None) if lot is None else Part.lot == lot
    newest = select(func.max(PartEvent.id)).group_by(PartEvent.part_id)
    query = (
        select(Part)
        .join(PartEvent, PartEvent.part_id == Part.id)
        .where(
            Part.part_type_id == part_type_id,
            lots,
            Part.state == PartState.SCRAPPED,
            PartEvent.kind == ShelfEvent.NOT_FOUND,
        )
        .where(PartEvent.id.in_(newest))
        .order_by(PartEvent.id.desc())
    )
    return session.scalars(query).all()


def newest_event(session: Session, part_id: int) -> PartEvent | None:
    """The last event of a part."""
    query = select(PartEvent).where(PartEvent.part_id == part_id).order_by(PartEvent.id.desc()).limit(1)
    return session.scalar(query)


def undone(session: Session, event_id: int) -> bool:
    """Whether a later event took this one back."""
    return session.scalar(select(PartEvent.id).where(PartEvent.undoes_id == event_id)) is not None


def used_in_step(session: Session, step_result_id: int) -> Sequence[PartEvent]:
    """The events by which a step used parts up, but for what was taken back."""
    back = select(PartEvent.undoes_id).where(PartEvent.undoes_id.is_not(None))
    query = select(PartEvent).where(PartEvent.step_result_id == step_result_id, PartEvent.id.not_in(back))
    return session.scalars(query.order_by(PartEvent.id)).all()


def fitted_since(session: Session, part_id: int, at: datetime) -> bool:
    """Whether the part was fitted somewhere at or after a moment."""
    query = select(Fitting.id).where(Fitting.part_id == part_id, Fitting.fitted_at >= at).limit(1)
    return session.scalar(query) is not None


def open_ticket_keys(session: Session) -> Sequence[int]:
    """Keys of the tickets that are not signed."""
    return session.scalars(select(Ticket.id).where(still_open())).all()


def outcomes_of_part(session: Session, part_id: int, keys: Sequence[int]) -> Sequence[CalibrationOutcome]:
    """Those of the given calibration outcomes that are about this part."""
    query = select(CalibrationOutcome).where(CalibrationOutcome.id.in_(keys), CalibrationOutcome.part_id == part_id)
    return session.scalars(query).all()


def tests_of_part(session: Session, part_id: int, keys: Sequence[int]) -> Sequence[BenchTest]:
    """Those of the given bench tests that were made on this part, or on a unit while the part sat in it."""
    sat = select(Fitting.unit_id).where(Fitting.part_id == part_id, Fitting.unit_id.is_not(None))
    query = select(BenchTest).where(
        BenchTest.id.in_(keys), (BenchTest.part_id == part_id) | (BenchTest.unit_id.in_(sat))
    )
    return session.scalars(query).all()


@reads(PartEventRecord)
def read_part_events(part_id: int) -> Query:
    """Every event of a part, oldest first; one statement."""
    before = aliased(Place)
    return (
        select_of(PartEventRecord, PartEvent, event_id=PartEvent.id, place=Place.name, place_before=before.name)
        .outerjoin(Place, Place.id == PartEvent.place_id)
        .outerjoin(before, before.id == PartEvent.place_before_id)
        .where(PartEvent.part_id == part_id)
        .order_by(PartEvent.at, PartEvent.id)
    )


@reads(StockCountRecord)
def read_stock_counts() -> Query:
    """Every count of pieces, newest first; one statement."""
    return select_of(StockCountRecord, StockCount).order_by(StockCount.at.desc(), StockCount.id.desc())


@dataclass(frozen=True, slots=True)
class ProofRecord:
    """A reading of a part that can prove a fault. kind: `calibration` or the bench test's word."""

    outcome_id: int | None
    test_id: int | None
    kind: str
    at: datetime
    result: str
    words: str
    person_id: int | None


def read_part_readings(connection: Connection, part_id: int) -> tuple[ProofRecord, ...]:
    """Calibrations and bench tests of a part that nothing supersedes, newest first; two statements."""
    replaced = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    calibrations = (
        select_of(
            ProofRecord,
            Calibration,
            outcome_id=CalibrationOutcome.id,
            test_id=null(),
            kind=literal("calibration"),
            result=CalibrationOutcome.verdict,
            words=CalibrationOutcome.finding,
        )
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(CalibrationOutcome.part_id == part_id, Calibration.id.not_in(replaced))
    )
    later = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    tests = select_of(
        ProofRecord, BenchTest, outcome_id=null(), test_id=BenchTest.id, words=func.coalesce(BenchTest.note, "")
    ).where(BenchTest.part_id == part_id, BenchTest.id.not_in(later))
    found = [*records_of(connection, calibrations, ProofRecord), *records_of(connection, tests, ProofRecord)]
    return tuple(sorted(found, key=lambda each: each.at, reverse=True))


@dataclass(frozen=True, slots=True)
class PlaceRecord:
    """A place."""

    place_id: int
    name: str
    kind: str


@reads(PlaceRecord)
def read_places() -> Query:
    """Every place by name; one statement."""
    return select_of(PlaceRecord, Place).order_by(Place.name)


CountRow = tuple[int, str, str, int, int]
"""key, name, kind, parts, units."""


def count_by_place(connection: Connection) -> tuple[CountRow, ...]:
    """Every place by name with the parts that lie there and the units whose place it is; three statements."""
    return _counted(connection, Place, Part.place_id, Unit.place_id)


def count_by_owner(connection: Connection) -> tuple[CountRow, ...]:
    """Every owner by name with what is theirs; three statements."""
    return _counted(connection, Owner, Part.owner_id, Unit.owner_id)


def _counted(
    connection: Connection, kind: type[Place] | type[Owner], of_part: Any, of_unit: Any
) -> tuple[CountRow, ...]:
    here = Part.state != PartState.SCRAPPED
    parts = _by_key(connection, select(of_part, func.count()).where(here).group_by(of_part))
    now = Unit.retired_on.is_(None)
    units = _by_key(connection, select(of_unit, func.count()).where(now).group_by(of_unit))
    named = connection.execute(select(kind.id, kind.name, kind.kind).order_by(kind.name))
    return tuple((key, name, word, parts.get(key, 0), units.get(key, 0)) for key, name, word in named)


def _by_key(connection: Connection, query: Query) -> dict[int, int]:
    return {key: count for key, count in connection.execute(query)}


@dataclass(frozen=True, slots=True)
class ProofFigures:
    """The figures of one proof: those of a calibration's outcome, or the value of a bench test; None where not read."""

    outcome_id: int | None
    test_id: int | None
    at: datetime
    kind: str
    result: str
    finding: str | None
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    held: bool | None
    value: float | None
    unit: str | None


def read_proof_figures(connection: Connection, event_id: int) -> tuple[ProofFigures, ...]:
    """Every proof of an event with its figures, oldest first; two statements."""
    calibrations = (
        select_of(
            ProofFigures,
            CalibrationOutcome,
            Calibration,
            outcome_id=CalibrationOutcome.id,
            test_id=null(),
            kind=literal("calibration"),
            result=CalibrationOutcome.verdict,
            held=null(),
            value=null(),
            unit=null(),
        )
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .join(PartProof, PartProof.outcome_id == CalibrationOutcome.id)
        .where(PartProof.part_event_id == event_id)
    )
    tests = (
        select_of(
            ProofFigures,
            BenchTest,
            outcome_id=null(),
            test_id=BenchTest.id,
            finding=BenchTest.note,
            air_mv=null(),
            oxygen_mv=null(),
            linearity=null(),
            expanded_u=null(),
        )
        .join(PartProof, PartProof.bench_test_id == BenchTest.id)
        .where(PartProof.part_event_id == event_id)
    )
    found = [*records_of(connection, calibrations, ProofFigures), *records_of(connection, tests, ProofFigures)]
    return tuple(sorted(found, key=lambda each: each.at))


def last_in_seat(session: Session, slot_id: int, unit_id: int | None, host_part_id: int | None) -> Sequence[Fitting]:
    """The last two fittings of a slot of a unit or of an assembly, the newest first."""
    at = Fitting.unit_id == unit_id if unit_id is not None else Fitting.host_part_id == host_part_id
    query = select(Fitting).where(at, Fitting.slot_id == slot_id).order_by(Fitting.id.desc()).limit(2)
    return session.scalars(query).all()


def last_before(session: Session, fitting: Fitting) -> Fitting | None:
    """The fitting of the same part that came before this one, wherever that was."""
    query = select(Fitting).where(Fitting.part_id == fitting.part_id, Fitting.id < fitting.id)
    return session.scalar(query.order_by(Fitting.id.desc()).limit(1))


def events_since(session: Session, part_id: int, at: datetime) -> Sequence[PartEvent]:
    """What happened to a part outside its slots at or after a moment, oldest first."""
    query = select(PartEvent).where(PartEvent.part_id == part_id, PartEvent.at >= at)
    return session.scalars(query.order_by(PartEvent.id)).all()


def calibrated_since(session: Session, part_ids: Sequence[int], at: datetime) -> datetime | None:
    """When one of these parts was last calibrated at or after a moment, None for never."""
    query = (
        select(func.max(Calibration.at))
        .join(CalibrationOutcome, CalibrationOutcome.calibration_id == Calibration.id)
        .where(CalibrationOutcome.part_id.in_(part_ids), Calibration.at >= at)
    )
    return session.scalar(query)


def part_types_of_slot(session: Session, slot_id: int) -> Sequence[PartType]:
    """The part types that a slot is made for, by name; none where that is not recorded."""
    query = select(PartType).join(SlotPartType, SlotPartType.part_type_id == PartType.id)
    return session.scalars(query.where(SlotPartType.slot_id == slot_id).order_by(PartType.name)).all()


def fitted_beside(session: Session, host_part_id: int | None) -> Sequence[tuple[Part, Slot]]:
    """Cells that sit in an assembly now, each with its slot; none where there is no assembly."""
    query = (
        select(Part, Slot)
        .join(Fitting, Fitting.part_id == Part.id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .where(Fitting.host_part_id == host_part_id, Fitting.removed_at.is_(None), Slot.kind == "cell")
    )
    return [(part, slot) for part, slot in session.execute(query)] if host_part_id is not None else []


SeatKey = tuple[int, int | None, int | None]
"""slot, unit and host part of one place for a part."""


def newest_change(session: Session, seats: Sequence[SeatKey]) -> SeatKey | None:
    """Which of these places a part was put into or taken out of last; of one moment the one written last."""
    units, hosts = {unit for _, unit, _ in seats if unit}, {host for _, _, host in seats if host}
    at = func.coalesce(Fitting.removed_at, Fitting.fitted_at)
    query = select(Fitting.slot_id, Fitting.unit_id, Fitting.host_part_id).where(
        or_(Fitting.unit_id.in_(units), Fitting.host_part_id.in_(hosts))
    )
    known = set(seats)
    found = (tuple(row) for row in session.execute(query.order_by(at.desc(), Fitting.id.desc())))
    return next((key for key in found if key in known), None)
