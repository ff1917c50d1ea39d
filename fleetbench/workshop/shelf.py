"""What lies on the shelves and may be taken: usable pieces of each part type, those that end first at the head."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from fleetbench.calc.life import governing
from fleetbench.calc.notices import Marks, Scope, covers_part
from fleetbench.records.demand_reads import read_shelf_places
from fleetbench.records.read_lives import LifeRecords
from fleetbench.records.read_notices import read_notice_scopes
from fleetbench.records.read_parts import PartRecord, PartTypeRecord, read_parts
from fleetbench.records.read_stock import read_once_fitted
from fleetbench.records.read_units import read_holds
from fleetbench.workshop.centre import Day
from fleetbench.workshop.life_book import book_of


@dataclass(frozen=True, slots=True)
class ShelfPiece:
    """One piece that may be fitted today. last_good_day: on the shelf, None where no limit ends it there."""

    part_id: int
    part_type_id: int
    part: str
    lot: str | None
    place: str | None
    made_on: date | None
    received_on: date | None
    last_good_day: date | None


def usable_pieces(
    connection: Connection, types: dict[int, PartTypeRecord], lives: LifeRecords, day: Day
) -> dict[int, list[ShelfPiece]]:
    """Usable pieces by part type, those that end first before all others, then the oldest.

    Left out: what is on hold, under a stopping notice, past, or of a life that is not known.
    """
    book, once = book_of(lives, day), read_once_fitted(connection)
    held = {hold.part_id for hold in read_holds(connection) if hold.part_id is not None}
    stops = [Scope(s.covers, s.first, s.last) for s in read_notice_scopes(connection) if s.weight == "stop"]
    places = read_shelf_places(connection)
    found: dict[int, list[ShelfPiece]] = defaultdict(list)
    for part in read_parts(connection, states=("stock",)):
        if part.part_id in held or _stopped(part, types[part.part_type_id], stops):
            continue
        life = governing(book.last_good_days(part, ever_fitted=part.part_id in once))
        if life.unknown or (life.day is not None and life.day < day.today):
            continue
        found[part.part_type_id].append(
            ShelfPiece(part.part_id, part.part_type_id, part.label, part.lot, places.get(part.part_id), part.made_on,
                       part.received_on, life.day)
        )  # fmt: skip
    for pieces in found.values():
        pieces.sort(key=_first_to_take)
    return found


def _first_to_take(piece: ShelfPiece) -> tuple[date, date, date, int]:
    age = piece.made_on or date.max, piece.received_on or date.max
    return piece.last_good_day or date.max, *age, piece.part_id


def _stopped(part: PartRecord, kind: PartTypeRecord, stops: list[Scope]) -> bool:
    marks = Marks(part.serial, part.lot, part.firmware, (kind.code, kind.name))
    return any(covers_part(scope, marks) for scope in stops)
