"""Reads of cylinders with their last fill and the last analysis of it."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select

from fleetbench.records.core.record_rows import Query, records_of
from fleetbench.records.gas.tables import Cylinder, CylinderFill, GasAnalysis
from fleetbench.records.parts.tables import Part
from fleetbench.records.places.tables import Place


@dataclass(frozen=True, slots=True)
class CylinderRecord:
    """What a cylinder has beyond other parts, with its last fill and its last analysis."""

    part_id: int
    role: str
    size_l: float
    working_bar: float
    material: str | None
    marking: str | None
    place: str | None
    filled_at: datetime | None
    end_bar: float | None
    oxygen_asked: float | None
    helium_asked: float | None
    analysed_at: datetime | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_by_id: int | None
    by_diver: bool | None

    @property
    def stale(self) -> bool:
        """Whether no analysis was made since the last fill; of a cylinder never filled, whether none was made."""
        if self.analysed_at is None:
            return True
        return self.filled_at is not None and self.analysed_at <= self.filled_at


def read_cylinders(connection: Connection, parts: Query | None = None) -> tuple[CylinderRecord, ...]:
    """Cylinders, of all or of given parts, by key; one statement."""
    put_right = select(CylinderFill.supersedes_id).where(CylinderFill.supersedes_id.is_not(None))
    analysed_anew = select(GasAnalysis.supersedes_id).where(GasAnalysis.supersedes_id.is_not(None))
    filled = func.row_number().over(
        partition_by=CylinderFill.part_id, order_by=(CylinderFill.at.desc(), CylinderFill.id.desc())
    )
    fills = select(CylinderFill, filled.label("rank")).where(CylinderFill.id.not_in(put_right)).subquery()
    analysed = func.row_number().over(
        partition_by=GasAnalysis.part_id, order_by=(GasAnalysis.at.desc(), GasAnalysis.id.desc())
    )
    seen = select(GasAnalysis, analysed.label("rank")).where(GasAnalysis.id.not_in(analysed_anew)).subquery()
    query = (
        select(
            Part.id, Cylinder.role, Cylinder.size_l, Cylinder.working_bar, Cylinder.material, Cylinder.marking,
            Place.name, fills.c.at, fills.c.end_bar, fills.c.oxygen_asked, fills.c.helium_asked, seen.c.at,
            seen.c.oxygen_percent, seen.c.helium_percent, seen.c.person_id, seen.c.by_diver,
        )
        .join(Part, Part.id == Cylinder.part_id)
        .outerjoin(Place, Place.id == Part.place_id)
        .outerjoin(fills, (fills.c.part_id == Part.id) & (fills.c.rank == 1))
        .outerjoin(seen, (seen.c.part_id == Part.id) & (seen.c.rank == 1))
        .order_by(Part.id)
    )  # fmt: skip
    if parts is not None:
        query = query.where(Part.id.in_(parts))
    return records_of(connection, query, CylinderRecord)
