"""Kits: what each must hold at least, what it holds, what is missing, and filling it up from the shelves.

Parts kept as counted stock: pieces of a lot without serials, counted on the shelf and used up at the bench.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.kinds import KITS, NOT_TO_FIT, PartState, PlaceKind, ShelfEvent
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.parts.lives import KitRecord, kit_content_of, read_kits, read_life_records
from fleetbench.records.parts.lookups import (
    StockCountRecord,
    last_counted_out,
    open_ticket_keys,
    part_type_by_code,
    read_places,
    read_stock_counts,
    shelf_of,
    shelf_of_type,
)
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.parts.tables import KitContent, Part, PartType, StockCount
from fleetbench.records.people.reads import read_names
from fleetbench.records.places.tables import Place
from fleetbench.records.tickets.reads import read_ticket_numbers
from fleetbench.records.upkeep.lookups import open_holds
from fleetbench.workshop.core.workplace import Workplace, day_of, figure, require_person, required, with_theirs
from fleetbench.workshop.parts.acts import move_parts, note_event
from fleetbench.workshop.parts.receive import MOST_AT_ONCE, reasons_to_set_aside
from fleetbench.workshop.parts.stock import ShelfPiece, usable_pieces
from fleetbench.workshop.tickets.work import open_one

"""Kinds of place that hold a least content."""

OTHERS = (*KITS, PlaceKind.SITE, *NOT_TO_FIT)
"""Kinds of place that a kit is not filled up from: what lies there is spoken for."""


@dataclass(frozen=True, slots=True)
class KitLine:
    """One part type that a kit must hold. held: in stock there; usable: of these, what may be fitted today.

    to_put: usable pieces on the shelves to fill it up with, those that end first at the head, no more than are missing.
    """

    needs: KitRecord
    usable: int
    to_put: tuple[ShelfPiece, ...]

    @property
    def missing(self) -> int:
        """Pieces to put into it; what cannot be used does not count as there."""
        return max(0, self.needs.least - self.usable)

    @property
    def short(self) -> int:
        """Pieces missing that no shelf holds either."""
        return self.missing - len(self.to_put)


def set_kit_content(
    workplace: Workplace, place_id: int, code: str, least: int, seen: Mapping[str, Any] | None = None
) -> None:
    """Say how many parts of a type a kit must hold at least; zero takes the type out of what it must hold.

    seen: what the user saw, place and type with it; Clash where another desk changed it since.
    """
    require_person(workplace)
    wanted = figure("least", least, 0, 500, "give the number of pieces")
    if wanted != int(wanted):
        raise Refused(say("least: {wanted:g} is not a whole number of pieces", wanted=wanted))
    with workplace.transaction("set kit contents", f"place {place_id}") as act:
        place, kind = act.get(Place, place_id, "place"), part_type_by_code(act.session, code)
        if place.kind not in KITS:
            raise Refused(
                say("place {place}: is a {kind}; choose a kit or a van", place=place.name, kind=say(place.kind))
            )
        if kind.stocked_in != "piece":
            raise Refused(
                say(
                    "part type {code}: is stocked in {unit}; a kit's contents are counted in pieces",
                    code=code,
                    unit=kind.stocked_in,
                )
            )
        row = kit_content_of(act.session, place.id, kind.id)
        if row is None:
            act.add(KitContent(place_id=place.id, part_type_id=kind.id, least=int(wanted)))
        else:
            mine, now = ({"place_id": place_id, "code": code, "least": each} for each in (int(wanted), row.least))
            of_this = seen if seen and (seen["place_id"], seen["code"]) == (place_id, code) else None
            act.change(
                row, least=with_theirs(f"place {place.name}", mine, of_this, now, {"least": ("least",)})["least"]
            )


def list_kits(workplace: Workplace) -> tuple[KitLine, ...]:
    """Every part type that a kit must hold, by kit and type; what is set aside, past or on hold is not usable."""
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        types, places = read_part_types(connection), read_places(connection)
        kits = [record for record in read_kits(connection) if record.least]
        pieces = usable_pieces(connection, types, read_life_records(connection), day)
    elsewhere = {place.name for place in places if place.kind in OTHERS}
    taken: dict[int, int] = {}
    return tuple(_line(record, pieces.get(record.part_type_id, []), elsewhere, taken) for record in kits)


def fill_kit(workplace: Workplace, place_id: int, code: str) -> tuple[str, ...]:
    """Names of the pieces put into a kit: as many as are missing and the shelves hold, what ends first before the rest.

    Refused where nothing is missing, or no shelf holds a usable piece.
    """
    line = next(
        (each for each in list_kits(workplace) if (each.needs.place_id, each.needs.code) == (place_id, code)), None
    )
    if line is None:
        raise Refused(say("part type {code}: this kit need not hold it; say first how many it must hold", code=code))
    if not line.missing:
        needs = line.needs
        raise Refused(
            say(
                "kit {place}: holds its {least} of {part_type}; nothing is missing",
                place=needs.place,
                least=needs.least,
                part_type=needs.part_type,
            )
        )
    if not line.to_put:
        raise Refused(say("part type {code}: no usable piece lies on a shelf; order it, or look at Shelf", code=code))
    move_parts(workplace, [piece.part.part_id for piece in line.to_put], place_id)
    return tuple(piece.part.label for piece in line.to_put)


def _line(record: KitRecord, pieces: list[ShelfPiece], elsewhere: set[str], taken: dict[int, int]) -> KitLine:
    """taken: pieces of each type that kits before this one are to be filled up with; no piece is offered twice."""
    usable = sum(piece.place == record.place for piece in pieces)
    free = [piece for piece in pieces if piece.place is None or piece.place not in elsewhere]
    start = taken.get(record.part_type_id, 0)
    to_put = tuple(free[start : start + max(0, record.least - usable)])
    taken[record.part_type_id] = start + len(to_put)
    return KitLine(record, usable, to_put)


def count_stock(workplace: Workplace, code: str, lot: str | None, counted: int, reason: str) -> int:
    """Correct the pieces of a lot by what was counted, with the reason; returns counted less the book.

    Missing pieces leave stock as not found. Pieces over the book are those that an earlier count did not find; beyond
    these nothing is known of them, so that they are refused: receive them with what is marked on them.
    """
    person = require_person(workplace)
    said = required("reason", reason)[:300]
    found = _whole("counted", counted, 0)
    with workplace.transaction("stock-take", f"part type {code}{f', lot {lot}' if lot else ''}") as act:
        kind = part_type_by_code(act.session, code)
        shelf = shelf_of(act.session, kind.id, lot)
        over = found - len(shelf)
        back = last_counted_out(act.session, kind.id, lot)[: max(0, over)]
        if over > len(back):
            more = over - len(back)
            raise Refused(
                say(
                    "counted: {found}, but {count} are recorded; receive the other {more} with their marks",
                    found=found,
                    count=len(shelf),
                    more=more,
                )
            )
        act.add(
            StockCount(part_type_id=kind.id, lot=lot, at=act.at, person_id=person, book=len(shelf), counted=found,
                       reason=said)
        )  # fmt: skip
        # The newest are taken for missing: the older ones that stay ask for attention sooner.
        for part in list(reversed(shelf))[: max(0, -over)]:
            note_event(act, part, ShelfEvent.NOT_FOUND, said)
            act.change(part, state=PartState.SCRAPPED)
        for part in back:
            note_event(act, part, ShelfEvent.FOUND, said)
            act.change(part, state="stock")
        return over


def use_up(
    workplace: Workplace, code: str, quantity: int, reason: str, *, ticket_id: int | None = None
) -> tuple[int, ...]:
    """Keys of the pieces of a consumable taken from the shelf and used, oldest usable first.

    Refused where fewer usable pieces are there: what is past, on hold or under a stopping notice is not taken.
    """
    require_person(workplace)
    said, wanted, today = required("reason", reason)[:300], _whole("quantity", quantity, 1), workplace.today()
    with workplace.transaction("use up", f"part type {code}") as act:
        kind = part_type_by_code(act.session, code)
        if ticket_id is not None:
            open_one(act, ticket_id)
        return take_within(act, kind, wanted, said, today, ticket_id)


def take_within(
    act: Transaction, kind: PartType, wanted: int, reason: str, today: date, ticket_id: int | None = None,
    *, step_result_id: int | None = None,
) -> tuple[int, ...]:  # fmt: skip
    """Keys of the pieces taken from the shelf and used within an act, oldest usable first; as `use_up` refuses."""
    usable = [
        part
        for part in sorted(shelf_of_type(act.session, kind.id), key=_age)
        if part.serial is None
        and not open_holds(act.session, part_id=part.id)
        and not reasons_to_set_aside(act.session, part, kind, today)[0]
    ]
    if len(usable) < wanted:
        raise Refused(
            say(
                "quantity: {wanted} asked for, {count} usable on the shelf; order or count them",
                wanted=wanted,
                count=len(usable),
            )
        )
    for part in usable[:wanted]:
        note_event(act, part, ShelfEvent.USED_UP, reason, ticket_id, step_result_id=step_result_id)
        act.change(part, state=PartState.SCRAPPED, place_id=None)
    return tuple(part.id for part in usable[:wanted])


@dataclass(frozen=True, slots=True)
class LotOnShelf:
    """Pieces of a lot without serials of their own, as the book has them; lot None is not marked."""

    lot: str | None
    pieces: int


@dataclass(frozen=True, slots=True)
class CountedStock:
    """What of a part type is kept as counted pieces. lots: on the shelf now or counted before; counts: newest first.

    tickets: key and number of every open ticket, which what is used up may be booked on.
    """

    code: str
    lots: tuple[LotOnShelf, ...]
    counts: tuple[tuple[StockCountRecord, str | None], ...]
    tickets: tuple[tuple[int, str], ...]


def counted_stock(workplace: Workplace, code: str) -> CountedStock:
    """The lots and counts of a part type; NotFound for a code that is not in the catalogue."""
    with workplace.database.read_session() as session:
        kind = part_type_by_code(session, code)
        book = Counter(part.lot for part in shelf_of_type(session, kind.id) if part.serial is None)
        counts = [each for each in read_stock_counts(session.connection()) if each.part_type_id == kind.id]
        names = read_names(session.connection())
        words = read_ticket_numbers(session.connection())
        numbers = [(key, words[key]) for key in sorted(open_ticket_keys(session))]
    lots = {**{each.lot: 0 for each in counts}, **book}
    return CountedStock(
        code,
        tuple(LotOnShelf(lot, lots[lot]) for lot in sorted(lots, key=lambda lot: lot or "")),
        tuple((each, names.get(each.person_id or 0)) for each in counts),
        tuple(numbers),
    )


def _age(part: Part) -> tuple[date, date, int]:
    return part.made_on or date.min, part.received_on or date.min, part.id


def _whole(field: str, value: int, least: int) -> int:
    number = figure(field, value, least, MOST_AT_ONCE, "give the number of pieces")
    if number != int(number):
        raise Refused(
            say("{field}: {number:g} is not a whole number of pieces; count them", field=say(field), number=number)
        )
    return int(number)
