"""A season of an invented centre, day by day, under two desks: the program's decisions, and first come, first served.

`python -m tests.season [--units 14,200] [--days N] [--seed N] [--load X] [--faults P]` is the long form; the suite runs
a short one. Units break at random mornings and take minutes at the bench; bookings come in at random. The long form
breaks them twice as often as the short one: at the short one's rate 200 units always leave a spare one, and both desks
keep every promise. The program's desk sells by
`cheapest`, judges every promise each morning by `judged_promise`, gives spare units, and tells who cannot be served.
The other books whatever is free by the calendar, and finds out at the counter; there it too gives any free fit unit.
Rates are invented.
"""

import argparse
import random
from dataclasses import dataclass, field
from datetime import date, timedelta

from fleetbench.calc.hires.promises import Keeping, PromisedUnit, judged_promise
from fleetbench.calc.hires.sell import SaleFacts, SaleLine, SaleUnit, SaleWork, cheapest, clash_days

DAY_ZERO = date(2026, 5, 4)
BENCH_MINUTES = 180.0
"""A day's minutes for fourteen units; more in proportion."""
FAULTS_A_DAY = 0.05
"""The chance that a unit which is here breaks on a morning."""


@dataclass
class Booked:
    """A booking: its days, the units promised, and on which morning it was told that it cannot be kept."""

    name: str
    days: tuple[int, int]
    units: list[str]
    told_on: int | None = None


@dataclass
class Count:
    """What became of the promises: all, kept, told before the first day, told that morning, found at the counter."""

    promised: int = 0
    kept: int = 0
    told_before: int = 0
    told_that_morning: int = 0
    at_the_counter: int = 0


@dataclass
class Centre:
    """The centre on one day. broken: minutes of work left of each unit that is not fit."""

    units: list[str]
    bench: float
    broken: dict[str, float] = field(default_factory=dict)
    bookings: list[Booked] = field(default_factory=list)

    def held(self, tag: str) -> list[Booked]:
        """The promises of a unit that stand."""
        return [each for each in self.bookings if tag in each.units and each.told_on is None]

    def free(self, tag: str, days: tuple[int, int], but: Booked | None = None) -> bool:
        """Whether nothing is promised of it on these days, the turn-round kept."""
        return not any(clash_days(each.days, days, 1) for each in self.held(tag) if each is not but)

    def is_out(self, tag: str, day: int) -> bool:
        """Whether it is with a diver."""
        return any(each.days[0] <= day <= each.days[1] for each in self.held(tag))

    def work(self, day: int) -> None:
        """A day at the bench: first what leaves first."""
        left = self.bench

        def leaves(tag: str) -> int:
            return min((each.days[0] for each in self.held(tag) if each.days[0] > day), default=10**6)

        for tag in sorted(self.broken, key=leaves):
            if not self.is_out(tag, day):
                done = min(left, self.broken[tag])
                left, self.broken[tag] = left - done, self.broken[tag] - done
        self.broken = {tag: minutes for tag, minutes in self.broken.items() if minutes > 0}


def facts_of(centre: Centre, day: int, days: tuple[int, int], wanted: int) -> SaleFacts:
    """What the program asks of a sale, in days counted from today."""
    here = days[0] - day, days[1] - day
    units, lines = [], []
    owed = sum(centre.broken[tag] for tag in centre.broken if not centre.free(tag, (day, days[0])))
    free: dict[tuple[int, int], list[str]] = {}
    for tag in centre.units:
        held = [each for each in centre.held(tag) if clash_days(each.days, days, 1)]
        fixed = any(each.days[0] <= day for each in held)
        work = SaleWork(centre.broken[tag]) if tag in centre.broken else None
        units.append(SaleUnit(tag, tuple(f"{each.name} {tag}" for each in held), fixed, work))
        for each in held:
            if each.days not in free:
                free[each.days] = [other for other in centre.units
                                   if other not in centre.broken and centre.free(other, each.days)]  # fmt: skip
            onto = tuple(other for other in free[each.days] if other not in each.units)
            lines.append(SaleLine(f"{each.name} {tag}", (each.days[0] - day, each.days[1] - day), onto))
    bench, there = [], owed
    for _ in range(here[0]):
        bench.append(max(0.0, centre.bench - there))
        there = max(0.0, there - centre.bench)
    return SaleFacts(tuple(units), wanted, here, lines=tuple(lines), bench=tuple(bench))


def sell(centre: Centre, day: int, asked: Booked, wanted: int) -> bool:
    """Book by the program's decision; refused, and so told at once, where not all can go."""
    sale = cheapest(facts_of(centre, day, asked.days, wanted))
    if sale.missing:
        return False
    for name, to in sale.moves:
        code, _, before = name.rpartition(" ")
        moved = next(each for each in centre.bookings if each.name == code)
        moved.units[moved.units.index(before)] = to
    asked.units = list(sale.units)
    return True


def take_free(centre: Centre, asked: Booked, wanted: int) -> bool:
    """Book what is free by the calendar, fit or not."""
    free = [tag for tag in centre.units if centre.free(tag, asked.days)]
    asked.units = free[:wanted]
    return len(free) >= wanted


def judge(centre: Centre, day: int) -> None:
    """Judge every promise to come; give spare units from the day on which the bench cannot help, and tell the rest."""
    for each in sorted(centre.bookings, key=lambda one: one.days):
        if each.told_on is not None or each.days[0] < day:
            continue
        reach = centre.bench * (each.days[0] - day)
        units = [PromisedUnit(tag, "broken" if tag in centre.broken else "", centre.broken.get(tag, 0) <= reach)
                 for tag in each.units]  # fmt: skip
        spare = [tag for tag in centre.units if tag not in centre.broken and centre.free(tag, each.days)]
        found = judged_promise(DAY_ZERO + timedelta(days=day), DAY_ZERO + timedelta(days=each.days[0]), units, 0, spare)
        if found.state is Keeping.NOT_KEPT:
            each.told_on = day
            continue
        for tag, new in found.instead:
            each.units[each.units.index(tag)] = new


def hand_over(centre: Centre, day: int, count: Count, *, gives_spare: bool) -> None:
    """What leaves on a day, and what became of each promise."""
    for each in centre.bookings:
        if each.days[0] != day:
            continue
        count.promised += 1
        if each.told_on is not None:
            count.told_before += each.told_on < day
            count.told_that_morning += each.told_on == day
            continue
        for tag in [tag for tag in each.units if tag in centre.broken] if gives_spare else []:
            spare = next((new for new in centre.units if new not in centre.broken and centre.free(new, each.days)), "")
            if spare:
                each.units[each.units.index(tag)] = spare
        if any(tag in centre.broken for tag in each.units):
            each.told_on = day
            count.at_the_counter += 1
        else:
            count.kept += 1


def season(
    units: int, days: int, seed: int, *, by_calendar: bool, load: float = 1.0, faults_a_day: float = FAULTS_A_DAY
) -> Count:
    """A season under one desk; the same mornings and the same asking for both. load: askings, times the usual."""
    centre = Centre([f"U{n:03d}" for n in range(units)], BENCH_MINUTES * units / 14)
    count, faults, asks = Count(), random.Random(seed), random.Random(seed + 1)
    for day in range(days):
        for tag in centre.units:
            breaks, minutes = faults.random() < faults_a_day, faults.choice((20.0, 60.0, 120.0, 600.0, 1200.0))
            if breaks and not centre.is_out(tag, day) and tag not in centre.broken:
                centre.broken[tag] = minutes
        if not by_calendar:
            judge(centre, day)
        hand_over(centre, day, count, gives_spare=by_calendar)
        for number in range(int(asks.randrange(4) * load * units / 14)):
            first = day + asks.randrange(1, 11)
            wanted, last = asks.randrange(1, 5), first + asks.randrange(1, 5)
            made = Booked(f"B{day}-{number}", (first, last), [])
            if take_free(centre, made, wanted) if by_calendar else sell(centre, day, made, wanted):
                centre.bookings.append(made)
        centre.work(day)
        centre.bookings = [each for each in centre.bookings if each.days[1] >= day - 1]
    return count


def main() -> int:
    """Print both desks beside each other for each size."""
    asked = argparse.ArgumentParser(description="a season under two desks")
    asked.add_argument("--units", default="14,200")
    asked.add_argument("--days", type=int, default=30)
    asked.add_argument("--seed", type=int, default=7)
    asked.add_argument("--load", type=float, default=1.0, help="askings a day, times 1.5 for each fourteen units")
    asked.add_argument("--faults", type=float, default=2 * FAULTS_A_DAY, help="chance that a unit breaks on a morning")
    given = asked.parse_args()
    print(f"{given.days} days, seed {given.seed}, load {given.load:g}, faults {given.faults:g} a unit and morning")
    heads = ("promised", "kept", "told before", "that morning", "at the counter")
    print(f"{'units':>6} {'desk':<24}" + "".join(f"{each:>16}" for each in heads))
    for units in (int(each) for each in given.units.split(",")):
        for name, by_calendar in (("the program's", False), ("first come, first served", True)):
            made = season(units, given.days, given.seed, by_calendar=by_calendar, load=given.load,
                          faults_a_day=given.faults)  # fmt: skip
            figures = made.promised, made.kept, made.told_before, made.told_that_morning, made.at_the_counter
            print(f"{units:>6} {name:<24}" + "".join(f"{each:>16}" for each in figures), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
