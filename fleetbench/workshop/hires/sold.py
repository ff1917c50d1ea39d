"""A sale in one act and the same taken back in one, and a plan accepted in one.

sell(workplace, entry, sale)  the booking, its tickets and the promises that move for it
undo_sale(workplace, code, why)  all of it, where nothing of it was begun
look_before_accepting(workplace, changes, visits)  which changes of a plan promise units that stay unfit
accept_plan(workplace, changes, visits)  the changes that were ticked, tickets of the bench work, orders of parts
undo_plan(workplace, code, why)  all of it, where nothing of it was begun

A ticket of either reserves its parts by its tasks; what of them lacks is ordered in the same act. It stands on the
bench day by the day on which its unit leaves.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetbench.calc.core.languages import in_row, say, strung
from fleetbench.calc.hires.availability import Span, clashes
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.hires.sell import Sale
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import (
    booking_by_code,
    kept_plans,
    lines_of,
    lines_put_on,
    lines_taken_off,
    signed_lines,
    terms_of,
    tickets_for,
)
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.hires.tables import Booking, BookingUnit, KeptPlan
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.tickets.tables import Ticket
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
from fleetbench.workshop.hires.fitness import BookUnfit, FitUnits, bench_minutes, write_booked_unfit
from fleetbench.workshop.hires.plan import BenchVisit, PlanChange
from fleetbench.workshop.hires.sell import WorkToDo, replace_task, work_of
from fleetbench.workshop.parts.orders import cancel_orders_within, order_within, pieces_left
from fleetbench.workshop.tickets.work import open_within


@dataclass(frozen=True, slots=True)
class Sold:
    """What a sale did: the booking, tickets opened, parts ordered, and promises moved as code, unit before and now."""

    booked: Booked
    tickets: tuple[str, ...]
    moved: tuple[tuple[str, str, str], ...]
    ordered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Undone:
    """What undoing a sale or a plan did, and what was done meanwhile and stays.

    withdrawn, left: tickets; moved_back, not_moved_back: promises; cancelled, arrived: orders of which nothing came,
    and of which pieces did.
    """

    code: str
    withdrawn: tuple[str, ...]
    left: tuple[str, ...]
    moved_back: tuple[str, ...]
    not_moved_back: tuple[str, ...]
    cancelled: tuple[str, ...] = ()
    arrived: tuple[str, ...] = ()


def sell(workplace: Workplace, entry: BookingEntry, sale: Sale) -> Sold:
    """Book a sale the way that was chosen: its units, the tickets of those that need work, the promises that move.

    Everything is looked at again as it stands now; Refused, with nothing changed, where it has changed since.
    """
    require_person(workplace)
    day = day_of(workplace)
    if not sale.units:
        raise Refused(say("units: none can go this way; choose another way, other days, or the waiting list"))
    left = pieces_left(workplace)
    with workplace.transaction("sell", f"{entry.kind} {entry.first}") as act:
        span = checked_days(entry.first, entry.last, day.today)
        moved = [_move(act, name, tag, day) for name, tag in sale.moves]
        entry = replace(entry, units=sale.units, wanted=max(len(sale.units), entry.wanted or 0), when_full="refuse")
        works = _works(act, sale, Span(span.first, span.last, "this"), day, entry.way)
        booked = book_within(act, entry, day, cured=tuple(works))
        for each in moved:
            assert each.before is not None
            act.change(each.before, taken_off_for=_moved_for(each.now, booked.code))
        year = day.today.year
        reason = ready_for(entry.kind, booked.code, entry.first)
        tickets = [
            open_within(act, unit_by_tag(act.session, tag).id, year, work.tasks, cause="course", reason=reason)
            for tag, work in works.items()
        ]
        told = tuple((each.booking.code, each.tag, each.now) for each in moved)
        ordered = order_within(act, _needed(act, works), left, day.today, booked.code)
        return Sold(booked, tuple(ticket_number(each.year, each.number) for each in tickets), told, ordered)


def _needed(act: Transaction, works: Mapping[str, WorkToDo]) -> Counter[int]:
    keys = {each.name: key for key, each in read_part_types(act.session.connection()).items()}
    found = Counter[int]()
    for work in works.values():
        found.update({keys[name]: count for name, count in work.parts})
    return found


def ready_for(kind: str, code: str, first: date, plan: str = "") -> str:
    """Why a ticket is opened so that a unit is ready for a booking; the bench day finds it by the unit's promise."""
    return in_row(f"Ready for {kind} {code} from {first.isoformat()}{_by_plan(plan)}")


def _by_plan(plan: str) -> str:
    return in_row(f", by plan {plan}") if plan else ""


@dataclass(frozen=True, slots=True)
class _Step:
    """A promise that moves between two units: the lines before and taken, and the unit of each.

    Going back, before None: none was chosen; taken None: it cannot go back.
    """

    booking: Booking
    before: BookingUnit | None
    taken: BookingUnit | None
    tag: str
    now: str = ""

    @property
    def stays(self) -> str:
        return say("{code} stays on {now}", code=self.booking.code, now=self.now or self.tag)

    def words(self, *, fit: bool) -> str:
        if self.before is None:
            return say("{code} is without {tag} again", code=self.booking.code, tag=self.tag)
        again = say("{code} is on {tag} again") if fit else say("{code} is on {tag} again, which is not fit")
        return say(again, code=self.booking.code, tag=self.tag)


def _moved_for(now: str, code: str) -> str:
    return in_row(f"moved to {now} for {code}")


def _move(act: Transaction, name: str, tag: str, day: Day) -> _Step:
    """A promise that goes to another unit, the old line kept as taken off; Refused where it cannot any more."""
    code, _, before = name.rpartition(" ")
    booking = open_booking(act, code)
    line = _line_on(act, booking, before)
    if line is None or _stays(act, line):
        raise Refused(say("booking {code}: {before} is not on it any more, has left or is signed for; ask again",
            code=code, before=before))  # fmt: skip
    unit = unit_by_tag(act.session, tag)
    act.change(line, taken_off_at=act.at, taken_off_for=in_row(f"moved to {tag}"))
    act.session.flush()
    new = put_on_within(act, booking, unit, day.today)
    if (new.hand_over, new.diver_id) != (line.hand_over, line.diver_id):
        act.change(new, hand_over=line.hand_over, diver_id=line.diver_id)
    act.session.flush()
    span = Span(max(booking.starts_on, day.today), booking.ends_on, code)
    fit = FitUnits(act.session.connection(), day, booking_id=booking.id)
    if not fit.fits(tag, span):
        raise Refused(say("unit {tag}: {why_unfit}; {code} cannot move onto it, ask again", tag=tag,
            why_unfit=fit.why_unfit(tag, span)[0], code=code))  # fmt: skip
    return _Step(booking, before=line, taken=new, tag=before, now=tag)


def _stays(act: Transaction, line: BookingUnit) -> bool:
    """Whether a promise cannot go to another unit: its unit has left, or its page was signed."""
    return line.out_at is not None or bool(signed_lines(act.session, (line.id,)))


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
            raise Refused(say("unit {tag}: {why_unfit}; no bench work cures it now, ask again", tag=tag,
                why_unfit=fit.why_unfit(tag, span)[0]))  # fmt: skip
        found[tag] = work
    return found


def undo_sale(workplace: Workplace, code: str, reason: str) -> Undone:
    """Take a sale back: its booking is cancelled, tickets not begun are withdrawn, promises that moved go back.

    What was ordered for it is cancelled. A ticket on which work was begun stays, a promise whose unit was given away
    since stays where it is, and parts that came stay; all are told. Refused where a unit of it has left.
    """
    require_person(workplace)
    day, why = day_of(workplace), required("reason", reason)[:200]
    with workplace.transaction("undo sale", f"booking {code}") as act:
        booking = open_booking(act, code)
        lines = lines_of(act.session, booking.id)
        if any(each.out_at is not None for each in lines):
            raise Refused(say("booking {code}: units of it left; receive them", code=code))
        act.change(booking, cancelled_at=act.at, ended_as=HireState.CANCELLED, ended_for=why)
        opened_for = ready_for(booking.kind, code, booking.starts_on)
        return _take_back(act, code, day, tickets_for(act.session, opened_for, opened_for))


def _take_back(act: Transaction, code: str, day: Day, opened: Iterable[tuple[Ticket, bool]]) -> Undone:
    """Withdraw tickets that nobody began, cancel orders of which nothing came, and put promises where they were."""
    withdrawn: list[str] = []
    left: list[str] = []
    for ticket, begun in opened:
        (left if begun else withdrawn).append(ticket_number(ticket.year, ticket.number))
        if not begun:
            act.change(ticket, withdrawn_at=act.at)
    cancelled, arrived = cancel_orders_within(act, code)
    act.session.flush()
    steps: list[_Step] = []
    stays: list[_Step] = []
    for line in lines_taken_off(act.session, in_row(f" for {code}")):
        step = _step_back(act, line, code)
        (stays if step.taken is None else steps).append(step)
    anew = [each for each in lines_put_on(act.session, code) if all(each is not step.taken for step in steps + stays)]
    steps += [_Step(act.get(Booking, each.booking_id, "booking"), None, each, _tag(act, each))
              for each in anew if not _stays(act, each)]  # fmt: skip
    for step in steps:
        _put_back(act, step, code)
    act.session.flush()
    # One that cannot go back keeps the unit of another, so that each is looked at again after it.
    while (held := next((each for each in steps if _is_held(act, each, day)), None)) is not None:
        steps.remove(held)
        stays.append(held)
        _put_forth(act, held, code)
        act.session.flush()
    told, kept = tuple(each.words(fit=_is_fit(act, each, day)) for each in steps), tuple(each.stays for each in stays)
    return Undone(code, tuple(withdrawn), tuple(left), told, not_moved_back=kept, cancelled=cancelled, arrived=arrived)


def _step_back(act: Transaction, line: BookingUnit, code: str) -> _Step:
    booking = act.get(Booking, line.booking_id, "booking")
    now = (line.taken_off_for or "").removeprefix("moved to ").removesuffix(f" for {code}")
    taken, tag = _line_on(act, booking, now), _tag(act, line)
    gone = taken is None or _stays(act, taken) or booking.cancelled_at is not None or _line_on(act, booking, tag)
    return _Step(booking, before=line, taken=None if gone else taken, tag=tag, now=now)


def _put_back(act: Transaction, step: _Step, code: str) -> None:
    assert step.taken is not None
    act.change(step.taken, taken_off_at=act.at, taken_off_for=f"{code} undone")
    if step.before is not None:
        act.change(step.before, taken_off_at=None, taken_off_for=None)
        return
    terms = terms_of(act.session, step.booking.id)
    if terms is not None and terms.waiting_since is None and terms.waited_since is not None:
        act.change(terms, waiting_since=terms.waited_since, waited_since=None)


def _put_forth(act: Transaction, step: _Step, code: str) -> None:
    assert step.taken is not None and step.before is not None
    act.change(step.before, taken_off_at=act.at, taken_off_for=_moved_for(step.now, code))
    act.change(step.taken, taken_off_at=None, taken_off_for=None)


def _span(step: _Step, day: Day) -> Span:
    booking = step.booking
    return Span(max(booking.starts_on, min(day.today, booking.ends_on)), booking.ends_on, booking.code)


def _is_held(act: Transaction, step: _Step, day: Day) -> bool:
    """Whether the unit before was given to another booking since."""
    promises = Promises(act.session, day.today, without=step.booking.id)
    return step.before is not None and bool(promises.in_the_way(step.tag, _span(step, day)))


def _is_fit(act: Transaction, step: _Step, day: Day) -> bool:
    if step.before is None:
        return True
    return FitUnits(act.session.connection(), day, booking_id=step.booking.id).fits(step.tag, _span(step, day))


def _tag(act: Transaction, line: BookingUnit) -> str:
    return act.get(Unit, line.unit_id, "unit").tag


# a plan


@dataclass(frozen=True, slots=True)
class AcceptedPlan:
    """What accepting did: bookings changed, tickets opened, parts ordered; code: of the plan, to undo it by."""

    codes: tuple[str, ...]
    tickets: tuple[str, ...]
    ordered: tuple[str, ...] = ()
    code: str = ""


@dataclass(frozen=True, slots=True)
class _Ahead:
    """Work on one unit: the promise it is done for, tasks, bookings that it makes the unit fit for, parts by type."""

    line: BookedUnit
    tasks: tuple[str, ...]
    cures: frozenset[str]
    parts: Counter[int]


def look_before_accepting(
    workplace: Workplace, changes: Sequence[PlanChange], visits: Sequence[BenchVisit] = ()
) -> tuple[str, ...]:
    """Which of these changes promise units that are not fit and that the visits do not make fit, and why.

    Refused as the act itself would be.
    """
    day = day_of(workplace)
    with workplace.trying("accept plan", f"{len(changes)} changes of the plan") as act:
        return tuple(words for _, words in _accept(act, changes, visits, day, "")[0])


def accept_plan(
    workplace: Workplace,
    changes: Sequence[PlanChange],
    visits: Sequence[BenchVisit] = (),
    *,
    unfit: BookUnfit | None = None,
) -> AcceptedPlan:
    """Bookings get the units of the plan, its bench work tickets and its parts orders, all in one act.

    Refused where one cannot. Exchanges go through whole: only how everything stands after the last change counts. A
    unit that is not fit on the days of its booking, and that no ticket of this act makes fit before, is promised by a
    manager's decision alone, which is written on it.
    """
    require_person(workplace)
    day = day_of(workplace)
    left = pieces_left(workplace)
    with workplace.transaction("accept plan", f"{len(changes)} changes of the plan") as act:
        numbers = [each.code for each in kept_plans(act.session) if each.code.startswith(f"P-{day.today.year}-")]
        plan = act.add(KeptPlan(code=f"P-{day.today.year}-{len(numbers) + 1:03d}", at=act.at, person_id=act.person_id))
        held, works = _accept(act, changes, visits, day, plan.code)
        if held and unfit is None:
            words = strung("; ", (words for _, words in held))
            raise Refused(say("{words}; leave them out, or a manager books them with a reason", words=words))
        for change, _ in held:
            assert unfit is not None
            last = booking_by_code(act.session, change.code).ends_on
            write_booked_unfit(act, change.code, (change.to_tag,), last, unfit)
        tickets = tuple(_open(act, each, day, plan.code) for each in works)
        needed = sum((each.parts for each in works), Counter[int]())
        ordered = order_within(act, needed, left, day.today, plan.code)
        return AcceptedPlan(tuple(dict.fromkeys(each.code for each in changes)), tickets, ordered, plan.code)


def last_plan(workplace: Workplace) -> str | None:
    """The code of the plan that was accepted last; None where there is none, or it was undone."""
    with workplace.database.read_session() as session:
        newest = next(iter(kept_plans(session)), None)
        return newest.code if newest is not None and newest.undone_at is None else None


def undo_plan(workplace: Workplace, code: str, reason: str) -> Undone:
    """Take a plan back: its tickets that nobody began, its orders of which nothing came, and its changes of units.

    What was meanwhile worked on, came, left or was signed for stays and is told. Refused where it was undone before.
    """
    require_person(workplace)
    day, why = day_of(workplace), required("reason", reason)[:200]
    with workplace.transaction("undo plan", f"plan {code}") as act:
        plan = next((each for each in kept_plans(act.session) if each.code == code), None)
        if plan is None or plan.undone_at is not None:
            raise Refused(say("plan {code}: is not there, or was undone; make a new plan", code=code))
        act.change(plan, undone_at=act.at, undone_for=why)
        return _take_back(act, code, day, tickets_for(act.session, ends=_by_plan(code)))


def _open(act: Transaction, ahead: _Ahead, day: Day, plan: str) -> str:
    line = ahead.line
    reason = _reason(act, line, plan)
    ticket = open_within(act, line.unit_id, day.today.year, ahead.tasks, cause="course", reason=reason)
    return ticket_number(ticket.year, ticket.number)


def _accept(
    act: Transaction, changes: Sequence[PlanChange], visits: Sequence[BenchVisit], day: Day, plan: str
) -> tuple[list[tuple[PlanChange, str]], tuple[_Ahead, ...]]:
    """Make the changes: those that promise a unit which is not fit and will not be, with the reason; and the work."""
    _change(act, changes, day.today, plan)
    act.session.flush()
    fit = FitUnits(act.session.connection(), day)
    ahead = tuple(_ahead(act, {each.code for each in changes}, visits, fit, day))
    if not changes and not ahead:
        raise Refused(say("changes: none is ticked, and no bench work lacks a ticket; tick what to accept"))
    cured = {(each.line.unit, code) for each in ahead for code in each.cures}
    spans = [Span(each.first, max(each.last, day.today), each.code) for each in changes]
    held = [(each, say("{code}: unit {to_tag}: {why_unfit}", code=each.code, to_tag=each.to_tag,
        why_unfit=fit.why_unfit(each.to_tag, span)[0])) for each, span in zip(changes, spans,
        strict=True) if (each.to_tag, each.code) not in cured and not fit.fits(each.to_tag, span)]  # fmt: skip
    return held, ahead


def _ahead(
    act: Transaction, codes: Collection[str], visits: Sequence[BenchVisit], fit: FitUnits, day: Day
) -> Iterator[_Ahead]:
    """The work of each visit for the first promise of its unit and for those that change, where no ticket has it yet.

    The work is judged as it stands now, as a sale judges it; parts that are due are replaced in the same visit.
    """
    connection = act.session.connection()
    minutes, types = bench_minutes(read_limits(connection)), read_part_types(connection)
    coming: dict[str, list[BookedUnit]] = defaultdict(list)
    for line in read_promises(connection):
        if line.out_at is None and line.starts_on > day.today:
            coming[line.unit].append(line)
    for visit in visits:
        lines = [each for each in coming[visit.tag] if visit.ready_on < each.starts_on]
        tasks = dict.fromkeys(f"R{name[1:]}" for name in visit.work if name.startswith("replace ")) if lines else {}
        cures = set()
        for line in (each for at, each in enumerate(lines) if not at or each.code in codes):
            span = Span(line.starts_on, line.ends_on, line.code)
            work = None if fit.fits(visit.tag, span) else work_of(fit, visit.tag, span, minutes, types)
            if work is not None:
                tasks |= dict.fromkeys(work.tasks)
                cures.add(line.code)
        if tasks and not _has_ticket(act, lines[0]):
            named = {replace_task(seat.slot.name): seat.part.part_type_id for seat in fit.seats(visit.tag) if seat.part}
            parts = Counter(named[task] for task in tasks if task in named)
            yield _Ahead(lines[0], tuple(tasks), frozenset(cures), parts)


def _reason(act: Transaction, line: BookedUnit, plan: str = "") -> str:
    return ready_for(booking_by_code(act.session, line.code).kind, line.code, line.starts_on, plan)


def _has_ticket(act: Transaction, line: BookedUnit) -> bool:
    return any(ticket.unit_id == line.unit_id for ticket, _ in tickets_for(act.session, _reason(act, line)))


def _change(act: Transaction, changes: Sequence[PlanChange], today: date, plan: str) -> None:
    touched, moved = set(), []
    for change in changes:
        if change.from_tag is None:
            continue
        booking, unit = booking_by_code(act.session, change.code), unit_by_tag(act.session, change.to_tag)
        lines = [each for each in lines_of(act.session, booking.id) if each.received_at is None]
        line = next((each for each in lines if act.get(Unit, each.unit_id, "unit").tag == change.from_tag), None)
        if booking.cancelled_at is not None or line is None:
            raise Refused(say("booking {code}: {from_tag} is no longer on it; make the plan again", code=change.code,
                from_tag=change.from_tag))  # fmt: skip
        if _stays(act, line):
            raise Refused(say("booking {code}: {from_tag} is out or signed for; leave this change out",
                code=change.code, from_tag=change.from_tag))  # fmt: skip
        if unit.unit_type_id != booking.unit_type_id:
            raise Refused(say("booking {code}: {to_tag} is of another type; make the plan again", code=change.code,
                to_tag=change.to_tag))  # fmt: skip
        act.change(line, taken_off_at=act.at, taken_off_for=_moved_for(unit.tag, plan))
        moved.append((line, unit.id))
        touched.add(unit.tag)
    act.session.flush()
    for line, unit_id in moved:
        act.add(BookingUnit(booking_id=line.booking_id, unit_id=unit_id, diver_id=line.diver_id,
                            hand_over=line.hand_over, put_on_for=plan))  # fmt: skip
    _free_of_clashes(Promises(act.session, today), touched)
    for change in changes:
        if change.from_tag is None:
            booking = booking_by_code(act.session, change.code)
            if booking.cancelled_at is not None:
                raise Refused(say("booking {code}: is cancelled; make the plan again", code=change.code))
            act.change(put_on_within(act, booking, unit_by_tag(act.session, change.to_tag), today), put_on_for=plan)


def _free_of_clashes(promises: Promises, tags: Iterable[str]) -> None:
    for tag in sorted(tags):
        if tag not in promises.units:
            raise Refused(say("unit {tag}: is retired or not the centre's own; make the plan again", tag=tag))
        nights = promises.nights(promises.units[tag].unit_type_id)
        spans: list[Span] = promises.taken[tag]
        for at, span in enumerate(spans):
            for other in clashes(span, spans[:at], nights):
                words = say("{booking} from {first} and {other} from {other_first}", booking=span.name,
                    first=span.first, other=other.name, other_first=other.first)  # fmt: skip
                raise Refused(say("unit {tag}: would serve {words}; tick the change that frees it too, or leave "
                    "this one", tag=tag, words=words))  # fmt: skip
