"""Plans: small ones equal to every plan tried, never worse than first come first served, causes that cure.

The recomputation that tries every plan is tests/independent/plans.py and imports nothing from the program.
"""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from time import monotonic

import pytest

from fleetbench.calc.hires.cures import Cause
from fleetbench.calc.hires.plan import (
    _as_it_can_be_done,
    _Search,
    _thinned,
    first_come_first_served,
    plan,
)
from fleetbench.calc.hires.plan_facts import (
    Assigned,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    Score,
    WorkItem,
    bookings_met,
    faults,
    score,
)
from fleetbench.calc.hires.plan_model import Model, Stays
from tests.independent.plans import best_score, can_be_done

Again = Callable[[PlanFacts, Assigned], Assigned]


def random_facts(seed: int, *, units: int = 3, bookings: int = 4, days: int = 5) -> PlanFacts:
    dice = Random(seed)
    made = []
    for n in range(units):
        work = tuple(
            WorkItem(
                minutes=dice.choice((30, 60, 90)),
                due=dice.choice((None, 0, 1, 3, 5)),
                parts=dice.choice(((), (("P", 1),))),
                throws_life=dice.random() < 0.5,
            )
            for _ in range(dice.choice((0, 1, 2)))
        )
        fit = dice.choice((None, -1, 2)) if work else None
        taken = dice.choice(((), (), ((1, 1),)))
        made.append(PlanUnit(f"U{n}", dice.choice("AAB"), dice.choice((0, 0, 1)), fit, taken, work))
    asked = []
    for n in range(bookings):
        first = dice.randrange(days)
        kind = dice.choice("AAB")
        own = [each.tag for each in made if each.unit_type == kind]
        promised = (dice.choice(own),) if own and dice.random() < 0.4 else ()
        asked.append(PlanBooking(f"B{n}", kind, (first, first + dice.randrange(3)), dice.choice((1, 1, 2)), promised))
    minutes = tuple(float(dice.choice((0, 60, 90))) for _ in range(days))
    return PlanFacts(tuple(made), tuple(asked), minutes, {"P": tuple(dice.choice((0, 0, 1)) for _ in range(days))})


def told_plainly(facts: PlanFacts) -> list[tuple[object, ...]]:
    """The units as the recomputation takes them."""
    return [(u.tag, u.unit_type, u.in_hand, u.fit_through, u.taken,
             [(w.minutes, w.due, w.parts, w.throws_life) for w in u.work]) for u in facts.units]  # fmt: skip


def doable(facts: PlanFacts, made: Assigned) -> bool:
    """Whether the bench can do a plan's work on days when each unit is here, worked through day by day."""
    used = {n: tuple(b.days for b in facts.bookings if unit.tag in made.given.get(b.code, ()))
            for n, unit in enumerate(facts.units)}  # fmt: skip
    days = [made.ready.get(unit.tag) for unit in facts.units]
    return can_be_done(told_plainly(facts), days, used, facts.bench_minutes)


@pytest.mark.parametrize("seed", range(60))
def test_a_small_plan_is_as_good_as_the_best_of_all_plans(seed: int) -> None:
    facts = random_facts(seed)
    made = plan(facts)
    units = told_plainly(facts)
    bookings = [(b.code, b.unit_type, b.days, b.units, b.promised) for b in facts.bookings]
    best = best_score(units, bookings, facts.bench_minutes, facts.parts)
    assert faults(facts, made.assigned) == ()
    assert made.exact
    assert doable(facts, made.assigned)
    assert (made.score.unmet, made.score.late, made.score.thrown, made.score.changes) == best


@pytest.mark.parametrize("seed", range(6))
def test_first_come_first_served_keeps_every_rule_and_no_plan_is_worse(seed: int) -> None:
    facts = random_facts(seed, units=8, bookings=20, days=14)
    start = first_come_first_served(facts)
    assert (faults(facts, start), doable(facts, start)) == ((), True)
    made = plan(facts, seconds=2)
    assert (faults(facts, made.assigned), doable(facts, made.assigned)) == ((), True)
    assert made.score <= score(facts, start) == made.first_come
    assert bookings_met(facts, made.assigned) >= bookings_met(facts, start)
    assert made.score.unmet >= made.bound.unmet


def test_hours_count_only_on_days_when_the_unit_is_here() -> None:
    unit = PlanUnit("U0", "A", fit_through=8, work=(WorkItem(300),))
    bookings = (PlanBooking("A1", "A", (1, 8)), PlanBooking("B1", "A", (10, 11)))
    facts = PlanFacts((unit,), bookings, (60.0,) * 12)
    at_once = Assigned({"A1": ("U0",), "B1": ("U0",)}, {"U0": 9})
    assert faults(facts, at_once)[0] == "bench: 300 min asked from day 9 to 9, 60 there"
    assert not doable(facts, at_once)
    made = plan(facts)
    assert (made.score.unmet, faults(facts, made.assigned), doable(facts, made.assigned)) == (1, (), True)
    assert plan(replace(facts, bench_minutes=(*(60.0,) * 9, 300.0, 0.0, 0.0))).score.unmet == 0


@pytest.mark.parametrize("seed", range(30))
def test_a_plan_with_short_hours_can_be_done(seed: int) -> None:
    facts = random_facts(seed, units=4, bookings=7, days=9)
    work = [replace(u, work=tuple(replace(w, minutes=2 * w.minutes, parts=()) for w in u.work)) for u in facts.units]
    facts = replace(facts, units=tuple(work))
    made = plan(facts)
    assert (faults(facts, made.assigned), doable(facts, made.assigned)) == ((), True)


def short_of_hours(seed: int) -> PlanFacts:
    facts = random_facts(seed, units=6, bookings=14, days=14)
    work = [replace(u, work=tuple(replace(w, minutes=3 * w.minutes, parts=()) for w in u.work)) for u in facts.units]
    return replace(facts, units=tuple(work))


def made_again(facts: PlanFacts, found: Assigned) -> Assigned:
    return _as_it_can_be_done(facts, found, monotonic() + 60.0)


@pytest.mark.parametrize("again", [made_again, _thinned])
def test_what_a_relaxed_programme_plans_is_made_so_that_it_can_be_done(again: Again) -> None:
    crowds = 0
    for seed in range(25):
        facts = short_of_hours(seed)
        relaxed = Model(facts, facts.units, Assigned({}, {}), stays_of=Stays.UNBROKEN)
        found = relaxed.solve(None, unmet_only=True)
        assert found is not None
        made = again(facts, found)
        crowds += not doable(facts, found)
        assert (faults(facts, made), doable(facts, made)) == ((), True)
        # The relaxation's least is a bound of the best plan of all.
        exact = Model(facts, facts.units, Assigned({}, {}), stays_of=Stays.EVERY).solve(None, unmet_only=True)
        assert exact is not None
        assert relaxed.least - 1e-6 <= score(facts, exact).unmet <= score(facts, made).unmet
    assert crowds > 3


def test_a_search_goes_on_from_fewer_unmet_and_keeps_the_best_that_meets_no_fewer_bookings() -> None:
    units = tuple(PlanUnit(f"U{n}", "A") for n in range(3))
    bookings = (PlanBooking("A1", "A", (1, 3)), PlanBooking("B1", "A", (2, 4)), PlanBooking("C1", "A", (3, 5), units=3))
    facts = PlanFacts(units, bookings, (60.0,) * 8)
    ready: dict[str, int | None] = dict.fromkeys(("U0", "U1", "U2"))
    start = Assigned({"A1": ("U0",)}, ready)
    search = _Search(facts, start, monotonic() + 60.0)
    wide = Assigned({"C1": ("U0", "U1")}, ready)
    assert search.take(wide) is False, "one unit less unmet, one booking more"
    both = Assigned({"A1": ("U0",), "B1": ("U1",), "C1": ("U2",)}, ready)
    assert search.take(both)
    assert (search.at, search.best) == (both, both)
    assert search.take(start) is False


def test_where_nothing_is_recorded_there_is_nothing_to_plan() -> None:
    assert plan(PlanFacts((), (), (60.0,))).score == Score(0, 0, 0, 0)
    made = plan(PlanFacts((), (PlanBooking("B0", "A", (0, 0), 2),), (60.0,)))
    assert (made.score.unmet, made.causes) == (2, (Cause("B0", 2, ("2 units of A",)),))


ONE_HELD = PlanUnit("U0", "A", fit_through=-1, work=(WorkItem(60, 0, (("CELL", 1),)),))


def test_a_missing_part_is_named_as_the_one_cure() -> None:
    facts = PlanFacts((ONE_HELD,), (PlanBooking("B0", "A", (2, 3)),), (60.0,) * 5, {"CELL": (0,) * 5})
    assert plan(facts).causes == (Cause("B0", 1, ("1 CELL",)),)
    cured = replace(facts, parts={"CELL": (1, 0, 0, 0, 0)})
    assert plan(cured).score.unmet == 0


def test_a_missing_hour_is_named_as_the_one_cure() -> None:
    facts = PlanFacts((ONE_HELD,), (PlanBooking("B0", "A", (2, 3)),), (10.0, 0, 0, 0, 0), {"CELL": (1, 0, 0, 0, 0)})
    assert plan(facts).causes == (Cause("B0", 1, ("1 h of bench time",)),)
    assert plan(replace(facts, bench_minutes=(70.0, 0, 0, 0, 0))).score.unmet == 0


def test_where_a_part_and_an_hour_lack_one_more_unit_is_the_fewest_cures() -> None:
    facts = PlanFacts((ONE_HELD,), (PlanBooking("B0", "A", (2, 3)),), (0.0,) * 5, {"CELL": (0,) * 5})
    assert plan(facts).causes == (Cause("B0", 1, ("1 unit of A",)),)


def test_a_unit_promised_stays_promised_where_nothing_is_won_by_a_change() -> None:
    units = (PlanUnit("U0", "A"), PlanUnit("U1", "A"))
    facts = PlanFacts(units, (PlanBooking("B0", "A", (0, 1), 1, ("U1",)),), (0.0, 0.0))
    assert plan(facts).assigned.given["B0"] == ("U1",)


def test_a_promise_is_changed_where_another_booking_is_met_by_it() -> None:
    units = (PlanUnit("U0", "A", fit_through=1), PlanUnit("U1", "A"))
    bookings = (PlanBooking("B0", "A", (0, 1), 1, ("U1",)), PlanBooking("B1", "A", (1, 4)))
    made = plan(PlanFacts(units, bookings, (0.0,) * 5))
    assert (made.score.unmet, made.score.changes) == (0, 1)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"bench_minutes": ()}, "bench_minutes"),
        ({"parts": {"P": (1,)}}, "parts"),
        ({"units": (ONE_HELD, ONE_HELD)}, "units: one stands twice"),
        ({"bookings": (PlanBooking("B", "A", (3, 2)),)}, "last day is before"),
    ],
)
def test_facts_that_no_plan_can_be_made_of_are_refused(change: dict[str, object], said: str) -> None:
    facts = PlanFacts((ONE_HELD,), (), (0.0, 0.0))
    with pytest.raises(ValueError, match=said):
        replace(facts, **change)
