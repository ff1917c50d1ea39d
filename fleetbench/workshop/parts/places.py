"""Places where things lie and owners of what the centre handles: listed with what is there, and entered."""

from dataclasses import dataclass

from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lookups import count_by_owner, count_by_place
from fleetbench.records.places.tables import OWNER_KINDS, PLACE_KINDS, Owner, Place
from fleetbench.workshop.core.workplace import Shop, one_word, require_person, required

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


def list_places(shop: Shop) -> tuple[PlaceRow, ...]:
    """Every place by name, then every owner by name."""
    with shop.database.reading() as connection:
        places = [PlaceRow("place", *each) for each in count_by_place(connection)]
        owners = [PlaceRow("owner", *each) for each in count_by_owner(connection)]
    return (*places, *owners)


def add_place(shop: Shop, name: str, kind: str) -> int:
    """The key of a new place. kind: a shelf, bench, kit, van, site, quarantine, for parts sent back, or away."""
    require_person(shop)
    said = _name(name)
    one_word("kind", kind, PLACE_KINDS)
    with shop.acting("add place", f"place {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_place(act.session.connection())):
            raise Refused(f"name {said}: is a place already; choose another name")
        return act.add(Place(name=said, kind=kind)).id


def add_owner(shop: Shop, name: str, kind: str) -> int:
    """The key of a new owner. kind: centre, loan, or renter: what is a renter's own is never hired out."""
    require_person(shop)
    said = _name(name)
    one_word("kind", kind, OWNER_KINDS)
    with shop.acting("add owner", f"owner {said}") as act:
        if any(each[1].casefold() == said.casefold() for each in count_by_owner(act.session.connection())):
            raise Refused(f"name {said}: is an owner already; choose another name")
        return act.add(Owner(name=said, kind=kind)).id


def _name(name: str) -> str:
    said = required("name", name)
    if len(said) > LONGEST_NAME:
        raise Refused(f"name: is longer than {LONGEST_NAME} characters; shorten it")
    return said
