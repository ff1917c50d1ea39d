"""People by number; their names and contacts stand apart, so that erasing them leaves the history whole."""

from datetime import date, datetime

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from fleetbench.records.core.schema import Base, Key, Ref, one_of, to

ROLES = ("technician", "manager", "instructor", "renter", "student")


class Person(Base):
    """Somebody who acts or hires, known to the history by number only; named_at: when name or contact were changed."""

    __tablename__ = "person"
    id: Mapped[Key]
    ref: Mapped[Ref]
    code: Mapped[str] = mapped_column(String(20), unique=True)
    role: Mapped[str] = mapped_column(String(20))
    active: Mapped[bool] = mapped_column(default=True)
    pin_digest: Mapped[str | None] = mapped_column(String(64))
    erased_at: Mapped[datetime | None]
    named_at: Mapped[datetime | None]
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (one_of("role", ROLES),)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class PersonPrivate(Base):
    """Name and contacts of a person; erasable, and never written to the journal."""

    __tablename__ = "person_private"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    person_id: Mapped[int] = to("person", unique=True)
    name: Mapped[str] = mapped_column(String(200))
    contact: Mapped[str | None] = mapped_column(String(400))
    note: Mapped[str | None]


QUALIFICATIONS = ("diver", "instructor", "technician", "medical")
"""What is seen of a person; of a medical form only that it was seen, on which day and by whom."""


class Qualification(Base):
    """A qualification, or a medical statement, as seen on a day: only that, and by whom, no paper."""

    __tablename__ = "qualification"
    id: Mapped[Key]
    ref: Mapped[Ref]
    person_id: Mapped[int] = to("person")
    unit_type_id: Mapped[int | None] = to("unit_type", nullable=True)
    kind: Mapped[str] = mapped_column(String(20))
    seen_on: Mapped[date]
    seen_by_id: Mapped[int | None] = to("person", nullable=True)
    valid_until: Mapped[date | None]
    __table_args__ = (one_of("kind", QUALIFICATIONS),)
