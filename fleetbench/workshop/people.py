"""People as lists and pages show them; a name that was erased leaves the code only."""

from dataclasses import dataclass
from datetime import date

from fleetbench.calc.permits import Permit, granted
from fleetbench.records.errors import Refused
from fleetbench.records.people import Person
from fleetbench.records.read_people import read_people, read_qualifications
from fleetbench.workshop.shop import Shop


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person; `name` is the code where the name was erased or never entered."""

    person_id: int
    code: str
    role: str
    name: str
    contact: str | None
    active: bool
    erased: bool


@dataclass(frozen=True, slots=True)
class QualificationRow:
    """A qualification as seen; unit_type is None where it holds for every type."""

    person_id: int
    person: str
    kind: str
    unit_type: str | None
    seen_on: date
    valid_until: date | None


def list_people(shop: Shop) -> tuple[PersonRow, ...]:
    """Every person, by code; contacts only where whoever is at the bench may see them."""
    seen = sees_personal_data(shop)
    with shop.database.reading() as connection:
        found = read_people(connection)
    return tuple(
        PersonRow(
            each.person_id,
            each.code,
            each.role,
            each.name or each.code,
            each.contact if seen else None,
            each.active,
            each.erased,
        )
        for each in found
    )


def list_qualifications(shop: Shop) -> tuple[QualificationRow, ...]:
    """Every qualification seen, oldest first."""
    with shop.database.reading() as connection:
        names = {each.person_id: each.name or each.code for each in read_people(connection)}
        found = read_qualifications(connection)
    return tuple(
        QualificationRow(
            each.person_id, names[each.person_id], each.kind, each.unit_type, each.seen_on, each.valid_until
        )
        for each in found
    )


def person_id(shop: Shop, text: str) -> int:
    """The key of an active person by code, or by name where only one has it; Refused otherwise."""
    wanted = text.strip().casefold()
    with shop.database.reading() as connection:
        active = [each for each in read_people(connection) if each.active]
    coded = [each for each in active if each.code.casefold() == wanted]
    named = [each for each in active if each.name is not None and each.name.casefold() == wanted]
    found = coded or named
    if len(found) == 1:
        return found[0].person_id
    said = "several people have this name; give the code" if found else "nobody active has this code or name"
    raise Refused(f"person {text}: {said}")


def sees_personal_data(shop: Shop) -> bool:
    """Whether whoever is at the bench may see contacts and notes of renters; nobody chosen sees none."""
    if shop.person_id is None:
        return False
    with shop.database.looking() as session:
        person = session.get(Person, shop.person_id)
        return person is not None and person.active and granted(person.role, Permit.PERSONAL)
