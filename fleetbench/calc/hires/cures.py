"""Why a booking stays unmet in a plan, and every way to cure it: more at the bench, other days, another booking's days.

All else in the plan is held as it is. A way that is said to be whole is a plan of its own, which keeps every rule.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from itertools import combinations
from math import ceil, comb
from typing import NamedTuple

import numpy as np

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.hires.plan_facts import (
    Assigned,
    Days,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    faults,
    may_serve,
    needs_visit,
    overlap,
    resource_faults,
    stay_from,
    stays,
    visit_days,
)
from fleetbench.calc.hires.sell import MOVE_MINUTES, ORDER_MINUTES

NEAR_BY = 14
"""Days before and after within which other days are weighed."""
TRIED = 400
"""So many sets of units are tried on given days where the cheapest units first do not do."""


class Cause(NamedTuple):
    """Why a booking is unmet: how many units it lacks and the fewest single cures that would meet it.

    cures: `1 unit of TYPE`, `2 CELL-A`, `1 h of bench time`; everything else in the plan is held as it is.
    """

    code: str
    missing: int
    cures: tuple[str, ...]


class CureKind(StrEnum):
    """What a way asks for."""

    WORK = "bench work"
    DAYS = "other days"
    MOVE = "another booking on other days"
    BORROW = "borrow"


@dataclass(frozen=True, slots=True)
class Cure:
    """One way to give an unmet booking what it lacks; the days are its own where no booking is named.

    units: how many of those that it lacks. tags: units that go to the bench for it, or that another booking sets free.
    needs: parts and hours of bench time beyond what there is. shift: days by which a booking moves. cost: minutes of
    hands. after: the facts and the plan in which it is done, None where another owner's unit is borrowed.
    """

    kind: CureKind
    units: int
    cost: float = 0.0
    tags: tuple[str, ...] = ()
    needs: tuple[tuple[str, int], ...] = ()
    booking: str = ""
    shift: int = 0
    after: tuple[PlanFacts, Assigned] | None = None


def weighed(facts: PlanFacts, made: Assigned, code: str) -> tuple[Cure, ...]:
    """Every way for a booking that lacks units in the plan, those that cure it whole first, then by minutes of hands.

    Borrowing stands last: what it costs is not known here.
    """
    booking = next(each for each in facts.bookings if each.code == code)
    missing = booking.units - len(made.given.get(code, ()))
    found = [
        *_by_work(facts, made, booking),
        *_by_days(facts, made, booking),
        *_by_moves(facts, made, booking, missing),
    ]
    # Of ways that cost the same, the one that asks less of other people stands first.
    kinds = list(CureKind)
    found.sort(key=lambda each: (each.units < missing, each.cost, kinds.index(each.kind), abs(each.shift), each.tags))
    return (*found, Cure(CureKind.BORROW, missing))


def _by_work(facts: PlanFacts, made: Assigned, booking: PlanBooking) -> Iterator[Cure]:
    """Each unit that more parts or more bench time would make ready in time."""
    left, given = _Left(facts, made), made.given.get(booking.code, ())
    for unit in facts.units:
        way = None if unit.tag in given else _way(facts, made, left, unit, booking)
        if way is None:
            continue
        day = max(_ready_days(facts, made, unit, booking))
        hours = sum(count for name, count in way if name == HOURS)
        minutes = list(facts.bench_minutes)
        minutes[day] += 60.0 * hours
        parts = {kind: list(each) for kind, each in facts.parts.items()}
        for kind, count in way:
            if kind != HOURS:
                parts.setdefault(kind, [0] * facts.horizon)[0] += count
        more = replace(facts, bench_minutes=tuple(minutes), parts={kind: tuple(each) for kind, each in parts.items()})
        after = Assigned({**made.given, booking.code: (*given, unit.tag)}, {**made.ready, unit.tag: day})
        if not faults(more, after):
            cost = unit.minutes + (ORDER_MINUTES if any(name != HOURS for name, _ in way) else 0.0)
            yield Cure(CureKind.WORK, units=1, cost=cost, tags=(unit.tag,), needs=way, after=(more, after))


def _by_days(facts: PlanFacts, made: Assigned, booking: PlanBooking) -> Iterator[Cure]:
    """The nearest days before and after on which the booking has all its units."""
    for way in (-1, 1):
        for step in range(1, NEAR_BY + 1):
            if not 0 <= booking.days[0] + way * step < facts.horizon:
                break
            cure = _on_days(facts, made, booking, way * step)
            if cure is not None:
                yield cure
                break


def _moved(facts: PlanFacts, booking: PlanBooking, step: int) -> PlanFacts:
    days = booking.days[0] + step, booking.days[1] + step
    moved = replace(booking, days=days)
    return replace(facts, bookings=tuple(moved if each is booking else each for each in facts.bookings))


def _on_days(facts: PlanFacts, made: Assigned, booking: PlanBooking, step: int) -> Cure | None:
    """The whole booking so many days later, with the least bench work; None where no units are found for it."""
    there = _moved(facts, booking, step)
    moved = next(each for each in there.bookings if each.code == booking.code)
    none_yet = Assigned({**made.given, booking.code: ()}, made.ready)
    at_once, after_work = [], []
    for unit in there.units:
        if _stands_free(there, none_yet, unit, moved):
            at_once.append(unit)
        elif _ready_days(there, none_yet, unit, moved):
            after_work.append(unit)
    kept = made.given.get(booking.code, ())
    at_once.sort(key=lambda each: (each.tag not in kept, each.tag))
    start = replace(none_yet, given={**made.given, booking.code: tuple(u.tag for u in at_once[: booking.units])})
    lacking = booking.units - len(start.given[booking.code])
    after_work.sort(key=lambda each: (each.minutes, each.tag))
    found = _worked_on(there, start, moved, after_work, lacking)
    if found is None and comb(len(after_work), lacking) <= TRIED:
        tried = (_worked_on(there, start, moved, each, lacking) for each in combinations(after_work, lacking))
        found = next((each for each in tried if each is not None), None)
    if found is None or faults(there, found):
        return None
    visited = tuple(each.tag for each in after_work if each.tag in found.given[booking.code])
    cost = MOVE_MINUTES + sum(each.minutes for each in after_work if each.tag in visited)
    missing = booking.units - len(kept)
    return Cure(CureKind.DAYS, missing, cost, visited, booking=booking.code, shift=step, after=(there, found))


def _worked_on(
    facts: PlanFacts, start: Assigned, booking: PlanBooking, units: Sequence[PlanUnit], lacking: int
) -> Assigned | None:
    """The plan with so many of these units made ready and given to the booking, the first that can be; else None."""
    at = start
    for unit in units:
        if not lacking:
            break
        for day in reversed(_ready_days(facts, at, unit, booking)):
            given = {**at.given, booking.code: (*at.given[booking.code], unit.tag)}
            tried = Assigned(given, {**at.ready, unit.tag: day})
            if not resource_faults(facts, tried):
                at, lacking = tried, lacking - 1
                break
    return at if not lacking else None


def _spans(facts: PlanFacts, made: Assigned, tag: str) -> list[Days]:
    return [each.days for each in facts.bookings if tag in made.given.get(each.code, ())]


def _stands_free(facts: PlanFacts, made: Assigned, unit: PlanUnit, booking: PlanBooking) -> bool:
    """Whether a unit can serve a booking beside what it does, with no visit but the one that is planned."""
    at = made.ready.get(unit.tag)
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in _spans(facts, made, unit.tag)):
        return False
    if at is not None and booking.days[0] <= at <= booking.days[1]:
        return False
    return not needs_visit(unit, booking) or (at is not None and at < booking.days[0])


def _ready_days(facts: PlanFacts, made: Assigned, unit: PlanUnit, booking: PlanBooking) -> list[int]:
    """Days on which a unit's work could be finished before a booking, where no visit before it is planned."""
    mine, at = _spans(facts, made, unit.tag), made.ready.get(unit.tag)
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in mine):
        return []
    if at is not None and at < booking.days[0]:
        return []
    return [day for day in visit_days(unit, facts.horizon)
            if day < booking.days[0] and not any(first <= day <= last for first, last in mine)]  # fmt: skip


def _by_moves(facts: PlanFacts, made: Assigned, booking: PlanBooking, missing: int) -> Iterator[Cure]:
    """Each other booking of the type that nearest days by would set units free, on the units that it has."""
    units = {each.tag: each for each in facts.units}
    given = made.given.get(booking.code, ())
    steps = sorted((step for step in range(-NEAR_BY, NEAR_BY + 1) if step), key=lambda each: (abs(each), each))
    for other in facts.bookings:
        has = made.given.get(other.code, ())
        if other is booking or other.unit_type != booking.unit_type or not has:
            continue
        best: Cure | None = None
        for step in steps:
            if not 0 <= other.days[0] + step < facts.horizon:
                continue
            there = _moved(facts, other, step)
            free = [tag for tag in has if tag not in given and _stands_free(there, made, units[tag], booking)][:missing]
            if len(free) <= (best.units if best is not None else 0):
                continue
            after = replace(made, given={**made.given, booking.code: (*given, *free)})
            if not faults(there, after):
                best = Cure(
                    CureKind.MOVE,
                    units=len(free),
                    cost=MOVE_MINUTES,
                    tags=tuple(free),
                    needs=(),
                    booking=other.code,
                    shift=step,
                    after=(there, after),
                )
        if best is not None:
            yield best


HOURS = say("h of bench time")
"""How hours of bench time are named among what lacks."""


def causes(facts: PlanFacts, made: Assigned) -> tuple[Cause, ...]:
    """Why each booking is unmet: for every unit that it lacks the fewest cures, parts and hours before a unit."""
    found, left = [], _Left(facts, made)
    for booking in facts.bookings:
        given = made.given.get(booking.code, ())
        missing = booking.units - len(given)
        if missing:
            ways = sorted(
                (
                    way
                    for unit in facts.units
                    if unit.tag not in given and (way := _way(facts, made, left, unit, booking))
                ),
                key=lambda way: sum(count for _, count in way),
            )
            found.append(Cause(booking.code, missing, _cures(ways, missing, booking.unit_type)))
    return tuple(found)


def _cures(ways: Sequence[tuple[tuple[str, int], ...]], missing: int, unit_type: str) -> tuple[str, ...]:
    """The cheapest ways in words; a unit more wherever a way takes more than one cure, or none."""
    cures: dict[str, int] = {}
    more = say("unit of {unit_type}", unit_type=unit_type)
    for at in range(missing):
        way = ways[at] if at < len(ways) else ()
        if sum(count for _, count in way) != 1:
            way = ((more, 1),)
        for name, count in way:
            cures[name] = cures.get(name, 0) + count
    return tuple(
        say_count("{count} unit of {unit_type}", "{count} units of {unit_type}", count, unit_type=unit_type)
        if name == more
        else strung(" ", (str(count), name))
        for name, count in cures.items()
    )


class _Left:
    """Bench minutes and parts that a plan leaves over: by the first day of what is in hand, and day by day."""

    def __init__(self, facts: PlanFacts, made: Assigned) -> None:
        self.facts, self.made = facts, made
        self._visits = stays(facts, made)
        self._minutes: dict[int, np.ndarray[tuple[int], np.dtype[np.float64]]] = {}

    def _from(self, first: int) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """Minutes left from a day through each later one, less what the visits that begin no earlier take."""
        if first not in self._minutes:
            left = np.array([*([0.0] * first), *self.facts.bench_minutes[first:]])
            for unit, start, day in self._visits:
                if start >= first:
                    left[day] -= unit.minutes
            self._minutes[first] = np.cumsum(left)
        return self._minutes[first]

    @cached_property
    def _parts(self) -> dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]:
        found = {}
        for kind in {kind for unit in self.facts.units for kind in unit.parts}:
            left = np.array(self.facts.parts.get(kind, (0,) * self.facts.horizon), dtype=float)
            for unit, _, day in self._visits:
                left[day] -= unit.parts.get(kind, 0)
            found[kind] = np.cumsum(left)
        return found

    def hours_short(self, unit: PlanUnit, visit: Days) -> int:
        """Whole hours of bench time that the unit's work lacks to be done in a stay."""
        start, day = visit
        own = next((begun for each, begun, _ in self._visits if each.tag == unit.tag), None)
        lacking = 0.0
        for first in range(start + 1):
            counted = own is not None and own >= first
            lacking = max(lacking, self._lacking(self._from(first), unit, day, unit.minutes, counted=counted))
        return ceil(lacking / 60 - 1e-9)

    def parts_short(self, unit: PlanUnit, day: int) -> tuple[tuple[str, int], ...]:
        """Parts that the unit's work lacks to be ready by a day."""
        lacking = (
            (kind, self._lacking(self._parts[kind], unit, day, count, counted=True))
            for kind, count in unit.parts.items()
        )
        return tuple((kind, round(count)) for kind, count in lacking if count > 0)

    def _lacking(
        self,
        left: np.ndarray[tuple[int], np.dtype[np.float64]],
        unit: PlanUnit,
        day: int,
        asked: float,
        *,
        counted: bool,
    ) -> float:
        """What is lacking by a day; counted: a visit of the unit on the plan is in what is left, and gives way."""
        there, at = left.copy(), self.made.ready.get(unit.tag)
        if at is not None and counted:
            there[at:] += asked
        return max(0.0, asked - float(there[day:].min()))


def _way(
    facts: PlanFacts, made: Assigned, left: _Left, unit: PlanUnit, booking: PlanBooking
) -> tuple[tuple[str, int], ...] | None:
    """Parts and hours that would let a unit serve a booking beside what it does already; None where none would."""
    mine = [each.days for each in facts.bookings if unit.tag in made.given.get(each.code, ())]
    if not may_serve(unit, booking) or any(overlap(booking.days, each) for each in mine):
        return None
    at = made.ready.get(unit.tag)
    if at is not None and at < booking.days[0]:
        return None
    days = [day for day in visit_days(unit, facts.horizon)
            if day < booking.days[0] and not any(first <= day <= last for first, last in mine)]  # fmt: skip
    if not days:
        return None
    hours = left.hours_short(unit, (stay_from(unit, days[-1], mine), days[-1]))
    return (*left.parts_short(unit, days[-1]), *([(HOURS, hours)] if hours else []))
