"""Reads of openings and bench tests.

Reads of test equipment, of what it was used for last, and of the raw readings of a bench test.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, Subquery, and_, case, func, literal, null, select, union_all
from sqlalchemy.orm import Session

from fleetbench.calc.bench.leak_places import LeakFound
from fleetbench.calc.bench.measured import FULL_SUPPLY_BAR, LOW_SUPPLY_BAR
from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.core.languages import say, say_count
from fleetbench.calc.parts.kinds import OpeningKind
from fleetbench.records.bench.tables import BenchReading, BenchTest, LoopLeak, Opening, TestEquipment
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.cells.reads import in_force
from fleetbench.records.cells.tables import BenchSession, Calibration, CalibrationReading
from fleetbench.records.core.journal import MeterReading
from fleetbench.records.core.schema import Base, Query, built_once, columns_of, reads, select_of
from fleetbench.records.parts.tables import Fitting
from fleetbench.records.tickets.tables import StepResult, Ticket
from fleetbench.records.units.tables import Slot


@dataclass(frozen=True, slots=True)
class BenchTestRecord:
    """One bench test that no later record supersedes."""

    test_id: int
    ref: str | None
    unit_id: int
    part_id: int | None
    kind: str
    direction: str | None
    at: datetime
    person_id: int | None
    ticket_id: int | None
    equipment: str | None
    held: bool | None
    watched_minutes: float | None
    value: float | None
    unit_of_value: str | None
    supply_bar: float | None
    result: str
    note: str | None
    expanded_u: float | None
    finding: str | None


@dataclass(frozen=True, slots=True)
class OpeningRecord:
    """The loop or gas side of a unit was opened."""

    unit_id: int
    at: datetime
    kind: str
    what: str
    person_id: int | None
    ticket_id: int | None


@built_once
def _standing() -> ColumnElement[bool]:
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    return BenchTest.id.not_in(superseded)


@built_once
def _tests() -> Query:
    return (
        select_of(
            BenchTestRecord, BenchTest, test_id=BenchTest.id, equipment=TestEquipment.name, unit_of_value=BenchTest.unit
        )
        .outerjoin(TestEquipment, TestEquipment.id == BenchTest.equipment_id)
        .where(_standing())
        .order_by(BenchTest.at, BenchTest.id)
    )


@built_once
def last_tests(unit_id: int | None = None, *, kinds: tuple[str, ...] = ()) -> Subquery:
    """The keys (`id`) of the last test of each unit by kind, direction, part and sort of supply, to be joined to."""
    supply = case((BenchTest.supply_bar >= FULL_SUPPLY_BAR, 2), (BenchTest.supply_bar <= LOW_SUPPLY_BAR, 0), else_=1)
    rank = func.row_number().over(
        partition_by=(BenchTest.unit_id, BenchTest.kind, BenchTest.direction, BenchTest.part_id, supply),
        order_by=(BenchTest.at.desc(), BenchTest.id.desc()),
    )
    ranked = select(BenchTest.id.label("id"), rank.label("rank")).where(_standing())
    if unit_id is not None:
        ranked = ranked.where(BenchTest.unit_id == unit_id)
    if kinds:
        ranked = ranked.where(BenchTest.kind.in_(kinds))
    inner = ranked.subquery()
    return select(inner.c.id).where(inner.c.rank == 1).subquery()


@reads(BenchTestRecord)
def read_last_tests(unit_id: int | None = None, *, kinds: tuple[str, ...] = ()) -> Query:
    """The last test of each kind (or of given kinds), direction, part and sort of supply; one statement."""
    last = last_tests(unit_id, kinds=kinds)
    return _tests().join(last, last.c.id == BenchTest.id)


@reads(BenchTestRecord)
def read_tests(*, unit_id: int | None = None, ticket_id: int | None = None, kinds: tuple[str, ...] = ()) -> Query:
    """Bench tests of all units, of one unit, under one ticket, or of given kinds, oldest first; one statement."""
    query = _tests()
    if unit_id is not None:
        query = query.where(BenchTest.unit_id == unit_id)
    if ticket_id is not None:
        query = query.where(BenchTest.ticket_id == ticket_id)
    if kinds:
        query = query.where(BenchTest.kind.in_(kinds))
    return query


@dataclass(frozen=True, slots=True)
class LeakRecord:
    """A leak of a unit's loop that no later record corrects."""

    leak_id: int
    test_id: int
    person_id: int | None
    ticket_id: int | None
    fact: LeakFound


@reads(LeakRecord)
def read_leaks(unit_id: int) -> Query:
    """Every leak found on a unit, oldest first; the place is the slot's name, in words where it has none."""
    corrected = select(LoopLeak.supersedes_id).where(LoopLeak.supersedes_id.is_not(None))
    place = func.coalesce(Slot.name, LoopLeak.place, "place not recorded")
    return (
        select_of(LeakRecord, LoopLeak, BenchTest, test_id=BenchTest.id, person_id=LoopLeak.person_id,
                  ticket_id=LoopLeak.ticket_id,
                  fact=columns_of(LeakFound, LoopLeak, BenchTest, place=place, kind=BenchTest.kind, at=LoopLeak.at,
                                   detail=LoopLeak.place))
        .join(BenchTest, BenchTest.id == LoopLeak.bench_test_id)
        .outerjoin(Slot, Slot.id == LoopLeak.slot_id)
        .where(BenchTest.unit_id == unit_id, LoopLeak.id.not_in(corrected))
        .order_by(LoopLeak.at, LoopLeak.id)
    )  # fmt: skip


@built_once
def _openings() -> Query:
    return select_of(OpeningRecord, Opening).order_by(Opening.at, Opening.id)


@reads(OpeningRecord)
def read_last_workshop_openings(unit_id: int | None = None) -> Query:
    """The last workshop opening of each unit; one statement."""
    rank = func.row_number().over(partition_by=Opening.unit_id, order_by=(Opening.at.desc(), Opening.id.desc()))
    ranked = select(Opening.id.label("id"), rank.label("rank")).where(Opening.kind == OpeningKind.WORKSHOP)
    if unit_id is not None:
        ranked = ranked.where(Opening.unit_id == unit_id)
    last = ranked.subquery()
    return _openings().join(last, last.c.id == Opening.id).where(last.c.rank == 1)


@reads(OpeningRecord)
def read_openings(*, unit_id: int | None = None, ticket_id: int | None = None) -> Query:
    """Openings of one unit or under one ticket, oldest first; one statement."""
    query = _openings()
    if unit_id is not None:
        query = query.where(Opening.unit_id == unit_id)
    if ticket_id is not None:
        query = query.where(Opening.ticket_id == ticket_id)
    return query


CALIBRATION = "calibration"
"""What a piece was used for where it was no bench test."""


@dataclass(frozen=True, slots=True)
class EquipmentRecord:
    """One piece of test equipment; uncertainty (standard), digit and range in its unit, None where not recorded.

    address, query, answer_unit and idn: of one that is read by itself.
    """

    equipment_id: int
    kind: str
    name: str
    serial: str
    uncertainty: float | None
    unit: str | None
    digit: float | None
    last_good_day: date | None
    address: str | None = None
    query: str | None = None
    answer_unit: str | None = None
    range_low: float | None = None
    range_high: float | None = None
    idn: str | None = None


@dataclass(frozen=True, slots=True)
class ReadingRecord:
    """One raw figure of a bench test."""

    ordinal: int
    at: datetime
    quantity: str
    value: float
    unit: str
    equipment: str | None


@dataclass(frozen=True, slots=True)
class UsedRecord:
    """A piece of equipment with which a record in force was made.

    made: the test's kind, or `calibration`; part_id: of which part, None for the whole unit. uncertainty, unit: how
    well it measures, None not recorded.
    """

    unit_id: int
    part_id: int | None
    made: str
    at: datetime
    name: str
    serial: str
    last_good_day: date | None
    uncertainty: float | None
    unit: str | None


@reads(EquipmentRecord)
def read_equipment() -> Query:
    """All test equipment by kind and name; one statement."""
    return select_of(EquipmentRecord, TestEquipment, equipment_id=TestEquipment.id).order_by(
        TestEquipment.kind, TestEquipment.name, TestEquipment.serial
    )


def read_last_uses(connection: Connection) -> dict[int, datetime]:
    """When each piece of equipment was last used, by key; five statements."""
    last: dict[int, datetime] = {}
    for column, at in (
        (BenchTest.equipment_id, BenchTest.at),
        (BenchReading.equipment_id, BenchReading.at),
        (Calibration.analyser_id, Calibration.at),
        (Calibration.barometer_id, Calibration.at),
        (Fill.scale_id, Fill.packed_at),
    ):
        query = select(column, func.max(at)).where(column.is_not(None)).group_by(column)
        for key, moment in connection.execute(query):
            if key is not None:
                last[key] = max(last.get(key, moment), moment)
    return last


def read_used(connection: Connection, unit_id: int | None = None) -> tuple[UsedRecord, ...]:
    """What each unit's last bench tests, workshop calibration and standing fill were made with; four statements."""
    return (
        *_named(connection, unit_id),
        *_read(connection, unit_id),
        *_calibrated(connection, unit_id),
        *_weighed(connection, unit_id),
    )


def _tested(unit_id: int | None) -> Query:
    last = last_tests(unit_id)
    return select_of(UsedRecord, TestEquipment, BenchTest, made=BenchTest.kind).join(last, last.c.id == BenchTest.id)


@reads(UsedRecord)
def _named(unit_id: int | None) -> Query:
    return _tested(unit_id).join(TestEquipment, TestEquipment.id == BenchTest.equipment_id)


@reads(UsedRecord)
def _read(unit_id: int | None) -> Query:
    return (
        _tested(unit_id)
        .join(BenchReading, BenchReading.bench_test_id == BenchTest.id)
        .join(TestEquipment, TestEquipment.id == BenchReading.equipment_id)
        .distinct()
    )


@reads(UsedRecord)
def _calibrated(unit_id: int | None) -> Query:
    rank = func.row_number().over(
        partition_by=Calibration.unit_id, order_by=(Calibration.at.desc(), Calibration.id.desc())
    )
    ranked = select(
        Calibration.unit_id, Calibration.at, Calibration.analyser_id, Calibration.barometer_id, rank.label("rank")
    ).where(Calibration.made == MadeBy.WORKSHOP, in_force())
    if unit_id is not None:
        ranked = ranked.where(Calibration.unit_id == unit_id)
    last = ranked.subquery()
    return (
        select_of(UsedRecord, last, TestEquipment, part_id=null(), made=literal(CALIBRATION))
        .join(TestEquipment, TestEquipment.id.in_((last.c.analyser_id, last.c.barometer_id)))
        .where(last.c.rank == 1)
    )


@reads(UsedRecord)
def _weighed(unit_id: int | None) -> Query:
    query = (
        select_of(UsedRecord, TestEquipment, Fitting, part_id=Fill.part_id, made=literal("packing"), at=Fill.packed_at)
        .join(Fill, Fill.part_id == Fitting.part_id)
        .join(TestEquipment, TestEquipment.id == Fill.scale_id)
        .where(Fitting.removed_at.is_(None), Fitting.unit_id.is_not(None), Fill.discarded_at.is_(None))
    )
    return query if unit_id is None else query.where(Fitting.unit_id == unit_id)


@reads(ReadingRecord)
def read_bench_readings(test_id: int) -> Query:
    """The raw figures of one bench test in the order in which they were read; one statement."""
    return (
        select_of(ReadingRecord, BenchReading, equipment=TestEquipment.name)
        .outerjoin(TestEquipment, TestEquipment.id == BenchReading.equipment_id)
        .where(BenchReading.bench_test_id == test_id)
        .order_by(BenchReading.ordinal)
    )


def read_in_use(connection: Connection, person_id: int, since: datetime) -> tuple[int, ...]:
    """With which pieces a person measured or weighed since a moment, the last one first; two statements."""
    weighed = select(Fill.scale_id, Fill.packed_at).where(
        Fill.packed_by_id == person_id, Fill.packed_at >= since, Fill.scale_id.is_not(None)
    )
    query = (
        select(BenchReading.equipment_id, BenchReading.at)
        .join(BenchTest, BenchTest.id == BenchReading.bench_test_id)
        .where(BenchTest.person_id == person_id, BenchReading.at >= since, BenchReading.equipment_id.is_not(None))
        .order_by(BenchReading.at.desc(), BenchReading.id.desc())
    )
    uses = [*connection.execute(query), *connection.execute(weighed)]
    return tuple(dict.fromkeys(key for key, _at in sorted(uses, key=lambda use: use[1], reverse=True) if key))


def equipment_with_serial(session: Session, serial: str) -> TestEquipment | None:
    """The piece with this serial, if there is one."""
    return session.scalar(select(TestEquipment).where(TestEquipment.serial == serial))


class GivenRecord(NamedTuple):
    """How many figures of a record one meter gave by itself: `made` is calibration, bench test or step.

    u: the meter's standard uncertainty of one reading in `unit` as it was then, None not known.
    """

    made: str
    key: int
    name: str
    serial: str
    idn: str
    u: float | None
    unit: str | None
    figures: int

    @property
    def words(self) -> str:
        """As it stands beside the record, with twice the standard uncertainty (k = 2, JCGM 100:2008)."""
        u = say("uncertainty not recorded") if self.u is None else f"± {2.0 * self.u:.2g} {self.unit or ''}".rstrip()
        return say(
            "{figures} read by itself from {name} {serial} ({idn}), {u}",
            figures=say_count("{count} figure", "{count} figures", self.figures),
            name=self.name,
            serial=self.serial,
            idn=self.idn,
            u=u,
        )


def read_given(connection: Connection, unit_id: int) -> tuple[GivenRecord, ...]:
    """What meters gave of the calibrations, tests and service steps of a unit; one statement.

    The conditions of a bench session stand beside each calibration that was made in it.
    """
    return tuple(GivenRecord(*row) for row in connection.execute(_given(unit_id)))


@built_once
def _given(unit_id: int) -> Select[Any]:
    def of(made_of: type[Base], made: str, key: Any, joined: type[Base], at: Any) -> Select[Any]:
        one = and_(MeterReading.made_of == made_of.__tablename__, MeterReading.made_id == at)
        what = literal(made).label("made"), key.label("key"), MeterReading.equipment_id, MeterReading.idn
        return select(*what, MeterReading.u, MeterReading.u_unit).select_from(MeterReading).join(joined, one)

    read, test = CalibrationReading, BenchReading
    found = union_all(
        of(read, "calibration", read.calibration_id, read, read.id)
        .join(Calibration, Calibration.id == read.calibration_id).where(Calibration.unit_id == unit_id),
        of(BenchSession, "calibration", Calibration.id, Calibration, Calibration.session_id)
        .where(Calibration.unit_id == unit_id),
        of(Calibration, "calibration", Calibration.id, Calibration, Calibration.id)
        .where(Calibration.unit_id == unit_id),
        of(test, "bench test", test.bench_test_id, test, test.id)
        .join(BenchTest, BenchTest.id == test.bench_test_id).where(BenchTest.unit_id == unit_id),
        of(BenchTest, "bench test", BenchTest.id, BenchTest, BenchTest.id).where(BenchTest.unit_id == unit_id),
        of(StepResult, "step", StepResult.id, StepResult, StepResult.id)
        .join(Ticket, Ticket.id == StepResult.ticket_id).where(Ticket.unit_id == unit_id)
        # a step that was settled again holds its newest figure alone
        .where(MeterReading.value == case(
            (MeterReading.figure == "before", StepResult.before), else_=StepResult.after,
        )),
    ).subquery()  # fmt: skip
    by = found.c.made, found.c.key, TestEquipment.name, TestEquipment.serial, found.c.idn
    return (
        select(*by, found.c.u, found.c.u_unit, func.count())
        .join(TestEquipment, TestEquipment.id == found.c.equipment_id)
        .group_by(*by, found.c.u, found.c.u_unit)
        .order_by(*by, found.c.u)
    )
