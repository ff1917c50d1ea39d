"""What a plan is made of: units with their open work, bookings, bench time and parts; how a plan is judged.

And who does what at the bench on a day, in which order: jobs and people in, a day for each of them out.

Days are counted from 0, the day of planning, to the horizon. All open work of one unit is done in one visit to the
bench, and the unit is ready from the day after its ready day. A visit may be spread over the days on which the unit is
here without a break, from its last return to its ready day; bench time of days on which it is out is none of its own.
Bench time and parts are held cumulatively: the visits that begin on or after a day and end by another need no more than
there is between the two.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise

from fleetbench.calc.core.languages import say

Days = tuple[int, int]
"""First and last day, inclusive; the last one with the turn-round's further nights."""


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One thing to do on a unit: minutes of hands, due day (None: no date), and the parts that it takes.

    throws_life: doing it before its due day throws away that many days of a part's life.
    """

    minutes: float
    due: int | None = None
    parts: tuple[tuple[str, int], ...] = ()
    throws_life: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class PlanUnit:
    """One unit.

    in_hand: first day on which it can be worked on or leave. fit_through: last day on which it may be out without a
    visit to the bench, -1 where it may not leave before one, None where nothing limits it. taken: days on which it is
    promised beyond the plan's reach. work: what is open on it.
    """

    tag: str
    unit_type: str
    in_hand: int = 0
    fit_through: int | None = None
    taken: tuple[Days, ...] = ()
    work: tuple[WorkItem, ...] = ()

    @property
    def minutes(self) -> float:
        """Bench minutes of all its work."""
        return sum(item.minutes for item in self.work)

    @property
    def parts(self) -> dict[str, int]:
        """Parts that its work takes."""
        needed: dict[str, int] = {}
        for item in self.work:
            for kind, count in item.parts:
                needed[kind] = needed.get(kind, 0) + count
        return needed


@dataclass(frozen=True, slots=True)
class PlanBooking:
    """One booking in the order in which it came; promised: units that were named already."""

    code: str
    unit_type: str
    days: Days
    units: int = 1
    promised: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """All that a plan may use. bench_minutes: of each day. parts: of each type, new arrivals on each day."""

    units: tuple[PlanUnit, ...]
    bookings: tuple[PlanBooking, ...]
    bench_minutes: tuple[float, ...]
    parts: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse facts that no plan could be made of."""
        if not self.bench_minutes:
            raise ValueError(say("bench_minutes: give the bench time of at least one day"))
        if any(len(each) != self.horizon for each in self.parts.values()):
            raise ValueError(say("parts: give as many days as bench_minutes has"))
        for what, names in (
            ("units", [each.tag for each in self.units]),
            ("bookings", [b.code for b in self.bookings]),
        ):
            if len(set(names)) < len(names):
                raise ValueError(say("{what}: one stands twice; give each once", what=what))
        if any(each.days[1] < each.days[0] for each in self.bookings):
            raise ValueError(say("bookings: a last day is before its first; give them in order"))

    @property
    def horizon(self) -> int:
        """How many days are planned."""
        return len(self.bench_minutes)


@dataclass(frozen=True, order=True, slots=True)
class Score:
    """How good a plan is, the less the better, compared in this order.

    unmet: units wanted and not given. late: days past due, over all work. thrown: days of part life thrown away.
    changes: promises of a named unit not kept.
    """

    unmet: int
    late: int
    thrown: int
    changes: int


@dataclass(frozen=True, slots=True)
class Assigned:
    """Units of each booking by its code, and each unit's ready day, None where it does not go to the bench."""

    given: Mapping[str, tuple[str, ...]]
    ready: Mapping[str, int | None]


def visit_cost(unit: PlanUnit, day: int | None, horizon: int) -> tuple[int, int]:
    """Days late and days of life thrown away where the unit's work is done on a day, or not within the horizon."""
    late = thrown = 0
    at = horizon if day is None else day
    for item in unit.work:
        if item.due is None:
            continue
        late += max(0, at - item.due)
        thrown += max(0, item.due - at) if item.throws_life and day is not None else 0
    return late, thrown


def score(facts: PlanFacts, plan: Assigned) -> Score:
    """The score of a plan."""
    unmet = sum(each.units - len(plan.given.get(each.code, ())) for each in facts.bookings)
    costs = [visit_cost(unit, plan.ready.get(unit.tag), facts.horizon) for unit in facts.units]
    changes = sum(len(set(each.promised) - set(plan.given.get(each.code, ()))) for each in facts.bookings)
    return Score(unmet, sum(late for late, _ in costs), sum(thrown for _, thrown in costs), changes)


def bookings_met(facts: PlanFacts, plan: Assigned) -> int:
    """How many bookings have every unit they want."""
    return sum(len(plan.given.get(each.code, ())) == each.units for each in facts.bookings)


def overlap(one: Days, other: Days) -> bool:
    """Whether two spans share a day."""
    return one[0] <= other[1] and other[0] <= one[1]


def may_serve(unit: PlanUnit, booking: PlanBooking) -> bool:
    """Whether the unit could serve the booking at all, be it after a visit to the bench."""
    in_time = unit.in_hand <= booking.days[0]
    return unit.unit_type == booking.unit_type and in_time and not any(overlap(booking.days, t) for t in unit.taken)


def needs_visit(unit: PlanUnit, booking: PlanBooking) -> bool:
    """Whether the unit must have been at the bench before this booking."""
    return unit.fit_through is not None and booking.days[1] > unit.fit_through


def visit_days(unit: PlanUnit, horizon: int) -> tuple[int, ...]:
    """Days on which the unit's work may be finished: in hand, and not promised beyond the plan's reach.

    A unit on which no work is known cannot be made fit by a visit.
    """
    if not unit.work:
        return ()
    days = range(max(0, unit.in_hand), horizon)
    return tuple(day for day in days if not any(first <= day <= last for first, last in unit.taken))


def stay_from(unit: PlanUnit, day: int, out: Iterable[Days] = ()) -> int:
    """First day of the unit's unbroken stay here up to a day, given when it is out: the day from which work counts."""
    returns = (last + 1 for _, last in (*unit.taken, *out) if last < day)
    return max((0, unit.in_hand, *returns))


def stays(facts: PlanFacts, plan: Assigned) -> tuple[tuple[PlanUnit, int, int], ...]:
    """Each visit of a plan: the unit, the first day of its stay and its ready day."""
    out: dict[str, list[Days]] = {}
    for booking in facts.bookings:
        for tag in plan.given.get(booking.code, ()):
            out.setdefault(tag, []).append(booking.days)
    return tuple(
        (unit, stay_from(unit, day, out.get(unit.tag, ())), day)
        for unit in facts.units
        if (day := plan.ready.get(unit.tag)) is not None
    )


def faults(facts: PlanFacts, plan: Assigned) -> tuple[str, ...]:
    """What is wrong with a plan, in words; empty where it keeps every rule."""
    units = {each.tag: each for each in facts.units}
    found: list[str] = []
    for tag, unit in units.items():
        mine = [each for each in facts.bookings if tag in plan.given.get(each.code, ())]
        day = plan.ready.get(tag)
        for at, each in enumerate(mine):
            if not may_serve(unit, each):
                found.append(say("{tag} cannot serve {code}", tag=tag, code=each.code))
            if needs_visit(unit, each) and (day is None or day >= each.days[0]):
                found.append(say("{tag} is not ready for {code}", tag=tag, code=each.code))
            found += [
                say("{tag} serves {code} and {code_2} at once", tag=tag, code=each.code, code_2=b.code)
                for b in mine[:at]
                if overlap(each.days, b.days)
            ]
            if day is not None and each.days[0] <= day <= each.days[1]:
                found.append(say("{tag} is on the bench and on {code}", tag=tag, code=each.code))
        if day is not None and day not in visit_days(unit, facts.horizon):
            found.append(say("{tag} cannot be ready on day {day}", tag=tag, day=day))
    found += [say("{code} has too many units", code=each.code) for each in facts.bookings
              if len(set(plan.given.get(each.code, ()))) > each.units]  # fmt: skip
    return (*found, *resource_faults(facts, plan))


def resource_faults(facts: PlanFacts, plan: Assigned) -> tuple[str, ...]:
    """Bench time and parts that a plan's visits ask for and there is not, in words."""
    visits = stays(facts, plan)
    found = [say("bench: {asked:g} min asked from day {start} to {day}, {there:g} there", asked=asked, start=start,
        day=day, there=there)
             for start, day, asked, there in _overloads(facts, visits)]  # fmt: skip
    for kind in {kind for unit, *_ in visits for kind in unit.parts}:
        arrivals = facts.parts.get(kind, (0,) * facts.horizon)
        stock = asked_parts = 0
        for day in range(facts.horizon):
            stock += arrivals[day]
            asked_parts += sum(unit.parts.get(kind, 0) for unit, _, at in visits if at == day)
            if asked_parts > stock:
                found.append(
                    say(
                        "{kind}: {asked_parts} asked by day {day}, {stock} there",
                        kind=kind,
                        asked_parts=asked_parts,
                        day=day,
                        stock=stock,
                    )
                )
    return tuple(found)


Visits = tuple[tuple[PlanUnit, int, int], ...]


def _overloads(facts: PlanFacts, visits: Visits) -> Iterator[tuple[int, int, float, float]]:
    """Spans of days with more bench time asked by the visits that must be done within than there is: asked, there."""
    for start in sorted({begun for _, begun, _ in visits}):
        there = asked = 0.0
        of_day: dict[int, float] = {}
        for unit, begun, at in visits:
            if begun >= start:
                of_day[at] = of_day.get(at, 0.0) + unit.minutes
        for day in range(start, facts.horizon):
            there += facts.bench_minutes[day]
            asked += of_day.get(day, 0.0)
            if asked > there + 1e-6:
                yield start, day, asked, there


def crowded(facts: PlanFacts, plan: Assigned) -> tuple[PlanUnit, ...]:
    """Units whose visits share days with more bench time asked for than there is; empty where all can be done."""
    visits = stays(facts, plan)
    spans = [(start, day) for start, day, _, _ in _overloads(facts, visits)]
    return tuple(unit for unit, begun, at in visits if any(start <= begun and at <= day for start, day in spans))


@dataclass(frozen=True, slots=True)
class BenchJob:
    """The work on one unit, done in one go by one person.

    ready_by: the last day on which it may be finished, None where nothing waits for it. begins: minutes after the
    bench opens from which it can be worked on, as its loop is dry then. fetch: parts to take along, in words.
    """

    tag: str
    minutes: float
    work: tuple[str, ...]
    ready_by: date | None = None
    begins: float = 0.0
    fetch: tuple[str, ...] = ()
    wanted_for: str = ""


Stint = tuple[float, BenchJob]
"""A job and the minute after the bench opens at which it is begun."""


def dealt(
    jobs: Sequence[BenchJob], people: int, minutes: float
) -> tuple[tuple[tuple[Stint, ...], ...], tuple[BenchJob, ...]]:
    """Each person's jobs in order, and the jobs that are left for another day.

    What must be ready first is given out first, each job to the technician who can begin it
    soonest; the gap before a job whose loop still hangs is filled with others. minutes: of hands that each person has.
    Earliest due date first: Jackson, Scheduling a production line to minimize maximum tardiness (1955), from memory.
    """
    given: list[list[Stint]] = [[] for _ in range(people)]
    left = []
    for job in sorted(jobs, key=lambda each: (each.ready_by or date.max, each.minutes, each.tag)):
        places = ((_first_gap(of, job, minutes), at) for at, of in enumerate(given))
        start, at = min(((start, at) for start, at in places if start is not None), default=(None, 0))
        if start is None:
            left.append(job)
        else:
            given[at] = sorted([*given[at], (start, job)], key=_begins)
    return tuple(tuple(each) for each in given), tuple(left)


def _begins(stint: Stint) -> float:
    return stint[0]


def _first_gap(given: Sequence[Stint], job: BenchJob, minutes: float) -> float | None:
    """The first minute from which a person has the time for a job; None where there is no such minute."""
    edges = [(0.0, 0.0), *((start, start + each.minutes) for start, each in given), (minutes, minutes)]
    for (_, free), (taken, _) in pairwise(edges):
        start = max(free, job.begins)
        if start + job.minutes <= taken + 1e-9:
            return start
    return None
