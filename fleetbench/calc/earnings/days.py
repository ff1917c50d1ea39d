"""What the days of units were spent on, and what one more repair or spare would have saved of them.

A unit's day is one of: out with a diver, fit, waiting for work, lost, not known, or not in service. The first two are
up time and the next two down time (up state, down state: EN 13306:2017, from memory); availability is up time over
both (EN 15341, from memory). A day of which the records do not say enough is counted on
neither side, so that availability is given as a least and a most.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from fleetbench.calc.core.languages import say, say_count, strung


class DayState(StrEnum):
    """What a unit's day was."""

    OUT = "out"
    FIT = "fit, not out"
    WORK = "waiting for work"
    LOST = "lost"
    UNKNOWN = "not known"
    NOT_THERE = "not in service"


class CureBy(StrEnum):
    """What would have ended a cause on its first day; a spare is a repair for which no part lay on the shelf."""

    SPARE = "spare"
    REPAIR = "repair"
    WORK = "work"
    NONE = "none"

    @property
    def means(self) -> str:
        """The means in words, as a list of savings names it."""
        words = {
            "spare": say("one spare on the shelf"),
            "repair": say("one repair at once"),
            "work": say("bench work at once"),
        }
        return words.get(self.value, "")


@dataclass(frozen=True, slots=True)
class StopCause:
    """One thing that stopped a unit on a day.

    what: in words, the same for all units, with the part type where a part is to blame. piece: which part of the unit,
    since one spare cures one of them; empty where one visit to the bench cures all.
    """

    what: str
    cure: CureBy = CureBy.NONE
    piece: str = ""


@dataclass(frozen=True, slots=True)
class UnitDay:
    """One day of one unit.

    promised: to a booking. wanted: it was promised, or a booking of its type had fewer units than it wanted. causes:
    what stopped it, by the records. unrecorded: checks that nothing recorded until then could settle.
    """

    unit: str
    unit_type: str
    day: date
    state: DayState
    promised: bool = False
    wanted: bool = False
    causes: tuple[StopCause, ...] = ()
    unrecorded: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitSpent:
    """What a unit took in a span, and what it was used for.

    dive_minutes: on the loop. untimed: signed tickets without a minute recorded. priced, unpriced: parts that took the
    place of another, with and without a price on record; money: the price of the former. unweighed: fills of absorbent
    without a mass or a price, which absorbent_money leaves out.
    """

    dive_minutes: float = 0.0
    dives: int = 0
    bench_minutes: float = 0.0
    tickets: int = 0
    untimed: int = 0
    priced: int = 0
    unpriced: int = 0
    money: float = 0.0
    absorbent_kg: float = 0.0
    absorbent_money: float = 0.0
    unweighed: int = 0

    def __add__(self, other: "UnitSpent") -> "UnitSpent":
        """Both together."""
        return UnitSpent(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class UseLine:
    """Days and costs of one unit, or of all units of a type; shares are None where there is nothing to divide by."""

    name: str
    unit_type: str
    units: int
    days: Mapping[DayState, int]
    promised: int
    kept: int
    lost_wanted: int
    spent: UnitSpent

    @property
    def in_service(self) -> int:
        """Days in service, known or not."""
        return sum(self.days.values()) - self.days[DayState.NOT_THERE]

    @property
    def down(self) -> int:
        """Days lost or waiting for work."""
        return self.days[DayState.LOST] + self.days[DayState.WORK]

    @property
    def availability(self) -> tuple[float, float] | None:
        """Least and most share of the days in service on which it was out or fit: not known counts as down, as up."""
        if not self.in_service:
            return None
        up = self.days[DayState.OUT] + self.days[DayState.FIT]
        return up / self.in_service, (up + self.days[DayState.UNKNOWN]) / self.in_service

    @property
    def use(self) -> float | None:
        """Share of the days in service on which it was out."""
        return self.days[DayState.OUT] / self.in_service if self.in_service else None

    def a_hire_day(self, amount: float) -> float | None:
        """An amount for each day out."""
        return amount / self.days[DayState.OUT] if self.days[DayState.OUT] else None

    def a_dive_hour(self, amount: float) -> float | None:
        """An amount for each hour on the loop."""
        return amount * 60.0 / self.spent.dive_minutes if self.spent.dive_minutes else None


WHOLE = say("All units")


def lines(days: Iterable[UnitDay], spent: Mapping[str, UnitSpent]) -> tuple[tuple[UseLine, ...], tuple[UseLine, ...]]:
    """A line for each unit; and one for each unit type by name, after one for all of them."""
    of_unit: dict[str, list[UnitDay]] = defaultdict(list)
    for each in days:
        of_unit[each.unit].append(each)
    units = tuple(
        _line(tag, its[0].unit_type, 1, its, spent.get(tag, UnitSpent())) for tag, its in sorted(of_unit.items())
    )
    types = []
    for kind in (WHOLE, *sorted({each.unit_type for each in units})):
        mine = [each.name for each in units if kind in (WHOLE, each.unit_type)]
        together = sum((spent.get(tag, UnitSpent()) for tag in mine), UnitSpent())
        types.append(_line(kind, kind, len(mine), [day for tag in mine for day in of_unit[tag]], together))
    return units, tuple(types)


def _line(name: str, kind: str, units: int, days: Sequence[UnitDay], spent: UnitSpent) -> UseLine:
    counted = Counter(each.state for each in days)
    promised = [each for each in days if each.promised]
    down = (DayState.LOST, DayState.WORK)
    return UseLine(
        name, unit_type=kind, units=units, days={state: counted[state] for state in DayState}, promised=len(promised),
        kept=sum(each.state is DayState.OUT for each in promised),
        lost_wanted=sum(each.wanted and each.state in down for each in days), spent=spent,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class CauseLine:
    """Days on which one cause stood against units, alone or with others, and on which it was not known to."""

    what: str
    days: int
    alone: int
    wanted: int
    units: int
    unknown: int


def by_cause(days: Iterable[UnitDay]) -> tuple[CauseLine, ...]:
    """Every cause, the most days first; `unknown` counts days on which nothing recorded could settle that check."""
    stood: dict[str, list[UnitDay]] = defaultdict(list)
    unknown = Counter[str]()
    for each in days:
        for what in {cause.what for cause in each.causes}:
            stood[what].append(each)
        if each.state is DayState.UNKNOWN:
            unknown.update(set(each.unrecorded))
    found = [
        CauseLine(
            what, days=len(its), alone=sum(len({cause.what for cause in each.causes}) == 1 for each in its),
            wanted=sum(each.wanted for each in its), units=len({each.unit for each in its}), unknown=unknown[what],
        )
        for what, its in stood.items()
    ]  # fmt: skip
    found += [
        CauseLine(what, days=0, alone=0, wanted=0, units=0, unknown=count)
        for what, count in unknown.items()
        if what not in stood
    ]
    return tuple(sorted(found, key=lambda each: (-each.days, -each.unknown, each.what)))


@dataclass(frozen=True, slots=True)
class Saving:
    """What one repair, or one spare kept on the shelf, would have saved.

    least: days that nothing else stopped. most: those too on which nothing recorded could settle another check.
    wanted: of the least, days on which a unit of the type was wanted. times: how often it would have been used: on
    which unit, from which day.
    """

    what: str
    cure: CureBy
    least: int
    most: int
    wanted: int
    times: tuple[tuple[str, date], ...]


def savings(days: Iterable[UnitDay], lead_days: Mapping[str, int | None]) -> tuple[Saving, ...]:
    """The best single repair of each cause and what one spare of each part type would have saved, the best first.

    A repair is made on the first of the days on end on which its cause stood against a unit, and that day stays lost:
    it is the day of the work. A spare is fitted on the first such day for want of one, and lies there again once its
    lead time has passed; lead_days: by cause, None where no lead time is recorded, so that it serves once.
    """
    found: list[Saving] = []
    spares: dict[str, list[_Stretch]] = defaultdict(list)
    for stretch in _stretches(days):
        if stretch.cure is CureBy.SPARE:
            spares[stretch.what].append(stretch)
        elif stretch.cure is not CureBy.NONE:
            found.append(_saving([stretch]))
    best: dict[Hashable, Saving] = {}
    for each in found:
        before = best.get((each.what, each.cure))
        best[each.what, each.cure] = each if before is None else min(before, each, key=_best_first)
    kept = [_saving(_served(its, lead_days.get(what))) for what, its in spares.items()]
    return tuple(sorted((each for each in (*best.values(), *kept) if each.most), key=_best_first))


def _best_first(saving: Saving) -> tuple[int, int, int, str, str, tuple[tuple[str, date], ...]]:
    return -saving.least, -saving.most, -saving.wanted, saving.what, saving.cure, saving.times


@dataclass(slots=True)
class _Stretch:
    """Days on end on which one cause stood against one unit; cure: as it stood on the first of them."""

    unit: str
    what: str
    cure: CureBy
    days: list[UnitDay]


def _stretches(days: Iterable[UnitDay]) -> Iterator[_Stretch]:
    """Every stretch, by its first day and unit."""
    standing: dict[tuple[str, Hashable], _Stretch] = {}
    for each in sorted(days, key=lambda one: (one.day, one.unit)):
        for item, cause in {_item(cause): cause for cause in each.causes}.items():
            key = each.unit, item
            before = standing.get(key)
            if before is not None and before.days[-1].day >= each.day - timedelta(days=1):
                before.days.append(each)
                continue
            if before is not None:
                yield before
            standing[key] = _Stretch(each.unit, cause.what, cause.cure, [each])
    yield from standing.values()


def _item(cause: StopCause) -> tuple[str, str]:
    return cause.what, cause.piece


def _saving(stretches: Sequence[_Stretch]) -> Saving:
    least = most = wanted = 0
    for stretch in stretches:
        for day in stretch.days[1:]:
            if len({_item(each) for each in day.causes}) == 1:
                most += 1
                least += not day.unrecorded
                wanted += day.wanted and not day.unrecorded
    first = stretches[0]
    times = tuple((each.unit, each.days[0].day) for each in stretches)
    return Saving(first.what, cure=first.cure, least=least, most=most, wanted=wanted, times=times)


def _served(stretches: Sequence[_Stretch], lead: int | None) -> list[_Stretch]:
    """The stretches that one spare serves, in the order of their first days."""
    served: list[_Stretch] = []
    there: date | None = date.min
    for each in sorted(stretches, key=lambda one: (one.days[0].day, one.unit)):
        if there is not None and each.days[0].day >= there:
            served.append(each)
            there = each.days[0].day + timedelta(days=max(lead, 1)) if lead is not None else None
    return served


@dataclass(frozen=True, slots=True)
class OwnFigures:
    """What the centre itself states of a unit type; None is not stated.

    price: of another unit. years: for which it is kept. a_day: the income of a hire day.
    """

    price: float | None = None
    years: float | None = None
    a_day: float | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not stated, in words."""
        named = ((say("the price of another unit"), self.price), (say("the years it is kept"), self.years),
                 (say("the income of a hire day"), self.a_day))  # fmt: skip
        return tuple(words for words, value in named if value is None)


class Keep(StrEnum):
    """Whether keeping a unit costs more than another one, by the centre's own figures."""

    MORE = "costs more than another"
    LESS = "costs less than another"
    NOT_STATED = "not stated"
    NOT_KNOWN = "not known"


KEEP_DAYS = 90
"""Days in service without which nothing is said of a year; common practice, no published source."""

YEAR = 365


@dataclass(frozen=True, slots=True)
class KeepCost:
    """A unit's cost a year beside that of another: parts, and what was not earned on lost days on which it was wanted.

    a_year: at the least, since days not known and parts without a price are left out; another: price over years.
    """

    keep: Keep
    a_year: float | None = None
    another: float | None = None
    why: str = ""


def keeping(line: UseLine, own: OwnFigures) -> KeepCost:
    """Whether a unit costs more to keep than another would; no verdict where a figure is missing.

    That it costs less is said only where no day and no price is unknown.
    """
    if own.missing:
        return KeepCost(Keep.NOT_STATED, why=say("not stated: {missing}", missing=strung(", ", own.missing)))
    assert own.price is not None and own.years and own.a_day is not None
    if line.in_service < KEEP_DAYS:
        return KeepCost(Keep.NOT_KNOWN, why=say("under {keep_days} days in service", keep_days=KEEP_DAYS))
    # Rounded to hundredths, so that a sum in another order gives the same verdict.
    cost = round((line.spent.money + line.lost_wanted * own.a_day) * YEAR / line.in_service, 2)
    another = round(own.price / own.years, 2)
    unknown = _unknown(line)
    if cost > another:
        return KeepCost(Keep.MORE, cost, another, say("at the least; {unknown}", unknown=unknown) if unknown else "")
    return KeepCost(Keep.NOT_KNOWN if unknown else Keep.LESS, cost, another, unknown)


def _unknown(line: UseLine) -> str:
    named: tuple[tuple[int, Callable[[int], str]], ...] = (
        (line.days[DayState.UNKNOWN], lambda n: say_count("{count} day not known", "{count} days not known", n)),
        (line.spent.unpriced, lambda n: say_count("{count} part without a price", "{count} parts without a price", n)),
    )
    return strung(", ", (words(count) for count, words in named if count))
