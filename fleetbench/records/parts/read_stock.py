"""Reads of what lies on shelves."""

from sqlalchemy import Connection, func, select

from fleetbench.records.parts.tables import Fitting, Part


def count_fitted(connection: Connection) -> dict[int, int]:
    """How many parts of each type sit somewhere now; one statement."""
    query = (
        select(Part.part_type_id, func.count())
        .join(Fitting, Fitting.part_id == Part.id)
        .where(Fitting.removed_at.is_(None))
        .group_by(Part.part_type_id)
    )
    return {part_type_id: number for part_type_id, number in connection.execute(query)}


def read_once_fitted(connection: Connection) -> frozenset[int]:
    """Keys of the parts in stock that sat somewhere before, so that they are no longer sealed; one statement."""
    query = select(Fitting.part_id).join(Part, Part.id == Fitting.part_id).where(Part.state == "stock").distinct()
    return frozenset(connection.scalars(query))
