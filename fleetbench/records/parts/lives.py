"""Everything from which lives are reckoned, in a fixed number of reads.

Reads from which the need of parts is reckoned: services, open replacing tasks, what was used up, kits, shelves.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, and_, func, select
from sqlalchemy.orm import Session

from fleetbench.records.cells.reads import read_forecasts
from fleetbench.records.core.schema import Query, records_of, select_of
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.parts.judgements import JudgementRecord, read_judgements
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
from fleetbench.records.parts.tables import Fitting, KitContent, Part, PartEvent, PartState, PartType
from fleetbench.records.places.tables import Place
from fleetbench.records.tickets.tables import Task, TaskState, Ticket
from fleetbench.records.units.reads import LineRow, UseRow, moment_key, read_line_use, read_run_use
from fleetbench.records.units.tables import Slot


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
    first_fitted: Mapping[int, datetime]
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
        read_test_rows(connection, parts),
        read_stays_where_use_counts(connection, worn),
        read_run_use(connection, units),
        read_line_use(connection, units),
        read_promises(connection, units),
        moment_key(connection),
        read_first_fitted(connection, parts),
        read_forecasts(connection, parts),
        read_judgements(connection, parts),
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


def read_services(connection: Connection) -> tuple[ServiceRecord, ...]:
    """Every fitting, past and present, oldest first; one statement."""
    query = (
        select_of(ServiceRecord, Fitting, Part, slot=Slot.name)
        .join(Part, Part.id == Fitting.part_id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .order_by(Fitting.fitted_at, Fitting.id)
    )
    return records_of(connection, query, ServiceRecord)


def read_open_tasks(connection: Connection) -> tuple[OpenTaskRecord, ...]:
    """Tasks not done of tickets not signed; one statement."""
    query = (
        select_of(OpenTaskRecord, Ticket, Task)
        .join(Task, Task.ticket_id == Ticket.id)
        .where(Ticket.signed_at.is_(None), Task.state != TaskState.DONE)
        .order_by(Ticket.id, Task.ordinal)
    )
    return records_of(connection, query, OpenTaskRecord)


def read_used_up(connection: Connection, since: datetime) -> dict[int, int]:
    """How many pieces of each part type were used up since a moment, slips taken back left out; one statement."""
    back = select(PartEvent.undoes_id).where(PartEvent.undoes_id.is_not(None))
    query = (
        select(Part.part_type_id, func.count())
        .join(PartEvent, PartEvent.part_id == Part.id)
        .where(PartEvent.kind == "used up", PartEvent.at >= since, PartEvent.id.not_in(back))
        .group_by(Part.part_type_id)
    )
    return {part_type_id: count for part_type_id, count in connection.execute(query)}


def read_kits(connection: Connection) -> tuple[KitRecord, ...]:
    """Every kit's least contents with what it holds in stock, by kit and type; one statement."""
    query = (
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
    return records_of(connection, query, KitRecord)


def read_shelf_places(connection: Connection) -> dict[int, str]:
    """The place of every part in stock that lies in one; one statement."""
    query = select(Part.id, Place.name).join(Place, Place.id == Part.place_id).where(Part.state == PartState.STOCK)
    return {part_id: name for part_id, name in connection.execute(query)}


def kit_content_of(session: Session, place_id: int, part_type_id: int) -> KitContent | None:
    """What a kit must hold of a part type, if that was said."""
    query = select(KitContent).where(KitContent.place_id == place_id, KitContent.part_type_id == part_type_id)
    return session.scalar(query)
