"""People enter, change, leave and are erased; what is seen of their papers, and how long names are kept.

Names and contacts go where they can be erased.

PINs: set, checked, reset, never stored readable; wrong entries are counted and make one wait.
"""

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerifyMismatchError

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.people.permits import HIRERS, Role, desk_wait, still_to_wait
from fleetbench.calc.people.retention import KINDS, PersonFacts, why_not_erasable
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.people.reads import active_in_role, code_taken, managers_with_pin, private_of, unit_type_by_code
from fleetbench.records.people.retention import (
    LegalHold,
    Retention,
    erase_within,
    open_booking_codes,
    open_legal_holds,
    pages_of,
    retention_of,
)
from fleetbench.records.people.tables import (
    QUALIFICATIONS,
    Person,
    PersonPrivate,
    Qualification,
    drop_pin,
    forgive,
    keep_pin,
    moment_of,
    pin_of,
    pin_was_witnessed,
    wrong_of_all,
)
from fleetbench.records.tickets.photographs import PDF, photograph_folder, remove_files
from fleetbench.records.upkeep.erasure import clear_traces, note_erasure, words_of
from fleetbench.workshop.core.workplace import Workplace, WrongPin, one_word, require_person, required, with_theirs

OF_STAFF = ("technician", "instructor")
"""Papers that decide what somebody may sign or teach: a manager records those."""

CODE = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,19}")


def enter_person(workplace: Workplace, code: str, role: str, name: str, contact: str = "") -> int:
    """The key of somebody new, by a code that no one has had; the first manager of all enters themselves."""
    one_word("role", role, tuple(Role))
    said, spelled = required("name", name)[:200], code.strip()
    if not CODE.fullmatch(spelled):
        raise Refused(say("code: give 1 to 20 letters, digits and hyphens; it stays when the name is erased"))
    with workplace.transaction("enter renter" if role in HIRERS else "enter staff", f"person {spelled}") as act:
        if code_taken(act.session, spelled):
            raise Refused(
                say("code {spelled}: it is or was in use; choose another, a code is never given twice", spelled=spelled)
            )
        person = act.add(Person(code=spelled, role=role, active=True, erased_at=None, named_at=act.at))
        act.add(PersonPrivate(person_id=person.id, name=said, contact=contact.strip()[:400] or None, note=None))
        return person.id


def change_contact(
    workplace: Workplace, person_id: int, name: str, contact: str, seen: Mapping[str, str] | None = None
) -> None:
    """Write another name or contact; the journal holds that it was changed and when, never the words.

    seen: name and contact as the user saw them; what another desk saved since stays, Clash where both changed the same.
    """
    said = required("name", name)[:200]
    with workplace.transaction(
        _by_role(workplace, person_id, "change contact", "enter staff"), f"person {person_id}"
    ) as act:
        person = _standing(act, person_id)
        private = private_of(act.session, person_id)
        if private is None:
            act.add(PersonPrivate(person_id=person_id, name=said, contact=contact.strip()[:400] or None, note=None))
        else:
            mine, now = (
                {"name": said, "contact": contact.strip()},
                {"name": private.name, "contact": private.contact or ""},
            )
            mine = with_theirs(
                say("person {code}", code=person.code), mine, seen, now, {name: (name,) for name in mine}
            )
            act.change(private, name=mine["name"], contact=mine["contact"][:400] or None)
        act.change(person, named_at=act.at)


def see_paper(
    workplace: Workplace, person_id: int, kind: str, *, unit_type: str | None, seen_on: date, valid_until: date | None
) -> int:
    """The key of what was seen: a qualification for a unit type (None: every type), or a medical statement.

    Of a paper only its kind, the day on which it was seen and by whom is kept; no form is stored.
    """
    seen_by, today = require_person(workplace), workplace.today()
    one_word("kind", kind, QUALIFICATIONS)
    if seen_on > today:
        raise Refused(
            say("seen on: {seen_on} is still to come; give the day on which it was looked at", seen_on=seen_on)
        )
    if valid_until is not None and valid_until < seen_on:
        raise Refused(
            say("last valid day: {valid_until} is before the day it was seen; look at both", valid_until=valid_until)
        )
    if kind == "medical" and unit_type is not None:
        raise Refused(say("unit type: a medical statement is for no unit type; leave it empty"))
    with workplace.transaction("see staff papers" if kind in OF_STAFF else "see papers", f"person {person_id}") as act:
        person = _standing(act, person_id)
        if kind in OF_STAFF and person.role in HIRERS:
            raise Refused(
                say(
                    "kind: {code} is a {role}; a {kind}'s paper is recorded of the staff",
                    code=person.code,
                    role=say(person.role),
                    kind=say(kind),
                )
            )
        if kind in OF_STAFF and person.id == seen_by and active_in_role(act.session, "manager") > 1:
            raise Refused(say("person: nobody sees their own papers; let another manager record them"))
        row = Qualification(
            person_id=person.id,
            unit_type_id=unit_type_by_code(act.session, unit_type).id if unit_type is not None else None,
            kind=kind,
            seen_on=seen_on,
            seen_by_id=seen_by,
            valid_until=valid_until,
        )
        return act.add(row).id


def end_service(workplace: Workplace, person_id: int) -> None:
    """Somebody no longer acts or hires here; what they did stays under their name, and the last manager stays too."""
    require_person(workplace)
    with workplace.transaction("end service", f"person {person_id}") as act:
        person = _standing(act, person_id)
        if not person.active:
            raise Refused(say("person {code}: is no longer active already", code=person.code))
        if person.role == Role.MANAGER and active_in_role(act.session, "manager") < 2:
            raise Refused(say("person {code}: is the last manager; enter another one first", code=person.code))
        act.change(person, active=False)


def _standing(act: Transaction, person_id: int) -> Person:
    person = act.get(Person, person_id, "person")
    if person.erased_at is not None:
        raise Refused(say("person {code}: is erased; nothing is written of them any more", code=person.code))
    return person


def _by_role(workplace: Workplace, person_id: int, of_hirers: str, of_staff: str) -> str:
    with workplace.database.read_session() as session:
        person = session.get(Person, person_id)
        return of_hirers if person is not None and person.role in HIRERS else of_staff


HASHER = PasswordHasher(time_cost=3, memory_cost=65_536, parallelism=4, type=Type.ID)
"""Argon2id as RFC 9106 section 4 recommends where memory is scarce: 3 passes over 64 MiB in 4 lanes; above the least of
the OWASP Password Storage Cheat Sheet (19 MiB, 2 passes, 1 lane)."""

PIN = re.compile(r"[0-9]{4,12}")


def set_pin(
    workplace: Workplace, person_id: int, pin: str, *, manager_id: int | None = None, manager_pin: str = ""
) -> None:
    """Keep a first PIN of 4 to 12 digits, entered by its owner beside a manager, who enters their own PIN.

    The journal names the manager who was present. Where no manager has a PIN yet, a manager who is signed in sets
    their own alone: there is nobody to vouch for them.
    """
    _of_form(pin)
    if manager_id is None and workplace.person_id != person_id:
        raise Refused(say("manager: a first PIN is set with a manager present; choose which, who enters their own PIN"))
    present = manager_id or person_id
    with workplace.as_person(present).transaction(
        "set first PIN" if manager_id is not None else "set first manager's PIN", f"person {person_id}"
    ) as act:
        person = act.get(Person, person_id, "person")
        if person.pin_digest:
            raise Refused(
                say("PIN: this person has one already; change it with the old one, or let a manager reset it")
            )
        if not person.active:
            raise Refused(say("person {code}: is no longer active; a PIN is for those who are", code=person.code))
        if manager_id is None and managers_with_pin(act.session):
            raise Refused(
                say("manager: a first PIN is set with a manager present; another manager has one and enters it")
            )
        if manager_id == person_id:
            raise Refused(say("manager: must be another person than the one whose PIN is set; choose another manager"))
        if manager_id is not None:
            check_pin(act.get(Person, manager_id, "manager"), manager_pin, say("manager's PIN"))
        keep_pin(act, person, HASHER.hash(pin))


def change_pin(workplace: Workplace, person_id: int, old: str, new: str) -> None:
    """Keep another PIN for somebody who enters the old one."""
    _of_form(new)
    with workplace.as_person(person_id).transaction("change PIN", f"person {person_id}") as act:
        person = act.get(Person, person_id, "person")
        check_pin(person, old, say("old PIN"))
        keep_pin(act, person, HASHER.hash(new))


def check_pair(signer: Person, pin: str, second: Person | None, second_pin: str) -> None:
    """Nothing where each gave their own PIN, both set with a manager present, and they are two; Refused otherwise.

    second: None where one signature is enough. To be asked inside the act that both sign.
    """
    check_pin(signer, pin)
    if second is not None:
        check_second(signer, second, second_pin)
        _refuse_unwitnessed("signer", signer)


def check_second(first: Person, second: Person, pin: str) -> None:
    """Nothing where a second person, another than the first, gave their own PIN; Refused otherwise."""
    if second.id == first.id:
        raise Refused(say("second person: is the signer; it must be another one"))
    check_pin(second, pin)
    _refuse_unwitnessed(say("second person"), second)


def _refuse_unwitnessed(whose: str, person: Person) -> None:
    if not pin_was_witnessed(person):
        raise Refused(
            say(
                "{field}: the PIN of {code} was set with no manager present, so it proves no second "
                "person; let a manager reset it under People, and set it again with a manager present",
                field=say(whose),
                code=person.code,
            )
        )


def _of_form(pin: str) -> None:
    if not PIN.fullmatch(pin):
        raise Refused(say("PIN: give 4 to 12 digits"))


def check_pin(person: Person, pin: str, field: str = "PIN") -> None:
    """Nothing where the PIN is the person's; Refused otherwise, in the name of the field it was entered in.

    To be asked inside an act, which counts a wrong entry once it is rolled back; too many of them close the PIN for a
    growing time.
    """
    if not person.pin_digest:
        raise Refused(say("{field}: this person has none yet; set one before signing", field=say(field)))
    kept = pin_of(person)
    if kept is None:
        raise Refused(
            say(
                "{field}: what is kept of it does not fit the journal; let a manager reset it, and run verify",
                field=say(field),
            )
        )
    wait = still_to_wait(kept.tries, kept.last_wrong, moment_of(person))
    if wait is None:
        raise Refused(say("{field}: entered wrongly too often; let a manager reset it", field=say(field)))
    if wait > timedelta(0):
        raise Refused(
            say(
                "{field}: entered wrongly {tries} times; try again in {wait}",
                field=say(field),
                tries=kept.tries,
                wait=_spoken(wait),
            )
        )
    wait = desk_wait(wrong_of_all(person), moment_of(person))
    if wait > timedelta(0):
        raise Refused(
            say(
                "{field}: too many wrong PINs were entered here; try again in {wait}",
                field=say(field),
                wait=_spoken(wait),
            )
        )
    try:
        HASHER.verify(kept.pin_hash, pin)
    except (VerifyMismatchError, InvalidHashError) as fault:
        raise WrongPin(say("{field}: does not match; enter it again", field=say(field)), person.id) from fault
    forgive(kept)


def reset_pin(workplace: Workplace, person_id: int, *, pin: str) -> None:
    """Take a lost PIN away, so that its owner sets a new one; the manager at the desk gives their own PIN."""
    if workplace.person_id is None:
        raise Refused(say("person: choose the manager who resets the PIN first"))
    with workplace.transaction("reset PIN", f"person {person_id}") as act:
        check_pin(act.get(Person, workplace.person_id, "manager"), pin)
        person = act.get(Person, person_id, "person")
        if not person.pin_digest:
            raise Refused(say("PIN: this person has none; they set one with a manager present"))
        drop_pin(act, person)


def _spoken(wait: timedelta) -> str:
    seconds = math.ceil(wait.total_seconds())
    return f"{seconds} s" if seconds < 120 else say("{minutes} min", minutes=math.ceil(seconds / 60))


def erase_person(workplace: Workplace, person_id: int, folders: Sequence[Path] = ()) -> tuple[str, ...]:
    """Take away name, contacts, notes and words about the hires of a renter or student; the history stays nameless.

    What still holds the person is told, a sentence each; folders: where to look for it besides the folder of the
    records. Refused under a legal hold, while a booking is open, and for staff.
    """
    require_person(workplace)
    today = workplace.today()
    with workplace.transaction("erase person", f"person {person_id}") as act:
        person = act.get(Person, person_id, "person")
        facts = PersonFacts(
            role=person.role,
            erased=person.erased_at is not None,
            legal_holds=tuple(hold.reason for hold in open_legal_holds(act.session, person_id)),
            open_bookings=open_booking_codes(act.session, person_id, today),
        )
        against = why_not_erasable(facts)
        if against:
            raise Refused(strung("; ", against))
        pages = pages_of(act.session, person_id)
        words = words_of(private_of(act.session, person_id))
        erase_within(act, person)
        code, at = person.code, act.at
    if pages:
        remove_files(photograph_folder(workplace.database.path), pages, PDF)
    note_erasure(workplace.database, person_id, code, at)
    return clear_traces(workplace.database, person_id, code, words, folders)


def place_legal_hold(workplace: Workplace, person_id: int, reason: str) -> int:
    """The key of a hold that keeps a person's records from being erased; its reason stays, so it must name nobody."""
    manager, said = require_person(workplace), required("reason", reason)[:300]
    with workplace.transaction("place legal hold", f"person {person_id}") as act:
        person = act.get(Person, person_id, "person")
        if person.erased_at is not None:
            raise Refused(say("person: is erased already; nothing is left to hold"))
        row = LegalHold(person_id=person.id, reason=said, placed_at=act.at, placed_by_id=manager)
        return act.add(row).id


def lift_legal_hold(workplace: Workplace, hold_id: int) -> None:
    """Let a person's records be erased again."""
    manager = require_person(workplace)
    with workplace.transaction("lift legal hold", f"legal hold {hold_id}") as act:
        hold = act.get(LegalHold, hold_id, "legal hold")
        if hold.lifted_at is not None:
            raise Refused(say("legal hold: is lifted already"))
        act.change(hold, lifted_at=act.at, lifted_by_id=manager)


def set_retention(
    workplace: Workplace, kind: str, years: int, source: str, seen: Mapping[str, Any] | None = None
) -> None:
    """Set for how many years one kind of erasable record is kept, and by which rule.

    seen: both as the user saw them; what another desk saved since stays, and Clash is raised where both changed one.
    """
    require_person(workplace)
    one_word("kind", kind, KINDS)
    if not 0 <= years <= 100:
        raise Refused(say("years: give a whole figure from 0 to 100"))
    said = required("source", source)[:200]
    with workplace.transaction("set retention", kind) as act:
        row = retention_of(act.session, kind)
        if row is None:
            act.add(Retention(kind=kind, years=years, source=said))
        else:
            mine, now = {"years": years, "source": said}, {"years": row.years, "source": row.source}
            act.change(row, **with_theirs(kind, mine, seen, now, {"years": ("years",), "rule": ("source",)}))
