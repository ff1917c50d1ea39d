"""How many spares a fleet needs through a day, counted position by position in plain Python.

Survival by the product limit (Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457), beyond the longest life by a
constant rate; replacements one after another by the defining sums of a renewal process (Cox, Renewal Theory, 1962, from
memory). A rate told by n failures is not known: it has a gamma distribution of shape n + 1/3 about its estimate
(Kerman, Electron. J. Statist. 5 (2011) 1450; gamma-Poisson: Gelman et al., Bayesian Data Analysis, 2.6; both from
memory), integrated here by Simpson's rule over its density. Three failures at least for a curve: common practice, no
published source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

Life = tuple[float, bool]
"""Days served, and whether it ended by failure."""


@dataclass(frozen=True, slots=True)
class Seat:
    """A fitted part: days in service, and days until its last good day, None where none is known."""

    age: float
    ends_in: int | None = None


def survival(lives: Sequence[Life], age: float) -> float:
    """Share that outlasts an age."""
    failures = sum(failed for _, failed in lives)
    rate = (failures + 1.0 / 3.0) / sum(days for days, _ in lives)
    if failures < 3:
        return math.exp(-rate * age)
    longest, share = max(days for days, _ in lives), 1.0
    for time in sorted({days for days, failed in lives if failed}):
        if time <= age:
            at_risk = sum(days >= time for days, _ in lives)
            share *= 1.0 - sum(failed and days == time for days, failed in lives) / at_risk
    return share * math.exp(-rate * max(0.0, age - longest))


def counts(lives: Sequence[Life], seats: Sequence[Seat], days: int, life_days: int | None = None) -> list[float]:
    """Chance of 0, 1, 2 .. pieces from today through so many days ahead, over all rates that are possible."""
    shape = sum(failed for _, failed in lives) + 1.0 / 3.0
    ages = {seat.age: [survival(lives, seat.age + day) for day in range(days + 1)] for seat in [*seats, Seat(0.0)]}
    mixed = [0.0] * (8 * len(seats) + 1)
    for factor, weight in _factors(shape):
        new = _ends(ages[0.0], factor, days, life_days)
        total, told = [1.0], dict[Seat, list[float]]()
        for seat in seats:
            ends_at = None if seat.ends_in is None else max(0, seat.ends_in + 1)
            if seat not in told:
                told[seat] = _pieces(_ends(ages[seat.age], factor, days, ends_at), new, days)
            total = _fold(total, told[seat])
        for pieces, chance in enumerate(total[: len(mixed)]):
            mixed[pieces] += weight * chance
    return mixed


def _factors(shape: float, steps: int = 60) -> list[tuple[float, float]]:
    """Factors of mean 1 with their weights, by Simpson's rule in the logarithm, where the density is smooth."""
    low, high = -30.0 / shape, math.log(1.0 + 9.0 / math.sqrt(shape) + 9.0 / shape)
    found = []
    for step in range(steps + 1):
        log = low + (high - low) * step / steps
        density = math.exp(shape * (log - math.exp(log)))
        found.append((math.exp(log), density * (1.0 if step in (0, steps) else 4.0 if step % 2 else 2.0)))
    total = sum(weight for _, weight in found)
    return [(factor, weight / total) for factor, weight in found if weight > 1e-7 * total]


def _ends(alive: Sequence[float], factor: float, days: int, ends_at: int | None) -> list[float]:
    """Chance of a part's end on each day: it fails, or its date comes."""
    share = [(each / alive[0]) ** factor for each in alive]
    found = [0.0] + [share[day - 1] - share[day] for day in range(1, days + 1)]
    if ends_at is not None and ends_at <= days:
        found = [*found[:ends_at], share[ends_at - 1] if ends_at else 1.0, *[0.0] * (days - ends_at)]
    return found


def _pieces(first: Sequence[float], again: Sequence[float], days: int, most: int = 8) -> list[float]:
    """Chance of 0 .. most replacements at one position: its first end, and then that of each new part in turn."""
    at_least, each = [1.0], list(first)
    for _ in range(most):
        at_least.append(sum(each))
        if at_least[-1] < 1e-12:
            break
        each = [sum(each[day - wait] * again[wait] for wait in range(day + 1)) for day in range(days + 1)]
    return [one - more for one, more in zip(at_least, [*at_least[1:], 0.0], strict=True)]


def _fold(one: Sequence[float], other: Sequence[float]) -> list[float]:
    found = [0.0] * (len(one) + len(other) - 1)
    for a, p in enumerate(one):
        for b, q in enumerate(other):
            found[a + b] += p * q
    return found


def stock(chances: Sequence[float], level: float) -> int:
    """The fewest pieces that are enough with at least this chance."""
    total = 0.0
    for pieces, chance in enumerate(chances):
        total += chance
        if total >= level:
            return pieces
    return len(chances)
