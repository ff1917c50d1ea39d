"""What ends a part's oxygen-clean status, and which lubricant and seal kits were used under a ticket."""

from datetime import datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.schema import Base, Key, Ref, one_of, to

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
    why: Mapped[str] = mapped_column(String(30))
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
    note: Mapped[str | None] = mapped_column(String(300))
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
    kind: Mapped[str] = mapped_column(String(10))
    name: Mapped[str] = mapped_column(String(80))
    lot: Mapped[str] = mapped_column(String(60))
    oxygen_compatible: Mapped[bool | None]
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    __table_args__ = (one_of("kind", MATERIALS),)
