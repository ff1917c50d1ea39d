"""Reads of units and of what says where each one is and why it may be held.

Reads of use: what was run, what hires say was run, and what is planned.

There are hundreds of runs a unit, so their times stay as the database gives them: they are only ever compared, and
`moment_key` brings any other moment into the same form.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, cast

from sqlalchemy import Connection, case, func, literal_column, or_, select, type_coerce
from sqlalchemy.orm import aliased
from sqlalchemy.types import NullType

from fleetbench.calc.canisters.fill import ADDED_MINUTES_A_DIVE
from fleetbench.calc.core.verdict import WorkState
from fleetbench.records.canisters.reads import still_counts
from fleetbench.records.canisters.tables import Run
from fleetbench.records.core.schema import (
    Query,
    built_once,
    columns_of,
    plain_rows,
    read_if_changed,
    reads,
    records_of,
    select_of,
)
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.people.tables import named
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.tickets.tables import Disinfection, Task, Ticket
from fleetbench.records.units.tables import Absence, Hold, Reader, Unit, UnitType


@dataclass(frozen=True, slots=True)
class UnitRecord:
    """One unit with its type, owner and place."""

    unit_id: int
    tag: str
    former_tag: str | None
    unit_type_id: int
    unit_type_code: str
    unit_type: str
    build: str
    serial: str | None
    owner: str
    owner_kind: str
    place: str | None
    place_kind: str | None
    in_service_on: date | None
    in_service_precision: str | None
    retired_on: date | None
    harness: str | None
    manual: str
    set_point_low_bar: float | None
    set_point_high_bar: float | None


@dataclass(frozen=True, slots=True)
class AbsenceRecord:
    """A unit is away."""

    unit_id: int
    place: str | None
    why: str
    left_at: datetime
    expected_on: date | None


@dataclass(frozen=True, slots=True)
class ReturnRecord:
    """A unit's last return from a booking, None where it never went out."""

    unit_id: int
    received_at: datetime
    wet: bool | None
    flooded: bool | None
    fault: bool | None


@dataclass(frozen=True, slots=True)
class HoldRecord:
    """A hold on a unit or a part."""

    hold_id: int
    unit_id: int | None
    part_id: int | None
    kind: str
    reason: str
    placed_at: datetime
    placed_by: str
    lifted_at: datetime | None
    lifted_by: str | None
    lift_reason: str | None


@dataclass(frozen=True, slots=True)
class PutOffRecord:
    """A task that was put off, whether or not its ticket was signed."""

    task_id: int
    ticket_id: int
    year: int
    number: int
    unit_id: int
    text: str
    critical: bool
    times_put_off: int
    signed_at: datetime | None


@dataclass(frozen=True, slots=True)
class DisinfectionRecord:
    """The last disinfection of a unit."""

    unit_id: int
    at: datetime
    dry_at: datetime | None


@dataclass(frozen=True, slots=True)
class ReaderRecord:
    """Electronics of a unit type that read cells."""

    reader_id: int
    unit_type_id: int
    slot_id: int | None
    name: str
    kind: str


@built_once
def _units(tag: str | None) -> Query:
    query = (
        select_of(
            UnitRecord,
            Unit,
            UnitType,
            unit_type_id=UnitType.id,
            unit_type_code=UnitType.code,
            unit_type=UnitType.name,
            owner=Owner.name,
            owner_kind=Owner.kind,
            place=Place.name,
            place_kind=Place.kind,
        )
        .join(UnitType, UnitType.id == Unit.unit_type_id)
        .join(Owner, Owner.id == Unit.owner_id)
        .outerjoin(Place, Place.id == Unit.place_id)
        .order_by(Unit.tag)
    )
    if tag is not None:
        # A tag now in use comes before the same text as another unit's former tag.
        named = query.where(or_(Unit.tag == tag, Unit.former_tag == tag)).order_by(None)
        query = named.order_by(Unit.tag != tag).limit(1)
    return query


@read_if_changed
def read_units(connection: Connection, tag: str | None = None) -> tuple[UnitRecord, ...]:
    """Every unit by tag, or the one with the tag (or with it as its former tag); one statement."""
    return records_of(connection, _units(tag), UnitRecord)


@reads(AbsenceRecord)
def read_absences(unit_id: int | None = None) -> Query:
    """Units that are away now; one statement."""
    query = (
        select_of(AbsenceRecord, Absence, place=Place.name)
        .outerjoin(Place, Place.id == Absence.place_id)
        .where(Absence.back_at.is_(None))
        .order_by(Absence.left_at)
    )
    if unit_id is not None:
        query = query.where(Absence.unit_id == unit_id)
    return query


@reads(ReturnRecord)
def read_last_returns(unit_id: int | None = None) -> Query:
    """The last return of each unit; one statement."""
    place = func.row_number().over(
        partition_by=BookingUnit.unit_id, order_by=(BookingUnit.received_at.desc(), BookingUnit.id.desc())
    )
    ranked = select(*columns_of(ReturnRecord, BookingUnit), place.label("place")).where(
        BookingUnit.received_at.is_not(None)
    )
    if unit_id is not None:
        ranked = ranked.where(BookingUnit.unit_id == unit_id)
    last = ranked.subquery()
    return select_of(ReturnRecord, last).where(last.c.place == 1)


@reads(DisinfectionRecord)
def read_last_disinfections(unit_id: int | None = None) -> Query:
    """The last disinfection of each unit; one statement."""
    newest = select(Disinfection.unit_id, func.max(Disinfection.at).label("at")).group_by(Disinfection.unit_id)
    if unit_id is not None:
        newest = newest.where(Disinfection.unit_id == unit_id)
    last = newest.subquery()
    return select_of(DisinfectionRecord, Disinfection).join(
        last, (last.c.unit_id == Disinfection.unit_id) & (last.c.at == Disinfection.at)
    )


@reads(PutOffRecord)
def read_put_off(unit_id: int | None = None) -> Query:
    """Tasks that stand put off, oldest first, unless a later signed ticket refers to theirs; one statement."""
    later = aliased(Ticket)
    followed = select(later.id).where(later.refers_to_id == Ticket.id, later.signed_at.is_not(None)).exists()
    query = (
        select_of(PutOffRecord, Ticket, Task, critical=Task.critical)
        .join(Ticket, Ticket.id == Task.ticket_id)
        .where(Task.state == WorkState.PUT_OFF, ~followed)
        .order_by(Task.id)
    )
    if unit_id is not None:
        query = query.where(Ticket.unit_id == unit_id)
    return query


@built_once
def select_of_holds() -> Query:
    """Holds, each with the names of who placed and who lifted it."""
    return select_of(HoldRecord, Hold, placed_by=named(Hold.placed_by_id), lifted_by=named(Hold.lifted_by_id))


@reads(HoldRecord)
def read_holds(unit_id: int | None = None, part_ids: tuple[int, ...] = (), *, lifted: bool = False) -> Query:
    """Holds that stand (and lifted ones where asked), of all or of one unit and its parts; one statement."""
    query = select_of_holds().order_by(Hold.placed_at, Hold.id)
    if not lifted:
        query = query.where(Hold.lifted_at.is_(None))
    if unit_id is not None:
        query = query.where(or_(Hold.unit_id == unit_id, Hold.part_id.in_(part_ids)))
    return query


@reads(ReaderRecord)
def read_readers() -> Query:
    """Every reader of every unit type, in order; one statement."""
    return select_of(ReaderRecord, Reader).order_by(Reader.unit_type_id, Reader.ordinal)


@read_if_changed
def read_unit_tags(connection: Connection) -> dict[int, str]:
    """Tags by key; one statement."""
    return {key: tag for key, tag in connection.execute(select(Unit.id, Unit.tag))}


UseRow = tuple[int, int | None, Any, float, int, int]
"""unit, booking's line, time as the database gives it, minutes (10 a dive added to a dive clock), dives, hires."""

LineRow = tuple[int, int, Any, Any, float | None, int | None]
"""booking's line, unit, out and back (times as the database gives them), loop minutes, dives."""


def moment_key(connection: Connection) -> Callable[[datetime | None], Any]:
    """What turns a moment into the form in which this database gives times that are only compared; None stays."""
    return _as_sqlite_text if connection.dialect.name == "sqlite" else _as_it_is


def _as_sqlite_text(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).replace(tzinfo=None).isoformat(" ", "microseconds")


def _as_it_is(at: datetime | None) -> datetime | None:
    return at


@built_once
def _run_use(units: tuple[int, ...] | None) -> Query:
    latest = case((Run.booking_unit_id.is_(None), func.coalesce(Run.ended_by, Run.started_at)), else_=Run.started_at)
    added = case((Run.clock == "dive", ADDED_MINUTES_A_DIVE * Run.dives), else_=0.0)
    query: Query = select(
        Run.unit_id,
        Run.booking_unit_id,
        type_coerce(latest, NullType()),
        Run.minutes + added,
        Run.dives,
        literal_column("0"),
    ).where(still_counts())
    if units is not None:
        query = query.where(Run.unit_id.in_(units))
    return query


@read_if_changed
def read_run_use(connection: Connection, units: tuple[int, ...] | None = None) -> list[UseRow]:
    """Every run that counts, of all units or of given ones, in no order; one statement.

    A run whose start is not known counts at the latest it can have been, so that a part fitted meanwhile is not taken
    for younger; on a hire at the earliest, since whatever sat in the unit then was out with it.
    """
    return cast("list[UseRow]", plain_rows(connection, _run_use(units)))


@built_once
def _line_use(units: tuple[int, ...] | None) -> Query:
    query = select(
        BookingUnit.id,
        BookingUnit.unit_id,
        type_coerce(BookingUnit.out_at, NullType()),
        type_coerce(BookingUnit.received_at, NullType()),
        BookingUnit.loop_minutes,
        BookingUnit.dives,
    ).where(BookingUnit.out_at.is_not(None))
    if units is not None:
        query = query.where(BookingUnit.unit_id.in_(units))
    return query


@read_if_changed
def read_line_use(connection: Connection, units: tuple[int, ...] | None = None) -> list[LineRow]:
    """Every unit that went out on a booking, of all or given ones, in no order; one statement."""
    return cast("list[LineRow]", plain_rows(connection, _line_use(units)))
