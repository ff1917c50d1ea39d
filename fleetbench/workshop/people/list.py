"""People as lists and pages show them; a name that was erased leaves the code only."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from fleetbench.calc.core.languages import folded_name, say
from fleetbench.calc.people.permits import Permit, granted
from fleetbench.calc.people.retention import KINDS, kept_through, overdue
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.people.reads import (
    PersonRecord,
    QualificationRecord,
    read_names,
    read_people,
    read_qualifications,
    read_unit_type_names,
)
from fleetbench.records.people.retention import last_booked_days, read_legal_holds, read_retention, read_retention_rules
from fleetbench.records.people.tables import Person
from fleetbench.workshop.core.workplace import Workplace


def list_people(workplace: Workplace) -> tuple[PersonRecord, ...]:
    """Every person, by code; contacts only where whoever is at the bench may see them."""
    seen = sees_personal_data(workplace)
    with workplace.database.reading() as connection:
        found = read_people(connection)
    return found if seen else tuple(replace(each, contact=None) for each in found)


def list_qualifications(workplace: Workplace) -> tuple[QualificationRecord, ...]:
    """Every qualification seen, oldest first."""
    with workplace.database.reading() as connection:
        return read_qualifications(connection)


def person_id(workplace: Workplace, text: str) -> int:
    """The key of an active person by code, or by name where only one has it; Refused otherwise."""
    wanted = folded_name(text)
    with workplace.database.reading() as connection:
        active = [each for each in read_people(connection) if each.active]
    coded = [each for each in active if folded_name(each.code) == wanted]
    named = [each for each in active if folded_name(each.name) == wanted]
    found = coded or named
    if len(found) == 1:
        return found[0].person_id
    if found:
        raise Refused(say("person {text}: several people have this name; give the code", text=text))
    raise Refused(say("person {text}: nobody active has this code or name", text=text))


def sees_personal_data(workplace: Workplace) -> bool:
    """Whether the signed-in user may see contacts and notes of renters; nobody signed in sees none."""
    return not why_no_contacts(workplace)


def why_no_contacts(workplace: Workplace) -> str:
    """Why the signed-in user sees no telephone of a renter, in words; empty where they do."""
    if workplace.person_id is None:
        return say("sign in to see the telephone")
    with workplace.database.read_session() as session:
        person = session.get(Person, workplace.person_id)
        if person is not None and person.active and granted(person.role, Permit.PERSONAL):
            return ""
        return say(
            "the telephone is not shown to the role {role}",
            role=say(person.role if person is not None else "not recorded"),
        )


@dataclass(frozen=True, slots=True)
class LegalHoldRow:
    """A legal hold that stands above erasing a person."""

    hold_id: int
    reason: str
    placed_at: datetime
    placed_by: str


@dataclass(frozen=True, slots=True)
class PersonPage:
    """One person with their papers, legal holds and last booked day; role: of whoever is at the bench.

    keep_through: the last day on which the centre keeps the name, by the years it set; None where none is set or known.
    """

    row: PersonRecord
    papers: tuple[QualificationRecord, ...]
    legal_holds: tuple[LegalHoldRow, ...]
    last_booked: date | None
    keep_through: date | None
    role: str | None


@dataclass(frozen=True, slots=True)
class PeopleDesk:
    """Everybody, whose time to be erased has come, the years set per kind of record, and who is at the bench."""

    people: tuple[PersonRecord, ...]
    papers: tuple[QualificationRecord, ...]
    time_has_come: tuple[str, ...]
    years: tuple[tuple[str, int | None, str], ...]
    unit_types: tuple[tuple[str, str], ...]
    today: date
    role: str | None


def person_page(workplace: Workplace, code: str) -> PersonPage:
    """One person by code; NotFound for one that is not recorded."""
    row = next((each for each in list_people(workplace) if each.code == code), None)
    if row is None:
        raise NotFound(say("person {code}: nobody has this code; look under People", code=code))
    with workplace.database.reading() as connection:
        names = read_names(connection)
        years = read_retention(connection).get("names and contacts")
        booked = last_booked_days(connection).get(row.person_id)
        holds = read_legal_holds(connection, row.person_id)
    last = booked[1] if booked is not None else None
    return PersonPage(
        row=row,
        papers=tuple(each for each in list_qualifications(workplace) if each.person_id == row.person_id),
        legal_holds=tuple(LegalHoldRow(key, reason, at, names.get(by, "")) for key, reason, at, by in holds),
        last_booked=last,
        keep_through=kept_through(last, years) if last is not None and years is not None else None,
        role=role_of(workplace),
    )


def people_desk(workplace: Workplace) -> PeopleDesk:
    """Everybody and what the centre set for keeping names."""
    today = workplace.today()
    with workplace.database.reading() as connection:
        set_years = read_retention_rules(connection)
        years = set_years.get("names and contacts", (None, ""))[0]
        come = tuple(sorted(code for code, day in last_booked_days(connection).values() if overdue(day, years, today)))
        types = read_unit_type_names(connection)
    return PeopleDesk(
        list_people(workplace),
        papers=list_qualifications(workplace),
        time_has_come=come,
        years=tuple((kind, *set_years.get(kind, (None, ""))) for kind in KINDS),
        unit_types=types,
        today=today,
        role=role_of(workplace),
    )


def role_of(workplace: Workplace) -> str | None:
    """The role of whoever is at the bench; None where nobody active is."""
    if workplace.person_id is None:
        return None
    with workplace.database.read_session() as session:
        person = session.get(Person, workplace.person_id)
        return person.role if person is not None and person.active else None
