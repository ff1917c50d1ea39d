"""What bears on the bench tests of one unit: its type, what sits in it, and every limit in force."""

from dataclasses import dataclass

from sqlalchemy.orm import Session

from fleetbench.records.bench.lookups import Seat, limit_rows, seats_of
from fleetbench.records.places.tables import Limit
from fleetbench.records.units.tables import Unit, UnitType

Named = dict[str, Limit]
"""Limits in force by name: the part type's own, then the unit type's, then the centre's."""


@dataclass(frozen=True, slots=True)
class TypeFacts:
    """What the tests need to know of a unit's type, with the limits that stand on it and on the types of its parts."""

    kind: UnitType
    seats: tuple[Seat, ...]
    of_type: Named
    of_parts: dict[int, Named]

    def limits(self, seat: Seat | None) -> Named:
        """The limits in force for what sits in a seat, or for the whole unit."""
        own = self.of_parts.get(seat.part.part_type_id, {}) if seat is not None and seat.part is not None else {}
        return self.of_type | own

    def own_limits(self, seat: Seat) -> Named:
        """The limits that the part's own type states, for what the unit type's manual does not speak of."""
        return self.of_parts.get(seat.part.part_type_id, {}) if seat.part is not None else {}

    def seat(self, slot: str | None) -> Seat | None:
        """The seat of that name that holds a part."""
        return next((seat for seat in self.seats if seat.slot.name == slot and seat.part is not None), None)


def type_facts(session: Session, unit: Unit) -> TypeFacts:
    """The unit's type with every limit that bears on its tests, read inside an open session."""
    seats = seats_of(session, unit)
    part_types = {seat.part.part_type_id for seat in seats if seat.part is not None}
    rows = limit_rows(session, unit_type_id=unit.unit_type_id)
    centre_first = sorted(rows, key=lambda row: row.unit_type_id is not None)
    of_parts: dict[int, Named] = {key: {} for key in part_types}
    for row in limit_rows(session, part_type_ids=part_types):
        if row.part_type_id is not None:
            of_parts[row.part_type_id][row.name] = row
    kind = session.get_one(UnitType, unit.unit_type_id)
    return TypeFacts(kind, seats, {row.name: row for row in centre_first}, of_parts)
