"""Kits: what each must hold at least, what it holds, and what is missing."""

from dataclasses import dataclass

from fleetbench.records.demand_reads import KitRecord, kit_content_of, read_kits
from fleetbench.records.errors import Refused
from fleetbench.records.part_events import KitContent
from fleetbench.records.part_reads import part_type_by_code
from fleetbench.records.places import Place
from fleetbench.workshop.figures import figure
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.ticket_work import somebody


@dataclass(frozen=True, slots=True)
class KitLine:
    """One part type that a kit must hold."""

    kit: str
    part_type: str
    least: int
    held: int

    @property
    def missing(self) -> int:
        """Pieces to put into it."""
        return max(0, self.least - self.held)


def set_kit_content(shop: Shop, place_id: int, code: str, least: int) -> None:
    """Say how many parts of a type a kit must hold at least; nought takes the type out of what it must hold."""
    somebody(shop)
    wanted = figure("least", least, 0, 500, "give the number of pieces")
    if wanted != int(wanted):
        raise Refused(f"least: {wanted:g} is not a whole number of pieces")
    with shop.acting("set kit contents", f"place {place_id}") as act:
        place, kind = act.get(Place, place_id, "place"), part_type_by_code(act.session, code)
        if place.kind not in ("kit", "van"):
            raise Refused(f"place {place.name}: is a {place.kind}; choose a kit or a van")
        row = kit_content_of(act.session, place.id, kind.id)
        if row is None:
            act.add(KitContent(place_id=place.id, part_type_id=kind.id, least=int(wanted)))
        else:
            act.change(row, least=int(wanted))


def list_kits(shop: Shop) -> tuple[KitLine, ...]:
    """Every part type that a kit must hold, by kit and type; what is set aside is not held."""
    with shop.database.reading() as connection:
        return tuple(map(_line, (record for record in read_kits(connection) if record.least)))


def _line(record: KitRecord) -> KitLine:
    return KitLine(record.place, record.part_type, record.least, record.held)
