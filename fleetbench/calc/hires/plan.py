"""Which unit serves which booking and when each goes to the bench: a plan, its bound, and why a booking is unmet.

First come, first served is the start. The relaxation of the whole fleet's programme proves the least that must stay
unmet and says how the bench is best shared between the types; one programme a type then asks for the fewest unmet with
that share. Small programmes over neighbourhoods of eight to two dozen units, two seconds each, take the place of the
plan wherever they are better, while the programme of the whole fleet runs beside them on a second core. All of these
let a visit use every bench day since its unit was in hand, which keeps them small; where bench hours are then asked for
on days when units are out, the visits concerned are planned again exactly. The search counts units and bookings unmet
alike; the plan is the best by the score that is no worse than the start in either. Small cases are solved whole.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from itertools import accumulate
from math import ceil
from random import Random
from time import monotonic

import numpy as np

from fleetbench.calc.core.languages import say
from fleetbench.calc.hires.cures import Cause, causes
from fleetbench.calc.hires.plan_facts import (
    Assigned,
    Days,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    Score,
    bookings_met,
    crowded,
    may_serve,
    needs_visit,
    overlap,
    score,
    stay_from,
    visit_cost,
    visit_days,
)
from fleetbench.calc.hires.plan_model import Bound, Model, Relaxed, Stays, least_by_heads

NEIGHBOURS, MOST_NEIGHBOURS = 8, 24
SECONDS_A_PROGRAMME = 2.0
SECONDS = 20.0
TYPES_SHARE, WHOLE_SHARE = 0.5, 0.72
"""Shares of the time that the programmes of the types, and that of the whole fleet beside them, may take."""
SMALL = 120
"""Up to so many pairs of a unit and a booking are solved whole."""

Told = Callable[[float, str], None]
"""Hears the share of the time that is over and what is being done; may raise to call the planning off."""


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


def plan(facts: PlanFacts, *, seconds: float = SECONDS, seed: int = 0, told: Told | None = None) -> Plan:
    """The plan found within the seconds allowed."""
    begun = monotonic()
    tell = told or _to_nobody
    tell(0.0, say("first come, first served"))
    start = first_come_first_served(facts)
    first = score(facts, start)
    small = len(facts.units) * len(facts.bookings) <= SMALL
    if small:
        best = Model(facts, facts.units, start, stays_of=Stays.EVERY).solve(None) or start
        bound = Bound(score(facts, best).unmet, True)
    else:
        best, bound = _large(facts, start, begun, seconds, Random(seed), tell)
    # Fewer units unmet, spread over more bookings, would still be worse for those who booked. What was solved whole is
    # the best by its score, and stands.
    spread = not small and bookings_met(facts, best) < bookings_met(facts, start)
    if score(facts, best) > first or spread:
        best = start
    tell(0.95, say("why what is unmet is unmet"))
    return Plan(
        best,
        score=score(facts, best),
        first_come=first,
        bound=bound,
        exact=small,
        causes=causes(facts, best),
        seconds=monotonic() - begun,
    )


def _to_nobody(_share: float, _what: str) -> None:
    return None


def _large(
    facts: PlanFacts, start: Assigned, begun: float, seconds: float, random: Random, tell: Told
) -> tuple[Assigned, Bound]:
    """The best plan found in time for a fleet too large to be solved whole, and the bound that was proved."""
    tell(0.02, say("the least that must stay unmet"))
    relaxed = Model(facts, facts.units, Assigned({}, {}), stays_of=Stays.UNBROKEN).relaxed(seconds / 3)
    bound = _bound(facts, relaxed.least if relaxed is not None else None)
    end = begun + 0.93 * seconds - 0.3
    search = _Search(facts, start, end)
    beside = ThreadPoolExecutor(1)
    try:
        model = Model(facts, facts.units, start, stays_of=Stays.UNBROKEN)
        # HiGHS lets go of the interpreter while it works, so this one runs on the second core.
        whole = beside.submit(model.solve, max(0.1, begun + WHOLE_SHARE * seconds - monotonic()), unmet_only=True)
        search.take(_type_by_type(facts, start, relaxed, begun + TYPES_SHARE * seconds, tell))
        _improve(search, bound, (begun, end), whole.done, random, tell)
        if score(facts, search.at).unmet > bound.unmet:
            wait((whole,), max(0.0, end - monotonic()))
        if whole.done():
            bound = max(bound, _bound(facts, model.least), key=lambda each: each.unmet) if bound.proved else bound
            search.take(whole.result())
        _improve(search, bound, (begun, end), _never, random, tell)
    finally:
        beside.shutdown(wait=False, cancel_futures=True)
    return search.best, bound


class _Search:
    """Where the search stands, and the best plan by the score that meets as many bookings as the start does."""

    def __init__(self, facts: PlanFacts, start: Assigned, until: float) -> None:
        self.facts, self.at, self.best, self._until = facts, start, start, until
        self._least_met = bookings_met(facts, start)

    def take(self, found: Assigned | None) -> bool:
        """Go on from a plan, as it can be done, where it is worth more."""
        if found is None or self._worth(found) >= self._worth(self.at):
            return False
        done = _as_it_can_be_done(self.facts, found, self._until)
        if self._worth(done) >= self._worth(self.at):
            return False
        self.at = done
        if bookings_met(self.facts, done) >= self._least_met:
            self.best = min(self.best, done, key=lambda each: score(self.facts, each))
        return True

    def _worth(self, made: Assigned) -> tuple[int, int, int, int]:
        """Units and bookings unmet together, the less the better, then as the score has it."""
        one = score(self.facts, made)
        return one.unmet + len(self.facts.bookings) - bookings_met(self.facts, made), one.late, one.thrown, one.changes


def _never() -> bool:
    return False


def _bound(facts: PlanFacts, least: float | None) -> Bound:
    """The least that must stay unmet; bookings of a type without units are unmet whatever is done."""
    kinds = {each.unit_type for each in facts.units}
    nowhere = sum(each.units for each in facts.bookings if each.unit_type not in kinds)
    counted = least_by_heads(facts)
    if least is None:
        return Bound(max(counted, nowhere), False)
    return Bound(max(counted, nowhere + ceil(least - 1e-6)), True)


def _type_by_type(facts: PlanFacts, start: Assigned, relaxed: Relaxed | None, until: float, tell: Told) -> Assigned:
    """The better of the start and of a plan made a type at a time, the bench shared as the relaxation shares it."""
    kinds = sorted({each.unit_type for each in facts.units})
    made = Assigned({}, {})
    for number, kind in enumerate(kinds):
        tell(0.1 + 0.5 * number / len(kinds), say("the fewest unmet of {kind}", kind=kind))
        later = set(kinds[number + 1 :])
        besides = [each for each in relaxed.visits if each.unit.unit_type in later] if relaxed is not None else []
        free = [each for each in facts.units if each.unit_type == kind]
        found = None
        for shared in (besides, ()):
            model = Model(facts, free, made, shared, stays_of=Stays.UNBROKEN)
            left = (until - monotonic()) / (len(kinds) - number)
            found = found or (model.solve(left, unmet_only=True) if left > 0.05 else None)
        if found is None:
            return start
        made = _as_it_can_be_done(facts, found, until)
    return made


def _as_it_can_be_done(facts: PlanFacts, found: Assigned, until: float) -> Assigned:
    """A plan whose visits were not held to their stays here, with the crowded ones planned again, or given up."""
    free = crowded(facts, found)
    if not free:
        return found
    left = min(SECONDS_A_PROGRAMME, until - monotonic())
    again = Model(facts, free, found).solve(left, unmet_only=True, by_booking=True) if left > 0.05 else None
    return again if again is not None else _thinned(facts, found)


def _thinned(facts: PlanFacts, made: Assigned) -> Assigned:
    """A plan without the visits that the bench has no time for, those first that the fewest bookings hang on."""
    while there := crowded(facts, made):
        lost = {unit.tag: {each.code for each in facts.bookings
                           if unit.tag in made.given.get(each.code, ()) and needs_visit(unit, each)}
                for unit in there}  # fmt: skip
        unit = min(there, key=lambda each: (len(lost[each.tag]), -each.minutes, each.tag))
        given = {code: tuple(tag for tag in tags if tag != unit.tag or code not in lost[tag])
                 for code, tags in made.given.items()}  # fmt: skip
        made = Assigned(given, {**made.ready, unit.tag: None})
    return made


def first_come_first_served(facts: PlanFacts) -> Assigned:
    """Each booking in its order takes the units promised to it, then any that are fit, then those soonest ready.

    What is left of the bench goes to the other units by their due days.
    """
    given: dict[str, tuple[str, ...]] = {}
    ready: dict[str, int | None] = {each.tag: None for each in facts.units}
    busy: dict[str, list[tuple[int, int]]] = {each.tag: [] for each in facts.units}
    stay: dict[str, Days] = {}
    bench = _Bench(facts)
    for booking in facts.bookings:
        offers = [
            offer for unit in facts.units if (offer := _offer(bench, unit, booking, stay.get(unit.tag), busy[unit.tag]))
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
                stay[tag], ready[tag] = visit, visit[1]
            busy[tag].append(booking.days)
            taken.append(tag)
        given[booking.code] = tuple(taken)
    waiting = [each for each in facts.units if each.work and ready[each.tag] is None]
    waiting.sort(key=lambda each: (min((i.due for i in each.work if i.due is not None), default=10**6), each.tag))
    for unit in waiting:
        if visit_cost(unit, None, facts.horizon)[0] or unit.fit_through is not None:
            visit = bench.soonest(unit, busy[unit.tag], facts.horizon)
            if visit is not None:
                bench.take(unit.tag, visit)
                ready[unit.tag] = visit[1]
    return Assigned(given, ready)


class _Bench:
    """Bench time and parts that are left while a plan is made one visit after the other."""

    def __init__(self, facts: PlanFacts) -> None:
        self._units = {each.tag: each for each in facts.units}
        self._horizon = facts.horizon
        summed = np.concatenate([[0.0], np.cumsum(facts.bench_minutes)])
        # Minutes from a day (row) through another (column), less what the visits within take.
        self._time = summed[np.newaxis, 1:] - summed[:-1, np.newaxis]
        self._parts = {kind: list(accumulate(each)) for kind, each in facts.parts.items()}

    def has_room(self, tag: str, visit: Days) -> bool:
        """Whether the unit's work can be done in a stay, ready on its last day, with what is left."""
        unit, (start, day) = self._units[tag], visit
        if self._time[: start + 1, day:].min() < unit.minutes - 1e-6:
            return False
        none = [0] * self._horizon
        return all(min(self._parts.get(kind, none)[day:]) >= count for kind, count in unit.parts.items())

    def take(self, tag: str, visit: Days) -> None:
        """Use up what the unit's work takes."""
        unit, (start, day) = self._units[tag], visit
        self._time[: start + 1, day:] -= unit.minutes
        for kind, count in unit.parts.items():
            self._parts[kind][day:] = [each - count for each in self._parts[kind][day:]]

    def soonest(self, unit: PlanUnit, busy: Sequence[Days], before: int) -> Days | None:
        """The shortest stay, ready on the first day before another, in which the unit's work can be done."""
        for day in visit_days(unit, self._horizon):
            if day >= before:
                return None
            if any(first <= day <= last for first, last in busy):
                continue
            stays_here = range(day, stay_from(unit, day, busy) - 1, -1)
            found = next((start for start in stays_here if self.has_room(unit.tag, (start, day))), None)
            if found is not None:
                return found, day
        return None


def _offer(
    bench: _Bench, unit: PlanUnit, booking: PlanBooking, at: Days | None, busy: Sequence[Days]
) -> tuple[bool, bool, int, str, Days | None] | None:
    """How a unit could serve a booking: not promised to it, a new visit, its day, the tag; None where it could not."""
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in busy):
        return None
    if at is not None and overlap(booking.days, at):
        return None
    visit = at
    if needs_visit(unit, booking) and (at is None or at[1] >= booking.days[0]):
        visit = bench.soonest(unit, busy, booking.days[0]) if at is None else None
        if visit is None:
            return None
    return unit.tag not in booking.promised, visit != at, visit[1] if visit else 0, unit.tag, visit


def _improve(
    search: _Search,
    bound: Bound,
    clock: tuple[float, float],
    over: Callable[[], bool],
    random: Random,
    tell: Told,
) -> None:
    facts, (begun, until) = search.facts, clock
    fruitless, half = 0, (monotonic() + until) / 2
    most = 3 * (len(facts.units) // NEIGHBOURS + 1)
    while monotonic() < until - 0.1 and fruitless < most and not over():
        found = score(facts, search.at)
        if found <= Score(bound.unmet, 0, 0, 0):
            return
        tell(
            0.9 * (monotonic() - begun) / (until - begun),
            say("{unmet} unmet, {late} days late so far", unmet=found.unmet, late=found.late),
        )
        # What eight units cannot better, more of them may: the neighbourhood grows while nothing is found.
        size = min(MOST_NEIGHBOURS, NEIGHBOURS + 4 * (fruitless // 2))
        free = _neighbourhood(facts, search.at, bound, size, random)
        # So long as a booking might still be met nothing else counts, and one programme is quicker than three.
        unmet_only = found.unmet > bound.unmet and monotonic() < half
        left = min(SECONDS_A_PROGRAMME, until - monotonic())
        tried = Model(facts, free, search.at, stays_of=Stays.UNBROKEN).solve(
            left, unmet_only=unmet_only, by_booking=True
        )
        fruitless = 0 if search.take(tried) else fruitless + 1


def _neighbourhood(facts: PlanFacts, best: Assigned, bound: Bound, size: int, random: Random) -> list[PlanUnit]:
    """Some units that could serve an unmet booking, or are late, and whoever shares its days, filled up by chance."""
    unmet = [each for each in facts.bookings if len(best.given.get(each.code, ())) < each.units]
    if score(facts, best).unmet <= bound.unmet:
        unmet = []
    late = [each for each in facts.units if visit_cost(each, best.ready.get(each.tag), facts.horizon)[0]]
    if unmet and random.random() < 0.9:
        booking = random.choice(unmet)
        pool = [each for each in facts.units if may_serve(each, booking)]
    elif late:
        pool = random.sample(late, min(len(late), size // 2))
    else:
        pool = []
    # Half of them from elsewhere: another type may give up the bench time or the part that is wanted here.
    chosen = random.sample(pool, min(len(pool), size // 2 if unmet else size))
    rest = [each for each in facts.units if each not in chosen]
    return chosen + random.sample(rest, max(0, min(len(rest), size - len(chosen))))
