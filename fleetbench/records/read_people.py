"""Reads of people: names by number, the list, and qualifications."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from fleetbench.records.people import Person, PersonPrivate, Qualification
from fleetbench.records.record_rows import records_of
from fleetbench.records.units import UnitType


@dataclass(frozen=True, slots=True)
class PersonRecord:
    """A person; name and contact None where erased or never entered."""

    person_id: int
    code: str
    role: str
    active: bool
    erased: bool
    name: str | None
    contact: str | None


@dataclass(frozen=True, slots=True)
class QualificationRecord:
    """A qualification with the person's number and the unit type's name."""

    person_id: int
    kind: str
    unit_type_id: int | None
    unit_type: str | None
    seen_on: date
    valid_until: date | None


def read_people(connection: Connection) -> tuple[PersonRecord, ...]:
    """Every person, by code; one statement."""
    query = (
        select(
            Person.id, Person.code, Person.role, Person.active, Person.erased_at.is_not(None),
            PersonPrivate.name, PersonPrivate.contact,
        )
        .outerjoin(PersonPrivate, PersonPrivate.person_id == Person.id)
        .order_by(Person.code)
    )
    return records_of(connection, query, PersonRecord)


def read_names(connection: Connection) -> dict[int, str]:
    """The name of every person by number, or the code where the name was erased; one statement."""
    query = select(Person.id, Person.code, PersonPrivate.name).outerjoin(
        PersonPrivate, PersonPrivate.person_id == Person.id
    )
    return {key: name or code for key, code, name in connection.execute(query)}


def read_qualifications(connection: Connection) -> tuple[QualificationRecord, ...]:
    """Every qualification seen, oldest first; one statement."""
    query = (
        select(
            Qualification.person_id, Qualification.kind, Qualification.unit_type_id, UnitType.name,
            Qualification.seen_on, Qualification.valid_until,
        )
        .outerjoin(UnitType, UnitType.id == Qualification.unit_type_id)
        .order_by(Qualification.seen_on, Qualification.id)
    )
    return records_of(connection, query, QualificationRecord)
