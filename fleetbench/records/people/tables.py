"""People by number; their names and contacts stand apart, so that erasing them leaves the history whole.

PINs as they are kept: the hash where no journal holds it, and its digest where the journal does.

A hash that stood in the journal could be tried offline for ever and never be taken out; the digest of the hash proves
that it was not exchanged, and says nothing of the PIN.
"""

import hashlib
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, ScalarSelect, func, select, update
from sqlalchemy.orm import Mapped, Session, mapped_column, object_session

from fleetbench.calc.people.permits import Role
from fleetbench.records.core.journal import Journal
from fleetbench.records.core.schema import UNBOUND, Base, Key, OwnWord, Ref, Salt, Words, built_once, one_of, to
from fleetbench.records.core.transaction import Transaction


class Person(Base):
    """Somebody who acts or hires, known to the history by number only; named_at: when name or contact were changed."""

    __tablename__ = "person"
    id: Mapped[Key]
    ref: Mapped[Ref]
    code: Mapped[str] = mapped_column(Words(20), unique=True)
    role: Mapped[str] = mapped_column(OwnWord(20))
    active: Mapped[bool] = mapped_column(default=True)
    pin_digest: Mapped[str | None] = mapped_column(Words(64))
    erased_at: Mapped[datetime | None]
    named_at: Mapped[datetime | None]
    version: Mapped[int] = mapped_column(default=1)
    __table_args__ = (one_of("role", Role),)
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute


class PersonPrivate(Base):
    """Name and contacts of a person; erasable, and never written to the journal."""

    __tablename__ = "person_private"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    salt: Mapped[Salt]
    person_id: Mapped[int] = to("person", unique=True)
    name: Mapped[str] = mapped_column(Words(200))
    contact: Mapped[str | None] = mapped_column(Words(400))
    note: Mapped[str | None]


@built_once
def named(person_id: Any) -> ScalarSelect[Any]:
    """The name of the person a column points at, or the code where the name was erased; for a record's `person`."""
    person, private = Person.__table__.alias(), PersonPrivate.__table__.alias()
    query = select(func.coalesce(func.nullif(private.c.name, ""), person.c.code)).select_from(
        person.outerjoin(private, private.c.person_id == person.c.id)
    )
    return query.where(person.c.id == person_id).scalar_subquery()


QUALIFICATIONS = ("diver", "instructor", "technician", "medical")
"""What is seen of a person; of a medical form only that it was seen, on which day and by whom."""


class Qualification(Base):
    """A qualification, or a medical statement, as seen on a day: only that, and by whom, no paper."""

    __tablename__ = "qualification"
    id: Mapped[Key]
    ref: Mapped[Ref]
    person_id: Mapped[int] = to("person")
    unit_type_id: Mapped[int | None] = to("unit_type", nullable=True)
    kind: Mapped[str] = mapped_column(OwnWord(20))
    seen_on: Mapped[date]
    seen_by_id: Mapped[int | None] = to("person", nullable=True)
    valid_until: Mapped[date | None]
    __table_args__ = (one_of("kind", QUALIFICATIONS),)


class PersonPin(Base):
    """The PIN's hash and the wrong entries in a row; erasable, and never written to the journal."""

    __tablename__ = "person_pin"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    salt: Mapped[Salt]
    person_id: Mapped[int] = to("person", unique=True)
    pin_hash: Mapped[str]
    tries: Mapped[int] = mapped_column(default=0, info=UNBOUND)
    last_wrong: Mapped[datetime | None] = mapped_column(info=UNBOUND)


def digest_of(pin_hash: str) -> str:
    """The SHA-256 of a kept hash, in hex."""
    return hashlib.sha256(pin_hash.encode()).hexdigest()


def pin_of(person: Person) -> PersonPin | None:
    """What is kept of the person's PIN, or None where there is none or it was exchanged behind the journal's back."""
    session = _session(person)
    kept = session.scalar(select(PersonPin).where(PersonPin.person_id == person.id))
    return kept if kept is not None and digest_of(kept.pin_hash) == person.pin_digest else None


def pin_was_witnessed(person: Person) -> bool:
    """Whether the person's first PIN was set beside another who is a manager, or as the first manager's of all.

    The journal says so, which nobody can change unseen; an entry "set PIN" is of a program that let anybody set it.
    """
    ways = ("set PIN", "set first PIN", "set first manager's PIN")
    query = select(Journal.act, Journal.person_id).where(
        Journal.act.in_(ways), Journal.subject == f"person {person.id}"
    )
    last = _session(person).execute(query.order_by(Journal.id.desc()).limit(1)).first()
    if last is None or last.act == "set PIN":
        return False
    return bool(last.act == "set first manager's PIN" or last.person_id != person.id)


def keep_pin(act: Transaction, person: Person, pin_hash: str) -> None:
    """Keep a new hash for the person and its digest in the journal."""
    drop_pin(act, person)
    act.add(PersonPin(person_id=person.id, pin_hash=pin_hash, tries=0, last_wrong=None))
    act.change(person, pin_digest=digest_of(pin_hash))


def drop_pin(act: Transaction, person: Person) -> None:
    """Take the person's PIN away; the journal holds that it went."""
    act.erase(PersonPin, PersonPin.person_id == person.id)
    act.change(person, pin_digest=None)


def forgive(kept: PersonPin) -> None:
    """Begin counting wrong entries anew after a right one."""
    kept.tries, kept.last_wrong = 0, None


def count_wrong(session: Session, person_id: int, at: datetime) -> None:
    """Count a wrong entry in the turn of the act that asked for the PIN, once everything else of it was undone."""
    counted = {"tries": PersonPin.tries + 1, "last_wrong": at}
    session.execute(update(PersonPin).where(PersonPin.person_id == person_id).values(counted))


def wrong_of_all(person: Person) -> tuple[tuple[int, datetime | None], ...]:
    """How often each person's PIN was entered wrongly in a row, and when last; one statement."""
    rows = _session(person).execute(select(PersonPin.tries, PersonPin.last_wrong).where(PersonPin.tries > 0))
    return tuple((tries, last) for tries, last in rows.all())


def moment_of(person: Person) -> datetime:
    """The moment of the act in which the person was read."""
    moment: datetime = _session(person).info["at"]
    return moment


def exchanged_pin(connection: Connection) -> int | None:
    """The first person whose kept hash is not the one that the journal's digest speaks of, or None."""
    query = (
        select(Person.id, Person.pin_digest, PersonPin.pin_hash)
        .outerjoin(PersonPin, PersonPin.person_id == Person.id)
        .order_by(Person.id)
    )
    for key, digest, pin_hash in connection.execute(query).all():
        if digest != (digest_of(pin_hash) if pin_hash is not None else None):
            return int(key)
    return None


def _session(person: Person) -> Session:
    session = object_session(person)
    if session is None:
        raise TypeError("person: read it inside an act first")
    return session
