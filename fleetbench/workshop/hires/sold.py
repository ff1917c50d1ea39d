"""A sale in one act, and the same taken back in one.

sell(workplace, entry, sale)  the booking, its tickets and the promises that move for it
undo_sale(workplace, code, why)  all of it, where nothing of it was begun

A ticket of a sale reserves its parts by its tasks, and stands on the bench day by the day on which its unit leaves.
"""

from dataclasses import dataclass, replace
from datetime import date

from fleetbench.calc.hires.availability import BookingEnd, Span
from fleetbench.calc.hires.sell import Sale
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import lines_of, lines_taken_off, signed_lines, tickets_for
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, require_person, required
from fleetbench.workshop.hires.booking import (
    Booked,
    BookingEntry,
    Promises,
    book_within,
    checked_days,
    open_booking,
    put_on_within,
)
from fleetbench.workshop.hires.fitness import FitUnits, bench_minutes
from fleetbench.workshop.hires.sell import WorkToDo, work_of
from fleetbench.workshop.tickets.work import open_within


@dataclass(frozen=True, slots=True)
class Sold:
    """What a sale did: the booking, tickets opened, and promises moved as code, unit before and unit now."""

    booked: Booked
    tickets: tuple[str, ...]
    moved: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Unsold:
    """What undoing a sale did: tickets withdrawn, tickets left since work was begun, and promises moved back or not."""

    code: str
    withdrawn: tuple[str, ...]
    left: tuple[str, ...]
    moved_back: tuple[str, ...]
    not_moved_back: tuple[str, ...]


def sell(workplace: Workplace, entry: BookingEntry, sale: Sale) -> Sold:
    """Book a sale the way that was chosen: its units, the tickets of those that need work, the promises that move.

    Everything is looked at again as it stands now; Refused, with nothing changed, where it has changed since.
    """
    require_person(workplace)
    day = day_of(workplace)
    if not sale.units:
        raise Refused("units: none can go this way; choose another way, other days, or the waiting list")
    with workplace.transaction("sell", f"{entry.kind} {entry.first}") as act:
        span = checked_days(entry.first, entry.last, day.today)
        moved = [_move(act, name, tag, day) for name, tag in sale.moves]
        entry = replace(entry, units=sale.units, wanted=max(len(sale.units), entry.wanted or 0), when_full="refuse")
        works = _works(act, sale, Span(span.first, span.last, "this"), day, entry.way)
        booked = book_within(act, entry, day, cured=tuple(works))
        for each in moved:
            act.change(each.line, taken_off_for=_moved_for(each.now, booked.code))
        year = day.today.year
        reason = ready_for(entry.kind, booked.code, entry.first)
        tickets = [
            open_within(act, unit_by_tag(act.session, tag).id, year, work.tasks, cause="course", reason=reason)
            for tag, work in works.items()
        ]
        told = tuple((each.code, each.before, each.now) for each in moved)
        return Sold(booked, tuple(ticket_number(each.year, each.number) for each in tickets), told)


def ready_for(kind: str, code: str, first: date) -> str:
    """Why a ticket is opened so that a unit is ready for a booking; the bench day finds it by the unit's promise."""
    return f"Ready for {kind} {code} from {first.isoformat()}"


@dataclass(frozen=True, slots=True)
class _Moved:
    line: BookingUnit
    code: str
    before: str
    now: str


def _moved_for(now: str, code: str) -> str:
    return f"moved to {now} for {code}"


def _move(act: Transaction, name: str, tag: str, day: Day) -> _Moved:
    """A promise that goes to another unit, the old line kept as taken off; Refused where it cannot any more."""
    code, _, before = name.rpartition(" ")
    booking = open_booking(act, code)
    line = _line_on(act, booking, before)
    if line is None or line.out_at is not None or signed_lines(act.session, (line.id,)):
        raise Refused(f"booking {code}: {before} is not on it any more, has left or is signed for; ask again")
    unit = unit_by_tag(act.session, tag)
    act.change(line, taken_off_at=act.at, taken_off_for=f"moved to {tag}")
    act.session.flush()
    new = put_on_within(act, booking, unit, day.today)
    if (new.hand_over, new.diver_id) != (line.hand_over, line.diver_id):
        act.change(new, hand_over=line.hand_over, diver_id=line.diver_id)
    act.session.flush()
    span = Span(max(booking.starts_on, day.today), booking.ends_on, code)
    fit = FitUnits(act.session.connection(), day, booking_id=booking.id)
    if not fit.fits(tag, span):
        raise Refused(f"unit {tag}: {fit.why_unfit(tag, span)[0]}; {code} cannot move onto it, ask again")
    return _Moved(line, code, before, tag)


def _line_on(act: Transaction, booking: Booking, tag: str) -> BookingUnit | None:
    unit = unit_by_tag(act.session, tag)
    return next((each for each in lines_of(act.session, booking.id) if each.unit_id == unit.id), None)


def _works(act: Transaction, sale: Sale, span: Span, day: Day, way: str) -> dict[str, WorkToDo]:
    connection = act.session.connection()
    fit, types = FitUnits(connection, day, way=way), read_part_types(connection)
    minutes, found = bench_minutes(read_limits(connection)), {}
    for tag in sale.work:
        if fit.fits(tag, span):
            continue  # the work was done since
        work = work_of(fit, tag, span, minutes, types)
        if work is None:
            raise Refused(f"unit {tag}: {fit.why_unfit(tag, span)[0]}; no bench work cures it now, ask again")
        found[tag] = work
    return found


def undo_sale(workplace: Workplace, code: str, reason: str) -> Unsold:
    """Take a sale back: its booking is cancelled, tickets not begun are withdrawn, promises that moved go back.

    A ticket on which work was begun stays, and a promise whose unit was given away since stays where it is; both are
    told. Refused where a unit of it has left.
    """
    require_person(workplace)
    day, why = day_of(workplace), required("reason", reason)[:200]
    with workplace.transaction("undo sale", f"booking {code}") as act:
        booking = open_booking(act, code)
        lines = lines_of(act.session, booking.id)
        if any(each.out_at is not None for each in lines):
            raise Refused(f"booking {code}: units of it left; receive them")
        act.change(booking, cancelled_at=act.at, ended_as=BookingEnd.CANCELLED, ended_for=why)
        withdrawn: list[str] = []
        left: list[str] = []
        for ticket, begun in tickets_for(act.session, ready_for(booking.kind, code, booking.starts_on)):
            (left if begun else withdrawn).append(ticket_number(ticket.year, ticket.number))
            if not begun:
                act.change(ticket, withdrawn_at=act.at)
        act.session.flush()
        back: list[str] = []
        stays: list[str] = []
        for line in lines_taken_off(act.session, f" for {code}"):
            words, done = _move_back(act, line, code, day)
            (back if done else stays).append(words)
        return Unsold(code, tuple(withdrawn), tuple(left), tuple(back), tuple(stays))


def _move_back(act: Transaction, line: BookingUnit, code: str, day: Day) -> tuple[str, bool]:
    booking = act.get(Booking, line.booking_id, "booking")
    before = act.get(Unit, line.unit_id, "unit").tag
    now = (line.taken_off_for or "").removeprefix("moved to ").removesuffix(f" for {code}")
    taken = _line_on(act, booking, now)
    span = Span(max(booking.starts_on, min(day.today, booking.ends_on)), booking.ends_on, booking.code)
    promises = Promises(act.session, day.today, without=booking.id, day=day)
    held = promises.in_the_way(before, span)
    unfit = promises.fit is None or not promises.fit.fits(before, span)
    gone = taken is None or taken.out_at is not None or booking.cancelled_at is not None
    if gone or held or unfit or taken is None:
        return f"{booking.code} stays on {now}", False
    act.change(taken, taken_off_at=act.at, taken_off_for=f"sale {code} undone")
    act.change(line, taken_off_at=None, taken_off_for=None)
    act.session.flush()
    return f"{booking.code} is on {before} again", True
