"""The planner on invented fleets: 60 units, 150 bookings, 400 work items; `python -m tests.benchmarks.planning`.

Prints a table with a row a fleet: bookings met, units unmet, days late, days of life thrown away and promises changed,
each beside first come, first served, with the bound and the seconds taken. Fleets are booked as they easily serve
(light), with courses that take a third of the bookings (heavy), far over what there is (over-booked), and heavy with
two fifths of the bench time (short bench).
"""

import sys
from dataclasses import replace
from random import Random

from fleetbench.calc.hires.plan import Plan, first_come_first_served, plan
from fleetbench.calc.hires.plan_facts import PlanBooking, PlanFacts, PlanUnit, WorkItem, bookings_met, faults

UNITS, BOOKINGS, ITEMS, DAYS = 60, 150, 400, 60
LOADS = {"light": None, "heavy": (0.35, 8, 1.0), "over-booked": (0.6, 10, 1.0), "short bench": (0.35, 8, 0.4)}
"""Share of bookings that are courses of 3 to 6 units, days of the longest and one more, and share of the bench time."""
PART_TYPES = ("cell", "valve", "battery", "hose", "seal")


def invented_fleet(seed: int) -> PlanFacts:
    """A fleet of three types with more booked than it easily serves."""
    dice = Random(seed)
    work: list[list[WorkItem]] = [[] for _ in range(UNITS)]
    for _ in range(ITEMS):
        parts = ((dice.choice(PART_TYPES), 1),) if dice.random() < 0.4 else ()
        due = dice.choice((None, *range(0, DAYS, 3)))
        item = WorkItem(dice.choice((15, 30, 45, 70)), due, parts, bool(parts))
        work[dice.randrange(UNITS)].append(item)
    units = []
    for n in range(UNITS):
        dues = [item.due for item in work[n] if item.due is not None]
        fit = -1 if dice.random() < 0.25 and work[n] else min(dues, default=None)
        taken = ((0, dice.randrange(1, 5)),) if dice.random() < 0.3 else ()
        in_hand = taken[0][1] + 1 if taken else 0
        units.append(PlanUnit(f"U{n:02d}", "ABC"[n % 3], in_hand, fit, taken, tuple(work[n])))
    bookings = []
    for n in range(BOOKINGS):
        first = dice.randrange(DAYS - 7)
        course = dice.random() < 0.15
        days = (first, first + (4 if course else dice.randrange(2, 7)))
        kind = dice.choice("ABC")
        own = [each.tag for each in units if each.unit_type == kind]
        promised = tuple(dice.sample(own, 1)) if dice.random() < 0.5 else ()
        bookings.append(PlanBooking(f"B{n:03d}", kind, days, dice.randrange(3, 6) if course else 1, promised))
    bench = tuple(0.0 if day % 7 > 4 else 720.0 for day in range(DAYS))
    parts = {
        kind: tuple(dice.choice((0, 0, 0, 0, 2, 4)) if day else dice.randrange(12, 30) for day in range(DAYS))
        for kind in PART_TYPES
    }
    return PlanFacts(tuple(units), tuple(bookings), bench, parts)


def loaded(facts: PlanFacts, seed: int, courses: float, longest: int, bench: float) -> PlanFacts:
    """The same fleet with larger and longer bookings and less time at the bench."""
    dice = Random(seed + 1000)
    bookings = []
    for each in facts.bookings:
        units = dice.randrange(3, 7) if dice.random() < courses else dice.randrange(1, 3)
        first = min(each.days[0], DAYS - longest)
        bookings.append(replace(each, units=units, days=(first, first + dice.randrange(2, longest))))
    minutes = tuple(each * bench for each in facts.bench_minutes)
    return replace(facts, bookings=tuple(bookings), bench_minutes=minutes)


def fleet_of(seed: int, load: str) -> PlanFacts:
    """The invented fleet under one of the loads."""
    facts, how = invented_fleet(seed), LOADS[load]
    return facts if how is None else loaded(facts, seed, *how)


HEAD = (
    "| load | fleet | units wanted | bookings met (first come) | unmet (first come) | bound | late days (first come) "
    "| life discarded, days (first come) | promises changed (first come) | seconds |"
)


def told(load: str, seed: int, facts: PlanFacts, made: Plan) -> str:
    """One row of figures."""
    one, first = made.score, made.first_come
    start = first_come_first_served(facts)
    return (
        f"| {load} | {seed} | {sum(each.units for each in facts.bookings)} "
        f"| {bookings_met(facts, made.assigned)} ({bookings_met(facts, start)}) | {one.unmet} ({first.unmet}) "
        f"| {made.bound.unmet}{'' if made.bound.proved else ' by heads only'} | {one.late} ({first.late}) "
        f"| {one.thrown} ({first.thrown}) | {one.changes} ({first.changes}) | {made.seconds:.1f} |"
    )


def main(seeds: int, loads: list[str]) -> None:
    """Plan so many fleets under each load and print the figures."""
    print(HEAD, "|---" * 10 + "|", sep="\n")
    for load in loads:
        for seed in range(seeds):
            facts = fleet_of(seed, load)
            made = plan(facts)
            print(told(load, seed, facts, made), *faults(facts, made.assigned), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3, sys.argv[2:] or list(LOADS))
