"""Service tickets from opening to sign-off, and the disinfection between two divers."""

from datetime import datetime

from sqlalchemy import String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.schema import Base, Key, Ref, one_of, to


class Ticket(Base):
    """One service job on one unit; numbered per centre and year without gaps; closed by a signature."""

    __tablename__ = "ticket"
    id: Mapped[Key]
    ref: Mapped[Ref]
    year: Mapped[int]
    number: Mapped[int]
    unit_id: Mapped[int] = to("unit")
    cause: Mapped[str] = mapped_column(String(20))
    reason: Mapped[str]
    critical: Mapped[bool] = mapped_column(default=True)
    opened_at: Mapped[datetime]
    opened_by_id: Mapped[int] = to("person")
    minutes: Mapped[float] = mapped_column(default=0.0)
    refers_to_id: Mapped[int | None] = to("ticket", nullable=True)
    signed_at: Mapped[datetime | None]
    signed_by_id: Mapped[int | None] = to("person", nullable=True)
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (
        UniqueConstraint("year", "number", name="uq_ticket_year_number"),
        one_of("cause", ("due item", "hold", "hand-back", "failed test", "course", "by hand", "turn-round")),
    )
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class Finding(Base):
    """Something seen under a ticket."""

    __tablename__ = "finding"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    at: Mapped[datetime]
    person_id: Mapped[int | None] = to("person", nullable=True)
    text: Mapped[str]


class Task(Base):
    """One thing to do under a ticket: to do, done, or put off with a reason."""

    __tablename__ = "task"
    id: Mapped[Key]
    ref: Mapped[Ref]
    ticket_id: Mapped[int] = to("ticket")
    ordinal: Mapped[int]
    text: Mapped[str] = mapped_column(String(300))
    critical: Mapped[bool] = mapped_column(default=True)
    state: Mapped[str] = mapped_column(String(8), default="to do")
    minutes: Mapped[float | None]
    settled_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    put_off_reason: Mapped[str | None]
    times_put_off: Mapped[int] = mapped_column(default=0)
    __table_args__ = (one_of("state", ("to do", "done", "put off")),)


class Disinfection(Base):
    """A loop was cleaned and disinfected between two divers."""

    __tablename__ = "disinfection"
    id: Mapped[Key]
    ref: Mapped[Ref]
    unit_id: Mapped[int] = to("unit")
    at: Mapped[datetime]
    agent: Mapped[str] = mapped_column(String(80))
    strength: Mapped[str] = mapped_column(String(40))
    contact_minutes: Mapped[float]
    rinsed: Mapped[bool]
    dry_at: Mapped[datetime | None]
    person_id: Mapped[int | None] = to("person", nullable=True)
    ticket_id: Mapped[int | None] = to("ticket", nullable=True)
