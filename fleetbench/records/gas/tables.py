"""Cylinders, what was filled into them, what an analyser and a gauge said of it, and what a supplier certified.

What ends a part's oxygen-clean status, and which lubricant and seal kits were used under a ticket.
"""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, Words, one_of, to

CERTIFIED = ("oxygen", "air")
SIGNED = ("on paper", "by PIN")
"""How a diver signed that the gas is what the analysis says."""


class Cylinder(Base):
    """What a part that is a cylinder has beyond other parts."""

    __tablename__ = "cylinder"
    id: Mapped[Key]
    part_id: Mapped[int] = to("part", unique=True)
    role: Mapped[str] = mapped_column(OwnWord(12))
    size_l: Mapped[float]
    working_bar: Mapped[float]
    material: Mapped[str | None] = mapped_column(Words(20))
    marking: Mapped[str | None] = mapped_column(Words(60))
    __table_args__ = (one_of("role", GasRole),)


class CylinderFill(Base):
    """One filling of a cylinder; an analysis before it is stale.

    batch: of the gas, or the bank it came from. machine: compressor or booster. temperature_c: of the cylinder when
    end_bar was read. note: what was asked about and kept all the same. supersedes_id: the fill that it puts right.
    """

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
    batch: Mapped[str | None] = mapped_column(Words(60))
    oxygen_compatible: Mapped[bool | None]
    machine: Mapped[str | None] = mapped_column(Words(60))
    temperature_c: Mapped[float | None]
    note: Mapped[str | None] = mapped_column(Words(300))
    supersedes_id: Mapped[int | None] = to("cylinder_fill", nullable=True)
    supersedes_reason: Mapped[str | None] = mapped_column(Words(120))


class GasAnalysis(Base):
    """What an analyser showed of a cylinder, by the centre or by the diver.

    uncertainty: standard, of the oxygen reading, in percent oxygen, as certified then. signed: how the diver signed.
    note: figures that were asked about and kept all the same.
    """

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
    uncertainty: Mapped[float | None]
    signed: Mapped[str | None] = mapped_column(OwnWord(10))
    note: Mapped[str | None] = mapped_column(Words(300))
    supersedes_id: Mapped[int | None] = to("gas_analysis", nullable=True)
    supersedes_reason: Mapped[str | None] = mapped_column(Words(120))
    __table_args__ = (one_of("signed", SIGNED),)


class CylinderReading(Base):
    """What a gauge showed of a cylinder between fills, for instance when it came back."""

    __tablename__ = "cylinder_reading"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    bar: Mapped[float]
    temperature_c: Mapped[float | None]
    person_id: Mapped[int | None] = to("person", nullable=True)


class GasCertificate(Base):
    """What a supplier or laboratory certified of a batch of gas."""

    __tablename__ = "gas_certificate"
    id: Mapped[Key]
    ref: Mapped[Ref]
    batch: Mapped[str] = mapped_column(Words(60), index=True)
    gas: Mapped[str] = mapped_column(OwnWord(10))
    supplier: Mapped[str | None] = mapped_column(Words(120))
    issued_on: Mapped[date]
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    __table_args__ = (one_of("gas", CERTIFIED),)


class GasCertificateLine(Base):
    """One figure of a gas certificate, in the unit of the specification's line of that name."""

    __tablename__ = "gas_certificate_line"
    id: Mapped[Key]
    gas_certificate_id: Mapped[int] = to("gas_certificate", index=False)
    what: Mapped[str] = mapped_column(Words(40))
    value: Mapped[float]
    __table_args__ = (UniqueConstraint("gas_certificate_id", "what"),)


LOSSES = (
    "opened off the clean bench", "air not oxygen-compatible", "flooded", "wrong lubricant", "other",
)  # fmt: skip
MATERIALS = ("lubricant", "seal kit")


class CleanLoss(Base):
    """A part on the oxygen side lost its oxygen-clean status, as somebody wrote it down."""

    __tablename__ = "clean_loss"
    id: Mapped[Key]
    ref: Mapped[Ref]
    part_id: Mapped[int] = to("part")
    at: Mapped[datetime]
    why: Mapped[str] = mapped_column(OwnWord(30))
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    note: Mapped[str | None] = mapped_column(Words(300))
    __table_args__ = (one_of("why", LOSSES),)


class TicketMaterial(Base):
    """Lubricant or a seal kit used under a ticket, with its lot; part_id: the part it went into, where one is named.

    oxygen_compatible: None is not known.
    """

    __tablename__ = "ticket_material"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    part_id: Mapped[int | None] = to("part", nullable=True)
    kind: Mapped[str] = mapped_column(OwnWord(10))
    name: Mapped[str] = mapped_column(Words(80))
    lot: Mapped[str] = mapped_column(Words(60))
    oxygen_compatible: Mapped[bool | None]
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    __table_args__ = (one_of("kind", MATERIALS),)
