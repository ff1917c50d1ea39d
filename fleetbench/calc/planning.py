"""Which unit serves which booking and when each goes to the bench: a plan, its bound, and why a booking is unmet.

First come, first served is the start. Then small programmes over neighbourhoods of about eight units, two seconds
each, take its place wherever they are better; the plan is never worse than the start, and stops at the time allowed
with the least that must stay unmet stated. Small cases are solved whole, which is exact.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import ceil
from random import Random
from time import monotonic

from fleetbench.calc.planning_facts import (
    Assigned,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    Score,
    may_serve,
    needs_visit,
    overlap,
    score,
    visit_cost,
    visit_days,
)
from fleetbench.calc.planning_model import Bound, Model, least_unmet

NEIGHBOURS = 8
SECONDS_A_PROGRAMME = 2.0
SECONDS = 20.0
SMALL = 120
"""Up to so many pairs of a unit and a booking are solved whole."""


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a booking is unmet: how many units it lacks and the fewest single cures that would meet it.

    cures: `1 unit of TYPE`, `2 CELL-A`, `1 h of bench time`; everything else in the plan is held as it is.
    """

    code: str
    missing: int
    cures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan, its score beside that of first come, first served, and what is proved of it.

    exact: no plan is better. bound: the least units that stay unmet whatever is done.
    """

    assigned: Assigned
    score: Score
    first_come: Score
    bound: Bound
    exact: bool
    causes: tuple[Cause, ...]
    seconds: float


def plan(facts: PlanFacts, *, seconds: float = SECONDS, seed: int = 0) -> Plan:
    """The plan found within the seconds allowed."""
    begun = monotonic()
    start = first_come_first_served(facts)
    first = score(facts, start)
    small = len(facts.units) * len(facts.bookings) <= SMALL
    if small:
        best = Model(facts, facts.units, start).solve(None) or start
        bound = Bound(score(facts, best).unmet, True)
    else:
        bound = least_unmet(facts, seconds / 4)
        best = _improve(facts, start, bound, begun + seconds - 0.3, Random(seed))
    if score(facts, best) > first:
        best = start
    return Plan(best, score(facts, best), first, bound, small, causes(facts, best), monotonic() - begun)


def first_come_first_served(facts: PlanFacts) -> Assigned:
    """Each booking in its order takes the units promised to it, then any that are fit, then those soonest ready.

    What is left of the bench goes to the other units by their due days.
    """
    given: dict[str, tuple[str, ...]] = {}
    ready: dict[str, int | None] = {each.tag: None for each in facts.units}
    busy: dict[str, list[tuple[int, int]]] = {each.tag: [] for each in facts.units}
    bench = _Bench(facts)
    for booking in facts.bookings:
        offers = [
            offer for unit in facts.units if (offer := _offer(bench, unit, booking, ready[unit.tag], busy[unit.tag]))
        ]
        taken: list[str] = []
        for _unpromised, is_new, _day, tag, visit in sorted(offers, key=lambda each: each[:4]):
            if len(taken) == booking.units:
                break
            # An earlier one of these may have used up the bench time or the part.
            if is_new and visit is not None:
                if not bench.has_room(tag, visit):
                    continue
                bench.take(tag, visit)
                ready[tag] = visit
            busy[tag].append(booking.days)
            taken.append(tag)
        given[booking.code] = tuple(taken)
    waiting = [each for each in facts.units if each.work and ready[each.tag] is None]
    waiting.sort(key=lambda each: (min((i.due for i in each.work if i.due is not None), default=10**6), each.tag))
    for unit in waiting:
        if visit_cost(unit, None, facts.horizon)[0] or unit.fit_through is not None:
            day = bench.soonest(unit, busy[unit.tag], facts.horizon)
            if day is not None:
                bench.take(unit.tag, day)
                ready[unit.tag] = day
    return Assigned(given, ready)


class _Bench:
    """Bench time and parts that are left while a plan is made one visit after the other."""

    def __init__(self, facts: PlanFacts) -> None:
        self._units = {each.tag: each for each in facts.units}
        self._horizon = facts.horizon
        starts = sorted({max(0, each.in_hand) for each in facts.units})
        self._time = {
            start: [sum(facts.bench_minutes[start : day + 1]) for day in range(facts.horizon)] for start in starts
        }
        self._parts = {kind: list(accumulate(each)) for kind, each in facts.parts.items()}

    def has_room(self, tag: str, day: int) -> bool:
        """Whether the unit's work can be ready on a day with what is left."""
        unit = self._units[tag]
        mine = max(0, unit.in_hand)
        if any(min(left[day:]) < unit.minutes - 1e-6 for start, left in self._time.items() if start <= mine):
            return False
        none = [0] * self._horizon
        return all(min(self._parts.get(kind, none)[day:]) >= count for kind, count in unit.parts.items())

    def take(self, tag: str, day: int) -> None:
        """Use up what the unit's work takes."""
        unit = self._units[tag]
        for start, left in self._time.items():
            if start <= max(0, unit.in_hand):
                left[day:] = [each - unit.minutes for each in left[day:]]
        for kind, count in unit.parts.items():
            self._parts[kind][day:] = [each - count for each in self._parts[kind][day:]]

    def soonest(self, unit: PlanUnit, busy: Sequence[tuple[int, int]], before: int) -> int | None:
        """The first day before another on which the unit's work can be ready."""
        for day in visit_days(unit, self._horizon):
            if day >= before:
                return None
            if not any(first <= day <= last for first, last in busy) and self.has_room(unit.tag, day):
                return day
        return None


def _offer(
    bench: _Bench, unit: PlanUnit, booking: PlanBooking, at: int | None, busy: Sequence[tuple[int, int]]
) -> tuple[bool, bool, int, str, int | None] | None:
    """How a unit could serve a booking: not promised to it, a new visit, its day, the tag; None where it could not."""
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in busy):
        return None
    if at is not None and booking.days[0] <= at <= booking.days[1]:
        return None
    visit = at
    if needs_visit(unit, booking) and (at is None or at >= booking.days[0]):
        visit = bench.soonest(unit, busy, booking.days[0]) if at is None else None
        if visit is None:
            return None
    return unit.tag not in booking.promised, visit != at, visit or 0, unit.tag, visit


def _improve(facts: PlanFacts, start: Assigned, bound: Bound, until: float, random: Random) -> Assigned:
    best, found = start, score(facts, start)
    fruitless, half = 0, (monotonic() + until) / 2
    most = 3 * (len(facts.units) // NEIGHBOURS + 1)
    while monotonic() < until - 0.1 and fruitless < most and found > Score(bound.unmet, 0, 0, 0):
        free = _neighbourhood(facts, best, random)
        # So long as a booking might still be met nothing else counts, and one programme is quicker than three.
        unmet_only = found.unmet > bound.unmet and monotonic() < half
        tried = Model(facts, free, best).solve(min(SECONDS_A_PROGRAMME, until - monotonic()), unmet_only=unmet_only)
        if tried is not None and (reached := score(facts, tried)) < found:
            best, found, fruitless = tried, reached, 0
        else:
            fruitless += 1
    return best


def _neighbourhood(facts: PlanFacts, best: Assigned, random: Random) -> list[PlanUnit]:
    """Some units that could serve an unmet booking, or are late, and whoever shares its days, filled up by chance."""
    unmet = [each for each in facts.bookings if len(best.given.get(each.code, ())) < each.units]
    late = [each for each in facts.units if visit_cost(each, best.ready.get(each.tag), facts.horizon)[0]]
    if unmet and random.random() < 0.9:
        booking = random.choice(unmet)
        pool = [each for each in facts.units if may_serve(each, booking)]
    elif late:
        pool = random.sample(late, min(len(late), NEIGHBOURS // 2))
    else:
        pool = []
    chosen = random.sample(pool, min(len(pool), NEIGHBOURS))
    rest = [each for each in facts.units if each not in chosen]
    return chosen + random.sample(rest, max(0, min(len(rest), NEIGHBOURS - len(chosen))))


def causes(facts: PlanFacts, made: Assigned) -> tuple[Cause, ...]:
    """Why each booking is unmet: for every unit that it lacks the fewest cures, parts and hours before a unit."""
    found = []
    for booking in facts.bookings:
        given = made.given.get(booking.code, ())
        missing = booking.units - len(given)
        if missing:
            ways = sorted(
                (way for unit in facts.units if unit.tag not in given and (way := _way(facts, made, unit, booking))),
                key=lambda way: sum(count for _, count in way),
            )
            cures: dict[str, int] = {}
            for at in range(missing):
                cheapest = ways[at] if at < len(ways) else None
                if cheapest is None or sum(count for _, count in cheapest) > 1:
                    cheapest = ((f"unit of {booking.unit_type}", 1),)
                for name, count in cheapest:
                    cures[name] = cures.get(name, 0) + count
            found.append(Cause(booking.code, missing, tuple(f"{count} {name}" for name, count in cures.items())))
    return tuple(found)


def _way(facts: PlanFacts, made: Assigned, unit: PlanUnit, booking: PlanBooking) -> tuple[tuple[str, int], ...] | None:
    """Parts and hours that would let a unit serve a booking beside what it does already; None where none would."""
    mine = [each.days for each in facts.bookings if unit.tag in made.given.get(each.code, ())]
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in mine):
        return None
    at = made.ready.get(unit.tag)
    if at is not None and at < booking.days[0]:
        return None
    days = [day for day in visit_days(unit, facts.horizon)
            if day < booking.days[0] and not any(first <= day <= last for first, last in mine)]  # fmt: skip
    if not days:
        return None
    day = days[-1]
    short: list[tuple[str, int]] = []
    for kind, count in unit.parts.items():
        lacking = 0
        for on in range(day, facts.horizon):
            stock = sum(facts.parts.get(kind, (0,) * facts.horizon)[: on + 1])
            used = sum(each.parts.get(kind, 0) for each in facts.units
                       if each.tag != unit.tag and (r := made.ready.get(each.tag)) is not None and r <= on)  # fmt: skip
            lacking = max(lacking, used + count - stock)
        if lacking > 0:
            short.append((kind, lacking))
    hours = _hours_short(facts, made, unit, day)
    return (*short, *([("h of bench time", hours)] if hours else []))


def _hours_short(facts: PlanFacts, made: Assigned, unit: PlanUnit, day: int) -> int:
    ready = {**made.ready, unit.tag: day}
    lacking = 0.0
    for start in range(max(0, unit.in_hand) + 1):
        for on in range(day, facts.horizon):
            there = sum(facts.bench_minutes[start : on + 1])
            asked = sum(
                each.minutes
                for each in facts.units
                if max(0, each.in_hand) >= start and (r := ready.get(each.tag)) is not None and r <= on
            )
            lacking = max(lacking, asked - there)
    return ceil(lacking / 60 - 1e-9)
