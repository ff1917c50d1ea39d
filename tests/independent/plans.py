"""The best plan of all, found by trying every one; for a handful of units and bookings. Imports nothing of ours.

A unit: tag, type, first day in hand, fit through (None: no limit, -1: only after its visit), days taken, and its work
(minutes, due, parts, throws life). A booking: code, type, (first, last), units, promised tags.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, product

Span = tuple[int, int]
Work = tuple[float, int | None, Sequence[tuple[str, int]], bool]
Unit = tuple[str, str, int, int | None, Sequence[Span], Sequence[Work]]
Booking = tuple[str, str, Span, int, Sequence[str]]
Days = Sequence[int | None]
Used = Mapping[int, tuple[Span, ...]]
Score = tuple[int, int, int, int]


def best_score(
    units: Sequence[Unit], bookings: Sequence[Booking], bench: Sequence[float], supply: Mapping[str, Sequence[int]]
) -> Score | None:
    """The least (unmet, late, thrown, changes), compared in that order.

    Bench time is looked at once the bookings are given out: a unit's work is done on the days from its last return to
    its ready day, and on no other.
    """
    horizon = len(bench)
    best: Score | None = None
    for days in product(*([None, *_finish(unit, horizon)] for unit in units)):
        if not _parts_there(units, days, supply):
            continue
        late = thrown = 0
        for unit, day in zip(units, days, strict=True):
            for _minutes, due, _parts, throws in unit[5]:
                if due is not None:
                    late += max(0, (horizon if day is None else day) - due)
                    if throws and day is not None:
                        thrown += max(0, due - day)
        free = [_serves(unit, day, bookings) for unit, day in zip(units, days, strict=True)]
        for unmet, changes, used in _ways(units, bookings, free, 0, {}):
            found = (unmet, late, thrown, changes)
            if (best is None or found < best) and can_be_done(units, days, used, bench):
                best = found
    return best


def can_be_done(units: Sequence[Unit], days: Days, used: Used, bench: Sequence[float]) -> bool:
    """Whether the bench can do each unit's work while it is here, worked through a day at a time by the first ready
    day (the earliest-deadline rule, best for one bench: Horn, Naval Research Logistics Quarterly 21 (1974) 177, from
    memory). used: spans on bookings by a unit's place.
    """
    jobs: list[list[float]] = []
    for n, (unit, day) in enumerate(zip(units, days, strict=True)):
        if day is not None:
            out = [last for _first, last in (*unit[4], *used.get(n, ())) if last < day]
            jobs.append([day, max(0, unit[2], *(last + 1 for last in out)), sum(work[0] for work in unit[5])])
    for today, minutes in enumerate(bench):
        left = minutes
        for job in sorted(jobs):
            if job[1] <= today <= job[0]:
                done = min(left, job[2])
                left, job[2] = left - done, job[2] - done
    return all(job[2] <= 1e-9 for job in jobs)


def _finish(unit: Unit, horizon: int) -> list[int]:
    _tag, _kind, in_hand, _fit, taken, work = unit
    if not work:
        return []
    return [d for d in range(in_hand, horizon) if not any(a <= d <= b for a, b in taken)]


def _parts_there(units: Sequence[Unit], days: Days, supply: Mapping[str, Sequence[int]]) -> bool:
    visits = [(unit, day) for unit, day in zip(units, days, strict=True) if day is not None]
    for kind, arrivals in supply.items():
        for last in range(len(arrivals)):
            asked = sum(n for u, d in visits if d <= last for w in u[5] for k, n in w[2] if k == kind)
            if asked > sum(arrivals[: last + 1]):
                return False
    return True


def _serves(unit: Unit, day: int | None, bookings: Sequence[Booking]) -> set[int]:
    _tag, kind, in_hand, fit, taken, _work = unit
    able: set[int] = set()
    for n, (_code, wanted, (first, last), _units, _promised) in enumerate(bookings):
        ready = fit is None or last <= fit or (day is not None and day < first)
        apart = not any(a <= last and first <= b for a, b in taken) and not (day is not None and first <= day <= last)
        if kind == wanted and in_hand <= first and ready and apart:
            able.add(n)
    return able


def _ways(
    units: Sequence[Unit], bookings: Sequence[Booking], free: Sequence[set[int]], at: int, used: Used
) -> Iterator[tuple[int, int, Used]]:
    """Every way to give the bookings out from one on: units unmet, promises broken, and the spans of each unit."""
    if at == len(bookings):
        yield 0, 0, used
        return
    _code, _kind, (first, last), wanted, promised = bookings[at]
    open_units = [
        n for n in range(len(units))
        if at in free[n] and not any(a <= last and first <= b for a, b in used.get(n, ()))
    ]  # fmt: skip
    for size in range(min(wanted, len(open_units)) + 1):
        for chosen in combinations(open_units, size):
            after = {**used, **{n: (*used.get(n, ()), (first, last)) for n in chosen}}
            lost = len(set(promised) - {units[n][0] for n in chosen})
            for unmet, changes, spans in _ways(units, bookings, free, at + 1, after):
                yield unmet + wanted - size, changes + lost, spans
