"""Who does what at the bench: every rule of a day held on random jobs, and the earliest due date tried both ways.

Earliest due date first keeps the greatest lateness of one person as small as any order: Jackson (1955), from memory.
The jobs are invented from a seed.
"""

from datetime import date, timedelta
from itertools import pairwise, permutations
from random import Random

import pytest

from fleetbench.calc.hires.plan_facts import BenchJob, dealt

TODAY = date(2026, 5, 4)


def drawn(dice: Random, count: int, *, hang: bool = True) -> list[BenchJob]:
    return [
        BenchJob(
            f"U{n}", 5.0 * dice.randrange(1, 20), ("work",),
            TODAY + timedelta(dice.randrange(9)) if dice.random() < 0.8 else None,
            15.0 * dice.randrange(12) if hang and dice.random() < 0.3 else 0.0,
        )
        for n in range(count)
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(30))
def test_nobody_does_two_things_at_once_nothing_is_touched_before_it_is_dry_and_no_job_is_lost(seed: int) -> None:
    dice = Random(seed)
    jobs, people, minutes = drawn(dice, dice.randrange(12)), dice.randrange(1, 4), 60.0 * dice.randrange(1, 6)
    given, left = dealt(jobs, people, minutes)
    assert len(given) == people
    assert sorted(each.tag for each in [*left, *(job for of in given for _, job in of)]) == sorted(j.tag for j in jobs)
    for of in given:
        assert all(start >= job.begins and start + job.minutes <= minutes for start, job in of)
        assert all(one[0] + one[1].minutes <= other[0] for one, other in pairwise(of))
    # Nothing is left that would still fit somewhere.
    for job in left:
        for of in given:
            edges = [0.0, *(start + each.minutes for start, each in of)]
            ends = [*(start for start, _ in of), minutes]
            fits = (max(free, job.begins) + job.minutes <= taken for free, taken in zip(edges, ends, strict=True))
            assert not any(fits)


@pytest.mark.parametrize("seed", range(12))
def test_one_persons_day_is_never_later_than_any_other_order_of_it(seed: int) -> None:
    jobs = [each for each in drawn(Random(100 + seed), 5, hang=False) if each.ready_by is not None]
    (given,), left = dealt(jobs, 1, 10_000.0)
    assert left == ()

    def latest(order: tuple[BenchJob, ...]) -> float:
        spent, worst = 0.0, -1e9
        for each in order:
            assert each.ready_by is not None
            spent += each.minutes
            worst = max(worst, spent - 60.0 * (each.ready_by - TODAY).days)
        return worst

    assert latest(tuple(job for _, job in given)) == min(latest(order) for order in permutations(jobs))


def test_the_gap_before_a_loop_is_dry_is_filled_and_what_is_wanted_first_is_done_first() -> None:
    hangs = BenchJob("A", 60.0, ("turn-round",), TODAY, 90.0)
    short, long = BenchJob("B", 60.0, ("replace cell 2",), TODAY + timedelta(3)), BenchJob("C", 90.0, ("service",))
    given, left = dealt([long, hangs, short], 1, 150.0)
    assert [(start, job.tag) for start, job in given[0]] == [(0.0, "B"), (90.0, "A")]
    assert left == (long,)
