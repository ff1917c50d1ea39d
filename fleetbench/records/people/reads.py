"""Reads of people: names by number, the list, and qualifications."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, func, select
from sqlalchemy.orm import Session

from fleetbench.calc.core.languages import say
from fleetbench.calc.people.permits import HIRERS, Role
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.schema import Query, read_if_changed, reads, select_of
from fleetbench.records.people.tables import Person, PersonPrivate, Qualification, named
from fleetbench.records.units.tables import UnitType


@dataclass(frozen=True, slots=True)
class PersonRecord:
    """A person; the name is the code, and the contact None, where they were erased or never entered."""

    person_id: int
    code: str
    role: str
    active: bool
    erased: bool
    name: str
    contact: str | None
    has_pin: bool


@dataclass(frozen=True, slots=True)
class QualificationRecord:
    """A qualification as seen, and by whom; unit_type is None where it holds for every type."""

    person_id: int
    person: str
    kind: str
    unit_type_id: int | None
    unit_type: str | None
    seen_on: date
    valid_until: date | None
    seen_by: str | None


@reads(PersonRecord)
def read_people() -> Query:
    """Every person, by code; one statement."""
    return (
        select_of(
            PersonRecord,
            Person,
            PersonPrivate,
            name=func.coalesce(func.nullif(PersonPrivate.name, ""), Person.code),
            erased=Person.erased_at.is_not(None),
            has_pin=Person.pin_digest.is_not(None),
        )
        .outerjoin(PersonPrivate, PersonPrivate.person_id == Person.id)
        .order_by(Person.code)
    )


@read_if_changed
def read_names(connection: Connection) -> dict[int, str]:
    """The name of every person by number, or the code where the name was erased; one statement."""
    query = select(Person.id, Person.code, PersonPrivate.name).outerjoin(
        PersonPrivate, PersonPrivate.person_id == Person.id
    )
    return {key: name or code for key, code, name in connection.execute(query)}


@reads(QualificationRecord)
def read_qualifications() -> Query:
    """Every qualification seen, oldest first; one statement."""
    return (
        select_of(
            QualificationRecord,
            Qualification,
            unit_type=UnitType.name,
            person=named(Qualification.person_id),
            seen_by=named(Qualification.seen_by_id),
        )
        .outerjoin(UnitType, UnitType.id == Qualification.unit_type_id)
        .order_by(Qualification.seen_on, Qualification.id)
    )


def read_code(connection: Connection, person_id: int) -> str | None:
    """The code of one person; one statement."""
    return connection.scalar(select(Person.code).where(Person.id == person_id))


def code_taken(session: Session, code: str) -> bool:
    """Whether somebody has or had this code, in capitals or not."""
    return session.scalar(select(Person.id).where(func.lower(Person.code) == code.lower())) is not None


def active_in_role(session: Session, role: str) -> int:
    """How many active people have a role."""
    query = select(func.count()).select_from(Person).where(Person.role == role, Person.active.is_(True))
    return session.scalar(query) or 0


def managers_with_pin(session: Session) -> int:
    """How many active managers have a PIN, and so may vouch for another's."""
    query = select(func.count()).select_from(Person).where(Person.role == Role.MANAGER, Person.active.is_(True))
    return session.scalar(query.where(Person.pin_digest.is_not(None))) or 0


def private_of(session: Session, person_id: int) -> PersonPrivate | None:
    """Name and contact of a person, or None where they were erased or never entered."""
    return session.scalar(select(PersonPrivate).where(PersonPrivate.person_id == person_id))


def unit_type_by_code(session: Session, code: str) -> UnitType:
    """The unit type of a code, or NotFound."""
    row = session.scalar(select(UnitType).where(UnitType.code == code))
    if row is None:
        raise NotFound(say("unit type {code}: not recorded; choose one from the list", code=code))
    return row


def read_unit_type_names(connection: Connection) -> tuple[tuple[str, str], ...]:
    """Code and name of every unit type; one statement."""
    return tuple(
        (code, name) for code, name in connection.execute(select(UnitType.code, UnitType.name).order_by(UnitType.code))
    )


def anybody_active(session: Session) -> bool:
    """Whether somebody is recorded who may be chosen at the bench."""
    query = select(Person.id).where(Person.active.is_(True), Person.role.not_in(HIRERS)).limit(1)
    return session.scalar(query) is not None
