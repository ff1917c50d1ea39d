"""What goes along with every unit of a type, and what went along and came back with one."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetbench.records.core.errors import Refused
from fleetbench.records.hires.lookups import accessories_of, read_counts, unit_type_by_code
from fleetbench.records.hires.tables import Accessory
from fleetbench.records.readiness.readiness_reads import read_accessories
from fleetbench.records.units.reads import read_units
from fleetbench.workshop.core.figures import figure
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.work import required, somebody


@dataclass(frozen=True, slots=True)
class AccessoryLine:
    """One thing that goes along: its key, name, how many of it, and how many left and came back on a booking's line."""

    accessory_id: int
    name: str
    count: int
    sent: int | None = None
    back: int | None = None


def accessories_for(shop: Shop, tag: str) -> tuple[AccessoryLine, ...]:
    """What goes along with a unit, by its type's list; empty where the type has no list or there is no such unit."""
    with shop.database.reading() as connection:
        units = read_units(connection, tag)
        listed = read_accessories(connection)
    of_type = units[0].unit_type_id if units else None
    return tuple(AccessoryLine(each.accessory_id, each.name, each.count) for each in listed
                 if each.unit_type_id == of_type)  # fmt: skip


def counted_along(shop: Shop, line_id: int) -> tuple[AccessoryLine, ...]:
    """What was counted out with one unit on a booking, and back; one statement."""
    with shop.database.reading() as connection:
        return tuple(AccessoryLine(key, name, count, sent, back)
                     for key, name, count, sent, back in read_counts(connection, line_id))  # fmt: skip


def set_accessories(shop: Shop, unit_type: str, listed: Sequence[tuple[str, int]]) -> int:
    """How many things now stand on a unit type's list; things of the same name keep their place in the history.

    listed: name and how many, in order. One that is left out is counted no more: its count becomes nought.
    """
    somebody(shop)
    names = [required("accessory", name)[:80] for name, _ in listed]
    if len({name.casefold() for name in names}) < len(names):
        raise Refused("accessory: one stands twice; give each name once")
    with shop.acting("set accessories", f"unit type {unit_type}") as act:
        kind = unit_type_by_code(act.session, unit_type)
        known = {each.name.casefold(): each for each in accessories_of(act.session, kind.id)}
        for ordinal, (name, (_, count)) in enumerate(zip(names, listed, strict=True), 1):
            whole = int(figure(name, count, 1, 100, "enter how many go along"))
            row = known.pop(name.casefold(), None)
            if row is None:
                act.add(Accessory(unit_type_id=kind.id, name=name, count=whole, ordinal=ordinal))
            elif (row.name, row.count, row.ordinal) != (name, whole, ordinal):
                act.change(row, name=name, count=whole, ordinal=ordinal)
        for gone in known.values():
            if gone.count:
                act.change(gone, count=0)
        return len(names)
