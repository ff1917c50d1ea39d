"""Reads of absorbent: containers, fills and their runs, and the tables that rate them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import final

from sqlalchemy import ColumnElement, Connection, case, func, or_, select
from sqlalchemy.orm import aliased

from fleetbench.calc.hires.promises import BookingKind
from fleetbench.records.canisters.tables import Container, Fill, RatingRow, Run, RunCorrection
from fleetbench.records.core.schema import Query, built_once, reads, records_of, select_of
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.tables import PartType
from fleetbench.records.places.tables import Place
from fleetbench.records.units.tables import Unit


@final
@dataclass(frozen=True, slots=True)
class FillRecord:
    """One packing of a canister, with the lot it was taken from."""

    fill_id: int
    ref: str | None
    part_id: int
    packed_at: datetime
    packed_by_id: int | None
    mass_g: float | None
    checked: bool | None
    diver_id: int | None
    line_id: int | None
    booking: str | None
    hire_over_at: datetime | None
    wetted_at: datetime | None
    closed_up_at: datetime | None
    discarded_at: datetime | None
    why_discarded: str | None
    container_id: int | None
    lot: str | None
    lot_last_good_day: date | None
    container_opened_at: datetime | None
    grade: str | None
    mass_u_g: float | None = None
    try_instructor_id: int | None = None


@dataclass(frozen=True, slots=True)
class RunRecord:
    """One use of a fill; try_instructor_id: under whom, where its hire is a try day.

    ended_by: the latest it can have ended where its start is not known; started_at is then the earliest it can have
    begun.
    """

    run_id: int
    fill_id: int
    unit_id: int
    unit: str
    line_id: int | None
    diver_id: int | None
    started_at: datetime
    minutes: float
    clock: str
    dives: int
    coldest_c: float | None
    deepest_m: float | None
    co2_l_min: float | None
    seen_at_6m_bar: float | None
    try_instructor_id: int | None = None
    ended_by: datetime | None = None
    note: str | None = None

    @property
    def ends_at(self) -> datetime:
        """The latest moment at which it can have ended."""
        return self.ended_by or self.started_at + timedelta(minutes=self.minutes)


@dataclass(frozen=True, slots=True)
class RatingRecord:
    """One row of a canister type's table."""

    part_type_id: int
    grade: str
    water_c: float
    depth_m: float
    co2_l_min: float
    minutes: float
    source: str


@dataclass(frozen=True, slots=True)
class ContainerRecord:
    """Absorbent as bought."""

    container_id: int
    ref: str | None
    part_type_id: int
    code: str
    part_type: str
    grade: str | None
    lot: str
    received_kg: float
    left_kg: float
    received_on: date | None
    opened_at: datetime | None
    last_good_day: date | None
    place: str | None


@built_once
def _try_instructor() -> ColumnElement[int | None]:
    """The instructor of the joined booking where that is a try day."""
    return case((Booking.kind == BookingKind.TRY_DAY, Booking.instructor_id), else_=None)


@built_once
def _fills() -> Query:
    grades = aliased(PartType)
    return (
        select_of(
            FillRecord,
            Fill,
            Container,
            line_id=Fill.booking_unit_id,
            booking=Booking.code,
            hire_over_at=BookingUnit.received_at,
            container_id=Container.id,
            lot_last_good_day=Container.last_good_day,
            container_opened_at=Container.opened_at,
            grade=grades.grade,
            try_instructor_id=_try_instructor(),
        )
        .outerjoin(Container, Container.id == Fill.container_id)
        .outerjoin(grades, grades.id == Container.part_type_id)
        .outerjoin(BookingUnit, BookingUnit.id == Fill.booking_unit_id)
        .outerjoin(Booking, Booking.id == BookingUnit.booking_id)
    )


@built_once
def _newest_fills(parts: Query | None) -> Query:
    """Key of the last packing of each canister, thrown away or not."""
    rank = func.row_number().over(partition_by=Fill.part_id, order_by=(Fill.packed_at.desc(), Fill.id.desc()))
    ranked = select(Fill.id.label("id"), rank.label("rank"))
    if parts is not None:
        ranked = ranked.where(Fill.part_id.in_(parts))
    last = ranked.subquery()
    return select(last.c.id).where(last.c.rank == 1)


@reads(FillRecord)
def read_last_fills(parts: Query | None = None) -> Query:
    """The last packing of each canister, of all or of given parts; one statement."""
    return _fills().where(Fill.id.in_(_newest_fills(parts)))


@reads(FillRecord)
def read_fills_of(part_id: int) -> Query:
    """Every packing of one canister, newest first; one statement."""
    return _fills().where(Fill.part_id == part_id).order_by(Fill.packed_at.desc(), Fill.id.desc())


def read_fills_in(connection: Connection, unit_id: int, parts: Query) -> tuple[FillRecord, ...]:
    """Every packing that was run in a unit, or of the given canisters, oldest first; one statement."""
    run_here = select(Run.fill_id).where(Run.unit_id == unit_id)
    query = _fills().where(or_(Fill.id.in_(run_here), Fill.part_id.in_(parts))).order_by(Fill.packed_at, Fill.id)
    return records_of(connection, query, FillRecord)


@built_once
def still_counts() -> ColumnElement[bool]:
    """The clause that no correction took a run away."""
    return Run.id.not_in(select(RunCorrection.run_id))


@built_once
def _runs() -> Query:
    return (
        select_of(RunRecord, Run, unit=Unit.tag, line_id=Run.booking_unit_id, try_instructor_id=_try_instructor())
        .join(Unit, Unit.id == Run.unit_id)
        .outerjoin(BookingUnit, BookingUnit.id == Run.booking_unit_id)
        .outerjoin(Booking, Booking.id == BookingUnit.booking_id)
        .where(still_counts())
        .order_by(Run.started_at, Run.id)
    )


@reads(RunRecord)
def read_runs_of_last_fills(parts: Query | None = None) -> Query:
    """Runs of the last packing of each canister, oldest first; one statement."""
    return _runs().where(Run.fill_id.in_(_newest_fills(parts)))


@reads(RunRecord)
def read_runs_of(part_id: int) -> Query:
    """Runs of every packing of one canister, oldest first; one statement."""
    fills = select(Fill.id).where(Fill.part_id == part_id)
    return _runs().where(Run.fill_id.in_(fills))


def read_runs_in(connection: Connection, unit_ids: Iterable[int]) -> tuple[RunRecord, ...]:
    """Every run in these units that counts, oldest first; one statement."""
    return records_of(connection, _runs().where(Run.unit_id.in_(list(unit_ids))), RunRecord)


@reads(RatingRecord)
def read_ratings() -> Query:
    """Every row of every canister type's table; one statement."""
    return select_of(RatingRecord, RatingRow).order_by(
        RatingRow.part_type_id, RatingRow.grade, RatingRow.water_c.desc(), RatingRow.depth_m
    )


@reads(ContainerRecord)
def read_containers(*, empty: bool = False) -> Query:
    """Containers with something left in them (and empty ones where asked), by last good day; one statement."""
    query = (
        select_of(
            ContainerRecord, Container, PartType, part_type_id=PartType.id, part_type=PartType.name, place=Place.name
        )
        .join(PartType, PartType.id == Container.part_type_id)
        .outerjoin(Place, Place.id == Container.place_id)
        .order_by(Container.last_good_day, Container.id)
    )
    if not empty:
        query = query.where(Container.left_kg > 0)
    return query
