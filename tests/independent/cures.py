"""Other days for a booking, and other days of another that set units free, found by trying every one.

Units and bookings as in plans.py; given: units of each booking by place; ready: each unit's day or None. All else of
the plan is held. Imports nothing of ours but its neighbour here.
"""

from collections.abc import Mapping, Sequence
from itertools import combinations, product

from tests.independent.plans import Booking, Days, Unit, _parts_there, _serves, can_be_done

Given = Mapping[int, tuple[int, ...]]


def holds(
    units: Sequence[Unit], bookings: Sequence[Booking], given: Given, ready: Days, bench: Sequence[float],
    supply: Mapping[str, Sequence[int]],
) -> bool:  # fmt: skip
    """Whether a plan keeps every rule."""
    used = {n: tuple(bookings[b][2] for b, those in given.items() if n in those) for n in range(len(units))}
    for n, spans in used.items():
        able = _serves(units[n], ready[n], bookings)
        if any(n in those and b not in able for b, those in given.items()):
            return False
        if any(a[0] <= b[1] and b[0] <= a[1] for a, b in combinations(spans, 2)):
            return False
    return _parts_there(units, ready, supply) and can_be_done(units, ready, used, bench)


def shifted(bookings: Sequence[Booking], place: int, step: int) -> list[Booking]:
    """The bookings, one of them so many days later."""
    code, kind, (first, last), wanted, promised = bookings[place]
    return [(code, kind, (first + step, last + step), wanted, promised) if n == place else each
            for n, each in enumerate(bookings)]  # fmt: skip


def can_go(
    units: Sequence[Unit], bookings: Sequence[Booking], given: Given, ready: Days, bench: Sequence[float],
    supply: Mapping[str, Sequence[int]], place: int,
) -> bool:  # fmt: skip
    """Whether a booking can have all its units, each ready as planned or on any day before it."""
    first, wanted = bookings[place][2][0], bookings[place][3]
    for chosen in combinations(range(len(units)), wanted):
        choices = [[ready[n], *(day for day in range(first) if _workable(units[n], day))] for n in chosen]
        for days in product(*choices):
            after = list(ready)
            for n, day in zip(chosen, days, strict=True):
                after[n] = day
            if not all(_not_out(units, bookings, given, n, after[n], place) for n in chosen):
                continue
            if holds(units, bookings, {**given, place: chosen}, after, bench, supply):
                return True
    return False


def _workable(unit: Unit, day: int) -> bool:
    return bool(unit[5]) and day >= unit[2] and not any(a <= day <= b for a, b in unit[4])


def _not_out(
    units: Sequence[Unit], bookings: Sequence[Booking], given: Given, n: int, day: int | None, at: int
) -> bool:
    out = [bookings[b][2] for b, those in given.items() if n in those and b != at]
    return day is None or not any(first <= day <= last for first, last in out)


def most_set_free(
    units: Sequence[Unit], bookings: Sequence[Booking], given: Given, ready: Days, bench: Sequence[float],
    supply: Mapping[str, Sequence[int]], place: int, other: int, missing: int,
) -> int:  # fmt: skip
    """The most units of another booking, on the days that it has here, that can serve a booking too."""
    for count in range(missing, 0, -1):
        for chosen in combinations([n for n in given[other] if n not in given[place]], count):
            after = {**given, place: (*given[place], *chosen)}
            if holds(units, bookings, after, ready, bench, supply):
                return count
    return 0
