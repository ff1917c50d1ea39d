"""A cylinder taken in with what is stamped on it, and what the desk offers for it: part types, rules, specifications.

receive_cylinder(shop, entry)        received, entered as a cylinder, its stamped tests with it
cylinder_choices(shop)               part types of cylinders, places, owners, rules
specification_of(shop, gas)          the lines that a certificate of a gas is held against
"""

from dataclasses import dataclass

from fleetbench.calc.gas.cylinders import Specification
from fleetbench.calc.parts.intervals import CYLINDER_RULES, CylinderRule
from fleetbench.calc.parts.life import MarkedDate
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.reads import part_with_serial, read_gas, read_owners
from fleetbench.records.parts.lookups import PlaceRecord, read_places
from fleetbench.records.parts.reads import PartTypeRecord, read_lives, read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.workshop.core.centre import day_of
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.cylinder_tests import ROLES, checked_cylinder, enter_cylinder, record_test
from fleetbench.workshop.gas.state import CylinderBook
from fleetbench.workshop.parts.receive import Delivery, receive_serials
from fleetbench.workshop.tickets.work import required


@dataclass(frozen=True, slots=True, kw_only=True)
class NewCylinder:
    """A cylinder as it is taken in; dates as stamped, None is not known. size_l of water, working_bar at 15 C.

    owner_id: the centre where None.
    """

    code: str
    serial: str
    role: str
    size_l: float
    working_bar: float
    material: str | None = None
    marking: str | None = None
    made: MarkedDate | None = None
    hydrostatic: MarkedDate | None = None
    visual: MarkedDate | None = None
    place_id: int | None = None
    owner_id: int | None = None


@dataclass(frozen=True, slots=True)
class CylinderChoices:
    """What is offered where a cylinder is taken in or a rule is set; intervals: by part type and test, in months."""

    types: tuple[PartTypeRecord, ...]
    places: tuple[PlaceRecord, ...]
    owners: tuple[tuple[int, str], ...]
    rules: tuple[CylinderRule, ...]
    intervals: dict[tuple[int, str], tuple[float, str]]


def cylinder_choices(shop: Shop) -> CylinderChoices:
    """Part types of cylinders by name, places, owners, and the rules that are known."""
    with shop.database.reading() as connection:
        types = [each for each in read_part_types(connection).values() if each.kind.endswith("cylinder")]
        places, owners = read_places(connection), read_owners(connection)
        lives = read_lives(connection)
    intervals = {(each.part_type_id, each.test): (each.amount, each.source) for each in lives if each.test}
    return CylinderChoices(tuple(sorted(types, key=lambda each: each.name)), places, owners, CYLINDER_RULES, intervals)


def receive_cylinder(shop: Shop, entry: NewCylinder) -> int:
    """The key of the part; a part of that type and serial that is recorded already is only entered as a cylinder.

    Everything is looked at before anything is written. What is stamped on it counts as its last tests.
    """
    checked_cylinder(entry.role, entry.size_l, entry.working_bar)
    serial, today = required("serial", entry.serial), shop.today()
    for name, mark in (("hydrostatic", entry.hydrostatic), ("visual", entry.visual), ("made", entry.made)):
        if mark is not None and mark.first_day > today:
            raise Refused(f"{name}: {mark} lies ahead; look at the stamp")
        if mark is not None and entry.made is not None and mark.last_day < entry.made.first_day:
            raise Refused(f"{name}: {mark} lies before it was made, {entry.made}; look at both")
    with shop.database.reading() as connection:
        part_id = part_with_serial(connection, entry.code, serial)
    if part_id is None:
        delivery = Delivery(made=entry.made, place_id=entry.place_id, owner_id=entry.owner_id)
        part_id = receive_serials(shop, entry.code, [serial], delivery).part_ids[0]
    enter_cylinder(
        shop, part_id, role=entry.role, size_l=entry.size_l, working_bar=entry.working_bar, material=entry.material,
        marking=entry.marking,
    )  # fmt: skip
    for kind, mark in (("hydrostatic", entry.hydrostatic), ("visual", entry.visual)):
        if mark is not None:
            record_test(shop, [part_id], kind, done=mark, done_by="as stamped")
    return part_id


def role_of(kind: str) -> str:
    """The role that a kind of part is for, such as oxygen for `oxygen cylinder`; diluent where it names none."""
    role = kind.removesuffix("cylinder").strip()
    return role if role in ROLES else "diluent"


def specification_of(shop: Shop, gas: str) -> Specification:
    """The lines that a certificate of oxygen or air is held against, with the centre's own limits."""
    day = day_of(shop)
    with shop.database.reading() as connection:
        return CylinderBook(read_gas(connection, ()), day.zone, read_limits(connection)).specification(gas)
