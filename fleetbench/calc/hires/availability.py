"""Which days units are taken and fit: spans of days and facts in, days, counts and conflicts in words out.

A unit is unfit from the day on which a life ends, a fault stands or a service is past. Bench work that every turn-round
renews (calibration, loop tests, disinfection, batteries) makes no unit unfit ahead: its day is told apart from those.

Which days units are promised, and whether more fits in: spans of days in, units or what stands in the way out.

A unit needs its turn-round between two divers. With one night, a unit that comes back on one day goes out on the next
at the earliest: common practice, no published source; the unit type's own figure replaces it.
"""

from bisect import bisect_left, insort
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import accumulate, islice

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.readiness.judge import CHECKS, OF_THE_DIVER, CheckRow, UnitFacts, judged
from fleetbench.calc.readiness.limits import Asked, CheckFinding, HandoverKind, ReadinessLimits

TURN_ROUND_NIGHTS = 1


class BookingEnd(StrEnum):
    """How a booking ended before anything of it left."""

    CANCELLED = "cancelled"
    NO_SHOW = "no-show"


TOLD_IN_FULL = 6
"""So many unfit units are told with their reason; of more, only those on a manual hold."""


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
    diaries = {unit: _Diary(each, nights) for unit, each in taken.items()}
    placed: dict[int, tuple[str, ...]] = {}
    short: list[int] = []
    for at in sorted(range(len(wants)), key=lambda n: (wants[n].span.first, n)):
        want = wants[at]
        free = _free(want.span, diaries, None)
        first = want.span.first.toordinal()
        free.sort(key=lambda unit: (-diaries[unit].last_before(first), unit))
        # Judging a unit costs far more than its diary: no more are judged than the want asks for.
        fit = tuple(islice((unit for unit in free if fits is None or fits(unit, want.span)), want.units))
        if len(fit) < want.units:
            short.append(at)
            continue
        placed[at] = fit
        for unit in fit:
            diaries[unit].add(want.span)
    return placed, tuple(short)


def free_units(
    span: Span,
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> list[str]:
    """The units that nothing is promised of on these days, the turn-round kept, and that may be counted on."""
    return _free(span, {unit: _Diary(each, nights) for unit, each in taken.items()}, fits)


def free_on_each(
    spans: Iterable[Span], taken: Mapping[str, Sequence[Span]], nights: int = TURN_ROUND_NIGHTS
) -> Iterator[tuple[Span, list[str]]]:
    """Of each of many spans, the units that nothing is promised of, the turn-round kept."""
    diaries = {unit: _Diary(each, nights) for unit, each in taken.items()}
    for span in spans:
        yield span, _free(span, diaries, None)


class _Diary:
    """The promised days of one unit as sorted day numbers, so that a clash is looked up and not searched for.

    Promises may overlap each other, so beside each first day stands the latest last day of those up to it.
    """

    __slots__ = ("_apart", "_firsts", "_lasts", "_latest", "_spans")

    def __init__(self, taken: Iterable[Span], nights: int) -> None:
        self._apart = max(nights, 1)  # without a night kept, the same day still serves one promise alone
        self._spans = sorted((each.first.toordinal(), each.last.toordinal()) for each in taken)
        self._sort()

    def _sort(self) -> None:
        self._firsts = [first for first, _ in self._spans]
        self._latest = list(accumulate((last for _, last in self._spans), max))
        self._lasts = sorted(last for _, last in self._spans)

    def add(self, span: Span) -> None:
        """Promise these days too."""
        insort(self._spans, (span.first.toordinal(), span.last.toordinal()))
        self._sort()

    def clashes(self, first: int, last: int) -> bool:
        """Whether a promise shares a day with these, or leaves too few nights between; as `clash` of each would say."""
        begun = bisect_left(self._firsts, last + self._apart)
        return begun > 0 and self._latest[begun - 1] > first - self._apart

    def last_before(self, first: int) -> int:
        """The last promised day before a day, 0 where there is none."""
        ended = bisect_left(self._lasts, first)
        return self._lasts[ended - 1] if ended else 0


def _free(span: Span, diaries: Mapping[str, _Diary], fits: Callable[[str, Span], bool] | None) -> list[str]:
    first, last = span.first.toordinal(), span.last.toordinal()
    free = [unit for unit, each in diaries.items() if not each.clashes(first, last)]
    return free if fits is None else [unit for unit in free if fits(unit, span)]


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
    diaries = {unit: _Diary(each, nights) for unit, each in taken.items()}
    lacking: list[tuple[Want, int]] = []

    def give(one: Want, units: Sequence[str]) -> None:
        for unit in units:
            diaries[unit].add(one.span)
        if len(units) < one.units:
            lacking.append((one, one.units - len(units)))

    for at, units in placed.items():
        give(earlier[at], units)
    for at in sorted(short):
        give(earlier[at], _free(earlier[at].span, diaries, fits)[: earlier[at].units])
    for one in waiting:
        free = _free(one.span, diaries, fits)
        give(one, free[: one.units] if len(free) >= one.units else ())
    free = _free(want.span, diaries, fits)
    return tuple(free[: want.units]) if len(free) >= want.units else (), tuple(lacking)


@dataclass(frozen=True, slots=True)
class FreeAndFit:
    """How many units a booking wants on its days, which are free, and why free ones may not be counted on.

    unfit: of each such unit, why, and whether by a manual hold, which is always told. work: free units that are fit
    once ordinary work on them is done.
    """

    wanted: int
    free: tuple[str, ...]
    unfit: Mapping[str, tuple[str, bool]]
    work: tuple[str, ...] = ()

    @property
    def fit(self) -> tuple[str, ...]:
        """The free units that may be counted on."""
        return tuple(unit for unit in self.free if unit not in self.unfit)

    @property
    def enough(self) -> bool:
        """Whether there are as many free and fit ones as are wanted."""
        return len(self.fit) >= self.wanted

    @property
    def words(self) -> str:
        """`8 wanted: 6 free, 4 fit; B-05: cell 3 rejected`: where too few are fit, why each other one is not.

        Every manual hold is told at any rate.
        """
        work = say(" ({count} of them once their work is done)", count=len(self.work)) if self.work else ""
        told = [
            unit for at, unit in enumerate(self.unfit) if self.unfit[unit][1] or (not self.enough and at < TOLD_IN_FULL)
        ]
        lines = [f"{unit}: {self.unfit[unit][0]}" for unit in told]
        more = 0 if self.enough else len(self.unfit) - len(told)
        head = say(
            "{wanted} wanted: {count} free, {count_2} fit{work}",
            wanted=self.wanted,
            count=len(self.free),
            count_2=len(self.fit),
            work=work,
        )
        return strung("; ", (head, *lines, *([say("{more} more are not fit", more=more)] if more else [])))


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


PROMISES = frozenset((What.HIRE, What.COURSE, What.TRY_DAY))


@dataclass(frozen=True, slots=True)
class Strip:
    """Days of one unit or booking, both inclusive; last is date.max where no end is known.

    text: what it is called, as a booking's code. why: the reason in a sentence. record: what kind of record it stands
    on, and its key. stops: the unit may not go out on these days. state: of a booking, `to come`, `out`, `late`,
    `back`. lacking: units that a booking without chosen ones still wants.
    """

    first: date
    last: date
    what: What
    text: str
    why: str
    record: tuple[str, str]
    stops: bool = False
    state: str = ""
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
    """Units of one type on one day: in service, promised with their turn-round, wanted on the waiting list, fit."""

    units: int
    promised: int
    waiting: int
    fit: int

    @property
    def short(self) -> int:
        """How many units are promised beyond those that are fit."""
        return max(0, self.promised - self.fit)


def first_stops(
    facts: UnitFacts, *, today: date, through: date, limits: ReadinessLimits, kind: HandoverKind
) -> tuple[FirstStop, ...]:
    """The first day on which each check stops the unit from today through another, by day.

    A check may have two: of what ordinary work clears, and of what it does not. Records only grow older, so what stops
    on one day stops on every later one.
    """
    found = []
    for row in CHECKS:
        if kind in row.kinds and row.check not in TOLD_ELSEWHERE:
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
    return FirstStop(row.check, today + timedelta(days=low), finding.evidence, finding.record, ordinary)


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
    return Strip(strip.first, last, strip.what, strip.text, strip.why, strip.record, lacking=strip.lacking)


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
            what_2=say("no day known") if each.last == date.max else f"{each.last:%d %b}",
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
