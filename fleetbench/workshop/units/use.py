"""Use of units and of the parts in them: hours, dives and hires so far, and the pace that is expected."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import accumulate
from operator import itemgetter
from typing import Any

from dateutil.relativedelta import relativedelta

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.life import LimitUnit, Pace, project_pace
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.parts.lives import LifeRecords
from fleetbench.records.parts.reads import FittingRecord, StayRow
from fleetbench.records.units.reads import LineRow, UseRow
from fleetbench.workshop.core.workplace import Day

WINDOW_DAYS = 90
DEEPEST_NESTING = 6
"""Assemblies in assemblies beyond this are taken for a circle in the records."""


@dataclass(frozen=True, slots=True)
class Use:
    """Use in one span of time."""

    minutes: float = 0.0
    dives: int = 0
    hires: int = 0

    @property
    def hours(self) -> float:
        """Loop hours."""
        return self.minutes / 60.0

    def __add__(self, other: "Use") -> "Use":
        """Both uses together."""
        return Use(self.minutes + other.minutes, self.dives + other.dives, self.hires + other.hires)


@dataclass(slots=True)
class _Story:
    """Events of one unit in order of time, with running totals: minutes[n] is the use before times[n].

    Times are as the database gives them; they are only compared.
    """

    times: list[Any]
    minutes: list[float]
    dives: list[int]
    hires: list[int]

    def between(self, start: Any, end: Any) -> Use:
        first = 0 if start is None else bisect_left(self.times, start)
        last = len(self.times) if end is None else bisect_left(self.times, end)
        if last <= first:
            return Use()
        return Use(
            self.minutes[last] - self.minutes[first],
            self.dives[last] - self.dives[first],
            self.hires[last] - self.hires[first],
        )


class UseBook:
    """Use by unit and by part, calculated from runs and hand-backs.

    A hand-back that states more than the runs of its hire counts with what it states, at the time of the return:
    missing runs never make a part younger.
    """

    def __init__(
        self,
        day: Day,
        runs: Iterable[UseRow],
        lines: Iterable[LineRow],
        promises: Iterable[BookedUnit],
        stays: Iterable[StayRow] = (),
        *,
        key: Callable[[datetime | None], Any],
    ) -> None:
        self._day = day
        self._key = key
        self._stories = _stories(runs, lines)
        self._promised: dict[int, list[BookedUnit]] = defaultdict(list)
        for promise in promises:
            self._promised[promise.unit_id].append(promise)
        self._stays: dict[int, list[StayRow]] = defaultdict(list)
        for stay in stays:
            self._stays[stay[0]].append(stay)
        self._paces: dict[int, dict[LimitUnit, Pace]] = {}

    def of_unit(self, unit_id: int, start: datetime | None = None, end: datetime | None = None) -> Use:
        """Use of a unit from `start` (inclusive) to `end` (exclusive)."""
        return self._between(unit_id, self._key(start), self._key(end))

    def _between(self, unit_id: int, first: Any, last: Any) -> Use:
        story = self._stories.get(unit_id)
        return story.between(first, last) if story is not None else Use()

    def of_part(self, part_id: int) -> Use:
        """Use of a part in every unit in which it sat, itself or inside an assembly."""
        total = Use()
        for unit_id, start, end in self._spans(part_id, None, None, DEEPEST_NESTING):
            total += self._between(unit_id, start, end)
        return total

    def units_of(self, part_id: int) -> frozenset[int]:
        """Every unit in which a part sat, itself or inside an assembly."""
        return frozenset(unit_id for unit_id, _, _ in self._spans(part_id, None, None, DEEPEST_NESTING))

    def pace(self, unit_id: int | None) -> dict[LimitUnit, Pace]:
        """Expected use a day of what sits in a unit; nought for what sits in an assembly on the shelf."""
        if unit_id is None:
            return {unit: Pace(0.0, say("its assembly is in store, so no more is used")) for unit in _USE_UNITS}
        if unit_id not in self._paces:
            self._paces[unit_id] = self._calculate_pace(unit_id)
        return self._paces[unit_id]

    def _spans(self, part_id: int, start: Any, end: Any, depth: int) -> Iterable[tuple[int, Any, Any]]:
        for _, unit_id, host_part_id, since, until in self._stays.get(part_id, ()) if depth else ():
            first = since if start is None else max(start, since)
            last = until if end is None else end if until is None else min(end, until)
            if last is not None and last <= first:
                continue
            if unit_id is not None:
                yield unit_id, first, last
            elif host_part_id is not None:
                yield from self._spans(host_part_id, first, last, depth - 1)

    def _calculate_pace(self, unit_id: int) -> dict[LimitUnit, Pace]:
        trailing = self._between(unit_id, *self._trailing)
        year_ago = self._between(unit_id, *self._year_ago)
        booked = self._booked(unit_id)
        paces: dict[LimitUnit, Pace] = {}
        for unit in _USE_UNITS:
            pace = project_pace(
                booked=booked.get(unit),
                trailing_90=_in_unit(trailing, unit) / WINDOW_DAYS,
                same_days_last_year=_in_unit(year_ago, unit) / WINDOW_DAYS,
                unit=unit,
            )
            if pace is not None:
                paces[unit] = pace
        return paces

    @cached_property
    def _trailing(self) -> tuple[Any, Any]:
        """The 90 days before today, as the database gives times."""
        return self._window(self._day.today - timedelta(days=WINDOW_DAYS))

    @cached_property
    def _year_ago(self) -> tuple[Any, Any]:
        """The coming 90 days, a year ago, as the database gives times."""
        return self._window(self._day.today - relativedelta(years=1))

    def _window(self, first: date) -> tuple[Any, Any]:
        end = first + timedelta(days=WINDOW_DAYS)
        return self._key(self._day.midnight(first)), self._key(self._day.midnight(end))

    def _booked(self, unit_id: int) -> dict[LimitUnit, float]:
        """Booked use a day over the coming window; dives are not planned in numbers, so they are not known.

        Planned minutes are those of one fill, and one fill a day is assumed.
        """
        today, last = self._day.today, self._day.today + timedelta(days=WINDOW_DAYS - 1)
        minutes, hires = 0.0, 0
        for each in self._promised.get(unit_id, ()):
            days = (min(each.ends_on, last) - max(each.starts_on, today)).days + 1
            if days > 0:
                minutes += (each.planned_minutes or 0.0) * days
                hires += each.out_at is None
        return {LimitUnit.HOURS: minutes / 60.0 / WINDOW_DAYS, LimitUnit.HIRES: hires / WINDOW_DAYS}


def wears_alike(records: LifeRecords, was: LifeRecords) -> bool:
    """Whether all that use is calculated from is the same."""
    return all(getattr(records, name) == getattr(was, name) for name in ("runs", "lines", "promises", "stays", "key"))


def use_of(records: LifeRecords, day: Day, more_fittings: Iterable[FittingRecord]) -> UseBook:
    """What wore each unit and part; more_fittings: as `book_of` of workshop.parts.lives takes them."""
    known = {stay[:4] for stay in records.stays} if more_fittings else set()
    key = records.key
    more = (
        (each.part_id, each.unit_id, each.host_part_id, key(each.fitted_at), key(each.removed_at))
        for each in more_fittings
    )
    stays = [*records.stays, *(stay for stay in more if stay[:4] not in known)]
    return UseBook(day, records.runs, records.lines, records.promises, stays, key=key)


_USE_UNITS = (LimitUnit.HOURS, LimitUnit.DIVES, LimitUnit.HIRES)


def _stories(runs: Iterable[UseRow], lines: Iterable[LineRow]) -> dict[int, _Story]:
    events: dict[int, list[UseRow]] = defaultdict(list)
    minutes_of: dict[int | None, float] = defaultdict(float)
    dives_of: dict[int | None, int] = defaultdict(int)
    for run in runs:
        events[run[0]].append(run)
        minutes_of[run[1]] += run[3]
        dives_of[run[1]] += run[4]
    for line_id, unit_id, out_at, back_at, loop_minutes, dives in lines:
        events[unit_id].append((unit_id, line_id, out_at, 0.0, 0, 1))
        more_minutes = max(0.0, (loop_minutes or 0.0) - minutes_of.get(line_id, 0.0))
        more_dives = max(0, (dives or 0) - dives_of.get(line_id, 0))
        if more_minutes or more_dives:
            events[unit_id].append((unit_id, line_id, back_at or out_at, more_minutes, more_dives, 0))
    return {unit_id: _story(listed) for unit_id, listed in events.items()}


def _story(events: list[UseRow]) -> _Story:
    events.sort(key=itemgetter(2))
    return _Story(
        list(map(itemgetter(2), events)),
        list(accumulate(map(itemgetter(3), events), initial=0.0)),
        list(accumulate(map(itemgetter(4), events), initial=0)),
        list(accumulate(map(itemgetter(5), events), initial=0)),
    )


def _in_unit(use: Use, unit: LimitUnit) -> float:
    return {LimitUnit.HOURS: use.hours, LimitUnit.DIVES: float(use.dives), LimitUnit.HIRES: float(use.hires)}[unit]
