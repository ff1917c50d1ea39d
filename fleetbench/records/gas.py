"""Cylinders, what was filled into them, and what an analyser said of it."""

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.schema import Base, Key, Ref, one_of, to


class Cylinder(Base):
    """What a part that is a cylinder has beyond other parts."""

    __tablename__ = "cylinder"
    id: Mapped[Key]
    part_id: Mapped[int] = to("part", unique=True)
    role: Mapped[str] = mapped_column(String(12))
    size_l: Mapped[float]
    working_bar: Mapped[float]
    material: Mapped[str | None] = mapped_column(String(20))
    marking: Mapped[str | None] = mapped_column(String(60))
    __table_args__ = (one_of("role", ("oxygen", "diluent", "bailout", "drive gas")),)


class CylinderFill(Base):
    """One filling of a cylinder; an analysis before it is stale."""

    __tablename__ = "cylinder_fill"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    oxygen_asked: Mapped[float]
    helium_asked: Mapped[float]
    start_bar: Mapped[float | None]
    end_bar: Mapped[float]
    person_id: Mapped[int | None] = to("person", nullable=True)
    batch: Mapped[str | None] = mapped_column(String(60))
    oxygen_compatible: Mapped[bool | None]


class GasAnalysis(Base):
    """What an analyser showed of a cylinder, by the centre or by the diver."""

    __tablename__ = "gas_analysis"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    oxygen_percent: Mapped[float | None]
    helium_percent: Mapped[float | None]
    analyser_id: Mapped[int | None] = to("test_equipment", nullable=True)
    person_id: Mapped[int | None] = to("person", nullable=True)
    by_diver: Mapped[bool] = mapped_column(default=False)
