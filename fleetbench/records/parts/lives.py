"""Everything from which lives are calculated, in a fixed number of reads.

Reads from which the need of parts is calculated: services, open replacing tasks, what was used up, kits, shelves.

What measurements said of parts that one of them ever rejected, and why a part waits set aside.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, and_, case, func, literal, null, or_, select
from sqlalchemy.orm import Session, aliased

from fleetbench.calc.bench.measured import supply_word
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Verdict, WorkState
from fleetbench.calc.parts.condition import FAULTS
from fleetbench.calc.parts.kinds import PartState, ShelfEvent
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.reads import in_force, read_forecasts
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading
from fleetbench.records.core.schema import Query, reads, records_of, select_of
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.parts.reads import (
    LifeRecord,
    PartTestRecord,
    StayRow,
    TestRow,
    as_day,
    read_first_fitted,
    read_stays_where_use_counts,
    read_test_rows,
    with_their_hosts,
)
from fleetbench.records.parts.reads import read_lives as read_life_limits
from fleetbench.records.parts.tables import Fitting, KitContent, Part, PartEvent, PartTest, PartType
from fleetbench.records.people.tables import Person
from fleetbench.records.places.tables import Place
from fleetbench.records.tickets.tables import Task, Ticket, still_open
from fleetbench.records.units.reads import LineRow, UseRow, moment_key, read_line_use, read_run_use
from fleetbench.records.units.tables import Reader, Slot, Unit

_AT_SUPPLY = {
    "full": say("{kind}, full supply"), "between": say("{kind}, between supply"), "low": say("{kind}, low supply"),
    "not known": say("{kind}, not known supply"),
}  # fmt: skip
BACK_TO_STOCK = ("moved", "wrong part")
"""A part that came out for one of these may be fitted again; any other waits set aside until it is released."""


@dataclass(frozen=True, slots=True)
class JudgementRecord:
    """One calibration outcome, bench test or periodic test of a part; person: the code, which outlives an erased name.

    at: None where only the day is known.
    """

    part_id: int
    kind: str
    at: datetime | None
    done_on: date | None
    made: str
    verdict: str
    finding: str
    unit: str | None
    slot: str | None
    person: str | None
    supply_bar: float | None
    limited_from_bar: float | None
    verified_up_to_bar: float | None
    outcome_id: int | None
    test_id: int | None
    calibration_id: int | None

    @property
    def series(self) -> str:
        """What was measured: a bench test at each sort of supply, and each periodic test, is a kind of its own."""
        if self.made == "periodic" and self.kind != "service":
            return say("{kind} test", kind=self.kind)
        if self.supply_bar is None:
            return self.kind
        return say(_AT_SUPPLY[supply_word(self.supply_bar)], kind=self.kind)

    @property
    def source(self) -> str:
        """'LK-01, cell 2, by T1'."""
        return _source(self.unit, self.slot, self.person)


@lru_cache(1000)
def _source(unit: str | None, slot: str | None, person: str | None) -> str:
    """One text for all that the same person measured in the same place."""
    by = say("by {person}", person=person) if person else say("by whom is not recorded")
    return strung(", ", filter(None, (unit, slot, by)))


def read_judgements(
    connection: Connection, parts: Query | tuple[int, ...] | None = None
) -> tuple[JudgementRecord, ...]:
    """Every calibration, bench test and periodic test of the parts that one ever rejected; three statements."""
    return (*_calibrations(connection, parts), *_tests(connection, parts), *_periodic(connection, parts))


@reads(JudgementRecord)
def _calibrations(parts: Query | tuple[int, ...] | None) -> Query:
    outcome = CalibrationOutcome
    bad = select(outcome.part_id).where(outcome.verdict == Verdict.REJECT)
    query = (
        select_of(
            JudgementRecord,
            Calibration,
            outcome,
            kind=literal("calibration"),
            done_on=null(),
            unit=Unit.tag,
            slot=Slot.name,
            person=Person.code,
            supply_bar=null(),
            outcome_id=outcome.id,
            test_id=null(),
        )
        .join(Calibration, Calibration.id == outcome.calibration_id)
        .join(Unit, Unit.id == Calibration.unit_id)
        .join(Slot, Slot.id == outcome.slot_id)
        .outerjoin(Person, Person.id == Calibration.person_id)
        .where(in_force(), outcome.part_id.in_(bad))
        .order_by(Calibration.at, Calibration.id)
    )
    return query if parts is None else query.where(outcome.part_id.in_(parts))


@reads(JudgementRecord)
def _tests(parts: Query | tuple[int, ...] | None) -> Query:
    bad = select(BenchTest.part_id).where(BenchTest.result == Verdict.REJECT, BenchTest.part_id.is_not(None))
    later = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    query = (
        select_of(
            JudgementRecord,
            BenchTest,
            done_on=null(),
            made=literal("workshop"),
            verdict=BenchTest.result,
            finding=func.coalesce(BenchTest.finding, BenchTest.note, ""),
            unit=Unit.tag,
            slot=null(),
            person=Person.code,
            limited_from_bar=null(),
            verified_up_to_bar=null(),
            outcome_id=null(),
            test_id=BenchTest.id,
            calibration_id=null(),
        )
        .join(Unit, Unit.id == BenchTest.unit_id)
        .outerjoin(Person, Person.id == BenchTest.person_id)
        .where(BenchTest.id.not_in(later), BenchTest.part_id.in_(bad))
        .order_by(BenchTest.at, BenchTest.id)
    )
    return query if parts is None else query.where(BenchTest.part_id.in_(parts))


@reads(JudgementRecord)
def _periodic(parts: Query | tuple[int, ...] | None) -> Query:
    failed = select(PartTest.part_id).where(PartTest.passed.is_(False))
    bench = select(BenchTest.part_id).where(BenchTest.result == Verdict.REJECT, BenchTest.part_id.is_not(None))
    query = (
        select_of(
            JudgementRecord,
            PartTest,
            made=literal("periodic"),
            verdict=case((PartTest.passed.is_(True), "pass"), else_="reject"),
            finding=case((PartTest.passed.is_(True), ""), else_="not passed"),
            unit=null(),
            slot=null(),
            person=func.coalesce(Person.code, PartTest.done_by),
            supply_bar=null(),
            limited_from_bar=null(),
            verified_up_to_bar=null(),
            outcome_id=null(),
            test_id=null(),
            calibration_id=null(),
        )
        .outerjoin(Person, Person.id == PartTest.person_id)
        .where(or_(PartTest.part_id.in_(failed), PartTest.part_id.in_(bench)))
        .order_by(PartTest.done_on, PartTest.id)
    )
    return query if parts is None else query.where(PartTest.part_id.in_(parts))


@dataclass(frozen=True, slots=True)
class AsideRecord:
    """Why a part in quarantine waits: the last event that put it there, or the last slot it came out of, and why."""

    part_id: int
    at: datetime
    kind: str
    words: str | None
    fitted_at: datetime | None


def read_asides(connection: Connection, part_id: int | None = None) -> dict[int, AsideRecord]:
    """By part, the last that set it aside, of all parts in quarantine or of one; two statements.

    That a part went to its maker and back does not outdo the fault for which it came out: nothing was measured by that.
    """
    newest_event, newest_stay = aliased(PartEvent), aliased(Fitting)
    last_event = select(func.max(newest_event.id)).where(
        newest_event.kind.in_((ShelfEvent.QUARANTINE, ShelfEvent.CAME_BACK, ShelfEvent.RECEIVED))
    ).group_by(newest_event.part_id)  # fmt: skip
    last_stay = select(func.max(newest_stay.id)).where(newest_stay.removed_at.is_not(None)).group_by(
        newest_stay.part_id
    )  # fmt: skip
    events: Query = (
        select_of(AsideRecord, PartEvent, words=PartEvent.reason, fitted_at=null())
        .join(Part, Part.id == PartEvent.part_id)
        .where(Part.state == PartState.QUARANTINE, PartEvent.id.in_(last_event))
    )
    stays: Query = (
        select_of(AsideRecord, Fitting, at=Fitting.removed_at, kind=literal("removed"), words=Fitting.why_removed)
        .join(Part, Part.id == Fitting.part_id)
        .where(Part.state == PartState.QUARANTINE, Fitting.id.in_(last_stay))
        .where(or_(Fitting.why_removed.is_(None), Fitting.why_removed.not_in(BACK_TO_STOCK)))
    )
    if part_id is not None:
        events, stays = events.where(PartEvent.part_id == part_id), stays.where(Fitting.part_id == part_id)
    found: dict[int, AsideRecord] = {}
    for each in (*records_of(connection, events, AsideRecord), *records_of(connection, stays, AsideRecord)):
        before = found.get(each.part_id)
        faulty = each.kind == "removed" and each.words in FAULTS
        if before is None or each.at > before.at or (faulty and before.kind == ShelfEvent.CAME_BACK):
            found[each.part_id] = each
    return found


def read_heads_and_readers(connection: Connection, calibration_id: int, part_id: int) -> tuple[str | None, str]:
    """The head in which a cell was calibrated, and the readers that read it there, in words; two statements."""
    host = aliased(Part)
    head = connection.scalar(
        select(host.serial)
        .join(Fitting, Fitting.host_part_id == host.id)
        .join(Calibration, and_(Calibration.id == calibration_id, Fitting.fitted_at <= Calibration.at))
        .where(Fitting.part_id == part_id)
        .where(or_(Fitting.removed_at.is_(None), Fitting.removed_at >= Calibration.at))
        .limit(1)
    )
    readers = connection.scalars(
        select(Reader.name)
        .join(CalibrationReading, CalibrationReading.reader_id == Reader.id)
        .where(CalibrationReading.calibration_id == calibration_id, CalibrationReading.part_id == part_id)
        .group_by(Reader.id, Reader.name, Reader.ordinal)
        .order_by(Reader.ordinal)
    ).all()
    return head, strung(say(" and "), readers)


@dataclass(frozen=True, slots=True)
class LifeRecords:
    """Limits, periodic tests, and use with the fittings that say which part it wore.

    key: brings a moment into the form of the times in stays, runs and lines.
    first_fitted: when a part that was taken out since was first fitted, where a life counts from fitting.
    forecasts: day and measure that a fitted cell's own calibrations foretell.
    judgements: what measurements said of the parts that one of them ever rejected.
    Use is of every unit in which one of the parts ever sat, since a part carries the hours of all of them.
    """

    limits: tuple[LifeRecord, ...]
    test_rows: list[TestRow]
    stays: list[StayRow]
    runs: list[UseRow]
    lines: list[LineRow]
    promises: tuple[BookedUnit, ...]
    key: Callable[[datetime | None], Any]
    first_fitted: Mapping[int, datetime | None]
    forecasts: Mapping[int, tuple[date, str]]
    judgements: tuple[JudgementRecord, ...] = ()

    @property
    def tests(self) -> tuple[PartTestRecord, ...]:
        """The periodic tests, oldest first."""
        return tuple(
            PartTestRecord(
                part_id=part_id,
                kind=kind,
                done_on=as_day(done_on),
                precision=precision,
                passed=bool(passed),
                done_by=done_by,
            )
            for part_id, kind, done_on, precision, passed, done_by in self.test_rows
        )


def read_life_records(
    connection: Connection, parts: Query | tuple[int, ...] | None = None, unit_id: int | None = None
) -> LifeRecords:
    """What lives are calculated from, of all parts or of given ones and a unit beside them; twelve statements."""
    worn = units = None
    if parts is not None:
        worn = with_their_hosts(parts)
        sat_in = select(Fitting.unit_id).where(Fitting.part_id.in_(worn), Fitting.unit_id.is_not(None)).distinct()
        units = tuple({*connection.scalars(sat_in), *(() if unit_id is None else (unit_id,))})
    return LifeRecords(
        read_life_limits(connection),
        test_rows=read_test_rows(connection, parts),
        stays=read_stays_where_use_counts(connection, worn),
        runs=read_run_use(connection, units),
        lines=read_line_use(connection, units),
        promises=read_promises(connection, units),
        key=moment_key(connection),
        first_fitted=read_first_fitted(connection, parts),
        forecasts=read_forecasts(connection, parts),
        judgements=read_judgements(connection, parts),
    )


@dataclass(frozen=True, slots=True)
class ServiceRecord:
    """A part served in a slot from one moment to another."""

    part_id: int
    part_type_id: int
    lot: str | None
    unit_id: int | None
    host_part_id: int | None
    slot: str
    fitted_at: datetime
    removed_at: datetime | None
    why_removed: str | None


@dataclass(frozen=True, slots=True)
class OpenTaskRecord:
    """A task of an open ticket that is not done."""

    unit_id: int
    ticket_id: int
    text: str


@dataclass(frozen=True, slots=True)
class KitRecord:
    """How many parts of a type a kit must hold and holds."""

    place_id: int
    place: str
    part_type_id: int
    code: str
    part_type: str
    least: int
    held: int


@reads(ServiceRecord)
def read_services() -> Query:
    """Every fitting, past and present, oldest first; one statement."""
    return (
        select_of(ServiceRecord, Fitting, Part, slot=Slot.name)
        .join(Part, Part.id == Fitting.part_id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .order_by(Fitting.fitted_at, Fitting.id)
    )


@reads(OpenTaskRecord)
def read_open_tasks() -> Query:
    """Tasks not done of tickets not signed; one statement."""
    return (
        select_of(OpenTaskRecord, Ticket, Task)
        .join(Task, Task.ticket_id == Ticket.id)
        .where(still_open(), Task.state != WorkState.DONE)
        .order_by(Ticket.id, Task.ordinal)
    )


def read_used_up(connection: Connection, since: datetime) -> dict[int, int]:
    """How many pieces of each part type were used up since a moment, slips taken back left out; one statement."""
    back = select(PartEvent.undoes_id).where(PartEvent.undoes_id.is_not(None))
    query = (
        select(Part.part_type_id, func.count())
        .join(PartEvent, PartEvent.part_id == Part.id)
        .where(PartEvent.kind == ShelfEvent.USED_UP, PartEvent.at >= since, PartEvent.id.not_in(back))
        .group_by(Part.part_type_id)
    )
    return {part_type_id: count for part_type_id, count in connection.execute(query)}


@reads(KitRecord)
def read_kits() -> Query:
    """Every kit's least contents with what it holds in stock, by kit and type; one statement."""
    return (
        select_of(
            KitRecord, KitContent, PartType,
            place_id=Place.id, place=Place.name, part_type=PartType.name, held=func.count(Part.id),
        )
        .join(Place, Place.id == KitContent.place_id)
        .join(PartType, PartType.id == KitContent.part_type_id)
        .outerjoin(
            Part,
            and_(
                Part.place_id == Place.id, Part.part_type_id == KitContent.part_type_id, Part.state == PartState.STOCK
            ),
        )
        .group_by(Place.id, Place.name, KitContent.part_type_id, PartType.code, PartType.name, KitContent.least)
        .order_by(Place.name, PartType.name)
    )  # fmt: skip


def read_shelf_places(connection: Connection) -> dict[int, str]:
    """The place of every part in stock that lies in one; one statement."""
    query = select(Part.id, Place.name).join(Place, Place.id == Part.place_id).where(Part.state == PartState.STOCK)
    return {part_id: name for part_id, name in connection.execute(query)}


def kit_content_of(session: Session, place_id: int, part_type_id: int) -> KitContent | None:
    """What a kit must hold of a part type, if that was said."""
    query = select(KitContent).where(KitContent.place_id == place_id, KitContent.part_type_id == part_type_id)
    return session.scalar(query)
