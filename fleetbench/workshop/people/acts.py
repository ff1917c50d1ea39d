"""People enter, change and leave; what is seen of their papers. Names and contacts go where they can be erased."""

import re
from datetime import date

from fleetbench.records.core.act import Act
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import active_in_role, code_taken, private_of, unit_type_by_code
from fleetbench.records.people.tables import QUALIFICATIONS, ROLES, Person, PersonPrivate, Qualification
from fleetbench.workshop.core.figures import one_word
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import required, somebody

HIRERS = ("renter", "student")
OF_STAFF = ("technician", "instructor")
"""Papers that decide what somebody may sign or teach: a manager records those."""

CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,19}")


def enter_person(shop: Shop, code: str, role: str, name: str, contact: str = "") -> int:
    """The key of somebody new, by a code that no one has had; the first manager of all enters themselves."""
    one_word("role", role, ROLES)
    said, spelled = required("name", name)[:200], code.strip()
    if not CODE.fullmatch(spelled):
        raise Refused("code: give 1 to 20 letters, digits and hyphens; it stays when the name is erased")
    with shop.acting("enter renter" if role in HIRERS else "enter staff", f"person {spelled}") as act:
        if code_taken(act.session, spelled):
            raise Refused(f"code {spelled}: somebody has or had it; choose another, it is never given twice")
        person = act.add(Person(code=spelled, role=role, active=True, erased_at=None, named_at=act.at))
        act.add(PersonPrivate(person_id=person.id, name=said, contact=contact.strip()[:400] or None, note=None))
        return person.id


def change_contact(shop: Shop, person_id: int, name: str, contact: str) -> None:
    """Write another name or contact; the journal holds that it was changed and when, never the words."""
    said = required("name", name)[:200]
    with shop.acting(_by_role(shop, person_id, "change contact", "enter staff"), f"person {person_id}") as act:
        person = _standing(act, person_id)
        private = private_of(act.session, person_id)
        if private is None:
            act.add(PersonPrivate(person_id=person_id, name=said, contact=contact.strip()[:400] or None, note=None))
        else:
            act.change(private, name=said, contact=contact.strip()[:400] or None)
        act.change(person, named_at=act.at)


def see_paper(
    shop: Shop, person_id: int, kind: str, *, unit_type: str | None, seen_on: date, valid_until: date | None
) -> int:
    """The key of what was seen: a qualification for a unit type (None: every type), or a medical statement.

    Of a paper only its kind, the day on which it was seen and by whom is kept; no form is stored.
    """
    seen_by, today = somebody(shop), shop.today()
    one_word("kind", kind, QUALIFICATIONS)
    if seen_on > today:
        raise Refused(f"seen on: {seen_on} is still to come; give the day on which it was looked at")
    if valid_until is not None and valid_until < seen_on:
        raise Refused(f"valid until: {valid_until} is before the day it was seen; look at both")
    if kind == "medical" and unit_type is not None:
        raise Refused("unit type: a medical statement is for no unit type; leave it out")
    with shop.acting("see staff papers" if kind in OF_STAFF else "see papers", f"person {person_id}") as act:
        person = _standing(act, person_id)
        if kind in OF_STAFF and person.role in HIRERS:
            raise Refused(f"kind: {person.code} is a {person.role}; a {kind}'s paper is recorded of the staff")
        if kind in OF_STAFF and person.id == seen_by and active_in_role(act.session, "manager") > 1:
            raise Refused("person: nobody sees their own papers; let another manager record them")
        row = Qualification(
            person_id=person.id,
            unit_type_id=unit_type_by_code(act.session, unit_type).id if unit_type is not None else None,
            kind=kind,
            seen_on=seen_on,
            seen_by_id=seen_by,
            valid_until=valid_until,
        )
        return act.add(row).id


def end_service(shop: Shop, person_id: int) -> None:
    """Somebody no longer acts or hires here; what they did stays under their name, and the last manager stays too."""
    somebody(shop)
    with shop.acting("end service", f"person {person_id}") as act:
        person = _standing(act, person_id)
        if not person.active:
            raise Refused(f"person {person.code}: is no longer active already")
        if person.role == "manager" and active_in_role(act.session, "manager") < 2:
            raise Refused(f"person {person.code}: is the last manager; enter another one first")
        act.change(person, active=False)


def _standing(act: Act, person_id: int) -> Person:
    person = act.get(Person, person_id, "person")
    if person.erased_at is not None:
        raise Refused(f"person {person.code}: is erased; nothing is written of them any more")
    return person


def _by_role(shop: Shop, person_id: int, of_hirers: str, of_staff: str) -> str:
    with shop.database.looking() as session:
        person = session.get(Person, person_id)
        return of_hirers if person is not None and person.role in HIRERS else of_staff
