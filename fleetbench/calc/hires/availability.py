"""Which days units are taken and fit: spans of days and facts in, days, counts and conflicts in words out.

A unit is unfit from the day on which a life ends, a fault stands or a service is past. Bench work that every turn-round
renews (calibration, loop tests, disinfection, batteries) makes no unit unfit ahead: its day is told apart from those.

Which days units are promised, and whether more fits in: spans of days in, units or what stands in the way out.

A unit needs its turn-round between two divers. With one night, a unit that comes back on one day goes out on the next
at the earliest: common practice, no published source; the unit type's own figure replaces it.
"""

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import partial, reduce
from itertools import islice
from operator import or_

from fleetbench.calc.core.languages import say, short_day
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.readiness.judge import (
    CHECKS,
    MOVE_WITHIN_THE_DAY,
    OF_THE_DIVER,
    CheckRow,
    UnitFacts,
    judged,
)
from fleetbench.calc.readiness.limits import Asked, CheckFinding, HandoverKind, ReadinessLimits

TURN_ROUND_NIGHTS = 1


@dataclass(frozen=True, slots=True)
class Span:
    """Days of one promise, both inclusive, and what it is called."""

    first: date
    last: date
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse days out of order."""
        if self.last < self.first:
            raise ValueError(say("span: the last day is before the first; give first and last day in order"))


@dataclass(frozen=True, slots=True)
class Want:
    """A promise of units that are not chosen yet: its days and how many."""

    span: Span
    units: int


def clash(one: Span, other: Span, nights: int = TURN_ROUND_NIGHTS) -> bool:
    """Whether one unit cannot serve both, its turn-round between them kept free."""
    # Days apart, not days moved on: what has no known end ends on the last day there is.
    return _share(one, other) or ((one.first - other.last).days < nights and (other.first - one.last).days < nights)


def clashes(wanted: Span, taken: Iterable[Span], nights: int = TURN_ROUND_NIGHTS) -> tuple[Span, ...]:
    """The promises that stand in the way, by first day."""
    return tuple(sorted((each for each in taken if clash(wanted, each, nights)), key=lambda each: each.first))


def place(
    wants: Sequence[Want],
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> tuple[dict[int, tuple[str, ...]], tuple[int, ...]]:
    """Units for each want by its place in the list, and the wants for which there are too few.

    Wants are placed by their first day, each on the units that were free for the shortest time before, so that long
    gaps stay whole; a want is placed wholly or not at all. taken: each unit's promises. fits: whether a unit may be
    counted on for these days, None where every one may.
    """
    return Diaries(taken, nights, [want.span for want in wants]).place(wants, fits)


def free_units(
    span: Span,
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> list[str]:
    """The units that nothing is promised of on these days, the turn-round kept, and that may be counted on."""
    free = Diaries(taken, nights, (span,)).free(span)
    return free if fits is None else [unit for unit in free if fits(unit, span)]


class CountedOn:
    """Which units of one `Diaries` may be counted on, a bit each, as far as they were asked for.

    stays: whether a unit that may not be counted on for these days may not for any that begin and end later, either.
    """

    def __init__(self, stays: Callable[[str, Span], bool] | None = None) -> None:
        self._stays = stays
        self._on: dict[Span, list[int]] = {}
        self._found, self._from = defaultdict[tuple[date, date], int](int), defaultdict[tuple[date, date], int](int)
        self._ruled_out = dict[tuple[date, date], int]()

    def ruled_out(self, span: Span) -> int:
        """The units that may not be counted on for these days."""
        for begins, units in self._found.items():
            self._from[begins] |= units
            for days in filter(partial(_later, begins), self._ruled_out):
                self._ruled_out[days] |= units
        self._found.clear()
        days = span.first, span.last
        if days not in self._ruled_out:
            self._ruled_out[days] = reduce(or_, (self._from[each] for each in self._from if _later(each, days)), 0)
        return self._ruled_out[days] | self._on.get(span, (0, 0))[1]

    def counts(self, unit: str, bit: int, span: Span, fits: Callable[[str, Span], bool]) -> bool:
        """Whether one may be counted on, asked where that is not known."""
        known = self._on.setdefault(span, [0, 0])
        counts = bool(known[0] & bit) or fits(unit, span)
        known[not counts] |= bit
        if not counts and self._stays is not None and self._stays(unit, span):
            self._found[span.first, span.last] |= bit
        return counts


def _later(one: tuple[date, date], other: tuple[date, date]) -> bool:
    return one[0] <= other[0] and one[1] <= other[1]


class Diaries:
    """The promised days of many units, by stretches of days: who is promised on each, a bit a unit.

    A thousand units are then looked through with one operation for each stretch. asked: the only days of which free
    units are asked for, and that are promised further. Promises may overlap each other.
    """

    def __init__(self, taken: Mapping[str, Iterable[Span]], nights: int, asked: Iterable[Span]) -> None:
        self._units, self._in_order = list(taken), sorted(taken)
        self._bit = {unit: 1 << at for at, unit in enumerate(self._in_order)}
        self._all = (1 << len(self._in_order)) - 1
        self._apart = max(nights, 1) - 1  # without a night kept, the same day still serves one promise alone
        edges = {day for span in asked for day in self._kept_free(span)}
        self._edges = sorted(edges)
        self._at = {day: at for at, day in enumerate(self._edges)}
        self._busy = [0] * max(0, len(self._edges) - 1)
        self._ended: dict[int, int] = {}
        self._last_days: list[int] = []
        self.promised = 0
        """How often days were promised of these units."""
        for unit, spans in taken.items():
            for span in spans:
                self.add(unit, span)

    def copy(self) -> "Diaries":
        """The same, to be promised further by itself."""
        other = copy(self)
        vars(other).update(_busy=self._busy.copy(), _ended=self._ended.copy(), _last_days=self._last_days.copy())
        return other

    def _kept_free(self, span: Span) -> tuple[int, int]:
        """The first day that has to be free for these, and the day after the last."""
        return span.first.toordinal() - self._apart, span.last.toordinal() + self._apart + 1

    def add(self, unit: str, span: Span) -> None:
        """Promise these days of a unit."""
        self.promised += 1
        bit, first, last = self._bit[unit], span.first.toordinal(), span.last.toordinal()
        if last not in self._ended:
            insort(self._last_days, last)
        self._ended[last] = self._ended.get(last, 0) | bit
        begins = max(0, bisect_right(self._edges, first) - 1)
        for at in range(begins, min(len(self._busy), bisect_right(self._edges, last))):
            self._busy[at] |= bit

    def _free(self, span: Span) -> int:
        begins, ends = self._kept_free(span)
        busy = 0
        for at in range(self._at[begins], self._at[ends]):
            busy |= self._busy[at]
        return self._all & ~busy

    def free(self, span: Span) -> list[str]:
        """The units that nothing is promised of on these days, the turn-round kept, in the order given."""
        free = self._free(span)
        return [unit for unit in self._units if self._bit[unit] & free]

    def spare(self, span: Span, wanted: int, fits: Callable[[str, Span], bool], known: CountedOn) -> tuple[str, ...]:
        """Up to so many of the same that may be counted on, by name; known: what `fits` answered, which is added to."""
        free = self._each(self._free(span) & ~known.ruled_out(span))
        return tuple(islice((unit for unit, bit in free if known.counts(unit, bit, span, fits)), wanted))

    def _each(self, units: int) -> Iterator[tuple[str, int]]:
        while units:
            bit = units & -units
            units ^= bit
            yield self._in_order[bit.bit_length() - 1], bit

    def has_free(self, span: Span, wanted: int, fits: Callable[[str, Span], bool], known: CountedOn) -> bool:
        """Whether so many units that fit are free on these days; known: what `fits` answered, which is added to."""
        return len(self._chosen(Want(span, wanted), fits, known)) >= wanted

    def place(
        self,
        wants: Sequence[Want],
        fits: Callable[[str, Span], bool] | None = None,
        known: CountedOn | None = None,
        since: date = date.min,
        until: date = date.max,
    ) -> tuple[dict[int, tuple[str, ...]], tuple[int, ...]]:
        """As the function of that name, promising what is placed, of the wants that begin after `since` until `until`.

        known: what `fits` answered before, which is added to.
        """
        placed: dict[int, tuple[str, ...]] = {}
        short: list[int] = []
        known = known or CountedOn()
        asked = ((want.span.first, at) for at, want in enumerate(wants) if since < want.span.first <= until)
        for want, at in ((wants[at], at) for _, at in sorted(asked)):
            fit = self._chosen(want, fits, known)
            if len(fit) < want.units:
                short.append(at)
                continue
            placed[at] = fit
            for unit in fit:
                self.add(unit, want.span)
        return placed, tuple(short)

    def _chosen(self, want: Want, fits: Callable[[str, Span], bool] | None, known: CountedOn) -> tuple[str, ...]:
        # Judging a unit costs far more than its diary: no more are judged than the want asks for.
        span = want.span
        free = self._free(span) & ~known.ruled_out(span)
        if free.bit_count() < want.units:
            return ()
        free_first = self._by_last_promise(free, span.first.toordinal())
        fit = (unit for unit, bit in free_first if fits is None or known.counts(unit, bit, span, fits))
        return tuple(islice(fit, want.units))

    def _by_last_promise(self, free: int, first: int) -> Iterator[tuple[str, int]]:
        """Free units, those first whose last promise before a day is the latest; last, by name, those without one."""
        for at in range(bisect_left(self._last_days, first) - 1, -2, -1):
            group = free & self._ended[self._last_days[at]] if at >= 0 else free
            free ^= group
            yield from self._each(group)
            if not free:
                return


def first_come(
    earlier: Sequence[Want],
    waiting: Sequence[Want],
    want: Want,
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> tuple[tuple[str, ...], tuple[tuple[Want, int], ...]]:
    """Units for a want after those that come first, and those of them that are short, with how many they lack.

    earlier: promised before; they take what there is, even where it is too little. waiting: has waited longer; each is
    served wholly or passed over, in their order. No unit for the want itself where too few are left.
    """
    placed, short = place(earlier, taken, nights, fits)
    diaries = Diaries(taken, nights, [each.span for each in (*earlier, *waiting, want)])
    lacking: list[tuple[Want, int]] = []

    def give(one: Want, units: Sequence[str]) -> None:
        for unit in units:
            diaries.add(unit, one.span)
        if len(units) < one.units:
            lacking.append((one, one.units - len(units)))

    def free_of(one: Want) -> list[str]:
        return [unit for unit in diaries.free(one.span) if fits is None or fits(unit, one.span)]

    for at, units in placed.items():
        give(earlier[at], units)
    for at in sorted(short):
        give(earlier[at], free_of(earlier[at])[: earlier[at].units])
    for one in waiting:
        free = free_of(one)
        give(one, free[: one.units] if len(free) >= one.units else ())
    free = free_of(want)
    return tuple(free[: want.units]) if len(free) >= want.units else (), tuple(lacking)


def _share(one: Span, other: Span) -> bool:
    return one.first <= other.last and other.first <= one.last


TOLD_ELSEWHERE = frozenset(("holds", "open tickets"))
"""Checks whose findings are spans of their own."""


class What(StrEnum):
    """What takes a unit's days, or makes it unfit."""

    HIRE = "hire"
    COURSE = "course"
    TRY_DAY = "try day"
    WAITING = "waiting list"
    TURN_ROUND = "turn-round"
    AWAY = "away"
    HOLD = "hold"
    SERVICE = "service"
    UNFIT = "unfit"
    CALCULATED = "being calculated"


PROMISES = frozenset((What.HIRE, What.COURSE, What.TRY_DAY))


@dataclass(frozen=True, slots=True)
class Strip:
    """Days of one unit or booking, both inclusive; last is date.max where no end is known.

    text: what it is called, as a booking's code. why: the reason in a sentence. record: its kind and its key. stops:
    the unit may not go out on these days. state: of a booking. lacking: units that one without chosen ones wants.
    """

    first: date
    last: date
    what: What
    text: str
    why: str
    record: tuple[str, str]
    stops: bool = False
    state: HireState | None = None
    lacking: int = 0


@dataclass(frozen=True, slots=True)
class FirstStop:
    """The first day on which a check stops a unit, with its evidence and the record that it stands on.

    ordinary: the work of an ordinary turn-round or hand-over clears it.
    """

    check: str
    day: date
    evidence: str
    record: str
    ordinary: bool = False


@dataclass(frozen=True, slots=True)
class DayCount:
    """Units of one type on one day: in service, promised with their turn-round, on the waiting list, fit if known."""

    units: int
    promised: int
    waiting: int
    fit: int | None

    @property
    def short(self) -> int:
        """How many units are promised beyond those that are fit; none before that is known."""
        return 0 if self.fit is None else max(0, self.promised - self.fit)


def first_stops(
    facts: UnitFacts,
    *,
    today: date,
    through: date,
    limits: ReadinessLimits,
    kind: HandoverKind,
    earlier: tuple[FirstStop, ...] | None = None,
) -> tuple[FirstStop, ...]:
    """The first day on which each check stops the unit from today through another, by day.

    A check may have two: of what ordinary work clears, and of what it does not. Records only grow older, so what stops
    on one day stops on every later one. earlier: what was found on the same day of the same records, of which only what
    moves with the moment is judged again.
    """
    found: list[FirstStop] = []
    for row in CHECKS:
        if kind not in row.kinds or row.check in TOLD_ELSEWHERE:
            continue
        if earlier is not None and row.check not in MOVE_WITHIN_THE_DAY:
            found += [stop for stop in earlier if stop.check == row.check]
            continue
        stops = (_first_stop(row, facts, today, through, limits, ordinary) for ordinary in (False, True))
        found += [stop for stop in stops if stop is not None]
    return tuple(sorted(found, key=lambda each: each.day))


def _first_stop(
    row: CheckRow, facts: UnitFacts, today: date, through: date, limits: ReadinessLimits, ordinary: bool
) -> FirstStop | None:
    low, high = 0, (through - today).days
    finding = _stop_on(row, facts, today, through, limits, ordinary)
    if finding is None:
        return None
    while low < high:
        middle = (low + high) // 2
        found = _stop_on(row, facts, today, today + timedelta(days=middle), limits, ordinary)
        if found is None:
            low = middle + 1
        else:
            high, finding = middle, found
    return FirstStop(
        row.check, day=today + timedelta(days=low), evidence=finding.evidence, record=finding.record, ordinary=ordinary
    )


def _stop_on(
    row: CheckRow, facts: UnitFacts, today: date, day: date, limits: ReadinessLimits, ordinary: bool
) -> CheckFinding | None:
    findings = judged(row, facts, Asked(today, day, day, at_act=False, zone=facts.zone), limits) or ()
    # Work undone ahead of the act is to do, and no stop; what concerns the diver alone makes no unit unfit.
    return next(
        (each for each in findings if each.result is Result.STOP and each.to_do_minutes is None
         and (each.ordinary or row.check in OF_THE_DIVER) is ordinary),
        None,
    )  # fmt: skip


def covered(strips: Iterable[Strip], first: date, days: int) -> list[bool]:
    """Whether any of the strips covers each of so many days from the first."""
    found = [False] * days
    for strip in strips:
        begin, end = max(0, (strip.first - first).days), min(days - 1, (strip.last - first).days)
        for at in range(begin, end + 1):
            found[at] = True
    return found


def counted(strips: Iterable[Strip], first: date, days: int) -> list[int]:
    """How many units the strips want on each of so many days from the first."""
    steps = [0] * (days + 1)
    for strip in strips:
        begin, end = max(0, (strip.first - first).days), min(days, (strip.last - first).days + 1)
        if begin < end:
            steps[begin] += max(1, strip.lacking)
            steps[end] -= max(1, strip.lacking)
    found, running = [], 0
    for step in steps[:-1]:
        running += step
        found.append(running)
    return found


def with_turn_round(strip: Strip, nights: int) -> Strip:
    """The same strip with the whole days that its turn-round keeps after it; one night keeps none."""
    if strip.last == date.max or nights < 2:
        return strip
    last = strip.last + timedelta(days=nights - 1)
    return Strip(
        strip.first,
        last=last,
        what=strip.what,
        text=strip.text,
        why=strip.why,
        record=strip.record,
        lacking=strip.lacking,
    )


def lanes(strips: Sequence[Strip]) -> list[int]:
    """A lane for each strip, so that no two of a lane share a day; as few lanes as there can be."""
    found = [0] * len(strips)
    ends: list[date] = []
    for at in sorted(range(len(strips)), key=lambda n: strips[n].first):
        lane = next((n for n, end in enumerate(ends) if end < strips[at].first), len(ends))
        if lane == len(ends):
            ends.append(strips[at].last)
        else:
            ends[lane] = strips[at].last
        found[at] = lane
    return found


def refusals(unit: str, wanted: Span, taken: Iterable[Span], nights: int) -> tuple[str, ...]:
    """Why a unit cannot be promised for these days, in words; empty where it can."""
    kept = say(", and {nights} nights are kept for its turn-round", nights=nights) if nights > 1 else ""
    return tuple(
        say(
            "unit {unit} is {what} {first:%d %b} to {what_2}{kept}",
            unit=unit,
            what=say("away") if each.name == "away" else say("promised to {each}", each=each.name),
            first=each.first,
            what_2=say("no day known") if each.last == date.max else short_day(each.last),
            kept=kept,
        )
        for each in clashes(wanted, taken, nights)
    )


def warnings(unit: str, first: date, last: date, bands: Iterable[Strip]) -> tuple[str, ...]:
    """Why a unit could not go out on these days as things stand, in words; it may be promised all the same."""
    return tuple(
        say("unit {unit} is unfit from {first:%d %b}: {why}", unit=unit, first=max(first, each.first), why=each.why)
        for each in bands
        if each.stops and each.first <= last and first <= each.last
    )
