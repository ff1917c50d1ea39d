"""What to fetch from the shelf for the work of chosen days: oldest usable first, and what is short."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.lookups import read_places
from fleetbench.records.parts.reads import read_part_types, read_parts
from fleetbench.workshop.core.workplace import Shop, day_of
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.counted import OTHERS
from fleetbench.workshop.parts.shelf import ShelfPiece, usable_pieces


@dataclass(frozen=True, slots=True)
class FetchRow:
    """One part type: pieces wanted, which to take from where in their order, and how many are short.

    wanted_for: unit and slot of each piece. take: as many as are wanted, those that end first on the shelf at the head.
    """

    part_type_id: int
    code: str
    part_type: str
    wanted: int
    wanted_for: tuple[str, ...]
    take: tuple[ShelfPiece, ...]
    short: int


def fetch_list(shop: Shop, items: Iterable[DueItem], through: date, on: date | None = None) -> tuple[FetchRow, ...]:
    """What to fetch for those due items that end by replacing a part and fall on or before a day, by part type.

    A piece is taken only where it is usable through the last day, and never out of a kit or van. An item whose day is
    not known is not among them: its date is to be found first. A fixed number of statements.
    """
    day = day_of(shop, on)
    ending: dict[int, DueItem] = {}
    for item in items:
        falls = item.last_good_day is not None and item.last_good_day <= through
        if item.item == "replace" and item.part_id is not None and falls:
            ending.setdefault(item.part_id, item)
    with shop.database.reading() as connection:
        types = read_part_types(connection)
        pieces = usable_pieces(connection, types, read_life_records(connection), day)
        elsewhere = {place.name for place in read_places(connection) if place.kind in OTHERS}
        type_of = {part.part_id: part.part_type_id for part in read_parts(connection, states=("fitted",))}
    wanted: dict[int, list[DueItem]] = defaultdict(list)
    for part_id, item in ending.items():
        if part_id in type_of:
            wanted[type_of[part_id]].append(item)
    rows = []
    for key, listed in wanted.items():
        good = [
            each
            for each in pieces.get(key, ())
            if (each.last_good_day is None or each.last_good_day >= through) and each.place not in elsewhere
        ]
        take = tuple(good[: len(listed)])
        where = tuple(", ".join(filter(None, (item.unit or "in store", item.slot))) for item in listed)
        kind = types[key]
        rows.append(FetchRow(key, kind.code, kind.name, len(listed), where, take, len(listed) - len(take)))
    return tuple(sorted(rows, key=lambda row: row.part_type))
