"""Kits: what each must hold at least, what it holds, what is missing, and filling it up from the shelves."""

from dataclasses import dataclass

from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lives import KitRecord, kit_content_of, read_kits, read_life_records
from fleetbench.records.parts.lookups import part_type_by_code, read_places
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.parts.tables import KitContent
from fleetbench.records.places.tables import Place
from fleetbench.workshop.core.workplace import Shop, day_of, figure, require_person
from fleetbench.workshop.parts.acts import move_parts
from fleetbench.workshop.parts.shelf import ShelfPiece, usable_pieces

KITS = ("kit", "van")
"""Kinds of place that hold a least content."""

OTHERS = ("kit", "van", "site", "away", "quarantine", "sent back")
"""Kinds of place that a kit is not filled up from: what lies there is spoken for."""


@dataclass(frozen=True, slots=True)
class KitLine:
    """One part type that a kit must hold. held: in stock there; usable: of these, what may be fitted today.

    to_put: usable pieces on the shelves to fill it up with, those that end first at the head, no more than are missing.
    """

    place_id: int
    kit: str
    part_type_id: int
    code: str
    part_type: str
    least: int
    held: int
    usable: int
    to_put: tuple[ShelfPiece, ...]

    @property
    def missing(self) -> int:
        """Pieces to put into it; what cannot be used does not count as there."""
        return max(0, self.least - self.usable)

    @property
    def short(self) -> int:
        """Pieces missing that no shelf holds either."""
        return self.missing - len(self.to_put)


def set_kit_content(shop: Shop, place_id: int, code: str, least: int) -> None:
    """Say how many parts of a type a kit must hold at least; nought takes the type out of what it must hold."""
    require_person(shop)
    wanted = figure("least", least, 0, 500, "give the number of pieces")
    if wanted != int(wanted):
        raise Refused(f"least: {wanted:g} is not a whole number of pieces")
    with shop.acting("set kit contents", f"place {place_id}") as act:
        place, kind = act.get(Place, place_id, "place"), part_type_by_code(act.session, code)
        if place.kind not in KITS:
            raise Refused(f"place {place.name}: is a {place.kind}; choose a kit or a van")
        if kind.stocked_in != "piece":
            raise Refused(f"part type {code}: is stocked in {kind.stocked_in}; a kit's contents are counted in pieces")
        row = kit_content_of(act.session, place.id, kind.id)
        if row is None:
            act.add(KitContent(place_id=place.id, part_type_id=kind.id, least=int(wanted)))
        else:
            act.change(row, least=int(wanted))


def list_kits(shop: Shop) -> tuple[KitLine, ...]:
    """Every part type that a kit must hold, by kit and type; what is set aside, past or on hold is not usable."""
    day = day_of(shop)
    with shop.database.reading() as connection:
        types, places = read_part_types(connection), read_places(connection)
        kits = [record for record in read_kits(connection) if record.least]
        pieces = usable_pieces(connection, types, read_life_records(connection), day)
    elsewhere = {place.name for place in places if place.kind in OTHERS}
    taken: dict[int, int] = {}
    return tuple(_line(record, pieces.get(record.part_type_id, []), elsewhere, taken) for record in kits)


def fill_kit(shop: Shop, place_id: int, code: str) -> tuple[str, ...]:
    """Names of the pieces put into a kit: as many as are missing and the shelves hold, what ends first before the rest.

    Refused where nothing is missing, or no shelf holds a usable piece.
    """
    line = next((each for each in list_kits(shop) if (each.place_id, each.code) == (place_id, code)), None)
    if line is None:
        raise Refused(f"part type {code}: this kit need not hold it; say first how many it must hold")
    if not line.missing:
        raise Refused(f"kit {line.kit}: holds its {line.least} of {line.part_type}; nothing is missing")
    if not line.to_put:
        raise Refused(f"part type {code}: no usable piece lies on a shelf; order it, or look at Shelf")
    move_parts(shop, [piece.part_id for piece in line.to_put], place_id)
    return tuple(piece.part for piece in line.to_put)


def _line(record: KitRecord, pieces: list[ShelfPiece], elsewhere: set[str], taken: dict[int, int]) -> KitLine:
    """taken: pieces of each type that kits before this one are to be filled up with; no piece is offered twice."""
    usable = sum(piece.place == record.place for piece in pieces)
    free = [piece for piece in pieces if piece.place is None or piece.place not in elsewhere]
    start = taken.get(record.part_type_id, 0)
    to_put = tuple(free[start : start + max(0, record.least - usable)])
    taken[record.part_type_id] = start + len(to_put)
    return KitLine(
        record.place_id, record.place, record.part_type_id, record.code, record.part_type, record.least, record.held,
        usable, to_put,
    )  # fmt: skip
