"""What placing a hold after an incident must look up: cylinders in a unit, and what was filled from the same batch."""

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from fleetbench.records.bench.lookups import seats_of
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.gas.tables import CylinderFill
from fleetbench.records.parts.tables import Part
from fleetbench.records.units.tables import Hold, Unit

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


def packed_with(session: Session, unit: Unit) -> tuple[Part, ...]:
    """Every other canister whose standing fill is from the container that the unit's standing fill is from."""
    mine = {seat.part.id for seat in seats_of(session, unit) if seat.part}
    standing = select(Fill.part_id, Fill.container_id).where(Fill.discarded_at.is_(None))
    rows = session.execute(standing.where(Fill.container_id.is_not(None))).all()
    containers = {row.container_id for row in rows if row.part_id in mine}
    others = {row.part_id for row in rows if row.container_id in containers and row.part_id not in mine}
    return tuple(session.scalars(select(Part).where(Part.id.in_(others)).order_by(Part.id)))


def held_with(session: Session, hold: Hold) -> tuple[tuple[Part, str], ...]:
    """Parts that were held in the same act as a unit, each with its reason; lifted ones left out."""
    query = (
        select(Part, Hold.reason)
        .join(Hold, Hold.part_id == Part.id)
        .where(Hold.kind == hold.kind, Hold.placed_at == hold.placed_at, Hold.lifted_at.is_(None))
    )
    return tuple((part, reason) for part, reason in session.execute(query.order_by(Hold.id)))
