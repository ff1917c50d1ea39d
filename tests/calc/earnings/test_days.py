"""Days of units summed up, what one repair or spare would have saved, and the cost of keeping beside another unit.

Up time, down time and availability: EN 13306:2017 and EN 15341 (availability is up time over up and down time), both
from memory. The savings are held against a day-by-day recomputation on invented fleets from a seed.
"""

import random
from datetime import date, timedelta

import pytest

from fleetbench.calc.earnings.days import (
    CureBy,
    DayState,
    Keep,
    OwnFigures,
    StopCause,
    UnitDay,
    UnitSpent,
    by_cause,
    keeping,
    lines,
    savings,
)
from tests.independent import saved_days

FIRST = date(2026, 4, 1)
CELL = StopCause("cell age: Cell A", CureBy.SPARE, "cell 1 C-7")
HOSE = StopCause("part life: Hose", CureBy.REPAIR, "hose H-1")
AWAY = StopCause("away")


def on(day: int, state: DayState, *causes: StopCause, unit: str = "U1", **more: object) -> UnitDay:
    return UnitDay(unit, "Type T", FIRST + timedelta(days=day), state, causes=causes, **more)  # type: ignore[arg-type]


def ten_days() -> list[UnitDay]:
    """Worked by hand: 3 days out, 2 fit, 4 lost (the last of them for two causes), 1 not known."""
    return [
        *(on(day, DayState.OUT, promised=True, wanted=True) for day in (0, 1, 2)),
        on(3, DayState.LOST, CELL),
        on(4, DayState.LOST, CELL, promised=True, wanted=True),
        on(5, DayState.LOST, CELL, wanted=True),
        on(6, DayState.LOST, CELL, HOSE),
        on(7, DayState.UNKNOWN, unrecorded=("periodic service",)),
        *(on(day, DayState.FIT) for day in (8, 9)),
    ]


def test_ten_days_by_hand_are_counted_and_availability_is_a_span_where_a_day_is_not_known() -> None:
    spent = UnitSpent(dive_minutes=300.0, bench_minutes=90.0, priced=1, money=60.0)
    ((unit,), (whole, kind)) = lines(ten_days(), {"U1": spent})
    assert whole.days == kind.days
    assert {state: unit.days[state] for state in DayState} == {
        DayState.OUT: 3, DayState.FIT: 2, DayState.WORK: 0, DayState.LOST: 4, DayState.UNKNOWN: 1,
        DayState.NOT_THERE: 0,
    }  # fmt: skip
    assert (unit.promised, unit.kept, unit.lost_wanted) == (4, 3, 2)
    assert unit.availability == (0.5, 0.6)  # 5 of 10 days up, 6 if the day not known was
    assert unit.use == 0.3
    assert unit.a_hire_day(spent.money) == 20.0
    assert unit.a_dive_hour(spent.bench_minutes) == 18.0  # 90 min over 5 h
    assert (kind.units, kind.days, kind.spent) == (1, unit.days, spent)


def test_causes_are_counted_alone_and_together_and_what_could_not_be_known_beside_them() -> None:
    found = {each.what: each for each in by_cause(ten_days())}
    assert (found[CELL.what].days, found[CELL.what].alone, found[CELL.what].wanted) == (4, 3, 2)
    assert (found[HOSE.what].days, found[HOSE.what].alone) == (1, 0)
    assert (found["periodic service"].days, found["periodic service"].unknown) == (0, 1)


def test_a_spare_saves_the_days_after_the_first_on_which_nothing_else_stood() -> None:
    best, *rest = savings(ten_days(), {CELL.what: None})
    # Fitted on the 4th: the 5th and 6th are saved, the 7th is not, since the hose had ended too.
    assert (best.what, best.cure, best.least, best.most, best.wanted) == (CELL.what, CureBy.SPARE, 2, 2, 2)
    assert best.times == (("U1", FIRST + timedelta(days=3)),)
    assert rest == []


def test_what_nobody_could_have_mended_saves_nothing_and_a_doubtful_day_counts_only_at_most() -> None:
    away = [on(day, DayState.LOST, AWAY) for day in range(5)]
    assert savings(away, {}) == ()
    doubtful = [on(day, DayState.LOST, HOSE, unrecorded=("periodic service",) if day > 1 else ()) for day in range(4)]
    (only,) = savings(doubtful, {})
    assert (only.least, only.most) == (1, 3)


@pytest.mark.parametrize("seed", range(40))
def test_savings_are_those_of_a_day_by_day_recomputation(seed: int) -> None:
    dice = random.Random(seed)
    kinds = [("cell", "spare"), ("hose", "spare"), ("hose", "repair"), ("test", "work"), ("away", "none")]
    told: dict[str, dict[int, tuple[list[tuple[str, str, str]], bool]]] = {}
    days: list[UnitDay] = []
    for tag in ("U1", "U2", "U3")[: 1 + seed % 3]:
        told[tag], standing = {}, dict[tuple[str, str], str]()
        for day in range(25):
            standing = {item: cure for item, cure in standing.items() if dice.random() < 0.7}
            for what, cure in kinds:
                piece = dice.choice("12") if cure in ("spare", "repair") else ""
                if dice.random() < 0.12:
                    standing.setdefault((what, piece), cure)
            doubt = dice.random() < 0.2
            things = [(what, piece, cure) for (what, piece), cure in standing.items()]
            told[tag][day] = things, doubt
            causes = [StopCause(what, CureBy(cure), piece) for what, piece, cure in things]
            unrecorded = ("service",) if doubt else ()
            days.append(on(day, DayState.LOST, *causes, unit=tag, unrecorded=unrecorded))
    leads = {"cell": dice.choice([None, 1, 3, 9]), "hose": dice.choice([None, 2, 5])}
    found = {(each.what, each.cure.value): (each.least, each.most) for each in savings(days, leads)}
    for what, cure in kinds[:4]:
        lead = leads.get(what)
        asked = saved_days.one_spare(told, what, lead) if cure == "spare" else saved_days.best_repair(told, what, cure)
        assert found.get((what, cure), (0, 0)) == asked, (what, cure)


def of_a_year(money: float, *, lost: int, unknown: int = 0, unpriced: int = 0) -> object:
    days = [on(day, DayState.LOST, HOSE, wanted=True) for day in range(lost)]
    days += [on(lost + day, DayState.UNKNOWN) for day in range(unknown)]
    days += [on(day, DayState.FIT) for day in range(lost + unknown, 365)]
    ((unit,), _) = lines(days, {"U1": UnitSpent(money=money, priced=2, unpriced=unpriced)})
    return keeping(unit, OwnFigures(price=6000.0, years=6.0, a_day=50.0))


def test_a_unit_costs_more_to_keep_where_parts_and_lost_hire_days_are_dearer_than_another_a_year() -> None:
    # 6000 over 6 years is 1000 a year; 15 lost days of 50 are 750.
    dear, cheap = of_a_year(260.0, lost=15), of_a_year(240.0, lost=15)
    assert (dear.keep, dear.a_year, dear.another) == (Keep.MORE, 1010.0, 1000.0)  # type: ignore[attr-defined]
    assert (cheap.keep, cheap.a_year) == (Keep.LESS, 990.0)  # type: ignore[attr-defined]


def test_that_it_costs_less_is_not_said_where_a_day_or_a_price_is_unknown_but_that_it_costs_more_is() -> None:
    assert of_a_year(240.0, lost=15, unpriced=1).keep is Keep.NOT_KNOWN  # type: ignore[attr-defined]
    assert of_a_year(240.0, lost=15, unknown=1).keep is Keep.NOT_KNOWN  # type: ignore[attr-defined]
    assert of_a_year(260.0, lost=15, unknown=1).keep is Keep.MORE  # type: ignore[attr-defined]


def test_without_the_centres_figures_or_days_enough_there_is_no_verdict() -> None:
    ((unit,), _) = lines(ten_days(), {})
    nothing = keeping(unit, OwnFigures(price=6000.0, a_day=50.0))
    assert (nothing.keep, nothing.why) == (Keep.NOT_STATED, "not stated: the years it is kept")
    assert keeping(unit, OwnFigures(6000.0, 6.0, 50.0)).keep is Keep.NOT_KNOWN
