"""A plan accepted: its changes to bookings and the tickets of its bench work, in one act.

look_before_accepting(workplace, changes, visits)  which changes promise units that are not fit and will not be
accept_plan(workplace, changes, visits)  the changes that were ticked and the bench work, in one act

A ticket is opened as a sale opens it: its tasks reserve parts, which the order list then asks for where they lack, and
it stands on the bench day by the day on which its unit leaves.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from fleetbench.calc.hires.availability import Span, clashes
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.hires.lookups import booking_by_code, lines_of, tickets_for
from fleetbench.records.hires.reads import BookedUnit, read_promises
from fleetbench.records.parts.reads import read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.reads import ticket_number
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.core.workplace import Day, Workplace, day_of, require_person
from fleetbench.workshop.hires.booking import Promises, put_on_within
from fleetbench.workshop.hires.fitness import BookUnfit, FitUnits, bench_minutes, write_booked_unfit
from fleetbench.workshop.hires.plan import BenchVisit, PlanChange
from fleetbench.workshop.hires.sell import work_of
from fleetbench.workshop.hires.sold import ready_for
from fleetbench.workshop.tickets.work import open_within


@dataclass(frozen=True, slots=True)
class AcceptedPlan:
    """What accepting did: bookings changed, and tickets opened."""

    codes: tuple[str, ...]
    tickets: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Ahead:
    """Work on one unit: the promise it is done for, its tasks, and the bookings for which these make it fit."""

    line: BookedUnit
    tasks: tuple[str, ...]
    cures: frozenset[str]


def look_before_accepting(
    workplace: Workplace, changes: Sequence[PlanChange], visits: Sequence[BenchVisit] = ()
) -> tuple[str, ...]:
    """Which of these changes promise units that are not fit and that the visits do not make fit, and why.

    Refused as the act itself would be.
    """
    day = day_of(workplace)
    with workplace.trying("accept plan", f"{len(changes)} changes of the plan") as act:
        return tuple(words for _, words in _accept(act, changes, visits, day)[0])


def accept_plan(
    workplace: Workplace,
    changes: Sequence[PlanChange],
    visits: Sequence[BenchVisit] = (),
    *,
    unfit: BookUnfit | None = None,
) -> AcceptedPlan:
    """Bookings get the units of the plan, and its bench work gets tickets, all in one act; Refused where one cannot.

    Exchanges go through whole: only how everything stands after the last change counts. A unit that is not fit on the
    days of its booking, and that no ticket of this act makes fit before, is promised by a manager's decision alone,
    which is written on it.
    """
    require_person(workplace)
    day = day_of(workplace)
    with workplace.transaction("accept plan", f"{len(changes)} changes of the plan") as act:
        held, works = _accept(act, changes, visits, day)
        if held and unfit is None:
            words = "; ".join(words for _, words in held)
            raise Refused(f"{words}; leave them out, or a manager books them with a reason")
        for change, _ in held:
            assert unfit is not None
            last = booking_by_code(act.session, change.code).ends_on
            write_booked_unfit(act, change.code, (change.to_tag,), last, unfit)
        tickets = tuple(_open(act, each, day) for each in works)
        return AcceptedPlan(tuple(dict.fromkeys(each.code for each in changes)), tickets)


def _open(act: Transaction, ahead: _Ahead, day: Day) -> str:
    line = ahead.line
    reason = _reason(act, line)
    ticket = open_within(act, line.unit_id, day.today.year, ahead.tasks, cause="course", reason=reason)
    return ticket_number(ticket.year, ticket.number)


def _accept(
    act: Transaction, changes: Sequence[PlanChange], visits: Sequence[BenchVisit], day: Day
) -> tuple[list[tuple[PlanChange, str]], tuple[_Ahead, ...]]:
    """Make the changes: those that promise a unit which is not fit and will not be, with the reason; and the work."""
    _change(act, changes, day.today)
    act.session.flush()
    fit = FitUnits(act.session.connection(), day)
    ahead = tuple(_ahead(act, {each.code for each in changes}, visits, fit, day))
    if not changes and not ahead:
        raise Refused("changes: none is ticked, and no bench work lacks a ticket; tick what to accept")
    cured = {(each.line.unit, code) for each in ahead for code in each.cures}
    spans = [Span(each.first, max(each.last, day.today), each.code) for each in changes]
    held = [
        (each, f"{each.code}: unit {each.to_tag}: {fit.why_unfit(each.to_tag, span)[0]}")
        for each, span in zip(changes, spans, strict=True)
        if (each.to_tag, each.code) not in cured and not fit.fits(each.to_tag, span)
    ]
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
            yield _Ahead(lines[0], tuple(tasks), frozenset(cures))


def _reason(act: Transaction, line: BookedUnit) -> str:
    return ready_for(booking_by_code(act.session, line.code).kind, line.code, line.starts_on)


def _has_ticket(act: Transaction, line: BookedUnit) -> bool:
    return any(ticket.unit_id == line.unit_id for ticket, _ in tickets_for(act.session, _reason(act, line)))


def _change(act: Transaction, changes: Sequence[PlanChange], today: date) -> None:
    touched = set()
    for change in changes:
        if change.from_tag is None:
            continue
        booking, unit = booking_by_code(act.session, change.code), unit_by_tag(act.session, change.to_tag)
        lines = [each for each in lines_of(act.session, booking.id) if each.received_at is None]
        line = next((each for each in lines if act.get(Unit, each.unit_id, "unit").tag == change.from_tag), None)
        if booking.cancelled_at is not None or line is None:
            raise Refused(f"booking {change.code}: {change.from_tag} is no longer on it; make the plan again")
        if line.out_at is not None:
            raise Refused(f"booking {change.code}: {change.from_tag} is out already; make the plan again")
        if unit.unit_type_id != booking.unit_type_id:
            raise Refused(f"booking {change.code}: {change.to_tag} is of another type; make the plan again")
        act.change(line, unit_id=unit.id)
        touched.add(unit.tag)
    _free_of_clashes(Promises(act.session, today), touched)
    for change in changes:
        if change.from_tag is None:
            booking = booking_by_code(act.session, change.code)
            if booking.cancelled_at is not None:
                raise Refused(f"booking {change.code}: is cancelled; make the plan again")
            put_on_within(act, booking, unit_by_tag(act.session, change.to_tag), today)


def _free_of_clashes(promises: Promises, tags: Iterable[str]) -> None:
    for tag in sorted(tags):
        if tag not in promises.units:
            raise Refused(f"unit {tag}: is retired or not the centre's own; make the plan again")
        nights = promises.nights(promises.units[tag].unit_type_id)
        spans: list[Span] = promises.taken[tag]
        for at, span in enumerate(spans):
            for other in clashes(span, spans[:at], nights):
                words = f"{span.name} from {span.first} and {other.name} from {other.first}"
                raise Refused(f"unit {tag}: would serve {words}; tick the change that frees it too, or leave this one")
