"""The bench day: who does what in which order with minutes, the parts to fetch, and the loops that hang to dry.

It is made from what is recorded: open tickets with their tasks and reserved parts, turn-rounds, and what falls due
before a unit leaves. Days before it are worked through first, so that a later day holds what they leave.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.hires.bench_day import BenchJob, Stint, dealt
from fleetbench.calc.hires.plan_facts import PlanUnit
from fleetbench.calc.people.permits import Role
from fleetbench.records.core.errors import Refused
from fleetbench.records.parts.lives import read_life_records, read_open_tasks
from fleetbench.records.parts.lookups import read_coming
from fleetbench.records.parts.reads import PartTypeRecord, read_part_types
from fleetbench.records.places.reads import read_limits
from fleetbench.records.units.reads import read_units
from fleetbench.workshop.core.workplace import Workplace, day_of
from fleetbench.workshop.hires.plan import HORIZON, Gathered, gathered
from fleetbench.workshop.parts.demand import list_reservations
from fleetbench.workshop.parts.shelf import ShelfPiece, usable_pieces
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.turn_rounds.baths import Hanging, hanging

HOURS = {"bench opens at": 8.0, "bench closes at": 18.0}
"""Hours of the day, where the centre says no others by limits of these names; common practice, no published source."""
SOON = 14
"""Days within which due work is done though no booking waits for it; common practice, no published source."""
AT_MOST_AHEAD = 30


@dataclass(frozen=True, slots=True)
class BenchDay:
    """One day at the bench.

    people: each technician by name and what they do in order, from the minute at which the bench opens. waits: units
    that cannot be worked on, and why. later: what the day has no time for.
    """

    on: date
    opens: datetime
    minutes: float
    source: str
    people: tuple[tuple[str, tuple[Stint, ...]], ...]
    hanging: tuple[Hanging, ...]
    waits: tuple[tuple[str, str], ...]
    later: tuple[BenchJob, ...]


def bench_day(workplace: Workplace, on: date | None = None) -> BenchDay:
    """The bench day of a date, today where None; Refused for one that is over, or too far ahead to be told."""
    today = workplace.today()
    on = on or today
    if not today <= on <= today + timedelta(days=AT_MOST_AHEAD):
        raise Refused(
            say(
                "day: {on}; enter a day from today on, {at_most_ahead} days ahead at the most",
                on=on,
                at_most_ahead=AT_MOST_AHEAD,
            )
        )
    return _Bench(workplace, gathered(workplace, HORIZON, None)).day(on)


class _Bench:
    """What a bench day is made of, read once."""

    def __init__(self, workplace: Workplace, found: Gathered) -> None:
        self._found, self._day, self._today = found, day_of(workplace), found.shown.today
        self._left_out = dict(each.split(": ", 1) for each in found.left_out)
        self._hanging = {each.unit: each for each in hanging(workplace)}
        reserved = list_reservations(workplace)
        with workplace.database.reading() as connection:
            self._types = read_part_types(connection)
            self._pieces = usable_pieces(connection, self._types, read_life_records(connection), self._day)
            self._coming = read_coming(connection)
            limits, units = read_limits(connection), {each.unit_id: each.tag for each in read_units(connection)}
            tasks: dict[str, list[str]] = defaultdict(list)
            for task in read_open_tasks(connection):
                tasks[units[task.unit_id]].append(task.text)
        self._tasks = tasks
        self._reserved: dict[str, Counter[int]] = defaultdict(Counter)
        for each in reserved:
            self._reserved[each.unit][each.part_type_id] += 1
        own = {each.name: each.amount for each in limits if each.unit_type_id is None}
        self._opens, self._closes = (own.get(name, usual) for name, usual in HOURS.items())
        people = [each for each in list_people(workplace) if each.active and each.role == Role.TECHNICIAN]
        self._people = [each.name for each in people] or [say("no technician is recorded")]
        self._minutes = found.hours * 60 / len(self._people)

    def _opens_on(self, on: date) -> datetime:
        """When work can begin: as the bench opens, today from now on, in whole five minutes."""
        opens = self._day.midnight(on) + timedelta(hours=self._opens)
        over = (self._day.now - opens).total_seconds() / 300 if on == self._today else 0.0
        return opens + timedelta(minutes=5 * max(0, ceil(over)))

    def _minutes_on(self, on: date) -> float:
        """Minutes of hands of each technician: the centre's bench hours, as far as they end before the bench closes."""
        closes = self._day.midnight(on) + timedelta(hours=self._closes)
        return max(0.0, min(self._minutes, (closes - self._opens_on(on)).total_seconds() / 60))

    def day(self, on: date) -> BenchDay:
        """The day, once the days before it are worked through."""
        done: set[str] = set()
        at = self._today
        while True:
            jobs, waits = self._jobs(at, done)
            given, left = dealt(jobs, len(self._people), self._minutes_on(at))
            if at == on:
                break
            done |= {job.tag for of in given for _, job in of}
            at += timedelta(days=1)
        people = tuple(zip(self._people, given, strict=True))
        hung = tuple(each for each in self._hanging.values() if each.dry_by >= self._day.midnight(on))
        return BenchDay(
            on,
            opens=self._opens_on(on),
            minutes=self._minutes,
            source=self._found.source,
            people=people,
            hanging=hung,
            waits=tuple(waits),
            later=left,
        )

    def _jobs(self, on: date, done: set[str]) -> tuple[list[BenchJob], list[tuple[str, str]]]:
        shelf = {key: list(pieces) for key, pieces in self._pieces.items()}
        jobs, waits = [], []
        ahead = {unit.tag: self._deadline(unit, on) for unit in self._found.facts.units}
        for unit in sorted(self._found.facts.units, key=lambda each: (ahead[each.tag][0] or date.max, each.tag)):
            by, wanted_for = ahead[unit.tag]
            spent, work, parts = self._work(unit, on, by)
            if unit.tag in done or not work:
                continue
            fetch, lacks = self._fetch(parts, shelf)
            why = lacks or self._why_not(unit, on)
            if why:
                waits.append((unit.tag, why))
                continue
            hung = self._hanging.get(unit.tag)
            begins = (hung.dry_from - self._opens_on(on)).total_seconds() / 60 if hung is not None else 0.0
            jobs.append(
                BenchJob(
                    unit.tag,
                    minutes=spent,
                    work=work,
                    ready_by=by,
                    begins=max(0.0, begins),
                    fetch=fetch,
                    wanted_for=wanted_for,
                )
            )
        return jobs, waits

    def _deadline(self, unit: PlanUnit, on: date) -> tuple[date | None, str]:
        """The day before the unit leaves next, and on what."""
        at = (on - self._today).days
        mine = [each for each in self._found.facts.bookings if unit.tag in each.promised and each.days[0] >= at]
        if not mine:
            return None, ""
        first = min(mine, key=lambda each: each.days[0])
        return self._today + timedelta(days=max(at, first.days[0] - 1)), first.code

    def _work(self, unit: PlanUnit, on: date, by: date | None) -> tuple[float, tuple[str, ...], Counter[str]]:
        """Minutes, what is done, and the parts that it takes: what tickets say, and what falls due soon."""
        tasks = self._tasks.get(unit.tag, [])
        named = {each.casefold() for each in tasks}
        last = (max(on + timedelta(days=SOON), by or on) - self._today).days
        spent, words, parts = 0.0, dict.fromkeys(tasks), Counter[str]()
        for key, count in self._reserved.get(unit.tag, Counter()).items():
            parts[self._types[key].name] += count
        for item in unit.work:
            is_ticket = item.name.startswith("ticket")
            covered = item.name.casefold() in named or (bool(tasks) and item.name.startswith("what makes"))
            if covered or not (is_ticket or (item.due is not None and item.due <= last)):
                continue
            spent += item.minutes
            if not is_ticket or not tasks:
                words[item.name[:1].upper() + item.name[1:]] = None
            parts.update(dict(item.parts))
        return spent, tuple(words), parts

    def _fetch(self, parts: Mapping[str, int], shelf: dict[int, list[ShelfPiece]]) -> tuple[tuple[str, ...], str]:
        """Which pieces to take from where, and what lacks, in words; taken off the shelf where nothing lacks."""
        keys = {each.name: key for key, each in self._types.items()}
        lacks = [self._comes(self._types[keys[name]]) for name, count in parts.items()
                 if len(shelf.get(keys[name], ())) < count]  # fmt: skip
        if lacks:
            return (), strung("; ", lacks)
        taken = []
        for name, count in sorted(parts.items()):
            pieces = shelf[keys[name]]
            taken += [
                strung(", ", (strung(" ", (name, each.part.label)), each.place or say("place not recorded")))
                for each in pieces[:count]
            ]
            del pieces[:count]
        return tuple(taken), ""

    def _comes(self, kind: PartTypeRecord) -> str:
        coming = self._coming.get(kind.part_type_id, [])
        if coming:
            return say("{kind} on order, expected {coming}", kind=kind.name, coming=coming[0][0])
        return say("{kind} not on the shelf and not on order", kind=kind.name)

    def _why_not(self, unit: PlanUnit, on: date) -> str:
        at, hung = (on - self._today).days, self._hanging.get(unit.tag)
        if hung is not None and hung.dry_from >= self._opens_on(on) + timedelta(minutes=self._minutes_on(on)):
            return say(
                "hangs to dry until {dry_from:%Y-%m-%d %H:%M}", dry_from=hung.dry_from.astimezone(self._day.zone)
            )
        if unit.in_hand > at:
            return say("not here before {day}", day=self._today + timedelta(days=unit.in_hand))
        out = next((each for each in self._found.facts.bookings
                    if unit.tag in each.promised and each.days[0] <= at <= each.days[1]), None)  # fmt: skip
        why = self._left_out.get(unit.tag, "")
        return say("out on {code}", code=out.code) if out is not None else why
