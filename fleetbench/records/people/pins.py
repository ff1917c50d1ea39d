"""PINs as they are kept: the hash where no journal holds it, and its digest where the journal does.

A hash that stood in the journal could be tried offline for ever and never be taken out; the digest of the hash proves
that it was not exchanged, and says nothing of the PIN.
"""

import hashlib
from datetime import datetime

from sqlalchemy import Connection, select
from sqlalchemy.orm import Mapped, Session, mapped_column, object_session

from fleetbench.records.core.act import Act
from fleetbench.records.core.database import Database
from fleetbench.records.core.schema import Base, Key, to
from fleetbench.records.people.tables import Person


class PersonPin(Base):
    """The PIN's hash and the wrong entries in a row; erasable, and never written to the journal."""

    __tablename__ = "person_pin"
    __table_args__ = {"info": {"erasable": True}}  # noqa: RUF012 - SQLAlchemy reads it as a class attribute
    id: Mapped[Key]
    person_id: Mapped[int] = to("person", unique=True)
    pin_hash: Mapped[str]
    tries: Mapped[int] = mapped_column(default=0)
    last_wrong: Mapped[datetime | None]


def digest_of(pin_hash: str) -> str:
    """The SHA-256 of a kept hash, in hex."""
    return hashlib.sha256(pin_hash.encode()).hexdigest()


def pin_of(person: Person) -> PersonPin | None:
    """What is kept of the person's PIN, or None where there is none or it was exchanged behind the journal's back."""
    session = _session(person)
    kept = session.scalar(select(PersonPin).where(PersonPin.person_id == person.id))
    return kept if kept is not None and digest_of(kept.pin_hash) == person.pin_digest else None


def keep_pin(act: Act, person: Person, pin_hash: str) -> None:
    """Keep a new hash for the person and its digest in the journal."""
    drop_pin(act, person)
    act.add(PersonPin(person_id=person.id, pin_hash=pin_hash, tries=0, last_wrong=None))
    act.change(person, pin_digest=digest_of(pin_hash))


def drop_pin(act: Act, person: Person) -> None:
    """Take the person's PIN away; the journal holds that it went."""
    kept = act.session.scalar(select(PersonPin).where(PersonPin.person_id == person.id))
    if kept is not None:
        act.session.delete(kept)
        act.session.flush()
    act.change(person, pin_digest=None)


def forgive(kept: PersonPin) -> None:
    """Begin counting wrong entries anew after a right one."""
    kept.tries, kept.last_wrong = 0, None


def count_wrong(database: Database, person_id: int, at: datetime) -> None:
    """Count a wrong entry in a transaction of its own, since the act that asked for the PIN is rolled back."""
    with database.writing() as session:
        kept = session.scalar(select(PersonPin).where(PersonPin.person_id == person_id))
        if kept is not None:
            kept.tries, kept.last_wrong = kept.tries + 1, at
        session.commit()


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
