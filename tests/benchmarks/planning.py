"""The planner on invented fleets: 60 units, 150 bookings, 400 work items; `python -m tests.benchmarks.planning`.

Prints a line a fleet: units unmet, days late, days of life thrown away and promises changed, beside first come, first
served, with the bound and the seconds taken.
"""

import sys
from random import Random

from fleetbench.calc.planning import Plan, plan
from fleetbench.calc.planning_facts import PlanBooking, PlanFacts, PlanUnit, WorkItem, faults

UNITS, BOOKINGS, ITEMS, DAYS = 60, 150, 400, 60
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


def told(seed: int, made: Plan) -> str:
    """One line of figures."""
    one, first = made.score, made.first_come
    return (
        f"fleet {seed}: unmet {one.unmet} (first come {first.unmet}, bound {made.bound.unmet}"
        f"{'' if made.bound.proved else ' by heads only'}), late {one.late} ({first.late}), thrown {one.thrown} "
        f"({first.thrown}), changed {one.changes} ({first.changes}), {made.seconds:.1f} s, {len(made.causes)} causes"
    )


def main(seeds: int) -> None:
    """Plan so many fleets and print the figures."""
    for seed in range(seeds):
        facts = invented_fleet(seed)
        made = plan(facts)
        wrong = faults(facts, made.assigned)
        print(told(seed, made), *wrong, flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
