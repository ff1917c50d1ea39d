"""What each past day of each unit was, judged by what was recorded of it then, as a hand-over at noon would have been.

Limits, types, the service plan and prices are those of today: what they were is not kept apart. What is done only as a
unit leaves (absorbent, gas, batteries) costs no day on which nobody waited for it.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property

from fleetbench.calc.core.languages import say
from fleetbench.calc.core.verdict import Result
from fleetbench.calc.earnings.days import CureBy, DayState, StopCause, UnitDay
from fleetbench.calc.hires.sell import Bench, bench_work
from fleetbench.calc.parts.kinds import OwnerKind
from fleetbench.calc.readiness.judge import CHECKS, OF_THE_DIVER, Moment, judged
from fleetbench.calc.readiness.limits import USUAL_WAY, Asked, CheckFinding, HandoverKind
from fleetbench.records.core.errors import end_if_unwanted
from fleetbench.records.earnings.reads import EarningsRecords, LineRecord, Past
from fleetbench.records.readiness.reads import read_fleet
from fleetbench.records.units.reads import UnitRecord
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Day
from fleetbench.workshop.hires.sell import seat_of
from fleetbench.workshop.parts.stock import usable_pieces
from fleetbench.workshop.readiness.ready import HAND_OVER_TIME, Question, Readiness
from fleetbench.workshop.units.fleet import Fleet, by_unit

TURN_ROUND = say("turn-round to do")
AWAY = "away"
NOT_FOR_DIVING = say("left, not for diving")
NOT_RECORDED = say("nothing was recorded of the unit yet")
HOLD_WORDS = {"cell": say("hold for a cell"), "incident": say("hold after an incident"), "owner": say("a renter's own")}
OF_A_TURN_ROUND = frozenset(("received", "disinfected and dry"))
STRIPPED = frozenset(("flood",))
"""Checks beside those of a sale that work on the unit at the bench clears; common practice, no published source."""

Told = Callable[[float, str], None]


def unheard(_share: float, _what: str) -> None:
    """Nobody is told how far it is."""


@dataclass(slots=True)
class PromisedDays:
    """Which units were promised, out and wanted on which days, by what was booked and what left."""

    records: EarningsRecords
    day_of: Callable[[datetime], date]
    _of_unit: dict[int, list[LineRecord]] = field(init=False)

    def __post_init__(self) -> None:
        """Sort by unit."""
        self._of_unit = by_unit(self.records.lines, lambda each: each.unit_id)

    def out(self, unit_id: int, on: date) -> LineRecord | None:
        """The line on which a unit was out on a day, if only for a part of it."""
        return next((each for each in self._of_unit.get(unit_id, ()) if self._out(each, on)), None)

    def promised(self, unit_id: int, on: date) -> bool:
        """Whether a unit was promised for a day, by what stood at its end, and not back before it."""
        return any(self._promised(each, on) for each in self._of_unit.get(unit_id, ()))

    def _out(self, line: LineRecord, on: date) -> bool:
        if line.out_at is None or self.day_of(line.out_at) > on:
            return False
        return line.received_at is None or self.day_of(line.received_at) >= on

    def _promised(self, line: LineRecord, on: date) -> bool:
        ended = [self.day_of(at) for at in (line.cancelled_at, line.taken_off_at) if at is not None]
        back = self.day_of(line.received_at) if line.received_at is not None else on
        return line.starts_on <= on <= line.ends_on and all(at > on for at in ended) and back >= on

    def short(self, on: date) -> frozenset[int]:
        """Unit types of which a booking of that day had fewer units out than it wanted."""
        out: dict[int, int] = defaultdict(int)
        for line in self.records.lines:
            if line.starts_on <= on <= line.ends_on and self._out(line, on):
                out[line.booking_id] += 1
        return frozenset(
            each.unit_type_id
            for each in self.records.wanted
            if each.starts_on <= on <= each.ends_on
            and (each.cancelled_at is None or self.day_of(each.cancelled_at) > on)
            and out[each.booking_id] < each.units_wanted
        )


def past_days(
    source: Connection, records: EarningsRecords, now: Day, days: Iterable[date], told: Told = unheard
) -> Iterator[UnitDay]:
    """Every hireable unit on each of these days up to today, in order of days."""
    asked = sorted(each for each in days if each <= now.today)
    if not asked:
        return
    past = Past(source, _noon(now, asked[0]), now.zone)
    try:
        judge = _Judge(past, PromisedDays(records, now.of), records.seen_from)
        for number, each in enumerate(asked):
            end_if_unwanted()
            told(number / len(asked), say("{day}: {number} of {count} days", day=each, number=number, count=len(asked)))
            yield from judge.of(Day(_noon(now, each), each, now.zone))
    finally:
        past.close()


def _noon(now: Day, on: date) -> datetime:
    return min(now.now, datetime.combine(on, HAND_OVER_TIME, tzinfo=now.zone))


class _Judge:
    """Judges the units of one day after another."""

    def __init__(self, past: Past, promises: PromisedDays, seen_from: Mapping[int, datetime]) -> None:
        self._past, self._promises, self._seen_from = past, promises, seen_from
        self._fleet: Fleet | None = None
        self._stood: dict[str, dict[tuple[str, str], StopCause]] = {}

    def of(self, day: Day) -> Iterator[UnitDay]:
        """The units of this day."""
        moved = self._past.lead_to(day.now)
        records = self._fleet.records if self._fleet is not None and not moved else read_fleet(self._past.connection)
        self._fleet = Fleet(records, day)
        looked = _Looked(self._past, Readiness(self._fleet), day)
        short = self._promises.short(day.today)
        for unit in records.units:
            if unit.owner_kind != OwnerKind.RENTER:
                yield self._of_unit(looked, unit, short)

    def _of_unit(self, looked: "_Looked", unit: UnitRecord, short: frozenset[int]) -> UnitDay:
        on = looked.day.today
        promised = self._promises.promised(unit.unit_id, on)
        wanted = promised or unit.unit_type_id in short
        state, causes, unrecorded = self._look(looked, unit, promised=promised)
        return UnitDay(
            unit.tag,
            unit_type=unit.unit_type,
            day=on,
            state=state,
            promised=promised,
            wanted=wanted,
            causes=causes,
            unrecorded=unrecorded,
        )

    def _look(
        self, looked: "_Looked", unit: UnitRecord, *, promised: bool
    ) -> tuple[DayState, tuple[StopCause, ...], tuple[str, ...]]:
        on = looked.day.today
        before, self._stood[unit.tag] = self._stood.get(unit.tag, {}), {}
        out = self._promises.out(unit.unit_id, on)
        if out is not None and out.hand_over != HandoverKind.NOT_FOR_DIVING:
            return DayState.OUT, (), ()
        if (unit.retired_on is not None and unit.retired_on <= on) or (
            unit.in_service_on is not None and unit.in_service_on > on
        ):
            return DayState.NOT_THERE, (), ()
        if out is not None or looked.readiness.away(unit.unit_id) is not None:
            return DayState.LOST, (StopCause(AWAY if out is None else NOT_FOR_DIVING),), ()
        seen = self._seen_from.get(unit.unit_id)
        if seen is None or looked.day.of(seen) > on:
            return DayState.UNKNOWN, (), (NOT_RECORDED,)
        return self._judged(looked, unit, before, promised=promised)

    def _judged(
        self, looked: "_Looked", unit: UnitRecord, before: Mapping[tuple[str, str], StopCause], *, promised: bool
    ) -> tuple[DayState, tuple[StopCause, ...], tuple[str, ...]]:
        found = looked.stops(unit, promised=promised)
        causes = {}
        for check, each in found:
            if not each.unrecorded:
                cause = looked.cause(unit, check, each, before)
                causes[cause.what, cause.piece] = cause
        self._stood[unit.tag] = causes
        unrecorded = tuple(dict.fromkeys(check for check, each in found if each.unrecorded))
        if causes:
            waits = all(each.cure is CureBy.WORK for each in causes.values())
            return DayState.WORK if waits else DayState.LOST, tuple(causes.values()), unrecorded
        return DayState.UNKNOWN if unrecorded else DayState.FIT, (), unrecorded


@dataclass
class _Looked:
    """One day: what readiness says of it, and what lay on the shelf."""

    past: Past
    readiness: Readiness
    day: Day

    def stops(self, unit: UnitRecord, *, promised: bool) -> list[tuple[str, CheckFinding]]:
        """What would have stopped the unit at a hand-over, by check; hand-over work only where it was promised."""
        on = self.day.today
        facts = self.readiness.facts(unit, Question(on, on, USUAL_WAY))
        asked = Asked(on, on, on, at_act=False, zone=self.day.zone)
        limits = self.readiness.fresh.of(unit.unit_type_id)
        return [
            (row.check, finding)
            for row in CHECKS
            if USUAL_WAY in row.kinds and row.check not in OF_THE_DIVER
            for finding in judged(row, facts, asked, limits) or ()
            if finding.result is Result.STOP
            and finding.to_do_minutes is None
            and (promised or row.moment is not Moment.HAND_OVER or not finding.ordinary)
        ]

    def cause(
        self, unit: UnitRecord, check: str, finding: CheckFinding, before: Mapping[tuple[str, str], StopCause]
    ) -> StopCause:
        """The cause that a finding is; whether it wanted a spare is asked once, on its first day."""
        kind = finding.evidence.split(" since ")[0].split(":")[0]
        what = HOLD_WORDS.get(kind, kind) if check == "holds" else check
        if what in OF_A_TURN_ROUND:
            return StopCause(TURN_ROUND, CureBy.WORK)
        if finding.ordinary:
            return StopCause(check, CureBy.WORK)
        work = bench_work(check, finding)
        if work is Bench.REPLACE:
            return self._part_cause(unit, check, finding, before)
        empty = self._empty_slot(unit, check, finding, before)
        if empty is not None:
            return empty
        mended = work is not None or check in STRIPPED
        return StopCause(what, CureBy.REPAIR if mended else CureBy.NONE)

    def _part_cause(
        self, unit: UnitRecord, check: str, finding: CheckFinding, before: Mapping[tuple[str, str], StopCause]
    ) -> StopCause:
        seat = seat_of(self.readiness.fleet.seats(unit.unit_id), finding)
        if seat is None or seat.part is None:
            return StopCause(check)
        kind = self.readiness.fleet.catalogue.part_types[seat.part.part_type_id]
        what, piece = part_cause(check, kind.name), f"{seat.slot.name} {seat.part.label}"
        return before.get((what, piece)) or StopCause(what, self._cure((seat.part.part_type_id,)), piece)

    def _empty_slot(
        self, unit: UnitRecord, check: str, finding: CheckFinding, before: Mapping[tuple[str, str], StopCause]
    ) -> StopCause | None:
        for seat in self.readiness.fleet.seats(unit.unit_id):
            if seat.part is None and finding.evidence.startswith(f"{seat.slot.name}: "):
                what, piece = part_cause(check, say("no {kind} fitted", kind=say(seat.slot.kind))), seat.slot.name
                types = self.readiness.fleet.catalogue.part_types.items()
                fits = [key for key, each in types if each.kind == seat.slot.kind]
                return before.get((what, piece)) or StopCause(what, self._cure(fits), piece)
        return None

    def _cure(self, part_types: Iterable[int]) -> CureBy:
        return CureBy.REPAIR if any(self._pieces.get(each) for each in part_types) else CureBy.SPARE

    @cached_property
    def _pieces(self) -> Mapping[int, object]:
        fleet = self.readiness.fleet
        return usable_pieces(self.past.connection, fleet.catalogue.part_types, fleet.records.lives, self.day)


def part_cause(check: str, part_type: str) -> str:
    """How a cause names the part type that is to blame."""
    return f"{check}: {part_type}"


def span_days(first: date, last: date) -> tuple[date, ...]:
    """Every day from the first through the last."""
    return tuple(first + timedelta(days=step) for step in range((last - first).days + 1))
