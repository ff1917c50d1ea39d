"""Which days units are taken and fit: spans of days and facts in, days, counts and conflicts in words out.

A unit is unfit from the day on which a life ends, a fault stands or a service is past. Bench work that every turn-round
renews (calibration, loop tests, disinfection, batteries) makes no unit unfit ahead: its day is told apart from those.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.hires.promises import Span, clashes
from fleetbench.calc.readiness.judge import CHECKS, OF_THE_DIVER, CheckRow, UnitFacts, judged
from fleetbench.calc.readiness.limits import Asked, Finding, HandoverKind, ReadinessLimits

TOLD_ELSEWHERE = frozenset(("holds", "open tickets"))
"""Checks whose findings are spans of their own."""


class What(StrEnum):
    """What takes a unit's days, or makes it unfit."""

    HIRE = "hire"
    COURSE = "course"
    TRY_DAY = "try day"
    WAITING = "waiting line"
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
    """Units of one type on one day: in service, promised with their turn-round, wanted on the waiting line, fit."""

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
) -> Finding | None:
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
    kept = f", and {nights} nights are kept for its turn-round" if nights > 1 else ""
    return tuple(
        f"unit {unit} is {'away' if each.name == 'away' else f'promised to {each.name}'} "
        f"{each.first:%d %b} to {'no day known' if each.last == date.max else f'{each.last:%d %b}'}{kept}"
        for each in clashes(wanted, taken, nights)
    )


def warnings(unit: str, first: date, last: date, bands: Iterable[Strip]) -> tuple[str, ...]:
    """Why a unit could not go out on these days as things stand, in words; it may be promised all the same."""
    return tuple(
        f"unit {unit} is unfit from {max(first, each.first):%d %b}: {each.why}"
        for each in bands
        if each.stops and each.first <= last and first <= each.last
    )
