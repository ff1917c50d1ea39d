"""A plan for some units with everything else held as it is: a mixed-integer programme solved by HiGHS through SciPy.

Each unit walks through its days along one path: idle, on a booking, or at the bench, before which it may serve only
what it is fit for, and after which it may serve anything. Columns: the steps of the paths; miss[b], units that a
booking lacks; what is left of bench time and parts after each day. Rows: a path goes on where it came to; a booking's
units; bench time and parts day by day. A path by itself is a shortest-path problem, whose relaxation is whole, so the
relaxation of all together lies close to the best plan. Solved in the order of the score: unmet, then late, then life
thrown away and changes, each held while the next is improved.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from time import monotonic
from typing import Any

import numpy as np

from fleetbench.calc.hires.plan_facts import (
    Assigned,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    may_serve,
    needs_visit,
    stay_from,
    stays,
    visit_cost,
    visit_days,
)

BEFORE, AFTER = 0, 1
"""Whether a path has been at the bench."""

START, END = -1, 10**6


class Stays(Enum):
    """From when a visit's stay here may begin in the programme."""

    EVERY = "every return of the unit: exact"
    UNBROKEN = "the first day in hand, whatever happened since: a relaxation, small, and a bound"


@dataclass(frozen=True, slots=True)
class Bound:
    """The least that can be left unmet, and whether it was proved by the whole model's relaxation."""

    unmet: int
    proved: bool


@dataclass(frozen=True, slots=True)
class Share:
    """Part of a visit: the unit, first day of its stay, the day on which it is ready, and how much, 1 for the whole."""

    unit: PlanUnit
    start: int
    day: int
    part: float = 1.0


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What the relaxation says: the least that must stay unmet, and the visits, in parts, that reach it."""

    least: float
    visits: tuple[Share, ...]


class Model:
    """The programme for `free` units; the others keep what `plan` gives them, and `besides` keeps its bench time."""

    def __init__(
        self,
        facts: PlanFacts,
        free: Sequence[PlanUnit],
        plan: Assigned,
        besides: Sequence[Share] = (),
        *,
        stays_of: Stays = Stays.EVERY,
    ) -> None:
        self.facts, self.free, self.plan, self._stays_of = facts, tuple(free), plan, stays_of
        self.least = 0.0
        """The least of these bookings' units that must stay unmet in this programme, as far as solving proved it."""
        tags = {each.tag for each in free}
        types = {each.unit_type for each in free}
        self.bookings = tuple(each for each in facts.bookings if each.unit_type in types)
        self.kept = {each.code: tuple(t for t in plan.given.get(each.code, ()) if t not in tags)
                     for each in self.bookings}  # fmt: skip
        self.serves: dict[tuple[int, int], list[int]] = defaultdict(list)
        self.visits: dict[tuple[int, int, int], int] = {}
        """Column of each visit by the unit, the first day of its stay here, and its ready day."""
        self._most: list[float] = []
        self._whole: list[bool] = []
        self._rows: list[tuple[list[tuple[int, float]], float, float]] = []
        for u, unit in enumerate(self.free):
            self._path(u, unit)
        self._miss = [self._column(each.units) for each in self.bookings]
        self._short = [self._column() for _ in self.bookings]
        self._wanted()
        self._resources(tags, besides)
        self.size = len(self._most)

    def _column(self, most: float = 1.0, *, whole: bool = True) -> int:
        self._most.append(most)
        self._whole.append(whole)
        return len(self._most) - 1

    def _path(self, u: int, unit: PlanUnit) -> None:
        """The steps of one unit: from day to day, over bookings, and once over the bench."""
        mine = [(b, booking) for b, booking in enumerate(self.bookings) if may_serve(unit, booking)]
        days = visit_days(unit, self.facts.horizon)
        before = [(b, booking) for b, booking in mine if not needs_visit(unit, booking)]
        flows = {BEFORE: self._walk(u, before)}
        if days:
            flows[AFTER] = self._walk(u, mine)
            self._over_the_bench(u, days, flows, sorted({booking.days[1] + 1 for _, booking in before}))
        for state, points in flows.items():
            for point, steps in points.items():
                if point != END:
                    out = 1.0 if state == BEFORE and point == START else 0.0
                    self._rows.append((steps, out, out))

    def _walk(self, u: int, bookings: Sequence[tuple[int, PlanBooking]]) -> dict[int, list[tuple[int, float]]]:
        """Points in time of one unit with the steps that leave them (1) and come to them (-1)."""
        firsts = {booking.days[0] for _, booking in bookings}
        points: dict[int, list[tuple[int, float]]] = {
            point: [] for point in sorted({START, END, *firsts, *(booking.days[1] + 1 for _, booking in bookings)})
        }
        ordered = list(points)
        for here, there in pairwise(ordered):
            self._step(points[here], points[there], whole=False)
        for b, booking in bookings:
            column = self._step(points[booking.days[0]], points[booking.days[1] + 1])
            self.serves[b, u].append(column)
        return points

    def _step(self, leaves: list[tuple[int, float]], comes: list[tuple[int, float]], *, whole: bool = True) -> int:
        column = self._column(whole=whole)
        leaves.append((column, 1.0))
        comes.append((column, -1.0))
        return column

    def _over_the_bench(
        self,
        u: int,
        days: Sequence[int],
        flows: Mapping[int, dict[int, list[tuple[int, float]]]],
        returns: Sequence[int],
    ) -> None:
        """A step for each ready day and each day from which the unit may have been here without a break."""
        before, after = list(flows[BEFORE]), list(flows[AFTER])
        for day in days:
            here = stay_from(self.free[u], day)
            comes = flows[AFTER][after[bisect_left(after, day + 1)]]
            exact = self._stays_of is Stays.EVERY
            for start in (here, *(each for each in returns if exact and here < each <= day)):
                leaves = flows[BEFORE][before[bisect_right(before, start if exact else day) - 1]]
                self.visits[u, start, day] = self._step(leaves, comes)

    def _wanted(self) -> None:
        for b, booking in enumerate(self.bookings):
            columns = [column for u in range(len(self.free)) for column in self.serves.get((b, u), ())]
            wanted = booking.units - len(self.kept[booking.code])
            self._rows.append(([(column, 1.0) for column in (*columns, self._miss[b])], wanted, wanted))
            spare = self._column(booking.units, whole=False)
            short = [(self._miss[b], 1.0), (spare, 1.0), (self._short[b], -float(booking.units))]
            self._rows.append((short, 0.0, 0.0))

    def _resources(self, tags: set[str], besides: Sequence[Share]) -> None:
        facts = self.facts
        others = [Share(unit, start, day) for unit, start, day in stays(facts, self.plan) if unit.tag not in tags]
        others += besides
        minutes = [unit.minutes for unit in self.free]
        begun = {start for u, start, _ in self.visits if minutes[u]}
        for first in sorted(begun | {each.start for each in others if each.unit.minutes}):
            there = [*([0.0] * first), *facts.bench_minutes[first:]]
            for each in others:
                if each.start >= first:
                    there[each.day] -= each.part * each.unit.minutes
            self._left_each_day(minutes, there, first)
        for kind in sorted({kind for each in self.free for kind in each.parts}):
            arrivals = [float(each) for each in facts.parts.get(kind, (0,) * facts.horizon)]
            for each in others:
                arrivals[each.day] -= each.part * each.unit.parts.get(kind, 0)
            self._left_each_day([float(unit.parts.get(kind, 0)) for unit in self.free], arrivals, 0)

    def _left_each_day(self, asked: Sequence[float], there: Sequence[float], first: int) -> None:
        """What is left after a day is what was left before it and came, less what the visits ready that day take.

        Visits whose stay begins before the first day take nothing here.
        """
        of_day: dict[int, list[tuple[int, float]]] = defaultdict(list)
        takers = set()
        for (u, start, day), column in self.visits.items():
            if asked[u] and start >= first:
                of_day[day].append((column, asked[u]))
                takers.add(u)
        if not takers or min(np.cumsum(there[first:])) >= sum(asked[u] for u in takers):
            return
        before: int | None = None
        for day, came in enumerate(there[first:], start=first):
            left = self._column(np.inf, whole=False)
            cells = [(left, 1.0), *of_day[day], *([(before, -1.0)] if before is not None else [])]
            self._rows.append((cells, came, came))
            before = left

    def unmet(self) -> Any:
        """Cost of each column in units unmet."""
        cost = np.zeros(self.size)
        cost[self._miss] = 1.0
        return cost

    def unmet_and_bookings(self) -> Any:
        """Cost of each column in units unmet, and bookings that lack any."""
        cost = self.unmet()
        cost[self._short] = 1.0
        return cost

    def late(self) -> Any:
        """Cost of each column in days late, beside what is late where nothing is done."""
        return self._of_visits(lambda unit, day: visit_cost(unit, day, self.facts.horizon)[0])

    def thrown_and_changes(self) -> Any:
        """Cost of each column in days of life thrown away, and a kept promise as a small gain under any such day."""
        cost = self._of_visits(lambda unit, day: visit_cost(unit, day, self.facts.horizon)[1])
        kept = [column for (b, u), columns in self.serves.items() for column in columns
                if self.free[u].tag in self.bookings[b].promised]  # fmt: skip
        cost[kept] = -1.0 / (len(kept) + 1)
        return cost

    def _of_visits(self, of: Callable[[PlanUnit, int | None], int]) -> Any:
        cost = np.zeros(self.size)
        for (u, _, day), column in self.visits.items():
            cost[column] = of(self.free[u], day) - of(self.free[u], None)
        return cost

    def matrix(self) -> tuple[Any, Any, Any]:
        """The rows as a sparse matrix with their lower and upper limits."""
        from scipy.sparse import csr_array  # scipy costs more than the start of the window

        rows = np.repeat(np.arange(len(self._rows)), [len(cells) for cells, _, _ in self._rows])
        columns = np.array([column for cells, _, _ in self._rows for column, _ in cells], dtype=int)
        values = np.array([value for cells, _, _ in self._rows for _, value in cells], dtype=float)
        matrix = csr_array((values, (rows, columns)), shape=(len(self._rows), self.size))
        return matrix, np.array([low for _, low, _ in self._rows]), np.array([high for _, _, high in self._rows])

    def relaxed(self, seconds: float) -> Relaxed | None:
        """The programme with parts of visits and of bookings allowed; None where the time did not suffice."""
        from scipy.optimize import linprog  # scipy costs more than the start of the window

        matrix, sides, _same = self.matrix()
        bounds = np.column_stack([np.zeros(self.size), np.array(self._most)])
        # Inside the polytope HiGHS needs a tenth of the time that it needs along its edges.
        found = linprog(
            self.unmet(), A_eq=matrix, b_eq=sides, bounds=bounds, method="highs-ipm", options={"time_limit": seconds}
        )
        if found.status != 0:
            return None
        visits = (
            Share(self.free[u], start, day, float(found.x[column])) for (u, start, day), column in self.visits.items()
        )
        return Relaxed(float(found.fun), tuple(each for each in visits if each.part > 1e-9))

    def solve(self, seconds: float | None, *, unmet_only: bool = False, by_booking: bool = False) -> Assigned | None:
        """The best plan found within the time, None where none was; without a limit of time it is the best there is.

        by_booking: a booking that lacks any unit counts as one unit more.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp  # scipy costs more than the start of the window

        if not self.size:
            return self.plan
        matrix, low, high = self.matrix()
        constraints = [LinearConstraint(matrix, low, high)]
        bounds = Bounds(0, np.array(self._most))
        whole = np.array(self._whole, dtype=float)
        begun, best = monotonic(), None
        self.least = 0.0
        unmet = self.unmet_and_bookings() if by_booking else self.unmet()
        costs = (unmet,) if unmet_only else (unmet, self.late(), self.thrown_and_changes())
        for cost in costs:
            options: dict[str, float] = {"mip_rel_gap": 0.0}
            if seconds is not None:
                left = seconds - (monotonic() - begun)
                if left <= 0.02:
                    break
                options["time_limit"] = left
            found = milp(cost, integrality=whole, bounds=bounds, constraints=constraints, options=options)
            if cost is costs[0] and found.mip_dual_bound is not None:
                self.least = float(found.mip_dual_bound)
            if found.x is None:
                break
            best = np.round(found.x)
            constraints.append(LinearConstraint(cost[np.newaxis, :], -np.inf, float(cost @ best) + 1e-6))
        return None if best is None else self._as_plan(best)

    def _as_plan(self, values: Any) -> Assigned:
        given = {code: list(each) for code, each in self.plan.given.items()}
        for booking in self.bookings:
            given[booking.code] = list(self.kept[booking.code])
        for (b, u), columns in self.serves.items():
            if any(values[column] for column in columns):
                given[self.bookings[b].code].append(self.free[u].tag)
        ready: dict[str, int | None] = {**self.plan.ready, **{each.tag: None for each in self.free}}
        for (u, _, day), column in self.visits.items():
            if values[column]:
                ready[self.free[u].tag] = day
        return Assigned({code: tuple(each) for code, each in given.items()}, ready)


def least_by_heads(facts: PlanFacts) -> int:
    """The least units that must stay unmet, counted by type on the busiest day: units wanted less units there are."""
    least = 0
    for kind in {each.unit_type for each in facts.bookings}:
        bookings: list[PlanBooking] = [each for each in facts.bookings if each.unit_type == kind]
        units = sum(each.unit_type == kind for each in facts.units)
        days = {each.days[0] for each in bookings}
        wanted = max(sum(b.units for b in bookings if b.days[0] <= day <= b.days[1]) for day in days)
        least += max(0, wanted - units)
    return least
