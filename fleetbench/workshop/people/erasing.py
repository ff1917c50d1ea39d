"""Erase a renter, hold what must not be erased, and set how long names are kept."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.people.retention import KINDS, PersonFacts, why_not_erasable
from fleetbench.records.core.errors import Refused
from fleetbench.records.people.reads import private_of
from fleetbench.records.people.retention import (
    LegalHold,
    Retention,
    erase_within,
    open_booking_codes,
    open_legal_holds,
    pages_of,
    retention_of,
)
from fleetbench.records.people.tables import Person
from fleetbench.records.tickets.photographs import PDF, photograph_folder, remove_files
from fleetbench.records.upkeep.erasure import clear_traces, note_erasure, words_of
from fleetbench.workshop.core.workplace import Workplace, one_word, require_person, required, with_theirs


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
