"""Reads of part types with their limits, of slots, and of parts where they sit or sat.

Reads of what lies on shelves.

The last good days and forecasts that are kept on open fittings.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple, cast, final

from sqlalchemy import Connection, exists, func, or_, select, type_coerce
from sqlalchemy.types import NullType

from fleetbench.calc.core.languages import say_ref
from fleetbench.calc.parts.kinds import PartState, ShelfEvent
from fleetbench.records.core.schema import (
    Query,
    built_once,
    columns_of,
    plain_rows,
    read_if_changed,
    reads,
    record_or_none,
    records_of,
    select_of,
)
from fleetbench.records.parts.tables import Fitting, Part, PartEvent, PartTest, PartType, PartTypeLife
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.units.tables import Slot


@dataclass(frozen=True, slots=True)
class PartTypeRecord:
    """A catalogue entry."""

    part_type_id: int
    code: str
    name: str
    kind: str
    assembly: bool
    grade: str | None
    stocked_in: str
    lead_days: int | None
    pack_size: float | None
    price: float | None


@dataclass(frozen=True, slots=True)
class LifeRecord:
    """One limit of life of a part type."""

    part_type_id: int
    basis: str
    amount: float
    unit: str
    test: str | None
    source: str


@dataclass(frozen=True, slots=True)
class SlotRecord:
    """A named place in a unit type or in an assembly type."""

    slot_id: int
    unit_type_id: int | None
    assembly_type_id: int | None
    name: str
    kind: str
    critical: bool
    ordinal: int
    flow_place: int | None
    oxygen_side: bool


@final
@dataclass(frozen=True, slots=True)
class PartRecord:
    """One part with the dates its life is calculated from."""

    part_id: int
    part_type_id: int
    serial: str | None
    lot: str | None
    ref: str | None
    made_on: date | None
    made_precision: str
    opened_on: date | None
    opened_precision: str
    received_on: date | None
    fixed_on: date | None
    fixed_precision: str
    state: str
    firmware: str | None

    @property
    def label(self) -> str:
        """What the part is called on lists: its serial, else its lot, else its number."""
        lot = say_ref("lot {ref}", self.lot) if self.lot else self.ref
        return self.serial or lot or say_ref("part {ref}", self.part_id)


@dataclass(frozen=True, slots=True)
class FittingRecord:
    """A part sits or sat in a slot of a unit or of an assembly."""

    fitting_id: int
    part_id: int
    slot_id: int
    unit_id: int | None
    host_part_id: int | None
    fitted_at: datetime
    removed_at: datetime | None
    why_removed: str | None
    ticket_id: int | None
    removal_ticket_id: int | None
    fitted_by_id: int | None
    removed_by_id: int | None


class FittedRecord(NamedTuple):
    """A part with where it sits."""

    fitting: FittingRecord
    part: PartRecord


@dataclass(frozen=True, slots=True)
class PartTestRecord:
    """A periodic test or service of a part."""

    part_id: int
    kind: str
    done_on: date
    precision: str
    passed: bool
    done_by: str | None


@dataclass(frozen=True, slots=True)
class PartPlaceRecord:
    """Whose a part is, where it lies, and where it came from."""

    part_id: int
    owner: str
    owner_kind: str
    place: str | None
    supplier: str | None
    price: float | None


StayRow = tuple[int, int | None, int | None, Any, Any]
"""part, unit, host part, from and to (times as the database gives them)."""

TestRow = tuple[int, str, Any, str, Any, str | None]
"""part, kind, done on (as the database gives it), precision, passed, done by."""


@built_once
def _part_types() -> Query:
    return select_of(PartTypeRecord, PartType).order_by(PartType.id)


@read_if_changed
def read_part_types(connection: Connection) -> dict[int, PartTypeRecord]:
    """Every part type by key; one statement."""
    return {record.part_type_id: record for record in records_of(connection, _part_types(), PartTypeRecord)}


@reads(LifeRecord)
def read_lives() -> Query:
    """Every limit of life, in the order entered; one statement."""
    return select_of(LifeRecord, PartTypeLife).order_by(PartTypeLife.id)


@built_once
def _slots() -> Query:
    return select_of(SlotRecord, Slot).order_by(Slot.ordinal, Slot.id)


@read_if_changed
def read_slots(connection: Connection) -> dict[int, SlotRecord]:
    """Every slot by key, in order of place; one statement."""
    return {record.slot_id: record for record in records_of(connection, _slots(), SlotRecord)}


@built_once
def in_unit(unit_id: int) -> Query:
    """Keys of the parts that sit in a unit now, however deep in assemblies."""
    direct = select(Fitting.part_id).where(Fitting.unit_id == unit_id, Fitting.removed_at.is_(None))
    top = direct.cte("inside", recursive=True)
    inside = top.union(
        select(Fitting.part_id).where(Fitting.host_part_id == top.c.part_id, Fitting.removed_at.is_(None))
    )
    return select(inside.c.part_id)


@built_once
def with_their_hosts(parts: Query | tuple[int, ...]) -> Query:
    """Keys of parts and of every assembly in which one of them ever sat, itself or inside another."""
    top = select(Part.id.label("part_id")).where(Part.id.in_(parts)).cte("worn", recursive=True)
    hosts = select(Fitting.host_part_id).where(Fitting.part_id == top.c.part_id, Fitting.host_part_id.is_not(None))
    return select(top.union(hosts).c.part_id)


@reads(FittedRecord)
def read_fitted(unit_id: int | None = None, *, parts: tuple[int, ...] | None = None) -> Query:
    """What sits where now, of all units or of one, or of given parts alone; one statement."""
    query = select_of(FittedRecord, fitting=columns_of(FittingRecord, Fitting), part=columns_of(PartRecord, Part))
    query = query.join(Part, Part.id == Fitting.part_id)
    query = query.where(Fitting.removed_at.is_(None)).order_by(Fitting.id)
    if unit_id is not None:
        query = query.where(Fitting.part_id.in_(in_unit(unit_id)))
    if parts is not None:
        query = query.where(Fitting.part_id.in_(parts))
    return query


@read_if_changed
def read_parts(
    connection: Connection,
    *,
    kind: str | None = None,
    lot: str | None = None,
    states: tuple[str, ...] = (),
    part_id: int | None = None,
    part_ids: tuple[int, ...] | None = None,
    assemblies: bool = False,
) -> tuple[PartRecord, ...]:
    """Parts by key, of one kind or lot, in given states, assemblies only, given ones or one alone; one statement."""
    query = select_of(PartRecord, Part).join(PartType, PartType.id == Part.part_type_id).order_by(Part.id)
    if kind is not None:
        query = query.where(PartType.kind == kind)
    if assemblies:
        query = query.where(PartType.assembly.is_(True))
    if lot is not None:
        query = query.where(Part.lot == lot)
    if states:
        query = query.where(Part.state.in_(states))
    if part_id is not None:
        query = query.where(Part.id == part_id)
    if part_ids is not None:
        query = query.where(Part.id.in_(part_ids))
    return records_of(connection, query, PartRecord)


@built_once
def _part_places() -> Query:
    return (
        select_of(PartPlaceRecord, Part, owner=Owner.name, owner_kind=Owner.kind, place=Place.name)
        .join(Owner, Owner.id == Part.owner_id)
        .outerjoin(Place, Place.id == Part.place_id)
    )


def read_part_place(connection: Connection, part_id: int) -> PartPlaceRecord | None:
    """Owner and place of one part; one statement."""
    return record_or_none(connection, _part_places().where(Part.id == part_id), PartPlaceRecord)


def read_lying(connection: Connection) -> dict[int, PartPlaceRecord]:
    """Place and owner of every part in stock, set aside or sent back; one statement."""
    query = _part_places().where(Part.state.in_((PartState.STOCK, PartState.QUARANTINE, PartState.SENT_BACK)))
    return {record.part_id: record for record in records_of(connection, query, PartPlaceRecord)}


@reads(FittingRecord)
def read_fittings_of(part_ids: Query | tuple[int, ...]) -> Query:
    """Every fitting, past and present, of the given parts, oldest first; one statement."""
    query = select_of(FittingRecord, Fitting).where(Fitting.part_id.in_(part_ids))
    return query.order_by(Fitting.fitted_at, Fitting.id)


@built_once
def _stays_where_use_counts(parts: Query | None) -> Query:
    counted = select(PartTypeLife.part_type_id).where(PartTypeLife.basis.in_(("hours", "dives", "hires")))
    query: Query = (
        select(
            Fitting.part_id, Fitting.unit_id, Fitting.host_part_id, type_coerce(Fitting.fitted_at, NullType()),
            type_coerce(Fitting.removed_at, NullType()),
        )
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, PartType.id == Part.part_type_id)
        .where(or_(PartType.id.in_(counted), PartType.assembly.is_(True)))
        .order_by(Fitting.fitted_at, Fitting.id)
    )  # fmt: skip
    if parts is not None:
        query = query.where(Fitting.part_id.in_(parts))
    return query


@read_if_changed
def read_stays_where_use_counts(connection: Connection, parts: Query | None = None) -> list[StayRow]:
    """Every fitting, past and present, of parts with a limit in use, and of the assemblies they may sit in."""
    return cast("list[StayRow]", plain_rows(connection, _stays_where_use_counts(parts)))


@built_once
def _first_fitted(parts: Query | tuple[int, ...] | None) -> Query:
    counted = select(PartTypeLife.part_type_id).where(PartTypeLife.basis.in_(("fitted", "hours", "dives", "hires")))
    unknown = func.count(Fitting.since_unknown)
    query = (
        select(Fitting.part_id, func.min(Fitting.fitted_at), unknown)
        .join(Part, Part.id == Fitting.part_id)
        .where(Part.part_type_id.in_(counted))
        .group_by(Fitting.part_id)
        .having(or_(func.count(Fitting.removed_at) > 0, unknown > 0))
    )
    if parts is not None:
        query = query.where(Fitting.part_id.in_(parts))
    return query


@read_if_changed
def read_first_fitted(
    connection: Connection, parts: Query | tuple[int, ...] | None = None
) -> dict[int, datetime | None]:
    """When each part with a life from fitting or in use was first fitted; one statement.

    Of those that were taken out since, and of those of which it is not known: None.
    """
    return {part_id: None if lacking else first for part_id, first, lacking in connection.execute(_first_fitted(parts))}


@built_once
def _test_rows(parts: Query | tuple[int, ...] | None) -> Query:
    query: Query = select(
        PartTest.part_id, PartTest.kind, type_coerce(PartTest.done_on, NullType()), PartTest.precision,
        type_coerce(PartTest.passed, NullType()), PartTest.done_by,
    ).order_by(PartTest.done_on, PartTest.id)  # fmt: skip
    if parts is not None:
        query = query.where(PartTest.part_id.in_(parts))
    return query


@read_if_changed
def read_test_rows(connection: Connection, parts: Query | tuple[int, ...] | None = None) -> list[TestRow]:
    """Periodic tests as plain rows, oldest first, of all parts or of given ones; one statement."""
    return cast("list[TestRow]", plain_rows(connection, _test_rows(parts)))


def as_day(given: Any) -> date:
    """A day of a plain row as a date: SQLite gives text, PostgreSQL a date."""
    return date.fromisoformat(given) if isinstance(given, str) else given


@reads(PartTestRecord)
def read_part_tests(parts: Query | tuple[int, ...] | None = None) -> Query:
    """Periodic tests, oldest first, of all parts or of given ones; one statement."""
    query = select_of(PartTestRecord, PartTest).order_by(PartTest.done_on, PartTest.id)
    if parts is not None:
        query = query.where(PartTest.part_id.in_(parts))
    return query


def count_fitted(connection: Connection) -> dict[int, int]:
    """How many parts of each type sit somewhere now; one statement."""
    query = (
        select(Part.part_type_id, func.count())
        .join(Fitting, Fitting.part_id == Part.id)
        .where(Fitting.removed_at.is_(None))
        .group_by(Part.part_type_id)
    )
    return {part_type_id: number for part_type_id, number in connection.execute(query)}


@read_if_changed
def read_once_fitted(connection: Connection, part_ids: tuple[int, ...] | None = None) -> frozenset[int]:
    """Keys of the parts in no slot, or of given ones, that sat somewhere before and are sealed no more; one statement.

    A fitting that was taken back as entered by mistake was none: such a part lies sealed as it lay.
    """
    taken_back = exists().where(
        PartEvent.part_id == Fitting.part_id, PartEvent.kind == ShelfEvent.UNDONE, PartEvent.at == Fitting.removed_at
    )
    query = select(Fitting.part_id).join(Part, Part.id == Fitting.part_id).where(~taken_back).distinct()
    if part_ids is None:
        return frozenset(connection.scalars(query.where(Part.state != PartState.FITTED)))
    return frozenset(connection.scalars(query.where(Fitting.part_id.in_(part_ids))))


def read_kept_lives(connection: Connection) -> dict[int, tuple[date | None, str | None]]:
    """Last good day and basis by open fitting; one statement."""
    query = select(Fitting.id, Fitting.last_good_day, Fitting.last_good_basis).where(Fitting.removed_at.is_(None))
    return {key: (day, basis) for key, day, basis in connection.execute(query)}


def read_kept_forecasts(connection: Connection) -> dict[int, tuple[date | None, str | None]]:
    """Foretold day and of what by open fitting, where one is kept; one statement."""
    query = select(Fitting.id, Fitting.forecast_day, Fitting.forecast_of).where(
        Fitting.removed_at.is_(None), Fitting.forecast_day.is_not(None)
    )
    return {key: (day, measure) for key, day, measure in connection.execute(query)}


def read_ends(connection: Connection) -> dict[int, tuple[str, date | None]]:
    """Kind of part and the earlier of stored last valid day and forecast, by open fitting; one statement."""
    query = select(Fitting.id, PartType.kind, Fitting.last_good_day, Fitting.forecast_day).where(
        Fitting.removed_at.is_(None), Part.id == Fitting.part_id, PartType.id == Part.part_type_id
    )
    ends = ((key, kind, [day for day in days if day]) for key, kind, *days in connection.execute(query))
    return {key: (kind, min(days, default=None)) for key, kind, days in ends}


def read_fitted_of(
    connection: Connection, *, part_type_id: int | None = None, slot_id: int | None = None, unit_id: int | None = None
) -> tuple[int, ...]:
    """Keys of the parts that sit somewhere now: of a part type, in a slot of any unit, or in a unit; one statement."""
    query = select(Fitting.part_id).join(Part, Part.id == Fitting.part_id).where(Fitting.removed_at.is_(None))
    for column, wanted in ((Part.part_type_id, part_type_id), (Fitting.slot_id, slot_id), (Fitting.unit_id, unit_id)):
        if wanted is not None:
            query = query.where(column == wanted)
    return tuple(connection.scalars(query))
