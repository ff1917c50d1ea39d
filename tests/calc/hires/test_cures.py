"""Cures of unmet bookings: each whole way is a plan that keeps every rule, and none nearer was passed over.

The recomputation that tries every way is tests/independent/cures.py and imports nothing from the program. The fleets
are invented from a seed; minutes of a move and an order: common practice, no published source.
"""

from dataclasses import replace

import pytest

from fleetbench.calc.hires.cures import NEAR_BY, Cure, CureKind, weighed
from fleetbench.calc.hires.plan import plan
from fleetbench.calc.hires.plan_facts import Assigned, PlanBooking, PlanFacts, PlanUnit, WorkItem, faults
from tests.calc.hires.test_planning import random_facts, told_plainly
from tests.independent import cures as tried


def unmet_of(facts: PlanFacts, made: Assigned) -> list[PlanBooking]:
    return [each for each in facts.bookings if len(made.given.get(each.code, ())) < each.units]


def drawn(seed: int) -> tuple[PlanFacts, Assigned]:
    facts = random_facts(seed, units=4, bookings=4, days=7)
    return facts, plan(facts).assigned


@pytest.mark.parametrize("seed", range(40))
def test_every_way_keeps_every_rule_and_gives_the_units_that_it_says(seed: int) -> None:
    facts, made = drawn(seed)
    for booking in unmet_of(facts, made):
        missing = booking.units - len(made.given.get(booking.code, ()))
        found = weighed(facts, made, booking.code)
        assert found[-1] == Cure(CureKind.BORROW, missing)
        for cure in found[:-1]:
            assert cure.after is not None and 0 < cure.units <= missing
            there, after = cure.after
            assert faults(there, after) == ()
            assert len(after.given[booking.code]) >= len(made.given.get(booking.code, ())) + cure.units
            others = {code: set(tags) for code, tags in after.given.items() if code != booking.code}
            assert others == {code: set(tags) for code, tags in made.given.items() if code != booking.code}
        whole = [cure.units == missing for cure in found[:-1]]
        assert whole == sorted(whole, reverse=True)


@pytest.mark.parametrize("seed", range(60))
def test_no_nearer_days_of_it_or_of_another_booking_cure_it(seed: int) -> None:
    facts, made = drawn(seed)
    units, codes = told_plainly(facts), [each.code for each in facts.bookings]
    bookings = [(b.code, b.unit_type, b.days, b.units, b.promised) for b in facts.bookings]
    place_of = {each.tag: n for n, each in enumerate(facts.units)}
    given = {n: tuple(place_of[tag] for tag in made.given.get(code, ())) for n, code in enumerate(codes)}
    ready = [made.ready.get(each.tag) for each in facts.units]
    rest = given, ready, facts.bench_minutes, facts.parts
    for booking in unmet_of(facts, made):
        at = codes.index(booking.code)
        missing = booking.units - len(given[at])
        found = weighed(facts, made, booking.code)
        steps = [n for n in range(-NEAR_BY, NEAR_BY + 1) if n and 0 <= booking.days[0] + n < facts.horizon]
        able = [n for n in steps if tried.can_go(units, tried.shifted(bookings, at, n), *rest, at)]
        nearest = {max((n for n in able if n < 0), default=None), min((n for n in able if n > 0), default=None)}
        assert {cure.shift for cure in found if cure.kind is CureKind.DAYS} == nearest - {None}
        for other, code in enumerate(codes):
            if other == at or facts.bookings[other].unit_type != booking.unit_type or not given[other]:
                continue
            first = facts.bookings[other].days[0]
            free = {n: tried.most_set_free(units, tried.shifted(bookings, other, n), *rest, at, other, missing)
                    for n in range(-NEAR_BY, NEAR_BY + 1) if n and 0 <= first + n < facts.horizon}  # fmt: skip
            most = max(free.values(), default=0)
            cure = next((each for each in found if (each.kind, each.booking) == (CureKind.MOVE, code)), None)
            assert (cure.units if cure is not None else 0) == most
            if cure is not None:
                assert abs(cure.shift) == min(abs(n) for n, count in free.items() if count == most)


def test_a_repair_is_weighed_beside_a_part_a_day_later_another_bookings_days_and_borrowing() -> None:
    cell = WorkItem(20.0, None, (("CELL", 1),), name="replace cell 2")
    units = (PlanUnit("U1", "A"), PlanUnit("U2", "A", fit_through=-1, work=(cell,)))
    bookings = (PlanBooking("H1", "A", (2, 3), 1, ("U1",)), PlanBooking("H2", "A", (2, 3), 1))
    facts = PlanFacts(units, bookings, (60.0,) * 9, {"CELL": (0, 0, 0, 0, 1, 0, 0, 0, 0)})
    made = plan(facts).assigned
    found = weighed(facts, made, "H2")
    assert [(each.kind, each.tags, each.needs, each.booking, each.shift) for each in found] == [
        (CureKind.DAYS, (), (), "H2", -2),
        (CureKind.DAYS, (), (), "H2", 2),
        (CureKind.MOVE, ("U1",), (), "H1", -2),
        (CureKind.WORK, ("U2",), (("CELL", 1),), "", 0),
        (CureKind.BORROW, (), (), "", 0),
    ]
    # With U1 away for long, only the day after the cell came is left of other days.
    away = replace(facts, units=(replace(units[0], taken=((0, 1), (4, 99))), units[1]))
    later = [each for each in weighed(away, made, "H2") if each.kind is CureKind.DAYS]
    assert [(each.shift, each.tags, each.cost) for each in later] == [(3, ("U2",), 35.0)]
