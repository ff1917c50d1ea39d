"""Reads of openings and bench tests."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, Subquery, case, func, select

from fleetbench.calc.bench.supply import FULL_SUPPLY_BAR, LOW_SUPPLY_BAR
from fleetbench.records.bench.equipment import TestEquipment
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.core.record_rows import Query, records_of


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


def _standing() -> ColumnElement[bool]:
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    return BenchTest.id.not_in(superseded)


def _tests() -> Query:
    return (
        select(
            BenchTest.id, BenchTest.ref, BenchTest.unit_id, BenchTest.part_id, BenchTest.kind, BenchTest.direction,
            BenchTest.at, BenchTest.person_id, BenchTest.ticket_id, TestEquipment.name, BenchTest.held,
            BenchTest.watched_minutes, BenchTest.value, BenchTest.unit, BenchTest.supply_bar, BenchTest.result,
            BenchTest.note, BenchTest.expanded_u, BenchTest.finding,
        )
        .outerjoin(TestEquipment, TestEquipment.id == BenchTest.equipment_id)
        .where(_standing())
        .order_by(BenchTest.at, BenchTest.id)
    )  # fmt: skip


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


def read_last_tests(
    connection: Connection, unit_id: int | None = None, *, kinds: tuple[str, ...] = ()
) -> tuple[BenchTestRecord, ...]:
    """The last test of each kind (or of given kinds), direction, part and sort of supply; one statement."""
    last = last_tests(unit_id, kinds=kinds)
    return records_of(connection, _tests().join(last, last.c.id == BenchTest.id), BenchTestRecord)


def read_tests(
    connection: Connection, *, unit_id: int | None = None, ticket_id: int | None = None, kinds: tuple[str, ...] = ()
) -> tuple[BenchTestRecord, ...]:
    """Bench tests of all units, of one unit, under one ticket, or of given kinds, oldest first; one statement."""
    query = _tests()
    if unit_id is not None:
        query = query.where(BenchTest.unit_id == unit_id)
    if ticket_id is not None:
        query = query.where(BenchTest.ticket_id == ticket_id)
    if kinds:
        query = query.where(BenchTest.kind.in_(kinds))
    return records_of(connection, query, BenchTestRecord)


def _openings() -> Query:
    return select(
        Opening.unit_id, Opening.at, Opening.kind, Opening.what, Opening.person_id, Opening.ticket_id
    ).order_by(Opening.at, Opening.id)


def read_last_workshop_openings(connection: Connection, unit_id: int | None = None) -> tuple[OpeningRecord, ...]:
    """The last workshop opening of each unit; one statement."""
    rank = func.row_number().over(partition_by=Opening.unit_id, order_by=(Opening.at.desc(), Opening.id.desc()))
    ranked = select(Opening.id.label("id"), rank.label("rank")).where(Opening.kind == "workshop")
    if unit_id is not None:
        ranked = ranked.where(Opening.unit_id == unit_id)
    last = ranked.subquery()
    query = _openings().join(last, last.c.id == Opening.id).where(last.c.rank == 1)
    return records_of(connection, query, OpeningRecord)


def read_openings(
    connection: Connection, *, unit_id: int | None = None, ticket_id: int | None = None
) -> tuple[OpeningRecord, ...]:
    """Openings of one unit or under one ticket, oldest first; one statement."""
    query = _openings()
    if unit_id is not None:
        query = query.where(Opening.unit_id == unit_id)
    if ticket_id is not None:
        query = query.where(Opening.ticket_id == ticket_id)
    return records_of(connection, query, OpeningRecord)
