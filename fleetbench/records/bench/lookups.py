"""What the bench must look up: sessions, cell positions, readers, limits, and where a part may go.

What bears on the bench tests of one unit: its type, what sits in it, and every limit in force.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from fleetbench.calc.readiness.limits import in_force
from fleetbench.records.bench.tables import BenchReading, BenchTest, TestEquipment
from fleetbench.records.cells.tables import (
    BenchSession,
    Calibration,
    CalibrationOutcome,
    CalibrationReading,
    HandsetSetting,
)
from fleetbench.records.core.journal import Journal
from fleetbench.records.notices.tables import Notice, NoticeDone
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import Limit
from fleetbench.records.tickets.tables import Ticket, still_open
from fleetbench.records.units.tables import Reader, ReaderCell, Slot, Unit, UnitType
from fleetbench.records.upkeep.lookups import notices_on_part

RecordSession = Session
"""What an act or a look is made in, under a name that the floors above may know."""


@dataclass(frozen=True, slots=True)
class SlotContent:
    """One slot of a unit or of an assembly fitted in it, with what sits there; `depth` 0 is the unit's own slot."""

    slot: Slot
    depth: int
    unit_id: int | None
    host_part_id: int | None
    fitting: Fitting | None
    part: Part | None
    part_type: PartType | None


def seats_of(session: Session, unit: Unit) -> tuple[SlotContent, ...]:
    """Every slot of a unit in tree order, the slots of its fitted assemblies after each assembly's own."""
    slots = session.scalars(select(Slot).where(Slot.unit_type_id == unit.unit_type_id).order_by(Slot.ordinal)).all()
    own = _seats(session, slots, depth=0, unit_id=unit.id)
    return _with_inner(session, own)


def _seats(
    session: Session, slots: Sequence[Slot], *, depth: int, unit_id: int | None = None, host: int | None = None
) -> list[SlotContent]:
    at = Fitting.unit_id == unit_id if unit_id is not None else Fitting.host_part_id == host
    query = (
        select(Fitting, Part, PartType)
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, PartType.id == Part.part_type_id)
        .where(at, Fitting.removed_at.is_(None))
    )
    held = {fitting.slot_id: (fitting, part, kind) for fitting, part, kind in session.execute(query)}
    nothing: tuple[None, None, None] = (None, None, None)
    return [SlotContent(slot, depth, unit_id, host, *held.get(slot.id, nothing)) for slot in slots]


def inner_seats(
    session: Session, part: Part | None, part_type: PartType | None, depth: int = 1
) -> tuple[SlotContent, ...]:
    """Every slot inside an assembly in tree order; those of its type, all empty, where no part is given."""
    if part_type is None or not part_type.assembly:
        return ()
    query = select(Slot).where(Slot.assembly_type_id == part_type.id).order_by(Slot.ordinal)
    slots = session.scalars(query).all()
    if part is None:
        return tuple(
            SlotContent(slot, depth=depth, unit_id=None, host_part_id=None, fitting=None, part=None, part_type=None)
            for slot in slots
        )
    return _with_inner(session, _seats(session, slots, depth=depth, host=part.id))


def _with_inner(session: Session, seats: Iterable[SlotContent]) -> tuple[SlotContent, ...]:
    listed: list[SlotContent] = []
    for seat in seats:
        listed.append(seat)
        if seat.part is not None:
            listed.extend(inner_seats(session, seat.part, seat.part_type, seat.depth + 1))
    return tuple(listed)


def readers_of_type(session: Session, unit_type_id: int) -> Sequence[Reader]:
    """The electronics of a unit type that read cells, in order."""
    query = select(Reader).where(Reader.unit_type_id == unit_type_id).order_by(Reader.ordinal, Reader.id)
    return session.scalars(query).all()


def matrix_of(session: Session, reader_ids: Iterable[int]) -> dict[tuple[int, int], ReaderCell]:
    """What each reader shows of each cell slot, by (reader, slot)."""
    rows = session.scalars(select(ReaderCell).where(ReaderCell.reader_id.in_(list(reader_ids))))
    return {(row.reader_id, row.cell_slot_id): row for row in rows}


def limit_rows(session: Session, *, part_type_ids: Iterable[int] = (), unit_type_id: int | None = None) -> list[Limit]:
    """Limits in force of these part types, or of this unit type together with the centre's own."""
    centre = Limit.unit_type_id.is_(None) & Limit.part_type_id.is_(None)
    mine = Limit.part_type_id.in_(list(part_type_ids)) if unit_type_id is None else Limit.unit_type_id == unit_type_id
    asked = mine if unit_type_id is None else mine | centre
    return list(in_force(session.scalars(select(Limit).where(asked).order_by(Limit.id))))


def newest_open_session(session: Session, person_id: int | None) -> BenchSession | None:
    """The newest bench session that nobody ended, of this person where one is given."""
    query = select(BenchSession).where(BenchSession.ended_at.is_(None))
    if person_id is not None:
        query = query.where(BenchSession.person_id == person_id)
    return session.scalar(query.order_by(BenchSession.started_at.desc(), BenchSession.id.desc()).limit(1))


def newest_session_of(session: Session, person_id: int) -> BenchSession | None:
    """The newest bench session of a person, ended or not."""
    query = select(BenchSession).where(BenchSession.person_id == person_id)
    return session.scalar(query.order_by(BenchSession.started_at.desc(), BenchSession.id.desc()).limit(1))


def newest_measured_session(session: Session) -> BenchSession | None:
    """The newest bench session of anybody with a pressure that was measured, ended or not."""
    query = select(BenchSession).where(BenchSession.pressure_source == "measured")
    return session.scalar(query.order_by(BenchSession.started_at.desc(), BenchSession.id.desc()).limit(1))


def open_sessions_of(session: Session, person_id: int) -> Sequence[BenchSession]:
    """Every bench session of a person that nobody ended."""
    query = select(BenchSession).where(BenchSession.ended_at.is_(None), BenchSession.person_id == person_id)
    return session.scalars(query).all()


def equipment_of(session: Session, kinds: Iterable[str]) -> Sequence[TestEquipment]:
    """Test equipment of these kinds, by kind and name."""
    query = select(TestEquipment).where(TestEquipment.kind.in_(list(kinds)))
    return session.scalars(query.order_by(TestEquipment.kind, TestEquipment.name, TestEquipment.id)).all()


def last_outcomes(session: Session, part_ids: Iterable[int]) -> dict[int, tuple[CalibrationOutcome, Calibration]]:
    """The newest outcome of each cell that no later record supersedes, with its calibration."""
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    query = (
        select(CalibrationOutcome, Calibration)
        .join(Calibration, Calibration.id == CalibrationOutcome.calibration_id)
        .where(CalibrationOutcome.part_id.in_(list(part_ids)), Calibration.id.not_in(superseded))
        .order_by(Calibration.at, Calibration.id)
    )
    return {outcome.part_id: (outcome, calibration) for outcome, calibration in session.execute(query)}


def newest_calibration(session: Session, unit_id: int) -> Calibration | None:
    """The newest calibration of a unit that no later record supersedes."""
    superseded = select(Calibration.supersedes_id).where(Calibration.supersedes_id.is_not(None))
    query = select(Calibration).where(Calibration.unit_id == unit_id, Calibration.id.not_in(superseded))
    return session.scalar(query.order_by(Calibration.at.desc(), Calibration.id.desc()).limit(1))


def last_over_pressure(session: Session, unit_id: int) -> float | None:
    """The over-pressure in a unit's head in mbar as it was measured last; None where it never was."""
    query = select(Calibration.over_pressure_mbar).where(
        Calibration.unit_id == unit_id, Calibration.over_pressure_mbar.is_not(None)
    )
    return session.scalar(query.order_by(Calibration.at.desc(), Calibration.id.desc()).limit(1))


def superseder_of(session: Session, calibration_id: int) -> Calibration | None:
    """The record that took this calibration's place, if one did."""
    return session.scalar(select(Calibration).where(Calibration.supersedes_id == calibration_id))


def calibration_recorded_at(session: Session, calibration_id: int) -> datetime | None:
    """When a calibration was written down, which for one typed from paper is later than when it was done."""
    written = Journal.content.contains(f'["calibration",{calibration_id},', autoescape=True)
    acts = Journal.act.in_(("calibrate", "correct calibration"))
    return session.scalar(select(Journal.at).where(acts, written).order_by(Journal.id.desc()).limit(1))


def raw_readings(session: Session, calibration_id: int) -> Sequence[CalibrationReading]:
    """The raw readings of a calibration in the order in which they were taken down."""
    query = select(CalibrationReading).where(CalibrationReading.calibration_id == calibration_id)
    return session.scalars(query.order_by(CalibrationReading.id)).all()


def last_readings(session: Session, unit_id: int) -> dict[tuple[str, int | None, str | None], dict[str, float]]:
    """The first figure of each quantity in the last measured test of each kind, part and direction at a unit."""
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    query = select(BenchTest, BenchReading).join(BenchReading, BenchReading.bench_test_id == BenchTest.id)
    query = query.where(BenchTest.unit_id == unit_id, BenchTest.id.not_in(superseded))
    found: dict[tuple[str, int | None, str | None], dict[str, float]] = {}
    for test, reading in session.execute(query.order_by(BenchTest.at, BenchTest.id, BenchReading.ordinal.desc())):
        of_test = found.setdefault((test.kind, test.part_id, test.direction), {})
        of_test[reading.quantity] = reading.value
        if test.supply_bar is not None:
            of_test["supply pressure"] = test.supply_bar
    return found


def settings_of(session: Session, calibration_id: int) -> Sequence[HandsetSetting]:
    """What was set in the handsets themselves at a calibration."""
    query = select(HandsetSetting).where(HandsetSetting.calibration_id == calibration_id).order_by(HandsetSetting.id)
    return session.scalars(query).all()


def fitted_since(session: Session, part_ids: Iterable[int]) -> dict[int, datetime]:
    """Since when each of these parts sits where it sits now."""
    query = select(Fitting).where(Fitting.part_id.in_(list(part_ids)), Fitting.removed_at.is_(None))
    return {fitting.part_id: fitting.fitted_at for fitting in session.scalars(query)}


def open_tickets_of(session: Session, unit_id: int) -> Sequence[Ticket]:
    """Tickets of a unit that nobody signed, oldest first."""
    query = select(Ticket).where(Ticket.unit_id == unit_id, still_open()).order_by(Ticket.id)
    return session.scalars(query).all()


def test_superseded(session: Session, test_id: int) -> bool:
    """Whether a later bench test took this one's place."""
    return session.scalar(select(BenchTest.id).where(BenchTest.supersedes_id == test_id)) is not None


def open_stop_notices(session: Session, unit: Unit, part: Part, part_type: PartType) -> Sequence[Notice]:
    """Stopping notices that name this part; done on the unit clears a part's type only.

    What names a lot, serial or firmware speaks of the part itself, which was not there when the action was done.
    """
    done = set(session.scalars(select(NoticeDone.notice_id).where(NoticeDone.unit_id == unit.id)))
    itself = {notice.id for notice in notices_on_part(session, part, part_type, by_type=False)}
    named = notices_on_part(session, part, part_type)
    return [notice for notice in named if notice.id in itself or notice.id not in done]


def signers(session: Session, roles: Iterable[str]) -> Sequence[Person]:
    """Active people of these roles, by code."""
    query = select(Person).where(Person.active.is_(True), Person.role.in_(list(roles)))
    return session.scalars(query.order_by(Person.code)).all()


Named = dict[str, Limit]
"""Limits in force by name: the part type's own, then the unit type's, then the centre's."""


@dataclass(frozen=True, slots=True)
class TypeFacts:
    """What the tests need to know of a unit's type, with the limits that stand on it and on the types of its parts."""

    kind: UnitType
    seats: tuple[SlotContent, ...]
    of_type: Named
    of_parts: dict[int, Named]

    def limits(self, seat: SlotContent | None) -> Named:
        """The limits in force for what sits in a seat, or for the whole unit."""
        own = self.of_parts.get(seat.part.part_type_id, {}) if seat is not None and seat.part is not None else {}
        return self.of_type | own

    def own_limits(self, seat: SlotContent) -> Named:
        """The limits that the part's own type states, for what the unit type's manual does not speak of."""
        return self.of_parts.get(seat.part.part_type_id, {}) if seat.part is not None else {}

    def seat(self, slot: str | None) -> SlotContent | None:
        """The seat of that name that holds a part."""
        return next((seat for seat in self.seats if seat.slot.name == slot and seat.part is not None), None)


def type_facts(session: Session, unit: Unit) -> TypeFacts:
    """The unit's type with every limit that bears on its tests, read inside an open session."""
    seats = seats_of(session, unit)
    part_types = {seat.part.part_type_id for seat in seats if seat.part is not None}
    rows = limit_rows(session, unit_type_id=unit.unit_type_id)
    centre_first = sorted(rows, key=lambda row: row.unit_type_id is not None)
    of_parts: dict[int, Named] = {key: {} for key in part_types}
    for row in limit_rows(session, part_type_ids=part_types):
        if row.part_type_id is not None:
            of_parts[row.part_type_id][row.name] = row
    kind = session.get_one(UnitType, unit.unit_type_id)
    return TypeFacts(kind, seats, {row.name: row for row in centre_first}, of_parts)
