"""What acts on canisters and absorbent look up, and the reads behind a fill's story, its label and the stock's use."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from fleetbench.calc.core.languages import say
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.canisters.reads import still_counts
from fleetbench.records.canisters.tables import Container, Fill, FillEvent, RatingRow, Run, RunCorrection, StockTake
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.schema import Query, reads, records_of, select_of
from fleetbench.records.hires.tables import Booking, BookingUnit, LogReading
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Slot, Unit

OpenSession = Session
"""A session that is open, for floors that know no SQL to hand on."""


@dataclass(frozen=True, slots=True)
class FillEventRecord:
    """What happened to a fill between packing and the bin."""

    fill_id: int
    kind: str
    at: datetime
    person_id: int | None
    diver_id: int | None
    booking: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class CorrectionRecord:
    """A run that no longer counts, and why."""

    fill_id: int
    run_id: int
    minutes: float
    started_at: datetime
    instead_id: int | None
    at: datetime
    person_id: int | None
    reason: str
    ended_by: datetime | None = None


@dataclass(frozen=True, slots=True)
class ScaleRecord:
    """Both weighings of a fill, on which scale, and who threw it away; None is not known."""

    fill_id: int
    tare_g: float | None
    filled_g: float | None
    discarded_by_id: int | None
    scale: str | None


@dataclass(frozen=True, slots=True)
class UseRecord:
    """One packing with what it drew on; mass_g None is not weighed."""

    packed_at: datetime
    mass_g: float | None
    lot: str | None
    part_type_id: int


@dataclass(frozen=True, slots=True)
class FoundFill:
    """A fill found by the number on its label."""

    fill_id: int
    ref: str | None
    part_id: int
    canister: str | None
    packed_at: datetime
    discarded_at: datetime | None


@dataclass(frozen=True, slots=True)
class StockTakeRecord:
    """A container counted anew."""

    container_id: int
    at: datetime
    person_id: int | None
    book_kg: float
    counted_kg: float
    reason: str


# For acts


def canister_by_serial(session: Session, serial: str) -> tuple[Part, PartType]:
    """The one canister with this serial, with its type; NotFound otherwise."""
    query = select(Part, PartType).join(PartType, PartType.id == Part.part_type_id)
    rows = session.execute(query.where(Part.serial == serial.strip(), PartType.kind == "canister").limit(2)).all()
    if len(rows) != 1:
        said = say("canisters of several types have this serial") if rows else say("no canister has this serial")
        raise NotFound(say("canister {serial}: {said}; check it, or choose it from the list", serial=serial, said=said))
    return rows[0][0], rows[0][1]


def canister_by_key(session: Session, key: int) -> tuple[Part, PartType]:
    """The canister with this key, with its type; NotFound for a part that is none."""
    query = select(Part, PartType).join(PartType, PartType.id == Part.part_type_id)
    row = session.execute(query.where(Part.id == key, PartType.kind == "canister")).first()
    if row is None:
        raise NotFound(say("canister {key}: no canister has this key; choose it from the list", key=key))
    return row[0], row[1]


def standing_fill(session: Session, part_id: int) -> Fill | None:
    """The newest fill of a canister that nobody has thrown away, if any."""
    query = select(Fill).where(Fill.part_id == part_id, Fill.discarded_at.is_(None))
    return session.scalar(query.order_by(Fill.packed_at.desc(), Fill.id.desc()).limit(1))


def read_standing_fills(connection: Connection) -> dict[int, str]:
    """What the fill that stands in each unit's canister is called, by unit; one statement."""
    query = (
        select(Fitting.unit_id, Fill.ref, Fill.id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .join(Fill, Fill.part_id == Fitting.part_id)
        .where(Slot.kind == "canister", Fitting.removed_at.is_(None), Fitting.unit_id.is_not(None))
        .where(Fill.discarded_at.is_(None))
        .order_by(Fill.packed_at, Fill.id)
    )
    return {unit_id: ref or f"FILL-{key}" for unit_id, ref, key in connection.execute(query) if unit_id}


def last_emptied(session: Session, part_id: int) -> datetime | None:
    """When the canister was last emptied."""
    return session.scalar(select(func.max(Fill.discarded_at)).where(Fill.part_id == part_id))


def last_tare(session: Session, part_id: int) -> float | None:
    """Mass of the empty canister as it was weighed last."""
    return _last_mass(session, part_id, Fill.tare_g)


def last_filled(session: Session, part_id: int) -> float | None:
    """Mass of the packed canister as it was weighed last."""
    return _last_mass(session, part_id, Fill.filled_g)


def _last_mass(session: Session, part_id: int, mass: InstrumentedAttribute[float | None]) -> float | None:
    query = select(mass).where(Fill.part_id == part_id, mass.is_not(None))
    return session.scalar(query.order_by(Fill.packed_at.desc(), Fill.id.desc()).limit(1))


def rating_rows_of(session: Session, part_type_id: int) -> Sequence[RatingRow]:
    """The canister type's table of rated minutes."""
    return session.scalars(select(RatingRow).where(RatingRow.part_type_id == part_type_id)).all()


def limits_of_type(session: Session, part_type_id: int) -> dict[str, float]:
    """The canister type's own limits by name."""
    rows = session.scalars(select(Limit).where(Limit.part_type_id == part_type_id)).all()
    return {row.name: row.amount for row in rows}


def runs_that_count(session: Session, fill_id: int) -> Sequence[Run]:
    """The runs of a fill without those that were corrected away, oldest first."""
    query = select(Run).where(Run.fill_id == fill_id, still_counts())
    return session.scalars(query.order_by(Run.started_at, Run.id)).all()


def correction_of(session: Session, run_id: int) -> RunCorrection | None:
    """The correction that took a run away, if any."""
    return session.scalar(select(RunCorrection).where(RunCorrection.run_id == run_id))


def log_readings_of(session: Session, run_id: int) -> Sequence[LogReading]:
    """What a renter's log read on a run."""
    return session.scalars(select(LogReading).where(LogReading.run_id == run_id).order_by(LogReading.id)).all()


def unit_with_part(session: Session, part_id: int) -> Unit | None:
    """The unit in whose own slot the part sits now, if any."""
    query = select(Unit).join(Fitting, Fitting.unit_id == Unit.id)
    return session.scalar(query.where(Fitting.part_id == part_id, Fitting.removed_at.is_(None)))


def line_of(session: Session, line_id: int) -> tuple[BookingUnit, Booking]:
    """One unit on one booking; NotFound otherwise."""
    row = session.execute(
        select(BookingUnit, Booking)
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .where(BookingUnit.id == line_id)
    ).first()
    if row is None:
        raise NotFound(say("hire: not recorded; choose one of the unit's hires"))
    return row[0], row[1]


def absorbent_type(session: Session, code: str) -> PartType:
    """The absorbent with this code; NotFound for a code that is none, or is counted in pieces."""
    row = session.scalar(select(PartType).where(PartType.code == code, PartType.stocked_in == "kg"))
    if row is None:
        raise NotFound(say("absorbent {code}: no part type counted in kilograms has this code; check it", code=code))
    return row


def newest_container(session: Session, lot: str) -> Container | None:
    """Of this lot the container that is open, else the newest with something in it."""
    query = select(Container).where(Container.lot == lot, Container.left_kg > 0)
    order = (Container.opened_at.is_(None), Container.opened_at.desc(), Container.id.desc())
    return session.scalar(query.order_by(*order).limit(1))


# For lists and pages


@reads(FillEventRecord)
def read_fill_events(part_id: int) -> Query:
    """What happened to every fill of one canister, oldest first; one statement."""
    return (
        select_of(FillEventRecord, FillEvent, booking=Booking.code)
        .join(Fill, Fill.id == FillEvent.fill_id)
        .outerjoin(BookingUnit, BookingUnit.id == FillEvent.booking_unit_id)
        .outerjoin(Booking, Booking.id == BookingUnit.booking_id)
        .where(Fill.part_id == part_id)
        .order_by(FillEvent.at, FillEvent.id)
    )


@reads(CorrectionRecord)
def read_corrections(part_id: int) -> Query:
    """Runs of one canister's fills that were corrected away, oldest first; one statement."""
    return (
        select_of(CorrectionRecord, Run, RunCorrection)
        .join(Run, Run.id == RunCorrection.run_id)
        .join(Fill, Fill.id == Run.fill_id)
        .where(Fill.part_id == part_id)
        .order_by(RunCorrection.at, RunCorrection.id)
    )


@reads(ScaleRecord)
def read_scales(part_id: int) -> Query:
    """The weighings of one canister's fills; one statement."""
    return (
        select_of(ScaleRecord, Fill, scale=TestEquipment.name)
        .outerjoin(TestEquipment, TestEquipment.id == Fill.scale_id)
        .where(Fill.part_id == part_id)
    )


def read_packings(connection: Connection, since: datetime) -> tuple[UseRecord, ...]:
    """Every packing since a moment, oldest first; one statement."""
    query = (
        select_of(UseRecord, Fill, Container, part_type_id=Part.part_type_id)
        .join(Part, Part.id == Fill.part_id)
        .outerjoin(Container, Container.id == Fill.container_id)
        .where(Fill.packed_at >= since)
        .order_by(Fill.packed_at, Fill.id)
    )
    return records_of(connection, query, UseRecord)


def read_canister_types(connection: Connection) -> dict[int, int]:
    """Which canister type sits in units of each unit type, the commonest of them; one statement."""
    counted = (
        select(Slot.unit_type_id, Part.part_type_id, func.count())
        .join(Fitting, Fitting.slot_id == Slot.id)
        .join(Part, Part.id == Fitting.part_id)
        .where(Slot.kind == "canister", Slot.unit_type_id.is_not(None), Fitting.removed_at.is_(None))
        .group_by(Slot.unit_type_id, Part.part_type_id)
        .order_by(func.count(), Part.part_type_id.desc())
    )
    return {unit_type: canister for unit_type, canister, _ in connection.execute(counted) if unit_type is not None}


@reads(StockTakeRecord)
def read_stock_takes() -> Query:
    """Every container counted anew, newest first; one statement."""
    return select_of(StockTakeRecord, StockTake).order_by(StockTake.at.desc(), StockTake.id.desc())


def find_fill(connection: Connection, said: str) -> tuple[FoundFill, ...]:
    """The fill with this record number, or this key as its label writes it (`FILL-12`), if any; one statement."""
    number = re.fullmatch(r"fill-(\d{1,9})", said.strip().casefold())
    query = select_of(FoundFill, Fill, canister=Part.serial).join(Part, Part.id == Fill.part_id)
    wanted = Fill.id == int(number[1]) if number else func.lower(Fill.ref) == said.strip().lower()
    return records_of(connection, query.where(wanted).order_by(Fill.id).limit(1), FoundFill)
