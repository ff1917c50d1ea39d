"""What acts at the hire desk look up: bookings, the units on them, and the days on which units are promised.

What acts on the plan look up: the centre's own limit of a name.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from sqlalchemy import Connection, and_, func, or_, select
from sqlalchemy.orm import Session

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.hires.promises import BookingKind
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.records.canisters.tables import Fill
from fleetbench.records.core.errors import NotFound
from fleetbench.records.core.schema import Query, built_once, read_if_changed, records_of, select_of
from fleetbench.records.hires.tables import (
    IS_OUT,
    Acceptance,
    Accessory,
    AccessoryCount,
    Booking,
    BookingDiver,
    BookingTerms,
    BookingUnit,
    HandBack,
    HandOver,
    KeptPlan,
    SheetSignature,
    SignatureDrawing,
    SignedPage,
)
from fleetbench.records.parts.tables import Fitting, Part
from fleetbench.records.people.tables import Person
from fleetbench.records.places.reads import read_limits
from fleetbench.records.places.tables import Limit, Owner
from fleetbench.records.tickets.tables import Finding, Task, Ticket, TicketTime, still_open
from fleetbench.records.units.tables import Absence, Slot, Unit, UnitType


@dataclass(frozen=True, slots=True)
class HireableRecord:
    """One unit that could be promised; away_until is date.max where nobody said when it is back."""

    unit_id: int
    tag: str
    unit_type_id: int
    away_until: date | None


@dataclass(frozen=True, slots=True)
class AcceptanceRecord:
    """One acceptance of an advice."""

    acceptance_id: int
    unit_id: int
    unit: str
    check_name: str
    until: date
    at: datetime
    person_id: int
    reason: str


def booking_by_code(session: Session, code: str) -> Booking:
    """The booking with this code; NotFound otherwise."""
    row = session.scalar(select(Booking).where(Booking.code == code.strip()))
    if row is None:
        raise NotFound(say("booking {code}: not recorded; check the code or look it up with find", code=code))
    return row


def unit_type_by_code(session: Session, code: str) -> UnitType:
    """The unit type with this code or name; NotFound otherwise."""
    row = session.scalar(select(UnitType).where(or_(UnitType.code == code, UnitType.name == code)))
    if row is None:
        raise NotFound(say("unit type {code}: not in the catalogue; choose one from the list", code=code))
    return row


def terms_of(session: Session, booking_id: int) -> BookingTerms | None:
    """What a booking asks besides its days, if anything was noted."""
    return session.scalar(select(BookingTerms).where(BookingTerms.booking_id == booking_id))


def lines_of(session: Session, booking_id: int) -> Sequence[BookingUnit]:
    """The units on a booking, oldest first; those taken off it are left out."""
    on_it = BookingUnit.booking_id == booking_id, BookingUnit.taken_off_at.is_(None)
    query = select(BookingUnit).where(*on_it).order_by(BookingUnit.id)
    return session.scalars(query).all()


def lines_taken_off(session: Session, why_ends: str) -> Sequence[BookingUnit]:
    """Lines that were taken off their booking for a reason that ends so, the latest first."""
    query = select(BookingUnit).where(BookingUnit.taken_off_at.is_not(None))
    query = query.where(BookingUnit.taken_off_for.endswith(why_ends, autoescape=True))
    return session.scalars(query.order_by(BookingUnit.id.desc())).all()


def lines_put_on(session: Session, plan: str) -> Sequence[BookingUnit]:
    """Lines that a plan put on a booking and that are on it still."""
    query = select(BookingUnit).where(BookingUnit.put_on_for == plan, BookingUnit.taken_off_at.is_(None))
    return session.scalars(query.order_by(BookingUnit.id)).all()


def kept_plans(session: Session) -> Sequence[KeptPlan]:
    """Plans that were accepted, the latest first."""
    return session.scalars(select(KeptPlan).order_by(KeptPlan.id.desc())).all()


def tickets_for(session: Session, starts: str = "", ends: str = "") -> list[tuple[Ticket, bool]]:
    """Open tickets whose reason starts and ends so, oldest first, and whether work on each was begun."""
    reads_so = Ticket.reason.startswith(starts, autoescape=True) & Ticket.reason.endswith(ends, autoescape=True)
    found = session.scalars(select(Ticket).where(reads_so, still_open()).order_by(Ticket.id)).all()
    begun = set(session.scalars(select(Task.ticket_id).where(Task.state != WorkState.TO_DO)))
    begun |= set(session.scalars(select(TicketTime.ticket_id)))
    begun |= set(session.scalars(select(Finding.ticket_id)))
    return [(each, each.id in begun or each.minutes > 0) for each in found]


def divers_of(session: Session, booking_id: int) -> Sequence[int]:
    """Who dives on a booking, in order."""
    return [each.person_id for each in diver_rows_of(session, booking_id)]


def diver_rows_of(session: Session, booking_id: int) -> Sequence[BookingDiver]:
    """Those who dive on a booking, in order, with what they state."""
    on_it = BookingDiver.booking_id == booking_id, BookingDiver.left_at.is_(None)
    return session.scalars(select(BookingDiver).where(*on_it).order_by(BookingDiver.ordinal)).all()


def diver_of_line(session: Session, line: BookingUnit, booking: Booking) -> int | None:
    """Whose a unit on a booking is: who is named, else the renter of a hire on which nobody else dives."""
    if line.diver_id is not None or booking.kind != BookingKind.HIRE:
        return line.diver_id
    others = {*divers_of(session, booking.id)} - {booking.renter_id}
    return booking.renter_id if not others else None


def signed_lines(session: Session, lines: Collection[int]) -> frozenset[int]:
    """Of these lines those whose hand-over page was signed."""
    query = select(SheetSignature.booking_unit_id).where(SheetSignature.booking_unit_id.in_(lines))
    return frozenset(session.scalars(query))


def line_out(session: Session, unit_id: int) -> BookingUnit | None:
    """The line on which a unit is out now, if it is."""
    return session.scalar(select(BookingUnit).where(BookingUnit.unit_id == unit_id, IS_OUT))


def units_out(connection: Connection) -> frozenset[int]:
    """The units that are out now."""
    return frozenset(connection.scalars(select(BookingUnit.unit_id).where(IS_OUT)))


def hand_back_of(session: Session, line_id: int) -> HandBack | None:
    """The details of a return, if they were noted."""
    return session.scalar(select(HandBack).where(HandBack.booking_unit_id == line_id))


def hand_over_of(session: Session, line_id: int) -> HandOver | None:
    """What was noted as a unit left, if it was."""
    return session.scalar(select(HandOver).where(HandOver.booking_unit_id == line_id))


def accessories_of(session: Session, unit_type_id: int) -> Sequence[Accessory]:
    """What stands on a unit type's list of accessories, also what is counted no more."""
    query = select(Accessory).where(Accessory.unit_type_id == unit_type_id).order_by(Accessory.ordinal, Accessory.id)
    return session.scalars(query).all()


def counts_of(session: Session, line_id: int) -> Sequence[AccessoryCount]:
    """What was counted out with a unit on a booking."""
    return session.scalars(
        select(AccessoryCount).where(AccessoryCount.booking_unit_id == line_id).order_by(AccessoryCount.id)
    ).all()


def next_booking_code(session: Session, letter: str, year: int) -> str:
    """The next free code of a kind of booking in a year, as H-2026-014."""
    start = f"{letter}-{year}-"
    known = session.scalars(select(Booking.code).where(Booking.code.startswith(start, autoescape=True))).all()
    numbers = [int(code[len(start) :]) for code in known if code[len(start) :].isdecimal()]
    return f"{start}{max(numbers, default=0) + 1:03d}"


def active_people(session: Session, keys: Sequence[int]) -> set[int]:
    """Which of these people are recorded and active."""
    return set(session.scalars(select(Person.id).where(Person.id.in_(keys), Person.active.is_(True))))


def canister_in(session: Session, unit_id: int) -> Part | None:
    """The canister that sits in a unit's own slot."""
    query = (
        select(Part)
        .join(Fitting, Fitting.part_id == Part.id)
        .join(Slot, Slot.id == Fitting.slot_id)
        .where(Fitting.unit_id == unit_id, Fitting.removed_at.is_(None), Slot.kind == "canister")
    )
    return session.scalar(query.limit(1))


def parts_at(session: Session, unit_id: int, at: datetime) -> dict[tuple[str, str], int]:
    """The part that sat in a unit at a moment, however deep in assemblies, by kind and name of its slot."""
    then = and_(Fitting.fitted_at <= at, or_(Fitting.removed_at.is_(None), Fitting.removed_at > at))
    top = select(Fitting.part_id, Fitting.slot_id).where(Fitting.unit_id == unit_id, then).cte("seated", recursive=True)
    deeper = select(Fitting.part_id, Fitting.slot_id).where(Fitting.host_part_id == top.c.part_id, then)
    inside = top.union(deeper)
    query = select(Slot.kind, Slot.name, inside.c.part_id).join(inside, inside.c.slot_id == Slot.id)
    return {(kind, name): part_id for kind, name, part_id in session.execute(query.order_by(Slot.id))}


def fill_at(session: Session, part_id: int, at: datetime) -> Fill | None:
    """The fill that stood in a canister at a moment."""
    query = select(Fill).where(
        Fill.part_id == part_id, Fill.packed_at <= at, or_(Fill.discarded_at.is_(None), Fill.discarded_at > at)
    )
    return session.scalar(query.order_by(Fill.packed_at.desc(), Fill.id.desc()).limit(1))


def fills_between(session: Session, unit_id: int, first: datetime, last: datetime) -> Sequence[Fill]:
    """The fills that stood at any time between two moments in the canister that sits in a unit, oldest first."""
    canister = canister_in(session, unit_id)
    query = select(Fill).where(
        Fill.part_id == (canister.id if canister is not None else None),
        Fill.packed_at <= last,
        or_(Fill.discarded_at.is_(None), Fill.discarded_at >= first),
    )
    return session.scalars(query.order_by(Fill.packed_at, Fill.id)).all()


def open_hand_back_ticket(session: Session, unit_id: int, since: datetime) -> Ticket | None:
    """The ticket opened for a return since a moment, if it is still open."""
    query = select(Ticket).where(
        Ticket.unit_id == unit_id, Ticket.cause == "hand-back", Ticket.opened_at >= since, still_open()
    )
    return session.scalar(query.order_by(Ticket.id.desc()).limit(1))


def read_counts(connection: Connection, line_id: int) -> list[tuple[int, str, int, int, int | None]]:
    """Accessories counted with a unit on a booking: key, name, how many belong, sent and back; one statement."""
    query = (
        select(Accessory.id, Accessory.name, Accessory.count, AccessoryCount.sent, AccessoryCount.back)
        .join(Accessory, Accessory.id == AccessoryCount.accessory_id)
        .where(AccessoryCount.booking_unit_id == line_id)
        .order_by(Accessory.ordinal, Accessory.id)
    )
    return [(key, name, count, sent, back) for key, name, count, sent, back in connection.execute(query)]


def signatures_on(connection: Connection, line_id: int) -> list[tuple[int, str, str, datetime, str | None]]:
    """Signatures under a line's sheet, oldest first: key, party, how, when and digest; one statement."""
    query = (
        select(SheetSignature.id, SheetSignature.party, SheetSignature.how, SheetSignature.at, SheetSignature.digest)
        .where(SheetSignature.booking_unit_id == line_id)
        .order_by(SheetSignature.at, SheetSignature.id)
    )
    return [(key, party, how, at, digest) for key, party, how, at, digest in connection.execute(query)]


def drawings_of(connection: Connection, keys: Sequence[int]) -> dict[int, str]:
    """The drawings of signatures that were not erased; one statement."""
    query = select(SignatureDrawing.sheet_signature_id, SignatureDrawing.strokes)
    rows = connection.execute(query.where(SignatureDrawing.sheet_signature_id.in_(keys)))
    return {key: strokes for key, strokes in rows}


class KeptPage(NamedTuple):
    """The page of one signature: when it was signed, SHA-256 and size of its file, and what it stated."""

    signature_id: int
    at: datetime
    sha256: str
    size: int
    state: str


def signed_pages_on(connection: Connection, lines: Collection[int]) -> tuple[KeptPage, ...]:
    """The pages as they were signed on these lines of bookings, oldest first; one statement."""
    query = _pages().where(SheetSignature.booking_unit_id.in_(lines))
    return tuple(KeptPage(*row) for row in connection.execute(query.order_by(SheetSignature.at, SheetSignature.id)))


def signed_without_page(connection: Connection, lines: Collection[int]) -> int:
    """How many signatures on these lines have no page as it was signed; one statement."""
    kept = select(SignedPage.sheet_signature_id)
    query = select(func.count(SheetSignature.id)).where(
        SheetSignature.booking_unit_id.in_(lines), SheetSignature.id.not_in(kept)
    )
    return connection.scalar(query) or 0


def read_signed_pages(connection: Connection) -> tuple[KeptPage, ...]:
    """Every page as it was signed that is not erased; one statement."""
    return tuple(KeptPage(*row) for row in connection.execute(_pages().order_by(SignedPage.id)))


@built_once
def _pages() -> Query:
    return select(SheetSignature.id, SheetSignature.at, SignedPage.sha256, SignedPage.size, SignedPage.state).join(
        SignedPage, SignedPage.sheet_signature_id == SheetSignature.id
    )


def turn_round_nights(connection: Connection) -> dict[int | None, int]:
    """Nights kept free between two divers, by unit type; the key None holds the centre's own, where it has one."""
    nights = (each for each in read_limits(connection) if each.name == "turn-round nights")
    return {each.unit_type_id: int(each.amount) for each in nights if each.part_type_id is None}


def read_hireable(connection: Connection, today: date) -> tuple[HireableRecord, ...]:
    """Every unit in service that belongs to the centre or is on loan to it, by tag; two statements."""
    away = {
        unit_id: expected or date.max
        for unit_id, expected in connection.execute(
            select(Absence.unit_id, Absence.expected_on).where(Absence.back_at.is_(None))
        )
    }
    query = (
        select(Unit.id, Unit.tag, Unit.unit_type_id)
        .join(Owner, Owner.id == Unit.owner_id)
        .where(or_(Unit.retired_on.is_(None), Unit.retired_on > today), Owner.kind != OwnerKind.RENTER)
        .order_by(Unit.tag)
    )
    return tuple(
        HireableRecord(unit_id=unit_id, tag=tag, unit_type_id=unit_type, away_until=away.get(unit_id))
        for unit_id, tag, unit_type in connection.execute(query)
    )


def read_unit_type_names(connection: Connection) -> dict[int, tuple[str, str]]:
    """Code and name of each unit type; one statement."""
    query = select(UnitType.id, UnitType.code, UnitType.name).order_by(UnitType.code)
    return {key: (code, name) for key, code, name in connection.execute(query)}


@read_if_changed
def read_acceptances(connection: Connection, since: date | None = None) -> tuple[AcceptanceRecord, ...]:
    """Acceptances that stand on a day or later (all of them where none is given), newest first; one statement."""
    query = (
        select_of(AcceptanceRecord, Acceptance, unit=Unit.tag)
        .join(Unit, Unit.id == Acceptance.unit_id)
        .order_by(Acceptance.at.desc(), Acceptance.id.desc())
    )
    if since is not None:
        query = query.where(Acceptance.until >= since)
    return records_of(connection, query, AcceptanceRecord)


def read_returns_without_details(
    connection: Connection,
) -> tuple[tuple[int, str, str, int | None, float | None, int], ...]:
    """Units received whose details nobody has noted, oldest first, in one statement.

    Line, tag, booking, diver, the depth in metres that was planned, and the unit.

    A line that says loop minutes already was noted before details had a record of their own.
    """
    asked = BookingUnit.id, Unit.tag, Booking.code, BookingUnit.diver_id, Booking.planned_depth_m, Unit.id
    query = (
        select(*asked)
        .join(Booking, Booking.id == BookingUnit.booking_id)
        .join(Unit, Unit.id == BookingUnit.unit_id)
        .outerjoin(HandBack, HandBack.booking_unit_id == BookingUnit.id)
        .where(BookingUnit.received_at.is_not(None), HandBack.id.is_(None), BookingUnit.loop_minutes.is_(None))
        .order_by(BookingUnit.received_at, BookingUnit.id)
    )
    return tuple(tuple(row) for row in connection.execute(query))  # type: ignore[misc]


def centre_limit(session: Session, name: str) -> Limit | None:
    """The centre's own limit of that name, the newest where there are several, None where there is none."""
    return stated_limit(session, name, None)


def stated_limit(session: Session, name: str, unit_type_id: int | None) -> Limit | None:
    """The newest limit of that name of a unit type, of the centre where none is given; None where there is none."""
    query = select(Limit).where(Limit.name == name, Limit.unit_type_id == unit_type_id, Limit.part_type_id.is_(None))
    return session.scalar(query.order_by(Limit.id.desc()).limit(1))
