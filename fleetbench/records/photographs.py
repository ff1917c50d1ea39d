"""Photographs under a ticket: a row that the journal holds, and a file beside the database named by its SHA-256."""

from datetime import datetime

from sqlalchemy import String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.schema import Base, Key, Ref, to


class Photograph(Base):
    """One photograph of a ticket; the picture itself is the file of that SHA-256."""

    __tablename__ = "photograph"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    sha256: Mapped[str] = mapped_column(String(64))
    size: Mapped[int]
    wide: Mapped[int]
    high: Mapped[int]
    caption: Mapped[str] = mapped_column(String(200))
    __table_args__ = (UniqueConstraint("ticket_id", "sha256", name="uq_photograph_ticket_sha256"),)
