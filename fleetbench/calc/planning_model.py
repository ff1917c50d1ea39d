"""A plan for some units with everything else held as it is: a mixed-integer programme solved by HiGHS through SciPy.

Columns: x[b, u] unit u serves booking b; z[u, d] the work of u is ready by day d; miss[b] units that b lacks. Rows: a
booking's units; a unit on one thing a day (the maximal cliques of overlapping spans); a booking that needs the visit
comes after it; bench time and parts cumulatively. Solved in the order of the score: unmet, then late, then life thrown
away and changes, each held while the next is improved.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any

import numpy as np

from fleetbench.calc.planning_facts import (
    Assigned,
    PlanBooking,
    PlanFacts,
    PlanUnit,
    may_serve,
    needs_visit,
    visit_cost,
    visit_days,
)


@dataclass(frozen=True, slots=True)
class Bound:
    """The least that can be left unmet, and whether it was proved by the whole model's relaxation."""

    unmet: int
    proved: bool


class Model:
    """The programme for `free` units; the others keep what `plan` gives them."""

    def __init__(self, facts: PlanFacts, free: Sequence[PlanUnit], plan: Assigned) -> None:
        self.facts, self.free, self.plan = facts, tuple(free), plan
        tags = {each.tag for each in free}
        types = {each.unit_type for each in free}
        self.bookings = tuple(each for each in facts.bookings if each.unit_type in types)
        self.kept = {each.code: tuple(t for t in plan.given.get(each.code, ()) if t not in tags)
                     for each in self.bookings}  # fmt: skip
        self.x: dict[tuple[int, int], int] = {}
        self.z: dict[tuple[int, int], int] = {}
        self._before: dict[tuple[int, int], int | None] = {}
        self._rows: list[tuple[list[int], list[float], float, float]] = []
        self._columns()
        self.size = len(self.x) + len(self.z) + len(self.bookings)
        self._serve()
        self._one_thing_a_day()
        self._after_the_visit()
        self._resources(tags)

    def _columns(self) -> None:
        for u, unit in enumerate(self.free):
            for b, booking in enumerate(self.bookings):
                if may_serve(unit, booking):
                    self.x[b, u] = len(self.x)
        for u, unit in enumerate(self.free):
            last: int | None = None
            for day in visit_days(unit, self.facts.horizon):
                self.z[u, day] = len(self.x) + len(self.z)
                self._before[u, day] = last
                last = self.z[u, day]

    def _miss(self, b: int) -> int:
        return len(self.x) + len(self.z) + b

    def _row(self, columns: list[int], values: list[float], low: float, high: float) -> None:
        self._rows.append((columns, values, low, high))

    def _serve(self) -> None:
        for b, booking in enumerate(self.bookings):
            columns = [self.x[b, u] for u in range(len(self.free)) if (b, u) in self.x]
            wanted = booking.units - len(self.kept[booking.code])
            self._row([*columns, self._miss(b)], [1.0] * (len(columns) + 1), wanted, wanted)

    def _one_thing_a_day(self) -> None:
        for u in range(len(self.free)):
            visits = {day: column for (v, day), column in self.z.items() if v == u}
            mine = [(booking, self.x[b, u]) for b, booking in enumerate(self.bookings) if (b, u) in self.x]
            for day in sorted({*visits, *(booking.days[0] for booking, _ in mine)}):
                columns = [column for booking, column in mine if booking.days[0] <= day <= booking.days[1]]
                values = [1.0] * len(columns)
                if day in visits:
                    before = self._before[u, day]
                    columns += [visits[day], *([before] if before is not None else [])]
                    values += [1.0, *([-1.0] if before is not None else [])]
                    # What is ready stays ready: the difference of two days is the visit itself.
                    if before is not None:
                        self._row([visits[day], before], [1.0, -1.0], 0, 1)
                if len(columns) > 1:
                    self._row(columns, values, -np.inf, 1)

    def _ready_by(self, u: int, day: int) -> int | None:
        """The column that says whether a unit is ready by a day, None where it cannot be."""
        return next((self.z[u, d] for d in range(min(day, self.facts.horizon - 1), -1, -1) if (u, d) in self.z), None)

    def _after_the_visit(self) -> None:
        for (b, u), column in self.x.items():
            booking = self.bookings[b]
            if needs_visit(self.free[u], booking):
                ready = self._ready_by(u, booking.days[0] - 1)
                before = [] if ready is None else [ready]
                self._row([column, *before], [1.0, *([-1.0] * len(before))], -np.inf, 0)

    def _resources(self, tags: set[str]) -> None:
        facts = self.facts
        others = [(each, day) for each in facts.units
                  if each.tag not in tags and (day := self.plan.ready.get(each.tag)) is not None]  # fmt: skip
        everybody = [*(each for each, _ in others), *self.free]
        for start in sorted({max(0, each.in_hand) for each in everybody if each.minutes}):
            there = np.concatenate([np.zeros(start), np.cumsum(facts.bench_minutes[start:])])
            for unit, day in others:
                if max(0, unit.in_hand) >= start:
                    there[day:] -= unit.minutes
            self._cumulative(
                {u: unit.minutes for u, unit in enumerate(self.free) if max(0, unit.in_hand) >= start}, there, start
            )
        for kind in sorted({kind for each in self.free for kind in each.parts}):
            there = np.cumsum(facts.parts.get(kind, (0,) * facts.horizon)).astype(float)
            for unit, day in others:
                there[day:] -= unit.parts.get(kind, 0)
            self._cumulative({u: float(unit.parts.get(kind, 0)) for u, unit in enumerate(self.free)}, there, 0)

    def _cumulative(self, asked: dict[int, float], there: Any, start: int) -> None:
        total = sum(asked.values())
        needy = [u for u, each in asked.items() if each]
        for day in range(start, self.facts.horizon):
            if there[day] >= total:
                continue
            cells = [(column, asked[u]) for u in needy if (column := self._ready_by(u, day)) is not None]
            if cells:
                self._row([c for c, _ in cells], [v for _, v in cells], -np.inf, max(0.0, float(there[day])))

    def unmet(self) -> Any:
        """Cost of each column in units unmet."""
        cost = np.zeros(self.size)
        cost[len(self.x) + len(self.z) :] = 1.0
        return cost

    def late(self) -> Any:
        """Cost of each column in days late, beside what is late where nothing is done."""
        return self._of_visits(lambda unit, day: visit_cost(unit, day, self.facts.horizon)[0])

    def thrown_and_changes(self) -> Any:
        """Cost of each column in days of life thrown away, and a kept promise as a small gain under any such day."""
        cost = self._of_visits(lambda unit, day: visit_cost(unit, day, self.facts.horizon)[1])
        kept = [column for (b, u), column in self.x.items() if self.free[u].tag in self.bookings[b].promised]
        cost[kept] = -1.0 / (len(kept) + 1)
        return cost

    def _of_visits(self, of: Callable[[PlanUnit, int | None], int]) -> Any:
        """Costs of visits told by the columns that say by when: each day's own less that of the next."""
        cost = np.zeros(self.size)
        for (u, day), column in self.z.items():
            own = of(self.free[u], day) - of(self.free[u], None)
            cost[column] += own
            before = self._before[u, day]
            if before is not None:
                cost[before] -= own
        return cost

    def matrix(self) -> tuple[Any, Any, Any]:
        """The rows as a sparse matrix with their lower and upper limits."""
        from scipy.sparse import csr_array  # scipy costs more than the start of the window

        counts = [len(columns) for columns, _, _, _ in self._rows]
        rows = np.repeat(np.arange(len(counts)), counts)
        columns = np.array([c for each in self._rows for c in each[0]], dtype=int)
        values = np.array([v for each in self._rows for v in each[1]], dtype=float)
        matrix = csr_array((values, (rows, columns)), shape=(len(counts), self.size))
        return matrix, np.array([each[2] for each in self._rows]), np.array([each[3] for each in self._rows])

    def solve(self, seconds: float | None, *, unmet_only: bool = False) -> Assigned | None:
        """The best plan found within the time, None where none was; without a limit of time it is the best there is."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # scipy costs more than the start of the window

        matrix, low, high = self.matrix()
        constraints = [LinearConstraint(matrix, low, high)]
        upper = np.ones(self.size)
        upper[len(self.x) + len(self.z) :] = [each.units for each in self.bookings]
        whole = np.ones(self.size)
        begun, best = monotonic(), None
        costs = (self.unmet(),) if unmet_only else (self.unmet(), self.late(), self.thrown_and_changes())
        for cost in costs:
            options: dict[str, float] = {"mip_rel_gap": 0.0}
            if seconds is not None:
                left = seconds - (monotonic() - begun)
                if left <= 0.02:
                    break
                options["time_limit"] = left
            found = milp(cost, integrality=whole, bounds=Bounds(0, upper), constraints=constraints, options=options)
            if found.x is None:
                break
            best = np.round(found.x)
            constraints.append(LinearConstraint(cost[np.newaxis, :], -np.inf, float(cost @ best) + 1e-6))
        return None if best is None else self._as_plan(best)

    def _as_plan(self, values: Any) -> Assigned:
        given = {code: list(each) for code, each in self.plan.given.items()}
        for booking in self.bookings:
            given[booking.code] = list(self.kept[booking.code])
        for (b, u), column in self.x.items():
            if values[column] > 0.5:
                given[self.bookings[b].code].append(self.free[u].tag)
        ready = {**self.plan.ready, **{each.tag: None for each in self.free}}
        for (u, day), column in self.z.items():
            before = self._before[u, day]
            if values[column] > 0.5 and (before is None or values[before] < 0.5):
                ready[self.free[u].tag] = day
        return Assigned({code: tuple(each) for code, each in given.items()}, ready)


def least_unmet(facts: PlanFacts, seconds: float) -> Bound:
    """The least units that must stay unmet, by the relaxation of the whole model; else by counting heads a day."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # scipy costs more than the start of the window

    counted = _by_heads(facts)
    model = Model(facts, facts.units, Assigned({}, {}))
    if not model.size or not facts.bookings:
        return Bound(0, True)
    matrix, low, high = model.matrix()
    upper = np.ones(model.size)
    upper[len(model.x) + len(model.z) :] = [each.units for each in model.bookings]
    found = milp(model.unmet(), bounds=Bounds(0, upper), constraints=LinearConstraint(matrix, low, high),
                 options={"time_limit": seconds})  # fmt: skip
    missing = sum(each.units for each in facts.bookings if each not in model.bookings)
    if found.status != 0:
        return Bound(max(counted, missing), False)
    return Bound(max(counted, missing + int(np.ceil(found.fun - 1e-6))), True)


def _by_heads(facts: PlanFacts) -> int:
    least = 0
    for kind in {each.unit_type for each in facts.bookings}:
        bookings: list[PlanBooking] = [each for each in facts.bookings if each.unit_type == kind]
        units = sum(each.unit_type == kind for each in facts.units)
        days = {each.days[0] for each in bookings}
        wanted = max(sum(b.units for b in bookings if b.days[0] <= day <= b.days[1]) for day in days)
        least += max(0, wanted - units)
    return least
