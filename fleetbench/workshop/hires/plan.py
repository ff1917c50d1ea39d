"""The plan: which unit serves which booking and when each goes to the bench, as a list of changes to accept or leave.

make_plan(workplace, ...)   the plan made from what is recorded, off the window's thread, with progress
set_bench_hours(workplace, h)  the centre's bench hours a day

Minutes of work are estimates, each a limit of the centre by its name, else common practice with no published source.
Every hire's own turn-round is taken off the bench time of the day after it, and its nights to dry are kept as days.
Bench work that each turn-round renews anyway is not planned apart.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.availability import Strip, What
from fleetbench.calc.hires.cures import CureKind, weighed
from fleetbench.calc.hires.plan import SECONDS, Plan, plan
from fleetbench.calc.hires.plan_facts import PlanBooking, PlanFacts, PlanUnit, WorkItem, bookings_met, overlap
from fleetbench.calc.hires.promises import GONE, HireState
from fleetbench.records.hires.lookups import centre_limit, read_hireable
from fleetbench.records.hires.reads import (
    BookedUnit,
    WantedRecord,
    read_booked_units,
    read_wanting,
)
from fleetbench.records.parts.lives import read_life_records, read_open_tasks
from fleetbench.records.parts.lookups import read_coming
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.records.places.tables import Limit
from fleetbench.workshop.core.workplace import Workplace, day_of, figure, require_person
from fleetbench.workshop.due.list import DueItem, list_due
from fleetbench.workshop.hires.availability import Availability, UnitDays, read_availability
from fleetbench.workshop.hires.fitness import bench_minutes
from fleetbench.workshop.parts.orders import LEAD_DAYS_UNKNOWN, lead_days
from fleetbench.workshop.parts.stock import usable_pieces
from fleetbench.workshop.turn_rounds.baths import hanging

HORIZON = 60
"""Days that are planned."""

BENCH_HOURS = "bench hours a day"
HOURS_A_DAY = 6.0
OWN = say("the centre's own")
PRACTICE = say("common practice, no published source")

RENEWED = frozenset(("workshop calibration", "one-way valve", "loop positive", "loop negative", "calibration"))
"""Due items that every turn-round renews."""

NOT_FOR_THE_BENCH = ("manual hold", "incident")
"""Holds that no bench work lifts: a person does, and until then the unit is left out."""


@dataclass(frozen=True, slots=True)
class PlanChange:
    """One booking gets a unit. from_tag: the unit that it stands in for, None where none was chosen.

    waits_for: the change cannot be accepted before this was done, in words; empty where it can.
    """

    code: str
    from_tag: str | None
    to_tag: str
    first: date
    last: date
    who: str
    waits_for: str = ""


@dataclass(frozen=True, slots=True)
class BenchVisit:
    """A unit is to be ready by a day: minutes of hands, what is done, parts to fetch. late: days past due, summed."""

    tag: str
    ready_on: date
    minutes: float
    work: tuple[str, ...]
    parts: tuple[str, ...]
    late: int


@dataclass(frozen=True, slots=True)
class Unmet:
    """A booking that lacks units in the plan: the least that lacks, and every way to cure it, the best first."""

    code: str
    missing: int
    first: date
    last: date
    who: str
    cures: tuple[str, ...]
    ways: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanPage:
    """The plan as it is shown. left_out: units that cannot be planned, and why. orders: parts to order today."""

    today: date
    days: int
    bench_hours: float
    bench_source: str
    changes: tuple[PlanChange, ...]
    visits: tuple[BenchVisit, ...]
    unmet: tuple[Unmet, ...]
    gives_up: tuple[str, ...]
    orders: tuple[str, ...]
    left_out: tuple[str, ...]
    plan: Plan
    bookings: int
    bookings_met: int


@dataclass(frozen=True, slots=True)
class Gathered:
    """What the plan is made of, and how to speak of it."""

    facts: PlanFacts
    shown: Availability
    who: Mapping[str, str]
    days: Mapping[str, tuple[date, date]]
    left_out: tuple[str, ...]
    hours: float
    source: str
    leads: Mapping[str, int]
    on_order: Mapping[str, int]
    minutes: Mapping[str, float]


def make_plan(
    workplace: Workplace,
    *,
    days: int = HORIZON,
    bench_hours: float | None = None,
    seconds: float = SECONDS,
    told: Callable[[float, str], None] | None = None,
) -> PlanPage:
    """The plan of so many days. bench_hours: a day's, None for the centre's own. Refused for figures out of reason."""
    figure("days", days, 1, 366, "plan 1 to 366 days")
    if bench_hours is not None:
        figure("bench hours a day", bench_hours, 0, 240, "enter working hours a day")
    if told is not None:
        told(0.0, say("reading what is recorded"))
    found = gathered(workplace, days, bench_hours)
    return _page(found, plan(found.facts, seconds=seconds, told=told))


def gathered(workplace: Workplace, days: int, bench_hours: float | None) -> Gathered:
    """What a plan of so many days is made of; a fixed number of statements."""
    shown = read_availability(workplace, days_back=0, days_ahead=days - 1)
    day = day_of(workplace, shown.today)
    due = [each for each in list_due(workplace, within_days=days) if each.unit is not None and each.item not in RENEWED]
    with workplace.database.reading() as connection:
        booked, wanting = read_booked_units(connection, day.today), read_wanting(connection, day.today)
        types, limits = read_part_types(connection), read_limits(connection)
        pieces = usable_pieces(connection, types, read_life_records(connection), day)
        coming = read_coming(connection)
        tasks: dict[str, int] = defaultdict(int)
        names = {each.unit_id: each.tag for each in read_hireable(connection, day.today)}
        for task in read_open_tasks(connection):
            tasks[names.get(task.unit_id, "")] += 1
    own = {each.name: each for each in limits if each.unit_type_id is None and each.part_type_id is None}
    minutes = bench_minutes(limits)
    hours_row = own.get(BENCH_HOURS)
    hours = bench_hours if bench_hours is not None else hours_row.amount if hours_row is not None else HOURS_A_DAY
    source = (
        say("as entered here") if bench_hours is not None else hours_row.source if hours_row is not None else PRACTICE
    )
    hangs = {each.unit: day.of(each.dry_from) for each in hanging(workplace)}
    maker = _Maker(shown, due, tasks, minutes, days, hangs)
    units = tuple(maker.unit(each) for each in shown.units)
    bookings, who, spans = maker.bookings(booked, wanting)
    bench = maker.bench(hours, bookings)
    parts = _parts(units, types, pieces, coming, shown.today, days)
    facts = PlanFacts(units, bookings, bench, parts)
    leads = {each.name: lead_days(each) for each in types.values()}
    on_order = {types[key].name: sum(count for _, count in listed) for key, listed in coming.items()}
    return Gathered(
        facts, shown=shown, who=who, days=spans, left_out=tuple(maker.left_out), hours=hours, source=source,
        leads=leads, on_order=on_order, minutes=minutes,
    )  # fmt: skip


class _Maker:
    """Makes units, bookings and bench time of a plan from what is recorded, in days counted from today."""

    def __init__(
        self,
        shown: Availability,
        due: Sequence[DueItem],
        tasks: Mapping[str, int],
        minutes: Mapping[str, float],
        days: int,
        hangs: Mapping[str, date],
    ) -> None:
        self._hangs = hangs
        self.shown, self.days, self.minutes, self.tasks = shown, days, minutes, tasks
        self._due: dict[str, list[DueItem]] = defaultdict(list)
        for each in due:
            self._due[each.unit or ""].append(each)
        self.left_out: list[str] = []

    def _at(self, day: date) -> int:
        return min((day - self.shown.today).days, 10**5)

    def unit(self, unit: UnitDays) -> PlanUnit:
        """One unit with its open work."""
        nights = self.shown.of_type(unit.unit_type).nights
        out = next((each for each in unit.promises if each.state in GONE), None)
        in_hand, taken = 0, list(self._beyond(unit))
        if out is not None:
            in_hand = self._at(out.last) + max(1, nights)
        for band in unit.bands:
            if band.what is What.AWAY:
                in_hand = max(in_hand, self._at(band.last) + 1)
        if unit.tag in self._hangs:  # what is left of its turn-round waits until its loop is dry
            in_hand = max(in_hand, self._at(self._hangs[unit.tag]))
        never = next((each for each in unit.bands if each.what is What.HOLD and _by_hand(each)), None)
        if never is not None or in_hand >= self.days:
            why = never.why if never is not None else say("not back within these days")
            self.left_out.append(strung(": ", (unit.tag, why)))
            taken = [(0, 10**5)]
        work = tuple(self._work(unit, out is not None, in_hand))
        fit = self._fit_through(unit, out is not None)
        return PlanUnit(
            unit.tag, unit_type=unit.unit_type, in_hand=min(in_hand, self.days), fit_through=fit, taken=tuple(taken),
            work=work,
        )  # fmt: skip

    def _beyond(self, unit: UnitDays) -> Iterator[tuple[int, int]]:
        for each in unit.promises:
            if each.state is HireState.TO_COME and self._at(each.first) >= self.days:
                yield self._at(each.first), self._at(each.last)

    def _fit_through(self, unit: UnitDays, out: bool) -> int | None:
        held = any((each.stops and each.last == date.max and each.first <= self.shown.today)
                   or each.what is What.TURN_ROUND for each in unit.bands)  # fmt: skip
        if held or out:
            return -1
        first = unit.unfit_from
        return None if first is None or self._at(first) > self.days + 60 else max(-1, self._at(first) - 1)

    def _work(self, unit: UnitDays, out: bool, in_hand: int) -> Iterator[WorkItem]:
        if out or any(each.what is What.TURN_ROUND for each in unit.bands):
            # The turn-round after a hire that is out now; those of hires to come are taken off the bench time.
            yield WorkItem(self.minutes["turn-round"], in_hand if out else 0, name=say("turn-round"))
        tickets = [each for each in unit.bands if each.what is What.SERVICE]
        for ticket in tickets:
            spent = max(self.minutes["ticket"], self.tasks.get(unit.tag, 0) * self.minutes["task"] / len(tickets))
            yield WorkItem(spent, 0 if ticket.stops else None, name=ticket.text)
        due = self._due.get(unit.tag, [])
        for item in due:
            yield self._due_work(item)
        unfit = next((each for each in unit.bands if each.what is What.UNFIT), None)
        if unfit is not None and not out and not due and not tickets:
            name = say("what makes it unfit ({why})", why=unfit.why.split(":")[0])
            yield WorkItem(self.minutes["other"], max(0, self._at(unfit.first)), name=name)

    def _due_work(self, item: DueItem) -> WorkItem:
        spent = self.minutes.get(item.item, self.minutes["other"])
        parts = ((item.part_type, 1),) if item.item == "replace" and item.part_type is not None else ()
        due = None if item.last_good_day is None else max(0, self._at(item.last_good_day))
        about = item.slot or item.part
        name = strung(" ", (say(item.item), about)) if about else say(item.item)
        return WorkItem(spent, due=due, parts=parts, throws_life=bool(parts), name=name)

    def bookings(
        self, booked: Sequence[BookedUnit], wanting: Sequence[WantedRecord]
    ) -> tuple[tuple[PlanBooking, ...], dict[str, str], dict[str, tuple[date, date]]]:
        """Bookings that begin within the plan, in the order in which they came, those that wait last."""
        strips: dict[str, tuple[str, Strip, list[str], int, int]] = {}
        keys = {each.code: each.booking_id for each in booked}
        keys |= {each.code: each.booking_id for each in wanting}
        for unit in self.shown.units:
            for each in unit.promises:
                if each.state is HireState.TO_COME:
                    kind, strip, tags, lacking, waits = strips.get(each.text, (unit.unit_type, each, [], 0, 0))
                    strips[each.text] = kind, strip, [*tags, unit.tag], lacking, waits
        for type_days in self.shown.types:
            for each in type_days.wanting:
                _kind, _strip, tags, _lacking, _waits = strips.get(each.text, ("", each, [], 0, 0))
                strips[each.text] = type_days.code, each, tags, each.lacking, int(each.what is What.WAITING)
        made, who, spans = [], {}, {}
        for code, (kind, strip, tags, lacking, _waits) in sorted(
            strips.items(), key=lambda each: (each[1][4], keys.get(each[0], 0))
        ):
            first = max(0, self._at(strip.first))
            if first >= self.days or strip.last < self.shown.today:
                continue
            nights = self.shown.of_type(kind).nights
            last = self._at(strip.last) + max(0, nights - 1)
            made.append(
                PlanBooking(code, unit_type=kind, days=(first, last), units=len(tags) + lacking, promised=tuple(tags))
            )
            who[code] = strip.why.split(",")[0].replace(f" {code}", "", 1)
            spans[code] = strip.first, strip.last
        return tuple(made), who, spans

    def bench(self, hours: float, bookings: Iterable[PlanBooking]) -> tuple[float, ...]:
        """Bench minutes of each day, less the turn-rounds of the hires that ended the day before."""
        left = [hours * 60.0] * self.days
        for booking in bookings:
            after = booking.days[1] + 1
            if after < self.days:
                left[after] -= booking.units * self.minutes["turn-round"]
        # What a day has too few minutes for is done on the next.
        over = 0.0
        for day, minutes in enumerate(left):
            over, left[day] = max(0.0, over - minutes), max(0.0, minutes - over)
        return tuple(left)


def _by_hand(band: Strip) -> bool:
    return band.why.startswith(NOT_FOR_THE_BENCH)


def _parts(
    units: Iterable[PlanUnit], types: Mapping[int, PartTypeRecord], pieces: Mapping[int, Sequence[object]],
    coming: Mapping[int, Sequence[tuple[date, int]]], today: date, days: int,
) -> dict[str, tuple[int, ...]]:  # fmt: skip
    """Pieces of each type that work asks for: on the shelf, on order by their days, and what an order of today brings.

    What is on order and overdue comes tomorrow at the earliest.
    """
    asked: dict[str, int] = defaultdict(int)
    for unit in units:
        for kind, count in unit.parts.items():
            asked[kind] += count
    found = {}
    for key, kind_row in types.items():
        if kind_row.name not in asked:
            continue
        arrivals = [len(pieces.get(key, ()))] + [0] * (days - 1)
        for expected, count in coming.get(key, ()):
            at = max(1, (expected - today).days)
            if at < days:
                arrivals[at] += count
        lead, short = max(1, lead_days(kind_row)), asked[kind_row.name] - sum(arrivals)
        if lead < days and short > 0:
            arrivals[lead] += short
        found[kind_row.name] = tuple(arrivals)
    return found


# the plan as it is shown


def _page(gathered: Gathered, made: Plan) -> PlanPage:
    facts, shown = gathered.facts, gathered.shown
    changes, gives_up = _changes(gathered, made)
    unmet = tuple(
        Unmet(
            each.code,
            each.missing,
            *gathered.days[each.code],
            gathered.who[each.code],
            each.cures,
            tuple(_ways(gathered, made, each.code)),
        )
        for each in made.causes
    )
    met = bookings_met(facts, made.assigned)
    return PlanPage(
        shown.today, days=facts.horizon, bench_hours=gathered.hours, bench_source=gathered.source, changes=changes,
        visits=tuple(_visits(gathered, made)), unmet=unmet,
        gives_up=gives_up, orders=_orders(gathered, made), left_out=gathered.left_out, plan=made,
        bookings=len(facts.bookings), bookings_met=met,
    )  # fmt: skip


def _ways(gathered: Gathered, made: Plan, code: str) -> Iterator[str]:
    """Every way to cure a booking, in words; one on which a person holds a unit stands before borrowing."""
    facts = gathered.facts
    kind = next(each.unit_type for each in facts.bookings if each.code == code)
    units = {each.tag: each for each in facts.units}
    *found, borrow = weighed(facts, made.assigned, code)
    for cure in found:
        work = strung(", ", (say("{tag} ({item}, {minutes:.0f} min)", tag=tag, item=strung("; ",
            (item.name for item in units[tag].work)), minutes=units[tag].minutes)
                         for tag in cure.tags))  # fmt: skip
        match cure.kind:
            case CureKind.WORK:
                lacks = strung(" and ", (f"{count} {name}" for name, count in cure.needs))
                yield (say("bench work on {work}, with {lacks} more before it", work=work, lacks=lacks) if lacks
                       else say("bench work on {work}", work=work))  # fmt: skip
            case CureKind.DAYS:
                days = _other_days(gathered, code, cure.shift)
                yield strung(", ", (days, say("after bench work on {work}", work=work))) if work else days
            case CureKind.MOVE:
                yield say(
                    "{days}, which frees {tags}: ring",
                    days=_other_days(gathered, cure.booking, cure.shift),
                    tags=strung(", ", cure.tags),
                )
    of_kind = {tag for tag, each in units.items() if each.unit_type == kind}
    held = (each.split(": ", 1) for each in gathered.left_out)
    yield from (say("{tag}, once it is let go: {why}", tag=tag, why=why) for tag, why in held
                if tag in of_kind and why.startswith(NOT_FOR_THE_BENCH))  # fmt: skip
    first, last = gathered.days[code]
    yield say("borrow {units} of {kind} from {first} to {last}", units=borrow.units, kind=kind, first=first, last=last)


def _other_days(gathered: Gathered, code: str, shift: int) -> str:
    first, last = (each + timedelta(days=shift) for each in gathered.days[code])
    return say("{code} from {first} to {last}", code=code, first=first, last=last)


def _changes(gathered: Gathered, made: Plan) -> tuple[tuple[PlanChange, ...], tuple[str, ...]]:
    """The changes, and what bookings would have to give up, which nobody but a person does."""
    changes, gives_up, kept = [], [], []
    for booking in gathered.facts.bookings:
        given = made.assigned.given.get(booking.code, ())
        new = [tag for tag in given if tag not in booking.promised]
        lost = [tag for tag in booking.promised if tag not in given]
        first, last = gathered.days[booking.code]
        for at, tag in enumerate(new):
            instead = lost[at] if at < len(lost) else None
            changes.append(
                PlanChange(
                    booking.code, from_tag=instead, to_tag=tag, first=first, last=last, who=gathered.who[booking.code]
                )
            )
        for tag in lost[len(new) :]:
            gives_up.append(
                say(
                    "{code} would give up {tag}, {first} to {last}: move or cancel it yourself",
                    code=booking.code,
                    tag=tag,
                    first=first,
                    last=last,
                )
            )
            kept.append((tag, booking))
    blocked = []
    for change in changes:
        days = next(each.days for each in gathered.facts.bookings if each.code == change.code)
        holder = next((b.code for tag, b in kept if tag == change.to_tag and overlap(b.days, days)), "")
        waits = say("{holder} gives up {to_tag}", holder=holder, to_tag=change.to_tag) if holder else ""
        blocked.append(change if not waits else _waiting(change, waits))
    return tuple(sorted(blocked, key=lambda each: (each.first, each.code))), tuple(gives_up)


def _waiting(change: PlanChange, why: str) -> PlanChange:
    return PlanChange(
        change.code,
        from_tag=change.from_tag,
        to_tag=change.to_tag,
        first=change.first,
        last=change.last,
        who=change.who,
        waits_for=why,
    )


def _visits(gathered: Gathered, made: Plan) -> Iterator[BenchVisit]:
    today = gathered.shown.today
    visits = [(day, unit) for unit in gathered.facts.units
              if (day := made.assigned.ready.get(unit.tag)) is not None]  # fmt: skip
    for day, unit in sorted(visits, key=lambda each: (each[0], each[1].tag)):
        late = sum(max(0, day - item.due) for item in unit.work if item.due is not None)
        parts = tuple(f"{count} {kind}" for kind, count in unit.parts.items())
        work = tuple(item.name for item in unit.work)
        yield BenchVisit(
            unit.tag, ready_on=today + timedelta(days=day), minutes=unit.minutes, work=work, parts=parts, late=late
        )


def _orders(gathered: Gathered, made: Plan) -> tuple[str, ...]:
    """Parts that the plan takes beyond what lies on the shelf: they arrive in time only if they are ordered today."""
    taken: dict[str, int] = defaultdict(int)
    for unit in gathered.facts.units:
        if made.assigned.ready.get(unit.tag) is not None:
            for kind, count in unit.parts.items():
                taken[kind] += count
    lines = []
    for kind, count in sorted(taken.items()):
        short = count - gathered.facts.parts.get(kind, (0,))[0] - gathered.on_order.get(kind, 0)
        if short > 0:
            arrives = gathered.shown.today + timedelta(days=gathered.leads.get(kind, LEAD_DAYS_UNKNOWN))
            lines.append(
                say("{short} {kind}, there by {arrives} if ordered today", short=short, kind=kind, arrives=arrives)
            )
    return tuple(lines)


def set_bench_hours(workplace: Workplace, hours: float) -> None:
    """Say how many hours of hands the centre has a day; it holds for every later plan."""
    require_person(workplace)
    amount = figure("bench hours a day", hours, 0, 240, "enter working hours a day")
    with workplace.transaction("set bench hours", "centre") as act:
        row = centre_limit(act.session, BENCH_HOURS)
        if row is None:
            act.add(Limit(name=BENCH_HOURS, amount=amount, unit="h", source=OWN, maker=False))
        else:
            act.change(row, amount=amount, source=OWN)
