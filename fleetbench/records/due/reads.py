"""Reads for the due list: narrow rows and few of them twice, since there are tens of thousands."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast

from sqlalchemy import Connection, and_, case, func, or_, select, type_coerce
from sqlalchemy.types import NullType

from fleetbench.calc.cells.readings import MadeBy
from fleetbench.calc.parts.kinds import OpeningKind, PartState
from fleetbench.records.bench.tables import BenchTest, Opening
from fleetbench.records.cells.reads import in_force
from fleetbench.records.cells.tables import Calibration
from fleetbench.records.core.schema import Query, built_once, columns_of, plain_rows, reads, records_of, select_of
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification
from fleetbench.records.units.tables import UnitType


@dataclass(frozen=True, slots=True)
class CompetenceRecord:
    """Until when somebody of the staff is qualified, by unit type and kind."""

    person_id: int
    person: str
    kind: str
    unit_type: str | None
    valid_until: date


@dataclass(frozen=True, slots=True)
class TestTimesRecord:
    """When one kind of test of a unit last passed and last did not; None is never."""

    __test__ = False

    unit_id: int
    kind: str
    direction: str | None
    passed_at: datetime | None
    failed_at: datetime | None


@dataclass(frozen=True, slots=True)
class HardLives:
    """Part types whose lives cannot be read off the fitting alone.

    counted: with a limit in use, or with more than one limit of which one is a test interval. made, opened, fixed:
    with a limit from that date, so that a part without the date has an unknown one.
    """

    counted: tuple[int, ...]
    made: tuple[int, ...]
    opened: tuple[int, ...]
    fixed: tuple[int, ...]
    limited: tuple[int, ...]


EasyRow = tuple[int, int, int, int | None, int | None, str | None, str | None, str | None, Any, str]
"""part, part type, slot, unit, host part, serial, lot, ref, last good day (as the database gives it), its basis."""


@dataclass(frozen=True, slots=True)
class HardFitting:
    """A part where it sits, with all that its life is calculated from."""

    slot_id: int
    unit_id: int | None
    host_part_id: int | None
    fitted_at: datetime
    part: PartRecord


def _ends(hard: HardLives, rejected: Iterable[int]) -> Any:
    """Whether anything ends a part: a limit of its type, a forecast, or a reject."""
    return or_(
        Part.part_type_id.in_(hard.limited), Fitting.forecast_day.is_not(None), Fitting.part_id.in_(sorted(rejected))
    )


@built_once
def _easy_rows(hard: HardLives) -> Query:
    query: Query = (
        select(
            Fitting.part_id, Part.part_type_id, Fitting.slot_id, Fitting.unit_id, Fitting.host_part_id, Part.serial,
            Part.lot, Part.ref, type_coerce(Fitting.last_good_day, NullType()), Fitting.last_good_basis,
        )
        .join(Part, Part.id == Fitting.part_id)
        .where(Fitting.removed_at.is_(None), Part.part_type_id.in_(hard.limited), ~_is_hard(hard))
    )  # fmt: skip
    return query


def read_easy_rows(connection: Connection, hard: HardLives) -> list[EasyRow]:
    """Fittings whose stored last good day says all, as plain rows; one statement."""
    return cast("list[EasyRow]", plain_rows(connection, _easy_rows(hard)))


@built_once
def _hard_rows(hard: HardLives, rejected: tuple[int, ...]) -> Query:
    return (
        select_of(HardFitting, Fitting, part=columns_of(PartRecord, Part))
        .join(Part, Part.id == Fitting.part_id)
        .where(Fitting.removed_at.is_(None), _ends(hard, rejected), _is_hard(hard))
    )


def read_hard_rows(connection: Connection, hard: HardLives, rejected: Iterable[int] = ()) -> tuple[HardFitting, ...]:
    """Fittings whose lives must be calculated, rejected cells without any limit among them; one statement."""
    return records_of(connection, _hard_rows(hard, tuple(sorted(rejected))), HardFitting)


def _is_hard(hard: HardLives) -> Any:
    return or_(
        Fitting.last_good_day.is_(None),
        Fitting.last_good_basis.is_(None),
        Fitting.since_unknown.is_not(None),
        Part.part_type_id.in_(hard.counted),
        and_(Part.made_on.is_(None), Part.part_type_id.in_(hard.made)),
        and_(Part.opened_on.is_(None), Part.part_type_id.in_(hard.opened)),
        and_(Part.fixed_on.is_(None), Part.part_type_id.in_(hard.fixed)),
    )


@built_once
def _hosts() -> Query:
    holding = select(Fitting.host_part_id).where(Fitting.removed_at.is_(None), Fitting.host_part_id.is_not(None))
    return select(Fitting.part_id, Fitting.unit_id, Fitting.host_part_id).where(
        Fitting.removed_at.is_(None), Fitting.part_id.in_(holding)
    )


def read_hosts(connection: Connection) -> dict[int, tuple[int | None, int | None]]:
    """(unit, host part) of every part that holds another one now; one statement."""
    return {part_id: (unit_id, host_id) for part_id, unit_id, host_id in connection.execute(_hosts())}


def read_removals(connection: Connection, since: datetime) -> list[tuple[int, int | None, int | None, datetime]]:
    """(slot, unit, host part, moment) of every part taken out of its seat since a moment; one statement."""
    query = select(Fitting.slot_id, Fitting.unit_id, Fitting.host_part_id, Fitting.removed_at)
    rows = connection.execute(query.where(Fitting.removed_at >= since).order_by(Fitting.removed_at, Fitting.id))
    return [(slot, unit, host, at) for slot, unit, host, at in rows if at is not None]


@built_once
def _last_calibration_times() -> Query:
    return (
        select(Calibration.unit_id, func.max(Calibration.at))
        .where(Calibration.made == MadeBy.WORKSHOP, in_force())
        .group_by(Calibration.unit_id)
    )


def read_last_calibration_times(connection: Connection) -> dict[int, datetime]:
    """When each unit was last calibrated at the workshop; one statement."""
    return {unit_id: at for unit_id, at in connection.execute(_last_calibration_times())}


@built_once
def _workshop_opening_times() -> Query:
    return (
        select(Opening.unit_id, func.max(Opening.at))
        .where(Opening.kind == OpeningKind.WORKSHOP)
        .group_by(Opening.unit_id)
    )


def read_workshop_opening_times(connection: Connection) -> dict[int, datetime]:
    """When each unit was last opened for work; one statement."""
    return {unit_id: at for unit_id, at in connection.execute(_workshop_opening_times())}


@reads(TestTimesRecord)
def read_test_times(kinds: tuple[str, ...]) -> Query:
    """When each kind of bench test last passed and last did not, by unit and direction; one statement."""
    superseded = select(BenchTest.supersedes_id).where(BenchTest.supersedes_id.is_not(None))
    passed = BenchTest.result.in_(("pass", "watch"))
    return (
        select_of(
            TestTimesRecord,
            BenchTest,
            passed_at=func.max(case((passed, BenchTest.at))),
            failed_at=func.max(case((~passed, BenchTest.at))),
        )
        .where(BenchTest.kind.in_(kinds), BenchTest.id.not_in(superseded))
        .group_by(BenchTest.unit_id, BenchTest.kind, BenchTest.direction)
    )


@reads(CompetenceRecord)
def read_competence() -> Query:
    """The latest end of each dated qualification of the active staff; one statement."""
    return (
        select_of(
            CompetenceRecord, Person, Qualification,
            person=func.coalesce(PersonPrivate.name, Person.code),
            unit_type=UnitType.name,
            valid_until=func.max(Qualification.valid_until),
        )
        .join(Person, Person.id == Qualification.person_id)
        .outerjoin(PersonPrivate, PersonPrivate.person_id == Person.id)
        .outerjoin(UnitType, UnitType.id == Qualification.unit_type_id)
        .where(
            Qualification.valid_until.is_not(None),
            Person.active.is_(True),
            Person.role.in_(("technician", "manager", "instructor")),
        )
        .group_by(Person.id, Person.code, PersonPrivate.name, Qualification.kind, UnitType.name)
        .order_by(Person.id, Qualification.kind)
    )  # fmt: skip


@reads(PartRecord)
def read_spare_cylinders(kinds: tuple[int, ...]) -> Query:
    """Cylinders in stock that sit in no unit, of the given part types; one statement."""
    seated = select(Fitting.part_id).where(Fitting.removed_at.is_(None))
    return (
        select_of(PartRecord, Part)
        .where(Part.part_type_id.in_(kinds), Part.state == PartState.STOCK, Part.id.not_in(seated))
        .order_by(Part.id)
    )
