"""What placing a hold after an incident must look up: cylinders in a unit, and those filled from the same batch."""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from fleetbench.records.bench_reads import seats_of
from fleetbench.records.gas import CylinderFill
from fleetbench.records.parts import Part
from fleetbench.records.units import Unit

CYLINDER_KINDS = frozenset(("oxygen cylinder", "diluent cylinder", "bailout cylinder", "drive gas cylinder"))


def cylinders_in(session: Session, unit: Unit) -> tuple[Part, ...]:
    """The cylinders that sit in a unit."""
    return tuple(seat.part for seat in seats_of(session, unit) if seat.part and seat.slot.kind in CYLINDER_KINDS)


def filled_with(session: Session, part_ids: Iterable[int]) -> tuple[Part, ...]:
    """Every other cylinder whose last fill is of a batch that the last fill of one of these is of."""
    superseded = select(CylinderFill.supersedes_id).where(CylinderFill.supersedes_id.is_not(None))
    query = select(CylinderFill.part_id, CylinderFill.batch).where(CylinderFill.id.not_in(superseded))
    last = {row.part_id: row.batch for row in session.execute(query.order_by(CylinderFill.at, CylinderFill.id)).all()}
    mine = set(part_ids)
    batches = {last[key] for key in mine if last.get(key)}
    others = [key for key, batch in last.items() if batch in batches and key not in mine]
    return tuple(session.scalars(select(Part).where(Part.id.in_(others)).order_by(Part.id)))
