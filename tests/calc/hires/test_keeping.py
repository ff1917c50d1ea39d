"""Whether a booking can be kept, held against every way to give spare units out on small cases."""

import random
from datetime import date, timedelta
from itertools import permutations

import pytest

from fleetbench.calc.hires.promises import Keeping, PromisedUnit, judged_promise

TODAY = date(2026, 5, 4)


def tried(units: list[PromisedUnit], lacking: int, spare: list[str], in_time: bool) -> Keeping:
    """The best state over every order in which spare units are given out; what may be worked on needs none."""
    need = lacking + sum(bool(each.why) and not (each.curable and in_time) for each in units)
    served = max((min(need, len(order)) for order in permutations(spare)), default=0)
    if served < need:
        return Keeping.NOT_KEPT
    return Keeping.AT_RISK if any(each.why for each in units) else Keeping.FIT


@pytest.mark.parametrize("seed", range(80))
def test_no_way_to_give_spare_units_out_keeps_more(seed: int) -> None:
    dice = random.Random(seed)
    units = [PromisedUnit(f"U{n}", dice.choice(("", "cell 2 reject")), dice.random() < 0.5) for n in range(3)]
    lacking, spare = dice.randrange(3), [f"S{n}" for n in range(dice.randrange(5))]
    first = TODAY + timedelta(days=dice.randrange(3))
    found = judged_promise(TODAY, first, units, lacking, spare)
    assert found.state is tried(units, lacking, spare, first > TODAY)
    given = [new for _, new in found.instead if new]
    assert len(set(given)) == len(given)
    if found.until is not None:
        assert TODAY <= found.until <= first


def test_what_the_bench_can_cure_is_at_risk_until_the_day_before() -> None:
    broken = PromisedUnit("U1", "cell 2 reject", curable=True)
    found = judged_promise(TODAY, TODAY + timedelta(days=5), [broken], 0, ["S1"])
    assert (found.state, found.until, found.instead) == (Keeping.AT_RISK, TODAY + timedelta(days=4), ())
