"""The cheapest way to serve a sale, found by trying every one; for a handful of units. Imports nothing of ours.

A unit: tag, names of the promises that hold it, whether one of them is fixed, its work (minutes, first day, parts) or
None, and whether work cures it. A line: name, (first, last), units that it may move onto. A want: name, days, how many,
onto. Days are counted from today.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, product

Span = tuple[int, int]
Work = tuple[float, int, Sequence[tuple[str, int]]]
Unit = tuple[str, Sequence[str], bool, Work | None, bool]
Line = tuple[str, Span, Sequence[str]]
Want = tuple[str, Span, int, Sequence[str]]


def apart(one: Span, other: Span, nights: int) -> bool:
    """Whether a unit can serve both, so many nights kept free between them, one at the least."""
    first, second = sorted((one, other))
    return second[0] - first[1] >= max(1, nights) and second[0] > first[1]


def best(
    units: Sequence[Unit], lines: Sequence[Line], wants: Sequence[Want], wanted: int, days: Span, nights: int,
    bench: Sequence[float], stock: Mapping[str, int], arrives: Mapping[str, int], move: float, order: float,
    coming: Mapping[str, tuple[int, int]],
) -> tuple[int, float]:  # fmt: skip
    """The least (units missing, minutes of hands), compared in that order, over every way there is."""
    could = _wants_alone(wants, nights)
    found = (wanted, 0.0)
    for ways in product(*(_ways(unit) for unit in units)):
        going = [(unit, way) for unit, way in zip(units, ways, strict=True) if way != "stays"]
        if len(going) > wanted or not _can_be_done(going, days[0], bench, stock, arrives, coming):
            continue
        for moved in product(*((None, *line[2]) for line in lines)):
            if not _freed(going, lines, moved):
                continue
            used = [(unit[0], days) for unit, _ in going]
            used += [(to, line[1]) for line, to in zip(lines, moved, strict=True) if to is not None]
            if not _one_at_a_time(used, nights) or not _wants_kept(wants, could, used, nights):
                continue
            cost = sum((unit[3][0] if unit[3] else 0.0) + (order if way == "ordered" else 0) for unit, way in going)
            cost += move * sum(to is not None for to in moved)
            found = min(found, (wanted - len(going), cost))
    return found


def _ways(unit: Unit) -> tuple[str, ...]:
    _tag, _held, fixed, work, cures = unit
    if fixed or not cures:
        return ("stays",)
    return ("stays", "goes") if work is None else ("stays", "worked on", "ordered", "awaited")


def _can_be_done(
    going: Sequence[tuple[Unit, str]], first: int, bench: Sequence[float], stock: Mapping[str, int],
    arrives: Mapping[str, int], coming: Mapping[str, tuple[int, int]],
) -> bool:  # fmt: skip
    """Whether the work is done before the first day, a day at a time, whatever has begun."""
    jobs, taken, later = [], dict(stock), {kind: count for kind, (count, _day) in coming.items()}
    for unit, way in going:
        if unit[3] is None:
            continue
        minutes, begins, parts = unit[3]
        if way == "ordered":
            if not parts:
                return False
            begins = max(begins, *(arrives.get(kind, 10**6) for kind, _ in parts))
        elif way == "awaited":
            # What is on order is waited for, though a piece on the shelf may be left that another does not take.
            days = [coming[kind][1] for kind, _ in parts if kind in coming]
            if not days:
                return False
            begins = max(begins, *days)
            for kind, count in parts:
                later[kind] = later.get(kind, 0) - count
        else:
            for kind, count in parts:
                taken[kind] = taken.get(kind, 0) - count
        if begins >= first:
            return False
        jobs.append([begins, minutes])
    return _there(taken, later) and _worked_through(jobs, bench[:first])


def _worked_through(jobs: list[list[float]], bench: Sequence[float]) -> bool:
    """Whether the minutes of each day do all jobs, those that begin latest first."""
    for day, minutes in enumerate(bench):
        left = minutes
        for job in sorted(jobs, reverse=True):
            if job[0] <= day:
                done = min(left, job[1])
                left, job[1] = left - done, job[1] - done
    return all(job[1] <= 1e-9 for job in jobs)


def _there(taken: Mapping[str, int], later: Mapping[str, int]) -> bool:
    """Whether no kind is short: the shelf by itself, and the shelf with what comes."""
    enough = all(taken.get(kind, 0) + count >= 0 for kind, count in later.items())
    return enough and all(count >= 0 for count in taken.values())


def _freed(going: Sequence[tuple[Unit, str]], lines: Sequence[Line], moved: Sequence[str | None]) -> bool:
    gone = {line[0] for line, to in zip(lines, moved, strict=True) if to is not None}
    return all(name in gone for unit, _ in going for name in unit[1])


def _one_at_a_time(used: Sequence[tuple[str, Span]], nights: int) -> bool:
    return all(one[0] != other[0] or apart(one[1], other[1], nights) for one, other in combinations(used, 2))


def _given(wants: Sequence[Want], nights: int, used: Sequence[tuple[str, Span]]) -> Iterator[tuple[int, ...]]:
    """How many units each want gets, for every way to give them out."""
    choices = [[each for n in range(want[2] + 1) for each in combinations(want[3], n)] for want in wants]
    for chosen in product(*choices):
        mine = [(tag, want[1]) for want, tags in zip(wants, chosen, strict=True) for tag in tags]
        if _one_at_a_time([*used, *mine], nights):
            yield tuple(len(tags) for tags in chosen)


def _wants_alone(wants: Sequence[Want], nights: int) -> int:
    return max(sum(each) for each in _given(wants, nights, ()))


def _wants_kept(wants: Sequence[Want], could: int, used: Sequence[tuple[str, Span]], nights: int) -> bool:
    return any(sum(each) >= could for each in _given(wants, nights, used))
