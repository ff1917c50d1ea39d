"""What a typed or scanned text leads to."""

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass

from fleetbench.calc.core.languages import folded_name, say, strung
from fleetbench.calc.parts.condition import PartCondition
from fleetbench.records.canisters.lookups import FoundFill, find_fill
from fleetbench.records.people.reads import PersonRecord, read_people
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.upkeep.lookups import (
    FoundPart,
    FoundUnit,
    find_bookings,
    find_containers,
    find_parts,
    find_ticket,
    find_units,
)
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.parts.conditions import conditions_of

MOST = 50
"""How many things are shown of what was found, and at most looked for of each kind."""

TICKET = re.compile(r"(?P<year>\d{4})\s*[-/]\s*(?P<number>\d{1,6})")
"""A ticket's number as printed, also without its leading noughts."""

CYLINDER = "cylinder"


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing found; kind: unit, cell, canister, cylinder, part, container, ticket, person, booking.

    key: the tag, part id, ticket number, person id or booking code with which its page opens.
    """

    kind: str
    key: str
    title: str
    detail: str
    exact: bool


def find(workplace: Workplace, text: str) -> tuple[Hit, ...]:
    """Whatever carries the text in its tag, serial, lot, number, code or name; exact ones first, at most 50.

    A blank text finds nothing. Case does not matter, nor do accents in the name of a person.
    """
    said = unicodedata.normalize("NFC", text).strip()
    if not said:
        return ()
    number, day = TICKET.fullmatch(said), day_of(workplace)
    with workplace.database.reading() as connection:
        units = find_units(connection, said, MOST)
        parts = find_parts(connection, said, MOST)
        containers = find_containers(connection, said, MOST)
        bookings = find_bookings(connection, said, MOST)
        tickets = find_ticket(connection, int(number["year"]), int(number["number"])) if number else ()
        fills = find_fill(connection, said)
        conditions = conditions_of(connection, day, tuple(each.part_id for each in parts))
        people = read_people(connection)
    hits = [
        *(_unit(each, said) for each in units),
        *(
            Hit(
                "ticket",
                key=found,
                title=say("ticket {key}", key=found),
                detail=f"{each.unit}: {each.reason}",
                exact=True,
            )
            for each in tickets
            for found in (ticket_number(each.year, each.number),)
        ),
        *(_part(each, said, conditions[each.part_id]) for each in parts),
        *map(_fill, fills),
        *(
            Hit(
                "container",
                key=str(each.container_id),
                title=say("lot {lot}", lot=each.lot),
                detail=each.part_type,
                exact=_same(each.lot, said),
            )
            for each in containers
        ),
        *(
            Hit(
                "booking",
                key=each.code,
                title=each.code,
                detail=say(
                    "{kind} {starts_on} to {ends_on}",
                    kind=say(each.kind),
                    starts_on=each.starts_on,
                    ends_on=each.ends_on,
                ),
                exact=exact,
            )
            for each in bookings
            for exact in (_same(each.code, said),)
        ),
        *_people(people, said),
    ]
    return tuple(sorted(hits, key=lambda hit: not hit.exact)[:MOST])


def _same(value: str | None, said: str) -> bool:
    return value is not None and folded_name(value) == folded_name(said)


def _unit(found: FoundUnit, said: str) -> Hit:
    former = [say("formerly {tag}", tag=found.former_tag)] if found.former_tag else []
    exact = any(_same(each, said) for each in (found.tag, found.former_tag, found.serial))
    return Hit(
        "unit",
        key=found.tag,
        title=found.tag,
        detail=strung(
            ", ", (say("{unit_type}, serial {serial}", unit_type=found.unit_type, serial=found.serial), *former)
        ),
        exact=exact,
    )


def _part(found: FoundPart, said: str, known: PartCondition) -> Hit:
    kind = found.kind if found.kind in ("cell", "canister") else CYLINDER if CYLINDER in found.kind else "part"
    title = found.serial or (
        say("lot {lot}", lot=found.lot) if found.lot else found.ref or say("part {key}", key=found.part_id)
    )
    lot = [say("lot {lot}", lot=found.lot)] if found.lot and found.serial else []
    exact = any(_same(each, said) for each in (found.serial, found.lot, found.ref))
    return Hit(
        kind,
        key=str(found.part_id),
        title=title,
        detail=strung(", ", (found.part_type, *lot, say(known.state))),
        exact=exact,
    )


def _fill(found: FoundFill) -> Hit:
    """A fill leads to the canister it was packed in, and says at once where it stands no longer in it."""
    state = (
        say("in it now")
        if found.discarded_at is None
        else say("discarded {discarded_at:%Y-%m-%d}", discarded_at=found.discarded_at)
    )
    title = found.ref or f"FILL-{found.fill_id}"
    where = found.canister or say("part {key}", key=found.part_id)
    return Hit(
        "canister",
        key=str(found.part_id),
        title=title,
        detail=say("fill of canister {where}, {state}", where=where, state=state),
        exact=True,
    )


def _people(people: tuple[PersonRecord, ...], said: str) -> Iterator[Hit]:
    """Matched here and not by the database, whose lower() knows no letters beyond A to Z in SQLite."""
    wanted = folded_name(said)
    for each in people:
        name, code = folded_name(each.name), folded_name(each.code)
        if wanted in name or wanted == code:
            exact = wanted in (name, code)
            yield Hit(
                "person",
                key=str(each.person_id),
                title=each.name,
                detail=strung(", ", (say(each.role), each.code)),
                exact=exact,
            )
