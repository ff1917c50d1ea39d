"""How many parts of a type will be needed, by when to order them and how many: need from due days and failures.

A fitted part is replaced on the day after its last good day, or when it fails before, whichever comes first; what is
put in its place may fail in its turn (a renewal process: Cox, Renewal Theory, 1962, from memory). Failures follow the
Kaplan-Meier curve of the type, or of the lot where it alone has enough; beyond the longest life seen, and where too
few have failed, a constant rate is used: failures and a third of one more, by the part days under observation (the
neutral prior of Kerman, Electron. J. Statist. 5 (2011) 1450, from memory), so that nothing failed yet never reads as
nothing ever fails. How well so few failures tell the rate is part of the chances: the true rate is the estimated one
times a gamma-distributed factor of mean 1 and shape failures + 1/3, so that a count of failures has the negative
binomial distribution (the gamma-Poisson posterior predictive: Gelman et al., Bayesian Data Analysis, section 2.6, from
memory).

Life of parts from what failed and what still serves: the Kaplan-Meier curve with its interval.
"""

import math
from bisect import bisect_left
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import accumulate
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fleetbench.calc.core.languages import say

_Z95 = 1.959963984540054

Group = TypeVar("Group", bound=Hashable)


@dataclass(frozen=True, slots=True)
class Life:
    """One part's service in days: how long, whether it ended by failure (else still in use or taken out for another
    reason), and from which day of its life on it was under observation."""

    days: float
    failed: bool
    entered_days: float = 0.0


@dataclass(frozen=True, slots=True)
class SurvivalStep:
    """One step of the curve at a failure time: survivors' share after it, Greenwood's error, 95 % log-log interval."""

    days: float
    at_risk: int
    failures: int
    survival: float
    standard_error: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LifeCurve:
    """Kaplan-Meier curve of a group of parts: its steps in order of time, how many parts and failures it rests on."""

    steps: tuple[SurvivalStep, ...]
    parts: int
    failures: int
    longest_days: float

    def at(self, days: float) -> float | None:
        """Share expected to serve beyond an age in days, None beyond the longest life seen."""
        if days > self.longest_days:
            return None
        share = 1.0
        for step in self.steps:
            if step.days > days:
                break
            share = step.survival
        return share

    @property
    def median_days(self) -> float | None:
        """Age in days by which half have failed, None if fewer than half have."""
        return next((step.days for step in self.steps if step.survival <= 0.5 + 1e-12), None)


def kaplan_meier(lives: Sequence[Life]) -> LifeCurve:
    """Kaplan-Meier curve with Greenwood's error and the 95 % log(-log) interval.

    Sources: Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457; Greenwood 1926; interval by Kalbfleisch and Prentice,
    The Statistical Analysis of Failure Time Data. Parts that came under observation late count from then (delayed
    entry). Raises ValueError for no lives at all, or for days that are negative, not numbers, or before the part's
    entry.
    """
    if not lives:
        raise ValueError(say("lives: none given; a curve needs at least one part"))
    for life in lives:
        if not (np.isfinite(life.days) and np.isfinite(life.entered_days) and 0.0 <= life.entered_days <= life.days):
            raise ValueError(
                say(
                    "days: {days} from {entered_days} is no life; check the fitting dates",
                    days=life.days,
                    entered_days=life.entered_days,
                )
            )
    days = np.array([life.days for life in lives])
    entered = np.array([life.entered_days for life in lives])
    failed = np.array([life.failed for life in lives])
    steps, share, greenwood = [], 1.0, 0.0
    for time in np.unique(days[failed]):
        at_risk = int(np.count_nonzero((days >= time) & ((entered < time) | (entered == 0.0))))
        failures = int(np.count_nonzero(failed & (days == time)))
        share *= 1.0 - failures / at_risk
        greenwood += failures / (at_risk * (at_risk - failures)) if at_risk > failures else np.inf
        low, high = _log_log(share, greenwood)
        error = share * float(np.sqrt(greenwood)) if share > 0.0 else 0.0
        steps.append(SurvivalStep(float(time), at_risk=at_risk, failures=failures, survival=share,
                                  standard_error=error, low=low, high=high))  # fmt: skip
    return LifeCurve(tuple(steps), len(lives), int(np.count_nonzero(failed)), float(days.max()))


def _log_log(share: float, greenwood: float) -> tuple[float, float]:
    if not 0.0 < share < 1.0:
        return share, share
    centre, half = np.log(-np.log(share)), _Z95 * np.sqrt(greenwood) / abs(np.log(share))
    return float(np.exp(-np.exp(centre + half))), float(np.exp(-np.exp(centre - half)))


def life_by_group(lives: Mapping[Group, Sequence[Life]], *, least_failures: int = 3) -> dict[Group, LifeCurve]:
    """Curves of those groups (lots, part types) that hold enough failures to say anything; the rest are left out."""
    return {
        group: kaplan_meier(members)
        for group, members in lives.items()
        if sum(life.failed for life in members) >= least_failures
    }


LEAST_FAILURES = 3
"""Fewer failures than these give no curve of their own; common practice, no published source."""

NEUTRAL = 1.0 / 3.0
MANY_POSITIONS = 200
MOST_TIMES = 12
"""Replacements at one position that are told one by one; what lies beyond is expected as by chance."""

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

    words: what it rests on, for whoever reads the forecast. shape: of the gamma-distributed factor by which the true
    rate may differ; its relative standard uncertainty is 1 / sqrt(shape). Infinite: the rate is known.
    """

    rate: float
    curve: LifeCurve | None
    words: str
    lots: Mapping[Hashable, "FailureModel"] = field(default_factory=dict)
    shape: float = math.inf

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

    A life that was never watched (entered on its last day) says nothing and is left out. Without any life nothing is
    known, and no failure is calculated: the words say so.
    """
    lives = [life for life in lives if life.days > life.entered_days]
    failures = sum(life.failed for life in lives)
    watched = sum(life.days - life.entered_days for life in lives)
    lots = {
        lot: failure_model(members, what="lot")
        for lot, members in (by_lot or {}).items()
        if lot is not None and sum(life.failed and life.days > life.entered_days for life in members) >= LEAST_FAILURES
    }
    if watched <= 0.0:
        return FailureModel(0.0, None, say("no part of it was ever in service: failures not calculated"), lots)
    rate = (failures + NEUTRAL) / watched
    years = watched / 365.25
    shape = failures + NEUTRAL
    known = say("the rate known to ± {what:.0f} %, which the chance allows for", what=100.0 / math.sqrt(shape))
    told = say(
        "{failures} failed in {years:.1f} part years of the {what}, {known}", failures=failures, years=years,
        what=what, known=known,
    )  # fmt: skip
    if failures < LEAST_FAILURES:
        return FailureModel(rate, None, say("the same at any age, {told}", told=told), lots, shape=shape)
    words = say("by the age at which they failed, {told}", told=told)
    return FailureModel(rate, kaplan_meier(lives), words, lots, shape=shape)


@dataclass(frozen=True, slots=True)
class Need:
    """Pieces needed from today through day n, by day (index 0 is today), and how they come about.

    by_day: expected. due, failures: what the last good days and the failures make of the total. chances: by position,
    then the chance that it needs at least 1, 2 .. pieces through each day. more: expected beyond those everywhere.
    steady: expected pieces a day that no position makes, as of consumables; part of by_day. shape: of the factor by
    which the rate of failures may differ (see FailureModel).
    """

    by_day: Days
    due: float
    failures: float
    chances: Days
    more: Days
    steady: float = 0.0
    shape: float = math.inf

    @property
    def expected(self) -> float:
        """Pieces expected through the last day."""
        return float(self.by_day[-1])

    def chances_through(self, day: int) -> Days:
        """Chance that just 0, 1, 2 .. pieces are needed through a day.

        Positions one by one (Poisson-binomial), the rest by Poisson; from 200 positions on by a normal distribution of
        the same mean and variance. Each is mixed over the rates of failure that the records leave possible, which all
        positions share.
        """
        mixed: Days = np.zeros(1)
        for factor, weight in _rate_factors(self.shape):
            found = weight * self._chances_at(day, factor)
            longer, shorter = (mixed, found) if len(mixed) >= len(found) else (found, mixed)
            mixed = longer.copy()
            mixed[: len(shorter)] += shorter
        return np.asarray(mixed / mixed.sum())

    def _chances_at(self, day: int, factor: float) -> Days:
        """The same with failures that many times as frequent; what ends by its date ends all the same."""
        at_least = 1.0 - (1.0 - self.chances[:, :, day]) ** factor
        just = np.maximum(0.0, -np.diff(at_least, axis=1, prepend=1.0, append=0.0))
        extra = factor * float(self.more[day]) + self.steady * day
        if len(just) >= MANY_POSITIONS:
            pieces = np.arange(just.shape[1])
            means = just @ pieces
            return _normal(float(means.sum()) + extra, float((just @ pieces**2 - means**2).sum()) + extra)
        chances: Days = np.ones(1)
        for each in just[at_least[:, 0] > 0.0]:
            chances = np.convolve(chances, each)
        if extra > 0.0:
            chances = np.convolve(chances, _poisson(extra))
        return np.asarray(chances / chances.sum())

    def covered_by(self, day: int, service_level: float) -> int:
        """The fewest pieces that meet the need through a day with at least this chance."""
        return stock_for(self.chances_through(day), service_level)


def expected_need(
    positions: Sequence[Position], model: FailureModel, days: int, *, life_days: int | None = None, steady: float = 0.0
) -> Need:
    """What parts of one type will be needed in the days from today through `days` days ahead.

    life_days: how long a newly fitted part may serve, None where no limit counts from fitting or opening.
    steady: pieces a day used besides. Raises ValueError for a horizon that is not from 0 to 3660 days.
    """
    if not 0 <= days <= 3660:
        raise ValueError(say("days: {days} is no horizon; give 0 to 3660 days", days=days))
    first, due = np.zeros((len(positions), days + 1)), 0.0
    for place, position in enumerate(positions):
        first[place], at_end = _first_replacement(position, model.of_lot(position.lot), days)
        due += at_end
    times = 1 if life_days is None else min(MOST_TIMES, 1 + days // life_days)
    chances = _at_least(first, _end_of_new(model, days, life_days), times)
    all_of = first.sum(axis=0)
    beyond = np.convolve(all_of, renewals(model, days, life_days))[: days + 1]
    more = np.maximum(0.0, beyond - chances[:, 1:].sum(axis=(0, 1)))
    total = np.cumsum(all_of) + beyond + steady * np.arange(days + 1)
    failures = float(total[-1]) - due - steady * days
    return Need(total, due, failures, chances, more=more, steady=steady, shape=model.shape)


RATES = 24
"""Rates of failure that stand for all that are possible; enough for the quantiles of 0.9999."""


@lru_cache(maxsize=256)
def _rate_factors(shape: float) -> tuple[tuple[float, float], ...]:
    """Factors of the rate of failures with their weights: a gamma distribution of mean 1, by Gauss and Legendre."""
    if math.isinf(shape):
        return ((1.0, 1.0),)
    from scipy.special import gammaincinv  # scipy costs more than the start of the window

    nodes, weights = np.polynomial.legendre.leggauss(RATES)
    factors = gammaincinv(shape, (nodes + 1.0) / 2.0) / shape
    return tuple((float(factor), float(weight) / 2.0) for factor, weight in zip(factors, weights, strict=True))


def steady_need(a_day: float, days: int) -> Need:
    """The need of what is used up at a steady pace, so many pieces a day; ValueError as expected_need raises it."""
    return expected_need((), failure_model(()), days, steady=a_day)


def bunching(counts: Sequence[float]) -> float:
    """How many pieces are used at a time: variance over mean of the counts of equal spans, in order, at least 1.

    Use in batches of b, at times that are not bound to each other, has variance b times its mean (compound Poisson
    process: Ross, Introduction to Probability Models, section 5.4, from memory). The variance is half the mean square
    of successive differences, so that seasons do not count as chance (von Neumann, Ann. Math. Statist. 12 (1941) 153,
    from memory). 1 for fewer than 8 spans.
    """
    if len(counts) < 8 or sum(counts) <= 0:
        return 1.0
    return max(1.0, float(np.mean(np.diff(counts) ** 2) / 2.0 / np.mean(counts)))


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


def _end_of_new(model: FailureModel, days: int, life_days: int | None) -> Days:
    """Chance that a part fitted on day 0 ends on each day: it fails, or its life of life_days is over."""
    alive = model.outlasts(0.0, days)
    ends = np.concatenate(([0.0], -np.diff(alive)))
    if life_days is not None and life_days <= days:
        ends[life_days:] = 0.0
        ends[life_days] = alive[max(0, life_days - 1)]
    return ends


def _at_least(first: Days, new: Days, times: int) -> Days:
    """Chance of at least 1 .. `times` replacements at each position through each day; first and new: of an end by day.

    As many are told one by one as the life of a new part lets come by their dates: those are certain, not by chance.
    """
    rows = [first]
    if times > 1:
        later = np.array([np.concatenate((np.zeros(day), new[: len(new) - day])) for day in range(len(new))])
        rows += accumulate(range(times - 2), lambda each, _: each @ later, initial=first @ later)
    return np.minimum(1.0, np.cumsum(np.stack(rows, axis=1), axis=2))


def renewals(model: FailureModel, days: int, life_days: int | None = None) -> Days:
    """Expected further replacements of a part fitted on day 0, through 0, 1 .. `days` days later.

    The renewal function of the model's failures cut at life_days, by its defining sum day by day.
    """
    first = _end_of_new(model, days, life_days)
    found = np.zeros(days + 1)
    for day in range(1, days + 1):
        found[day] = first[1 : day + 1].sum() + float(np.dot(first[1 : day + 1], found[day - 1 :: -1][:day]))
    return found


def _poisson(mean: float) -> Days:
    most = int(mean + 10.0 * math.sqrt(mean) + 10.0)
    counts = np.arange(most + 1)
    logs = counts * math.log(mean) - mean - np.array([math.lgamma(n + 1.0) for n in counts])
    return np.asarray(np.exp(logs))


def _normal(mean: float, variance: float) -> Days:
    spread = math.sqrt(max(variance, 1e-12))
    edges = np.arange(int(mean + 8.0 * spread) + 2) + 0.5
    below = np.array([0.5 * math.erfc((mean - edge) / (spread * math.sqrt(2.0))) for edge in edges])
    return np.diff(below, prepend=0.0)


def stock_for(chances: Days, service_level: float) -> int:
    """The fewest pieces that meet the need with at least this chance; ValueError unless it is from 0.5 to 0.9999."""
    if not 0.5 <= service_level <= 0.9999:
        raise ValueError(
            say("service level: {service_level:g} is out of range; give 0.5 to 0.9999", service_level=service_level)
        )
    return int(np.searchsorted(np.cumsum(chances), service_level - 1e-12))


@dataclass(frozen=True, slots=True)
class OrderRules:
    """How a part type is bought. lead_days: from order to shelf. pack_size: pieces of a pack.

    shelf_days: how long a piece lies usable after it arrives, None for as long as one likes. least: pieces that must
    lie there at any time, as in kits. service_level: the chance with which stock meets the need.
    """

    lead_days: int
    pack_size: float = 1.0
    shelf_days: int | None = None
    least: int = 0
    service_level: float = 0.95


@dataclass(frozen=True, slots=True)
class OrderPlan:
    """When and how much to order; order_in None: nothing within the horizon.

    order_in: days from today, 0 is today. late_by: days by which an order of today comes too late. short_in: the first
    day through which stock no longer meets the need with the service level's chance. quantity: in whole packs. capped:
    fewer than wanted, since more would end on the shelf. lost: pieces that are expected to end there unused. safety:
    pieces beyond the expected need of the horizon that the service level asks for.
    """

    order_in: int | None
    late_by: int
    short_in: int | None
    quantity: float
    packs: int
    capped: bool
    lost: float
    safety: float


def lost_by_day(need: Days, ends_in: Sequence[tuple[float, int | None]]) -> Days:
    """Pieces that ended on the shelf through each day, at the expected need: soonest to end is used first.

    need: expected pieces through each day. ends_in: (pieces, days until their last good day, None for no end).
    """
    left = [[amount, math.inf if end is None else float(end)] for amount, end in ends_in]
    left.sort(key=lambda each: each[1])
    found, lost = np.zeros(len(need)), 0.0
    for day, wanted in enumerate(np.diff(need, prepend=0.0)):
        open_need = float(wanted)
        for piece in left:
            if piece[1] < day:
                lost += piece[0]
                piece[0] = 0.0
            taken = min(piece[0], open_need)
            piece[0] -= taken
            open_need -= taken
        found[day] = lost
    return found


def plan_order(need: Need, ends_in: Sequence[tuple[float, int | None]], rules: OrderRules) -> OrderPlan:
    """When to order and how much, so that stock meets the need through the horizon with the service level's chance.

    The order is put off until lead time asks for it, so that it is never earlier than shelf life allows; it is cut to
    what is wanted while it lies usable, but never under one pack. ValueError for a lead time or pack size that is none.
    """
    if rules.lead_days < 0 or rules.pack_size <= 0:
        raise ValueError(say("lead time {lead_days}, pack size {pack_size:g}: give days from 0 and a size over 0",
                             lead_days=rules.lead_days, pack_size=rules.pack_size))  # fmt: skip
    last, level = len(need.by_day) - 1, rules.service_level
    lost = lost_by_day(need.by_day, ends_in)
    supply = sum(amount for amount, _ in ends_in) - lost

    def missing(day: int) -> float:
        return need.covered_by(day, level) + rules.least - float(supply[day])

    safety = max(0.0, need.covered_by(last, level) - need.expected)
    wanted = missing(last)
    if wanted <= 1e-9:
        return OrderPlan(None, 0, None, 0.0, packs=0, capped=False, lost=float(lost[-1]), safety=safety)
    # What is missing only grows, as need rises and stock ends: the first day is found by halving.
    short_in = bisect_left(range(last + 1), True, key=lambda day: missing(day) > 1e-9)
    order_in = max(0, short_in - rules.lead_days)
    capped = False
    if rules.shelf_days is not None:
        until = order_in + rules.lead_days + rules.shelf_days
        if until < last and (useful := missing(until)) < wanted:
            wanted, capped = useful, True
    whole = wanted / rules.pack_size
    packs = max(1, math.floor(whole + 1e-9) if capped else math.ceil(whole - 1e-9))
    late = max(0, rules.lead_days - short_in)
    return OrderPlan(order_in, late, short_in, packs * rules.pack_size, packs=packs, capped=capped,
                     lost=float(lost[-1]), safety=safety)  # fmt: skip
