"""How many units can go out on given days, and what makes true what cannot: facts in, the cheapest ways out.

A unit serves a sale where it is free and fit on every day; after bench work that is done before the first day; or once
the promises that hold it have moved to other units that are free and fit as they are. Days are counted from 0, today.
All costs are minutes of hands. What an order and a move cost: common practice, no published source; the centre's own
figures replace them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from fleetbench.calc.core.languages import say
from fleetbench.calc.hires.plan_facts import Days
from fleetbench.calc.readiness.limits import CheckFinding

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOVE_MINUTES = 15.0
"""To ring about another unit and change the sheet; common practice, no published source."""

ORDER_MINUTES = 10.0
"""To order parts and put them away; common practice, no published source."""

MINUTES: dict[str, float] = {
    "turn-round": 60.0, "ticket": 60.0, "task": 20.0, "replace": 20.0, "service": 60.0, "oxygen clean": 30.0,
    "calibration": 20.0, "move booking": MOVE_MINUTES, "order": ORDER_MINUTES, "other": 15.0,
}  # fmt: skip
"""Hands' minutes of each kind of work, where the centre says no other by a limit called `bench minutes: KIND`."""

_MISSING = 1e5
"""Dearer than any sum of minutes, so that as few units are missing as can be."""


class Bench(StrEnum):
    """A kind of bench work; its minutes are the centre's."""

    REPLACE = "replace"
    CALIBRATION = "calibration"
    TICKET = "ticket"
    SERVICE = "service"
    CLEAN = "oxygen clean"
    OTHER = "other"


def bench_work(check: str, finding: CheckFinding) -> Bench | None:
    """The bench work that clears a finding which stops a unit; None where no bench work does.

    A hold that a person placed is lifted by a person, a unit that is out or away comes back first, and what is missing
    from the records has to be found first: nobody may count on how that ends. Common practice, no published source.
    """
    words = finding.remedy
    if check in _PARTS:
        replaced = words.startswith("replace")
        return Bench.REPLACE if replaced else Bench.CALIBRATION if words.startswith("calibrate") else None
    if check == "holds":
        return Bench.OTHER if finding.evidence.startswith(_LIFTED_AT_THE_BENCH) else None
    if check == "cylinder test and oxygen-clean":
        return Bench.CLEAN if words.startswith("clean it") else None
    if check == "periodic service" and "enter" in words:
        return None
    return _BY_CHECK.get(check)


_PARTS = frozenset(("cell outcome", "cell age", "part life", "batteries"))
_LIFTED_AT_THE_BENCH = ("cell", "open mandatory notice")
MENDED = frozenset(
    (
        "notices", "one-way valves and loop", "intermediate pressure and gas addition",
            "bailout or mouthpiece valve",
        "alarms, displays and set-point", "firmware and settings", "handset agreement",
            "handset calibration",
    )
)  # fmt: skip
"""Checks of which a failed one is repaired at this bench and tested again; common practice, no published source."""

_BY_CHECK = {"open tickets": Bench.TICKET, "periodic service": Bench.SERVICE, **dict.fromkeys(MENDED, Bench.OTHER)}


@dataclass(frozen=True, slots=True)
class SaleWork:
    """What makes one unit fit. begins: the first day on which it can be worked on. parts: kind and count of each."""

    minutes: float
    begins: int = 0
    parts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True)
class SaleUnit:
    """One unit of the type asked for.

    held_by: names of the promises that clash with the days. fixed: one of them cannot move, or the unit is away. work:
    what is to do before it is fit, None where nothing is. curable: whether bench work can make it fit.
    """

    tag: str
    held_by: tuple[str, ...] = ()
    fixed: bool = False
    work: SaleWork | None = None
    curable: bool = True


@dataclass(frozen=True, slots=True)
class SaleLine:
    """A promise that holds a unit on the days asked for and may move. onto: units free and fit for it as they are."""

    name: str
    days: Days
    onto: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SaleWant:
    """A booking whose units are not chosen yet. onto: units that are free and fit for it; units: how many it lacks."""

    name: str
    days: Days
    units: int
    onto: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SaleFacts:
    """What is asked and what there is.

    days: first and last, counted from today. nights: kept free between two divers. bench: minutes that are left on
    each day before the first. stock: pieces on the shelf of each kind; coming: pieces on order that nobody reserved,
    and the day by which they come; arrives: the day on which an order of today comes.
    """

    units: tuple[SaleUnit, ...]
    wanted: int
    days: Days
    nights: int = 1
    lines: tuple[SaleLine, ...] = ()
    wants: tuple[SaleWant, ...] = ()
    bench: tuple[float, ...] = ()
    stock: Mapping[str, int] = field(default_factory=dict)
    arrives: Mapping[str, int] = field(default_factory=dict)
    coming: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    move_minutes: float = MOVE_MINUTES
    order_minutes: float = ORDER_MINUTES

    def __post_init__(self) -> None:
        """Refuse facts that no answer could be made of."""
        if self.wanted < 0 or self.days[1] < self.days[0]:
            raise ValueError(say("wanted, days: give how many from 0 up, and first and last day in order"))
        if len({each.tag for each in self.units}) < len(self.units):
            raise ValueError(say("units: one stands twice; give each once"))


@dataclass(frozen=True, slots=True)
class Sale:
    """One way to serve a sale.

    units: that go, by tag. moves: promise and the unit that it moves to. work: units that go to the bench before.
    ordered: those of them whose parts are ordered; awaited: whose parts are on order already. cost: minutes of hands.
    missing: units still lacking.
    """

    units: tuple[str, ...]
    moves: tuple[tuple[str, str], ...]
    work: tuple[str, ...]
    ordered: tuple[str, ...]
    cost: float
    missing: int
    awaited: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Means:
    """What a way may use: bench work, orders, moves of other promises."""

    work: bool = True
    orders: bool = True
    moves: bool = True


NOTHING = Means(work=False, orders=False, moves=False)


def clash_days(one: Days, other: Days, nights: int) -> bool:
    """Whether one unit cannot serve both spans of days, with the nights of its turn-round kept, one at the least."""
    apart = max(nights, 1)
    return one[0] < other[1] + apart and other[0] < one[1] + apart


def cheapest(facts: SaleFacts, means: Means = Means()) -> Sale:
    """The sale with the fewest units missing and, of these, the least minutes of hands; solved whole.

    Promises without a chosen unit keep as many as they could have had without the sale.
    """
    if not facts.wanted:
        return Sale((), moves=(), work=(), ordered=(), cost=0.0, missing=0)
    as_it_is = _Programme(facts, NOTHING).solved()
    # Nothing is cheaper than no minutes for no unit missing, and the programme with moves is large.
    return as_it_is if means == NOTHING or not as_it_is.missing else _Programme(facts, means).solved()


def ways(facts: SaleFacts) -> tuple[Sale, ...]:
    """The ways worth a choice: as it stands, by the bench alone, by moves alone, and all together, the best first.

    A way stands only where no other is as good with fewer means.
    """
    tried = [cheapest(facts, means) for means in (NOTHING, Means(orders=False, moves=False), Means(moves=False),
                                                  Means(work=False, orders=False), Means())]  # fmt: skip
    found: list[Sale] = []
    for each in tried:
        if not any(_no_worse(other, each) for other in found):
            found.append(each)
    return tuple(sorted(found, key=lambda each: (each.missing, each.cost)))


def _no_worse(one: Sale, other: Sale) -> bool:
    uses = len(one.moves) <= len(other.moves) and len(one.ordered) <= len(other.ordered)
    return one.missing <= other.missing and one.cost <= other.cost and uses


def cheapest_of(facts: SaleFacts, tag: str) -> tuple[Sale, ...]:
    """Ways in which this one unit alone could go, the cheapest first; empty where there is none."""
    asked = tuple(each for each in facts.units if each.tag == tag)
    alone = replace(facts, units=asked, wanted=1)
    return tuple(each for each in ways(alone) if not each.missing)


class _Programme:
    """The sale as a mixed-integer programme: a binary for each unit's way to go and each promise's way to move.

    Solved by HiGHS (Huangfu and Hall, Mathematical Programming Computation 10 (2018) 119, from memory). For work with
    a first day each and one last day, it is enough that what begins on or after any day fits into the days from it
    (the deadline rule read backwards: Horn, Naval Research Logistics Quarterly 21 (1974) 177, from memory).
    """

    def __init__(self, facts: SaleFacts, means: Means) -> None:
        self.facts = facts
        self.keys: list[tuple[str, str, str]] = []
        self.costs: list[float] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []
        self.goes: dict[str, list[int]] = {}
        self.works: list[tuple[int, SaleWork, bool]] = []
        self.awaited: list[tuple[int, SaleWork]] = []
        self.moves: dict[str, dict[str, int]] = {}
        lines = {each.name: each for each in facts.lines}
        for unit in facts.units:
            self._goes(unit, means, lines)
        for line in facts.lines if means.moves else ():
            self.moves[line.name] = {tag: self._new("move", line.name, tag, facts.move_minutes) for tag in line.onto}
        self._held()
        self._wants()
        self._one_at_a_time(lines)
        self._bench_and_parts()
        missing = self._new("missing", "", "", _MISSING)
        of_units = {at: 1.0 for each in self.goes.values() for at in each}
        self._row({**of_units, missing: 1.0}, facts.wanted, facts.wanted)
        self.missing = missing

    def _new(self, what: str, name: str, tag: str, cost: float) -> int:
        self.keys.append((what, name, tag))
        self.costs.append(cost)
        return len(self.keys) - 1

    def _row(self, terms: dict[int, float], least: float, most: float) -> None:
        self.rows.append((terms, least, most))

    def _goes(self, unit: SaleUnit, means: Means, lines: Mapping[str, SaleLine]) -> None:
        movable = means.moves and all(name in lines for name in unit.held_by)
        if unit.fixed or (unit.held_by and not movable):
            return
        found = []
        work = unit.work
        if work is None and unit.curable:
            found.append(self._new("go", "as it is", unit.tag, 0.0))
        elif work is not None and unit.curable and means.work:
            found += self._after_work(unit.tag, work, means)
        if found:
            self.goes[unit.tag] = found
            self._row({at: 1.0 for at in found}, 0, 1)

    def _after_work(self, tag: str, work: SaleWork, means: Means) -> Iterable[int]:
        first = self.facts.days[0]
        if work.begins < first:
            at = self._new("go", "after work", tag, work.minutes)
            self.works.append((at, work, False))
            yield at
        on_order = [self.facts.coming[kind][1] for kind, _ in work.parts if kind in self.facts.coming]
        begins = max((work.begins, *on_order))
        if on_order and begins < first:
            at = self._new("go", "after arrival", tag, work.minutes)
            self.awaited.append((at, SaleWork(work.minutes, begins, work.parts)))
            self.works.append((at, self.awaited[-1][1], True))
            yield at
        if not (work.parts and means.orders):
            return
        comes = max(self.facts.arrives.get(kind, 10**6) for kind, _ in work.parts)
        if max(comes, work.begins) < first:
            at = self._new("go", "after order", tag, work.minutes + self.facts.order_minutes)
            self.works.append((at, SaleWork(work.minutes, max(comes, work.begins), work.parts), True))
            yield at

    def _held(self) -> None:
        """A unit goes only where every promise that holds it moves, and each moves at most once."""
        for unit in self.facts.units:
            for name in unit.held_by:
                if unit.tag in self.goes:
                    terms = {at: 1.0 for at in self.goes[unit.tag]}
                    self._row({**terms, **{at: -1.0 for at in self.moves[name].values()}}, -1e9, 0)
        for to in self.moves.values():
            if to:
                self._row(dict.fromkeys(to.values(), 1.0), 0, 1)

    def _wants(self) -> None:
        """Bookings without a chosen unit keep what they could have had."""
        self.kept: dict[str, dict[str, int]] = {}
        before = _most_of_wants(self.facts)
        for want in self.facts.wants:
            if before[want.name]:
                of_it = {tag: self._new("held back", want.name, tag, 0.0) for tag in want.onto}
                self.kept[want.name] = of_it
                self._row(dict.fromkeys(of_it.values(), 1.0), before[want.name], want.units)

    def _one_at_a_time(self, lines: Mapping[str, SaleLine]) -> None:
        """No unit serves two of the sale, moved promises and kept wants on days that clash."""
        spans = {each.name: each.days for each in lines.values()}
        spans |= {each.name: each.days for each in self.facts.wants}
        on: dict[str, list[tuple[int, Days]]] = {}
        for tag, found in self.goes.items():
            on.setdefault(tag, []).extend((at, self.facts.days) for at in found)
        for name, to in (*self.moves.items(), *self.kept.items()):
            for tag, at in to.items():
                on.setdefault(tag, []).append((at, spans[name]))
        for users in on.values():
            for together in _at_once(users, self.facts.nights):
                self._row(dict.fromkeys(together, 1.0), 0, 1)

    def _bench_and_parts(self) -> None:
        first = self.facts.days[0]
        for begun in sorted({work.begins for _, work, _ in self.works}):
            there = sum(self.facts.bench[begun:first])
            self._row({at: work.minutes for at, work, _ in self.works if work.begins >= begun}, 0, there)
        for kind in {kind for _, work, _ in self.works for kind, _ in work.parts}:
            terms = {at: float(dict(work.parts).get(kind, 0)) for at, work, ordered in self.works if not ordered}
            there = self.facts.stock.get(kind, 0)
            self._row({at: count for at, count in terms.items() if count}, 0, there)
            terms |= {at: float(dict(work.parts).get(kind, 0)) for at, work in self.awaited}
            later = self.facts.coming.get(kind, (0, 0))[0]
            self._row({at: count for at, count in terms.items() if count}, 0, there + later)

    def solved(self) -> Sale:
        """The best sale."""
        found = _solve(self.costs, self.rows, most={self.missing: float(self.facts.wanted)})
        chosen = [self.keys[at] for at, value in enumerate(found) if value > 0.5]
        gone = sorted((tag, how) for what, how, tag in chosen if what == "go")
        moves = tuple(sorted((name, tag) for what, name, tag in chosen if what == "move"))
        cost = sum(self.costs[at] for at, value in enumerate(found) if value > 0.5 and at != self.missing)
        return Sale(
            tuple(tag for tag, _ in gone), moves=moves, work=tuple(tag for tag, how in gone if how != "as it is"),
            ordered=tuple(tag for tag, how in gone if how == "after order"), cost=round(cost, 3),
            missing=round(found[self.missing]),
            awaited=tuple(tag for tag, how in gone if how == "after arrival"),
        )  # fmt: skip


def _at_once(users: Sequence[tuple[int, Days]], nights: int) -> Iterable[tuple[int, ...]]:
    """Those that clash with one another, once for each first day on which some do.

    Spans of days that clash by pairs share a day, the first day of the latest of them (Helly, for intervals), so one
    row for each first day says as much as a row for each pair, with far fewer rows.
    """
    apart = max(nights, 1)
    found = {
        tuple(at for at, days in users if days[0] <= first < days[1] + apart)
        for first in {days[0] for _, days in users}
    }
    return sorted(each for each in found if len(each) > 1)


def _most_of_wants(facts: SaleFacts) -> dict[str, int]:
    """How many units each booking without a chosen one could have, were nothing sold; as many of all as can be."""
    keys = [(want, tag) for want in facts.wants for tag in want.onto]
    if not keys:
        return {want.name: 0 for want in facts.wants}
    rows: list[tuple[dict[int, float], float, float]] = [
        ({at: 1.0 for at, (one, _) in enumerate(keys) if one is want}, 0, want.units) for want in facts.wants
    ]
    on: dict[str, list[tuple[int, Days]]] = {}
    for at, (want, tag) in enumerate(keys):
        on.setdefault(tag, []).append((at, want.days))
    for users in on.values():
        rows += [(dict.fromkeys(together, 1.0), 0, 1) for together in _at_once(users, facts.nights)]
    found = _solve([-1.0] * len(keys), [each for each in rows if each[0]])
    return {want.name: round(sum(found[at] for at, (one, _) in enumerate(keys) if one is want)) for want in facts.wants}


def _solve(
    costs: Sequence[float],
    rows: Sequence[tuple[dict[int, float], float, float]],
    most: Mapping[int, float] | None = None,
) -> "NDArray[Any]":
    """Whole numbers from 0 to 1, or to what `most` says, of the least cost that keep every row."""
    # Imported here: they would cost the start of the window more than everything else together.
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    entries = [(at, column, value) for at, (terms, _, _) in enumerate(rows) for column, value in terms.items()]
    upper = np.ones(len(costs))
    for at, value in (most or {}).items():
        upper[at] = value
    constraints: Any = ()
    if entries:
        places, columns, values = zip(*entries, strict=True)
        matrix = csr_array((values, (places, columns)), shape=(len(rows), len(costs)))
        constraints = LinearConstraint(matrix, [each[1] for each in rows], [each[2] for each in rows])
    found = milp(np.array(costs), constraints=constraints, integrality=np.ones(len(costs)), bounds=Bounds(0, upper))
    if found.x is None:
        raise RuntimeError(f"the sale has no answer: {found.message}")
    return found.x  # type: ignore[no-any-return]
