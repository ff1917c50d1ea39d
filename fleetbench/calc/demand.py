"""How many parts of a type will be needed, by when to order them and how many: need from due days and failures.

A fitted part is replaced on the day after its last good day, or when it fails before, whichever comes first; what is
put in its place may fail in its turn (a renewal process: Cox, Renewal Theory, 1962, from memory). Failures follow the
Kaplan-Meier curve of the type, or of the lot where it alone has enough; beyond the longest life seen, and where too
few have failed, a constant rate is used: failures and half a one more, by the part days under observation (Jeffreys'
prior for a Poisson rate, from memory), so that nothing failed yet never reads as nothing ever fails.
"""

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fleetbench.calc.survival import Life, LifeCurve, kaplan_meier

LEAST_FAILURES = 3
"""Fewer failures than these give no curve of their own; common practice, no published source."""

Days = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Position:
    """A fitted part: its days in service, and how many days its last good day lies ahead, None where none is known.

    ends_in: 0 is today, negative is past. lot: asks the lot's own curve where there is one.
    """

    age_days: float
    ends_in: int | None = None
    lot: Hashable = None


@dataclass(frozen=True, slots=True)
class FailureModel:
    """Share of parts that outlast an age: a curve as far as it was seen, and a constant rate a day beyond.

    words: what it rests on, for whoever reads the forecast.
    """

    rate: float
    curve: LifeCurve | None
    words: str
    lots: Mapping[Hashable, "FailureModel"] = field(default_factory=dict)

    def of_lot(self, lot: Hashable) -> "FailureModel":
        """The lot's own model where it has one, else this one."""
        return self.lots.get(lot, self)

    def outlasts(self, age_days: float, days: int) -> Days:
        """Share of those alive at an age that are alive 0, 1 .. `days` days later; falls from 1, never below 0."""
        ages = age_days + np.arange(days + 1, dtype=float)
        if self.curve is None:
            return np.asarray(np.exp(-self.rate * (ages - age_days)))
        seen = self.curve.longest_days
        steps = np.array([step.days for step in self.curve.steps])
        shares = np.array([1.0, *(step.survival for step in self.curve.steps)])
        within = shares[np.searchsorted(steps, np.minimum(ages, seen), side="right")]
        alive = within * np.exp(-self.rate * np.maximum(0.0, ages - seen))
        # A curve that fell to nothing says nothing of a part older than all that failed: the rate goes on alone.
        if alive[0] <= 0.0:
            return np.asarray(np.exp(-self.rate * (ages - age_days)))
        return np.asarray(alive / alive[0])


def failure_model(
    lives: Sequence[Life], *, by_lot: Mapping[Hashable, Sequence[Life]] | None = None, what: str = "type"
) -> FailureModel:
    """The model of a part type from its lives in days; ValueError as kaplan_meier raises it.

    Without any life nothing is known, and no failure is reckoned: the words say so.
    """
    failures = sum(life.failed for life in lives)
    watched = sum(life.days - life.entered_days for life in lives)
    lots = {
        lot: failure_model(members, what="lot")
        for lot, members in (by_lot or {}).items()
        if lot is not None and sum(life.failed for life in members) >= LEAST_FAILURES
    }
    if watched <= 0.0:
        return FailureModel(0.0, None, "no part of it was ever in service: failures not reckoned", lots)
    rate = (failures + 0.5) / watched
    years = watched / 365.25
    told = f"{failures} failed in {years:.1f} part years of the {what}"
    if failures < LEAST_FAILURES:
        return FailureModel(rate, None, f"constant rate, {told}", lots)
    return FailureModel(rate, kaplan_meier(lives), f"Kaplan-Meier, {told}", lots)


@dataclass(frozen=True, slots=True)
class Need:
    """Expected pieces needed from today through day n, by day (index 0 is today), and how they come about.

    due, failures: the parts of the total that the last good days and the failures make. chances: chance of each
    position to need one at all through the last day; more: expected pieces needed beyond the first at any position.
    """

    by_day: Days
    due: float
    failures: float
    chances: Days
    more: float

    @property
    def expected(self) -> float:
        """Pieces expected through the last day."""
        return float(self.by_day[-1])


def expected_need(
    positions: Sequence[Position], model: FailureModel, days: int, *, life_days: int | None = None
) -> Need:
    """What fitted parts of one type will need in the days from today through `days` days ahead.

    life_days: how long a newly fitted part may serve, None where no limit counts from fitting or opening.
    Raises ValueError for a horizon that is not from 0 to 3660 days.
    """
    if not 0 <= days <= 3660:
        raise ValueError(f"days: {days} is no horizon; give 0 to 3660 days")
    total, due, chances, more = np.zeros(days + 1), 0.0, np.zeros(len(positions)), 0.0
    again: dict[Hashable, Days] = {}
    for place, position in enumerate(positions):
        mine = model.of_lot(position.lot)
        first, at_end = _first_replacement(position, mine, days)
        if id(model) not in again:
            again[id(model)] = renewals(model, days, life_days)
        later = np.convolve(first, again[id(model)])[: days + 1]
        total += np.cumsum(first) + later
        chances[place] = min(1.0, float(first.sum()))
        due += at_end
        more += float(later[-1])
    return Need(total, due, float(total[-1]) - due, chances, more)


def _first_replacement(position: Position, model: FailureModel, days: int) -> tuple[Days, float]:
    """Chance of the first replacement on each day, and how much of it is the last good day's."""
    alive = model.outlasts(position.age_days, days)
    failing = np.concatenate(([0.0], -np.diff(alive)))
    first = failing.copy()
    if position.ends_in is None or position.ends_in >= days:
        return first, 0.0
    # Out on the day after the last good day; what is past already comes out today.
    out = max(0, position.ends_in + 1)
    first[out:] = 0.0
    first[out] = alive[out - 1] if out > 0 else 1.0
    return first, float(first[out])


def renewals(model: FailureModel, days: int, life_days: int | None = None) -> Days:
    """Expected further replacements of a part fitted on day 0, through 0, 1 .. `days` days later.

    The renewal function of the model's failures cut at life_days, by its defining sum day by day.
    """
    alive = model.outlasts(0.0, days)
    first = np.concatenate(([0.0], -np.diff(alive)))
    if life_days is not None and life_days <= days:
        first[life_days:] = 0.0
        first[life_days] = alive[max(0, life_days - 1)]
    found = np.zeros(days + 1)
    for day in range(1, days + 1):
        found[day] = first[1 : day + 1].sum() + float(np.dot(first[1 : day + 1], found[day - 1 :: -1][:day]))
    return found


def need_chances(need: Need, other: float = 0.0) -> Days:
    """Chance that just 0, 1, 2 .. pieces are needed: positions one by one (Poisson-binomial), the rest by Poisson.

    other: expected pieces of a need that no position makes, as of consumables.
    """
    chances: Days = np.ones(1)
    for chance in need.chances:
        if chance > 0.0:
            chances = np.convolve(chances, (1.0 - chance, chance))
    extra = need.more + other
    if extra > 0.0:
        most = int(extra + 10.0 * math.sqrt(extra) + 10.0)
        counts = np.arange(most + 1)
        logs = counts * math.log(extra) - extra - np.array([math.lgamma(n + 1.0) for n in counts])
        chances = np.convolve(chances, np.exp(logs))
    return np.asarray(chances / chances.sum())


def stock_for(chances: Days, service_level: float) -> int:
    """The fewest pieces that meet the need with at least this chance; ValueError unless it is from 0.5 to 0.9999."""
    if not 0.5 <= service_level <= 0.9999:
        raise ValueError(f"service level: {service_level:g} is out of reason; give 0.5 to 0.9999")
    return int(np.searchsorted(np.cumsum(chances), service_level - 1e-12))


@dataclass(frozen=True, slots=True)
class OrderRules:
    """How a part type is bought. lead_days: from order to shelf. pack_size: pieces of a pack.

    shelf_days: how long a piece lies usable after it arrives, None for as long as one likes. safety: stock that must
    be there at any time, in pieces.
    """

    lead_days: int
    pack_size: float = 1.0
    shelf_days: int | None = None
    safety: float = 0.0


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """When and how much to order; order_in None: nothing within the horizon.

    order_in: days from today, 0 is today. late_by: days by which an order of today comes too late. short_in: the day
    on which stock falls under the safety stock. quantity: in whole packs. capped: fewer than wanted, since more would
    end on the shelf. lost: pieces that end on the shelf before they are expected to be needed.
    """

    order_in: int | None
    late_by: int
    short_in: int | None
    quantity: float
    packs: int
    capped: bool
    lost: float
    left: float


def stock_by_day(need: Days, ends_in: Sequence[tuple[float, int | None]]) -> tuple[Days, float]:
    """Usable stock at the end of each day, and what ended on the shelf: soonest to end is used first.

    need: expected pieces through each day. ends_in: (pieces, days until their last good day, None for no end).
    Where need outruns the stock it goes below nought: by so much it is short.
    """
    left = [[amount, math.inf if end is None else float(end)] for amount, end in ends_in]
    left.sort(key=lambda each: each[1])
    found, lost, short = np.zeros(len(need)), 0.0, 0.0
    for day, wanted in enumerate(np.diff(need, prepend=0.0)):
        for piece in left:
            if piece[1] < day and piece[0] > 0.0:
                lost += piece[0]
                piece[0] = 0.0
        open_need = float(wanted)
        for piece in left:
            taken = min(piece[0], open_need)
            piece[0] -= taken
            open_need -= taken
        short += open_need
        found[day] = sum(piece[0] for piece in left) - short
    return found, lost


def plan_order(need: Days, ends_in: Sequence[tuple[float, int | None]], rules: OrderRules) -> OrderPlan:
    """When to order and how much, so that stock stays at the safety stock through the last day of the need.

    The order is put off until lead time asks for it, so that it is never earlier than shelf life allows; it is cut to
    what is expected to be used while it lies usable, but never under one pack. ValueError for a lead time or pack size
    that is not one.
    """
    if rules.lead_days < 0 or rules.pack_size <= 0:
        given = f"lead time {rules.lead_days}, pack size {rules.pack_size:g}"
        raise ValueError(f"{given}: give days from 0 and a size over 0")
    stock, lost = stock_by_day(need, ends_in)
    under = np.flatnonzero(stock < rules.safety - 1e-9)
    if not under.size:
        return OrderPlan(None, 0, None, 0.0, 0, False, lost, float(stock[-1]))
    short_in = int(under[0])
    order_in = max(0, short_in - rules.lead_days)
    arrives = order_in + rules.lead_days
    wanted = float(rules.safety - stock[-1])
    most, capped = wanted, False
    if rules.shelf_days is not None:
        last = min(len(need) - 1, arrives + rules.shelf_days)
        here = min(arrives, len(need) - 1)
        useful = float(need[last] - need[here]) + max(0.0, rules.safety - float(stock[here]))
        if last < len(need) - 1 and useful < wanted:
            most, capped = useful, True
    whole = most / rules.pack_size
    packs = max(1, math.floor(whole + 1e-9) if capped else math.ceil(whole - 1e-9))
    late = max(0, rules.lead_days - short_in)
    return OrderPlan(order_in, late, short_in, packs * rules.pack_size, packs, capped, lost, float(stock[-1]))
