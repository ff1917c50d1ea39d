"""Unit types with their slots and readers, and the units themselves."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.core.wall_time import Precision
from fleetbench.calc.readiness.facts import HoldKind
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, SlotName, Words, one_of, to

BUILDS = ("back-mounted", "chest-mounted", "side-mounted", "not known")
READERS = ("handset", "head-up display", "bench meter")


class UnitType(Base):
    """What units of one build share."""

    __tablename__ = "unit_type"
    id: Mapped[Key]
    ref: Mapped[Ref]
    code: Mapped[str] = mapped_column(Words(40), unique=True)
    name: Mapped[str] = mapped_column(Words(120))
    build: Mapped[str] = mapped_column(OwnWord(20))
    loop_volume_l: Mapped[float | None]
    head_volume_l: Mapped[float | None]
    flush_l_min: Mapped[float | None]
    first_stage_blocked: Mapped[bool | None]
    set_point_low_bar: Mapped[float | None]
    set_point_high_bar: Mapped[float | None]
    manual: Mapped[str] = mapped_column(Words(300))
    __table_args__ = (one_of("build", BUILDS),)


class Slot(Base):
    """A named place that takes one part: in a unit of a type, or in an assembly of a part type."""

    __tablename__ = "slot"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int | None] = to("unit_type", nullable=True)
    assembly_type_id: Mapped[int | None] = to("part_type", nullable=True)
    name: Mapped[str] = mapped_column(SlotName(60))
    kind: Mapped[str] = mapped_column(OwnWord(40))
    critical: Mapped[bool] = mapped_column(default=True)
    ordinal: Mapped[int]
    flow_place: Mapped[int | None]
    oxygen_side: Mapped[bool] = mapped_column(default=False)


class SlotPartType(Base):
    """A part type that a slot is made for; a slot without any takes every part of its kind, which is told."""

    __tablename__ = "slot_part_type"
    id: Mapped[Key]
    ref: Mapped[Ref]
    slot_id: Mapped[int] = to("slot")
    part_type_id: Mapped[int] = to("part_type")
    __table_args__ = (UniqueConstraint("slot_id", "part_type_id", name="uq_slot_part_type_slot_part_type"),)


class Reader(Base):
    """Electronics of a unit type that read cells on their own: a handset, a head-up display."""

    __tablename__ = "reader"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_type_id: Mapped[int] = to("unit_type")
    slot_id: Mapped[int | None] = to("slot", nullable=True)
    name: Mapped[str] = mapped_column(Words(40))
    kind: Mapped[str] = mapped_column(OwnWord(20))
    ordinal: Mapped[int]
    zero_offset_mv: Mapped[float] = mapped_column(default=0.1)
    __table_args__ = (one_of("kind", READERS),)


class ReaderCell(Base):
    """What one reader shows of one cell position: mV, pO2 only, or nothing."""

    __tablename__ = "reader_cell"
    id: Mapped[Key]
    ref: Mapped[Ref]
    reader_id: Mapped[int] = to("reader")
    cell_slot_id: Mapped[int] = to("slot")
    shows: Mapped[str] = mapped_column(Words(10))
    resolution: Mapped[float | None]
    __table_args__ = (one_of("shows", ("mV", "pO2", "nothing")),)


class Unit(Base):
    """One rebreather with its asset tag; in_service_precision: nothing where the day itself is known."""

    __tablename__ = "unit"
    id: Mapped[Key]
    ref: Mapped[Ref]
    tag: Mapped[str] = mapped_column(Words(30), unique=True)
    former_tag: Mapped[str | None] = mapped_column(Words(30), unique=True)
    unit_type_id: Mapped[int] = to("unit_type")
    serial: Mapped[str | None] = mapped_column(Words(60))
    owner_id: Mapped[int] = to("owner")
    place_id: Mapped[int | None] = to("place", nullable=True)
    in_service_on: Mapped[date | None]
    in_service_precision: Mapped[str | None] = mapped_column(Words(10))
    retired_on: Mapped[date | None]
    harness: Mapped[str | None] = mapped_column(Words(20))
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (one_of("in_service_precision", Precision),)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class Absence(Base):
    """A unit sent away: yearly service, warranty, a trip."""

    __tablename__ = "absence"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    place_id: Mapped[int | None] = to("place", nullable=True)
    why: Mapped[str] = mapped_column(Words(200))
    left_at: Mapped[datetime]
    expected_on: Mapped[date | None]
    back_at: Mapped[datetime | None]


class Hold(Base):
    """A reason why a unit or a part may not go out, placed by a person and lifted by one."""

    __tablename__ = "hold"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int | None] = to("unit", nullable=True)
    part_id: Mapped[int | None] = to("part", nullable=True)
    kind: Mapped[str] = mapped_column(OwnWord(20))
    reason: Mapped[str]
    placed_at: Mapped[datetime]
    placed_by_id: Mapped[int] = to("person")
    lifted_at: Mapped[datetime | None]
    lifted_by_id: Mapped[int | None] = to("person", nullable=True)
    lift_reason: Mapped[str | None]
    __table_args__ = (one_of("kind", HoldKind),)
