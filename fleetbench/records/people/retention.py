"""How long erasable records are kept, what stands above erasing them, and what must be looked up before it."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Select, String, func, or_, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from fleetbench.records.core.schema import Base, Key, OwnWord, Ref, one_of, to
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.tables import (
    IS_OUT,
    Booking,
    BookingDiver,
    BookingUnit,
    HireNote,
    SheetSignature,
    SignatureDrawing,
    SignedPage,
)
from fleetbench.records.people.tables import Person, PersonPrivate, drop_pin


class Retention(Base):
    """How many years one kind of erasable record is kept, as the centre set it, with its source."""

    __tablename__ = "retention"
    id: Mapped[Key]
    ref: Mapped[Ref]
    kind: Mapped[str] = mapped_column(OwnWord(30), unique=True)
    years: Mapped[int]
    source: Mapped[str] = mapped_column(String(200))
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (one_of("kind", ("names and contacts", "words about hires")),)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class LegalHold(Base):
    """Records of a person may not be erased until this is lifted."""

    __tablename__ = "legal_hold"
    id: Mapped[Key]
    ref: Mapped[Ref]
    person_id: Mapped[int] = to("person")
    reason: Mapped[str] = mapped_column(String(300))
    placed_at: Mapped[datetime]
    placed_by_id: Mapped[int] = to("person")
    lifted_at: Mapped[datetime | None]
    lifted_by_id: Mapped[int | None] = to("person", nullable=True)


def open_legal_holds(session: Session, person_id: int) -> tuple[LegalHold, ...]:
    """Legal holds on a person that nobody lifted."""
    query = select(LegalHold).where(LegalHold.person_id == person_id, LegalHold.lifted_at.is_(None))
    return tuple(session.scalars(query.order_by(LegalHold.id)))


def retention_of(session: Session, kind: str) -> Retention | None:
    """The years set for a kind, if the centre set any."""
    return session.scalar(select(Retention).where(Retention.kind == kind))


def read_retention(connection: Connection) -> dict[str, int]:
    """The years set, by kind."""
    return {kind: years for kind, years in connection.execute(select(Retention.kind, Retention.years)).all()}


def read_retention_rules(connection: Connection) -> dict[str, tuple[int, str]]:
    """Years and source set, by kind."""
    query = select(Retention.kind, Retention.years, Retention.source)
    return {kind: (years, source) for kind, years, source in connection.execute(query).all()}


def read_legal_holds(connection: Connection, person_id: int) -> tuple[tuple[int, str, datetime, int], ...]:
    """Key, reason, moment and placer of each legal hold on a person that stands."""
    query = select(LegalHold.id, LegalHold.reason, LegalHold.placed_at, LegalHold.placed_by_id)
    query = query.where(LegalHold.person_id == person_id, LegalHold.lifted_at.is_(None)).order_by(LegalHold.id)
    return tuple((key, reason, at, by) for key, reason, at, by in connection.execute(query).all())


def open_booking_codes(session: Session, person_id: int, today: date) -> tuple[str, ...]:
    """Bookings on which the person is renter or diver and that are to come or have a unit out."""
    lines = select(BookingUnit.booking_id).where(BookingUnit.diver_id == person_id, BookingUnit.taken_off_at.is_(None))
    divers = select(BookingDiver.booking_id).where(BookingDiver.person_id == person_id, BookingDiver.left_at.is_(None))
    out = select(BookingUnit.booking_id).where(IS_OUT)
    query = select(Booking.code).where(
        Booking.cancelled_at.is_(None),
        or_(Booking.renter_id == person_id, Booking.id.in_(lines), Booking.id.in_(divers)),
        or_(Booking.ends_on >= today, Booking.id.in_(out)),
    )
    return tuple(session.scalars(query.order_by(Booking.code)))


def last_booked_days(connection: Connection) -> dict[int, tuple[str, date]]:
    """Code and last booked day of everybody who hired or dived, by person; those erased are left out."""
    last: dict[int, tuple[str, date]] = {}
    for query in (
        select(Person.id, Person.code, func.max(Booking.ends_on)).join(Booking, Booking.renter_id == Person.id),
        select(Person.id, Person.code, func.max(Booking.ends_on))
        .join(BookingUnit, BookingUnit.diver_id == Person.id)
        .join(Booking, Booking.id == BookingUnit.booking_id),
    ):
        for key, code, day in connection.execute(
            query.where(Person.erased_at.is_(None)).group_by(Person.id, Person.code)
        ).all():
            last[key] = max(last.get(key, (code, day)), (code, day), key=lambda each: each[1])
    return last


def _lines_of(person_id: int) -> Select[Any]:
    """Keys of the lines of bookings that are the person's, as diver or renter."""
    lines = select(BookingUnit.id).join(Booking, Booking.id == BookingUnit.booking_id)
    return lines.where(or_(BookingUnit.diver_id == person_id, Booking.renter_id == person_id))


def _signed_of(person_id: int) -> Select[Any]:
    """Keys of the signatures, of both parties, under the person's pages."""
    return select(SheetSignature.id).where(SheetSignature.booking_unit_id.in_(_lines_of(person_id)))


def pages_of(session: Session, person_id: int) -> tuple[str, ...]:
    """Digests of the person's signed pages, whose files go once the person is erased."""
    query = select(SignedPage.sha256).where(SignedPage.sheet_signature_id.in_(_signed_of(person_id)))
    return tuple(session.scalars(query))


def erase_within(act: Transaction, person: Person) -> None:
    """Delete name, contacts, PIN and words about the person's hires; the number stays in the history."""
    mine = _lines_of(person.id)
    act.erase(HireNote, HireNote.booking_unit_id.in_(mine))
    signed = select(SheetSignature.id).where(SheetSignature.party == "diver", SheetSignature.booking_unit_id.in_(mine))
    act.erase(SignedPage, SignedPage.sheet_signature_id.in_(_signed_of(person.id)))
    act.erase(SignatureDrawing, SignatureDrawing.sheet_signature_id.in_(signed))
    act.erase(PersonPrivate, PersonPrivate.person_id == person.id)
    drop_pin(act, person)
    act.change(person, erased_at=act.at, active=False)
