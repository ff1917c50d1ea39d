"""What lies on the shelves and may be taken: usable pieces of each part type, those that end first at the head.

Places where things lie and owners of what the centre handles: listed with what is there, and entered.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.condition import USABLE, Condition
from fleetbench.calc.parts.life import governing
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lives import LifeRecords, read_life_records, read_shelf_places
from fleetbench.records.parts.lookups import PlaceRecord, count_by_owner, count_by_place, read_places
from fleetbench.records.parts.reads import (
    PartPlaceRecord,
    PartRecord,
    PartTypeRecord,
    read_lying,
    read_once_fitted,
    read_part_types,
    read_parts,
)
from fleetbench.records.places.tables import OWNER_KINDS, PLACE_KINDS, Owner, Place
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, one_word, require_person, required
from fleetbench.workshop.parts.conditions import read_condition_book
from fleetbench.workshop.parts.list import marked_words, why_words
from fleetbench.workshop.parts.lives import book_of


@dataclass(frozen=True, slots=True)
class ShelfPiece:
    """One piece that may be fitted today. last_good_day: on the shelf, None where no limit ends it there."""

    part: PartRecord
    place: str | None
    last_good_day: date | None


def usable_pieces(
    connection: Connection, types: dict[int, PartTypeRecord], lives: LifeRecords, day: Day
) -> dict[int, list[ShelfPiece]]:
    """Usable pieces by part type, those that end first before all others, then the oldest.

    Left out: what is rejected, on hold, under a stopping notice, past, undecided, or of a life that is not known.
    """
    book, once = book_of(lives, day), read_once_fitted(connection)
    conditions, places = read_condition_book(connection, book, types), read_shelf_places(connection)
    found: dict[int, list[ShelfPiece]] = defaultdict(list)
    for part in read_parts(connection, states=("stock",)):
        life = governing(book.last_good_days(part, ever_fitted=part.part_id in once))
        if not conditions.of(part, None, life).usable:
            continue
        found[part.part_type_id].append(ShelfPiece(part, places.get(part.part_id), life.day))
    for pieces in found.values():
        pieces.sort(key=_first_to_take)
    return found


def _first_to_take(piece: ShelfPiece) -> tuple[date, date, date, int]:
    part = piece.part
    age = part.made_on or date.max, part.received_on or date.max
    return piece.last_good_day or date.max, *age, part.part_id


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """A part that sits in no slot, with its condition and all that is said of it, a sentence each."""

    part: PartRecord
    kind: PartTypeRecord
    lies: PartPlaceRecord
    made: str | None
    opened: str | None
    last_good_day: date | None
    days_left: int | None
    why: str
    condition: Condition
    why_not: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Whether it may be fitted today, as far as the records go."""
        return self.condition in USABLE


def list_shelf(workplace: Workplace) -> tuple[ShelfRow, ...]:
    """Every part in stock, set aside or sent back, by type, those that end first at the head; fixed statements."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        types, lives = read_part_types(connection), read_life_records(connection)
        parts = read_parts(connection, states=("stock", "quarantine", "sent back"))
        once, lying = read_once_fitted(connection), read_lying(connection)
        book = book_of(lives, day)
        conditions = read_condition_book(connection, book, types)
    rows = []
    for part in parts:
        kind, lies = types[part.part_type_id], lying[part.part_id]
        life = governing(book.last_good_days(part, ever_fitted=part.part_id in once))
        found = conditions.of(part, None, life)
        left = (life.day - day.today).days if life.day is not None else None
        rows.append(
            ShelfRow(
                part, kind=kind, lies=lies, made=marked_words(part.made_on, part.made_precision),
                opened=marked_words(part.opened_on, part.opened_precision), last_good_day=life.day, days_left=left,
                why=why_words(life) or say("no limit of life is recorded for its type"), condition=found.state,
                why_not=found.why,
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (row.kind.name, row.last_good_day or date.max, row.part.label)))


@dataclass(frozen=True, slots=True)
class ReceivingChoices:
    """What a delivery may be of, where it may be put, and whose it may be, the centre first."""

    types: tuple[PartTypeRecord, ...]
    places: tuple[PlaceRecord, ...]
    owners: tuple[PlaceRecord, ...]


def receiving_choices(workplace: Workplace) -> ReceivingChoices:
    """Part types counted in pieces by name, places by name, and owners."""
    with workplace.database.reading() as connection:
        types = [each for each in read_part_types(connection).values() if each.stocked_in == "piece"]
        places = read_places(connection)
        owners = tuple(PlaceRecord(*each[:3]) for each in count_by_owner(connection))
    by_kind = sorted(owners, key=lambda each: (each.kind != "centre", each.name))
    return ReceivingChoices(tuple(sorted(types, key=lambda each: each.name)), places, tuple(by_kind))


LONGEST_NAME = 120


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place, or an owner. what: `place` or `owner`; parts, units: of the centre's book, what is scrapped left out."""

    what: str
    key: int
    name: str
    kind: str
    parts: int
    units: int


def list_places(workplace: Workplace) -> tuple[PlaceRow, ...]:
    """Every place by name, then every owner by name."""
    with workplace.database.reading() as connection:
        places = [PlaceRow("place", *each) for each in count_by_place(connection)]
        owners = [PlaceRow("owner", *each) for each in count_by_owner(connection)]
    return (*places, *owners)


def add_place(workplace: Workplace, name: str, kind: str) -> int:
    """The key of a new place. kind: a shelf, bench, kit, van, site, quarantine, for parts sent back, or away."""
    require_person(workplace)
    said = _name(name)
    one_word("kind", kind, PLACE_KINDS)
    with workplace.transaction("add place", f"place {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_place(act.session.connection())):
            raise Refused(say("name {said}: is a place already; choose another name", said=said))
        return act.add(Place(name=said, kind=kind)).id


def add_owner(workplace: Workplace, name: str, kind: str) -> int:
    """The key of a new owner. kind: centre, loan, or renter: what is a renter's own is never hired out."""
    require_person(workplace)
    said = _name(name)
    one_word("kind", kind, OWNER_KINDS)
    with workplace.transaction("add owner", f"owner {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_owner(act.session.connection())):
            raise Refused(say("name {said}: is an owner already; choose another name", said=said))
        return act.add(Owner(name=said, kind=kind)).id


def _name(name: str) -> str:
    said = required("name", name)
    if len(said) > LONGEST_NAME:
        raise Refused(say("name: is longer than {most} characters; shorten it", most=LONGEST_NAME))
    return said
