"""What lies on the shelves: usable pieces of each part type, those that end first at the head, and counts by type.

Places where things lie and owners of what the centre handles: listed with what is there, and entered.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.condition import USABLE, Condition
from fleetbench.calc.parts.kinds import OwnerKind, PartState, PlaceKind
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.canisters.reads import ContainerRecord, read_containers, read_ratings
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lives import LifeRecords, read_life_records, read_shelf_places
from fleetbench.records.parts.lookups import PlaceRecord, count_by_owner, count_by_place, read_places
from fleetbench.records.parts.reads import (
    PartPlaceRecord,
    PartRecord,
    PartTypeRecord,
    count_fitted,
    read_lying,
    read_once_fitted,
    read_part_types,
    read_parts,
)
from fleetbench.records.places.reads import read_limits
from fleetbench.records.places.tables import Owner, Place
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.canisters.containers import hours_by_grade, usable_until
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, one_word, require_person, required
from fleetbench.workshop.parts.conditions import read_condition_book
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.list import marked_words, why_words
from fleetbench.workshop.parts.lives import LifeBook, book_of


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
        parts = read_parts(connection, states=(PartState.STOCK, PartState.QUARANTINE, PartState.SENT_BACK))
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
    by_kind = sorted(owners, key=lambda each: (each.kind != OwnerKind.CENTRE, each.name))
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
    one_word("kind", kind, tuple(PlaceKind))
    with workplace.transaction("add place", f"place {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_place(act.session.connection())):
            raise Refused(say("name {said}: is a place already; choose another name", said=said))
        return act.add(Place(name=said, kind=kind)).id


def add_owner(workplace: Workplace, name: str, kind: str) -> int:
    """The key of a new owner. kind: centre, loan, or renter: what is a renter's own is never hired out."""
    require_person(workplace)
    said = _name(name)
    one_word("kind", kind, tuple(OwnerKind))
    with workplace.transaction("add owner", f"owner {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_owner(act.session.connection())):
            raise Refused(say("name {said}: is an owner already; choose another name", said=said))
        return act.add(Owner(name=said, kind=kind)).id


def _name(name: str) -> str:
    said = required("name", name)
    if len(said) > LONGEST_NAME:
        raise Refused(say("name: is longer than {most} characters; shorten it", most=LONGEST_NAME))
    return said


EXPIRING_DAYS = 90
"""An end of life on the shelf this near counts as expiring; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class StockRow:
    """One part type: pieces (or kilograms) on hand, usable today, ending within 90 days, and fitted.

    usable: in stock, neither rejected nor on hold, and inside every limit that is known to bind it on the shelf.
    unknown: of an unknown life, or left undecided when measured. quarantine: set aside, rejected or on hold.
    reserved: pieces that open tickets will take, reserved_for: for what, a line each.
    """

    part_type_id: int
    code: str
    part_type: str
    kind: str
    stocked_in: str
    on_hand: float
    usable: float
    expiring: float
    expired: float
    unknown: float
    quarantine: float
    fitted: int
    lead_days: int | None
    pack_size: float | None
    price: float | None
    first_to_expire: date | None
    reserved: int = 0
    reserved_for: tuple[str, ...] = ()

    @property
    def free(self) -> float:
        """Usable and not reserved; under nought by what is short."""
        return self.usable - self.reserved


@known_once
def list_stock(workplace: Workplace) -> tuple[StockRow, ...]:
    """Every part type with what lies in stock of it; absorbent in kilograms by container."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        types = read_part_types(connection)
        parts = read_parts(connection, states=(PartState.STOCK, PartState.QUARANTINE))
        book = book_of(read_life_records(connection), day)
        once, fitted = read_once_fitted(connection), count_fitted(connection)
        conditions = read_condition_book(connection, book, types)
        containers, limits = read_containers(connection), read_limits(connection)
        grades = {row.part_type_id: row.grade for row in read_ratings(connection)}
    hours, reserved = hours_by_grade(limits, grades), defaultdict[int, list[str]](list)
    for each in list_reservations(workplace):
        reserved[each.part_type_id].append(each.words)
    tallies: dict[int, _Tally] = defaultdict(lambda: _Tally(day.today))
    for part in parts:
        life = _shelf_life(book, part, part.part_id in once)
        tallies[part.part_type_id].add_part(life, conditions.of(part, None, life).state)
    for container in containers:
        until = usable_until(container, hours.get(container.grade or ""), day)
        tallies[container.part_type_id].add_container(container, until)
    rows = (_row(kind, tallies[key], fitted.get(key, 0), tuple(reserved[key])) for key, kind in types.items())
    return tuple(sorted(rows, key=lambda row: (row.kind, row.part_type)))


def _shelf_life(book: LifeBook, part: PartRecord, ever_fitted: bool) -> Governing:
    return governing(book.last_good_days(part, ever_fitted=ever_fitted))


@dataclass(slots=True)
class _Tally:
    """What lies on the shelf of one part type, counted against today."""

    today: date
    on_hand: float = 0.0
    usable: float = 0.0
    expiring: float = 0.0
    expired: float = 0.0
    unknown: float = 0.0
    quarantine: float = 0.0
    first: date | None = None

    def add_part(self, life: Governing, found: Condition) -> None:
        if found.gravity >= Condition.SET_ASIDE.gravity:
            self.quarantine += 1
            return
        self._add(1.0, life.day, bool(life.unknown) or found is Condition.UNDECIDED)

    def add_container(self, container: ContainerRecord, until: date | None) -> None:
        self._add(container.left_kg, until, until is None)

    def _add(self, amount: float, last: date | None, unknown: bool) -> None:
        self.on_hand += amount
        if last is not None and last < self.today:
            self.expired += amount
            return
        if unknown:
            self.unknown += amount
            return
        self.usable += amount
        if last is not None:
            self.first = last if self.first is None else min(self.first, last)
            if last <= self.today + timedelta(days=EXPIRING_DAYS):
                self.expiring += amount


def _row(kind: PartTypeRecord, tally: _Tally, fitted: int, reserved_for: tuple[str, ...]) -> StockRow:
    return StockRow(
        part_type_id=kind.part_type_id,
        code=kind.code,
        part_type=kind.name,
        kind=kind.kind,
        stocked_in=kind.stocked_in,
        on_hand=tally.on_hand,
        usable=tally.usable,
        expiring=tally.expiring,
        expired=tally.expired,
        unknown=tally.unknown,
        quarantine=tally.quarantine,
        fitted=fitted,
        lead_days=kind.lead_days,
        pack_size=kind.pack_size,
        price=kind.price,
        first_to_expire=tally.first,
        reserved=len(reserved_for),
        reserved_for=reserved_for,
    )
