"""What must be replaced or done, with the last good day and the limit that governs.

One item for each part: the limit that ends first. A part of which a date is missing has an item of its own that says
so, since its true end may be earlier. Spare cylinders are in it, other spares are not: they stand in Stock. A cell
ends by its age, by what its own calibrations foretell (then it is projected), or by an open reject, whichever is first.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from operator import attrgetter
from typing import Any

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.calc.core.verdict import DueState
from fleetbench.calc.parts.condition import reject_words
from fleetbench.calc.parts.life import Governing, LifeLimit, LimitBasis, by_forecast
from fleetbench.calc.readiness.judge import Freshness
from fleetbench.calc.tickets.service_plan import ServiceBasis
from fleetbench.calc.tickets.signing import ONE_WAY_DIRECTIONS, RELEASE_TESTS
from fleetbench.records.bench.reads import EquipmentRecord, read_equipment
from fleetbench.records.canisters.reads import ContainerRecord, read_containers
from fleetbench.records.due import reads
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.parts.lives import read_life_records
from fleetbench.records.parts.reads import PartRecord, PartTypeRecord, SlotRecord, as_day, read_part_types, read_slots
from fleetbench.records.places.reads import read_limits
from fleetbench.records.tickets.service_plan import read_service_plan
from fleetbench.records.turn_rounds.reads import read_last_floods
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.workshop.core.known import known_once
from fleetbench.workshop.core.workplace import Day, Workplace, day_of
from fleetbench.workshop.gas.oxygen_side import LostPart, lost_clean
from fleetbench.workshop.parts.lives import DUE_SOON_DAYS, USE_BASES, LifeBook, book_of, item_of
from fleetbench.workshop.readiness.ready import FreshnessBook
from fleetbench.workshop.tickets.service_plan import ServiceBook
from fleetbench.workshop.units.fleet import by_unit


@dataclass(frozen=True, slots=True)
class DueItem:
    """One thing that runs out.

    unit: None for what belongs to no unit (containers, equipment, a person's qualification).
    item: what has to be done: `replace`, `hydrostatic test`, `workshop calibration`, `absorbent lot` ...
    basis: word of the limit that governs (fleetbench.calc.parts.life.LimitBasis). last_good_day: None where not known.
    days_left: from today to the last good day, negative when past. why: the calculation in words, with the assumption
    where it is projected. hits: code of the first booking of the unit that ends after the last good day.
    """

    unit: str | None
    slot: str | None
    part_type: str | None
    part: str | None
    part_id: int | None
    item: str
    last_good_day: date | None
    basis: str
    days_left: int | None
    state: DueState
    place: str | None
    projected: bool
    why: str
    hits: str | None


SERVICE_PLAN = say("service plan")
"""Basis of what a unit type's service plan asks for."""

NEVER = date.max
"""Last good day of what has no limit of age: it never falls due."""

FORECAST = str(LimitBasis.FORECAST)
"""Basis of a cell that its own calibrations foretell to cross a limit before any age ends it."""

REJECT = str(LimitBasis.REJECT)
"""Basis of a part that a measurement rejected: that ends it, whatever its age."""


@known_once
def list_due(workplace: Workplace, within_days: int | None = None, on: date | None = None) -> tuple[DueItem, ...]:
    """What is past, not known, or ends within so many days (None for all); what is not known first, then by day.

    on: calculate from this day instead of today.
    """
    day = day_of(workplace, on)
    end = day.today + timedelta(days=within_days) if within_days is not None else date.max
    with workplace.database.reading() as connection:
        types, slots = read_part_types(connection), read_slots(connection)
        lives = read_life_records(connection)
        book = book_of(lives, day)
        hard = hard_lives(book.limits)
        units = read_units(connection)
        places = _Seats(units, reads.read_hosts(connection))
        fresh = FreshnessBook(read_limits(connection))
        sheet = _Sheet(
            day, end=end, types=types, slots=slots, seats=places, ahead=_ahead(lives.promises, day), fresh=fresh
        )
        found = [
            *_easy(sheet, reads.read_easy_rows(connection, hard), book),
            *_hard(sheet, reads.read_hard_rows(connection, hard, book.rejects), book),
            *_cylinders(sheet, reads.read_spare_cylinders(connection, _cylinder_types(types)), book),
            *_calibrations(sheet, units, reads.read_last_calibration_times(connection)),
            *_tests(
                sheet,
                units,
                reads.read_test_times(connection, RELEASE_TESTS),
                reads.read_workshop_opening_times(connection),
            ),
            *_containers(sheet, read_containers(connection)),
            *_cleanliness(sheet, lost_clean(connection, day.zone)),
            *_service(
                sheet, units, ServiceBook(read_service_plan(connection), book.use, day), read_last_floods(connection)
            ),
            *_equipment(sheet, read_equipment(connection)),
            *_competence(sheet, reads.read_competence(connection)),
        ]
    return tuple(sorted(found, key=_order))


def settled_since(workplace: Workplace, since: date) -> dict[str, date]:
    """When what the records show done on units since a day was last done, by unit and slot, or unit and item.

    Parts changed, calibrations, passed tests and service tasks.
    """
    day = day_of(workplace)
    with workplace.database.reading() as connection:
        seats, slots = _Seats(read_units(connection), reads.read_hosts(connection)), read_slots(connection)
        plan, begins = read_service_plan(connection), datetime.combine(since, time(), day.zone)
        tasks = {task.service_task_id: task.text for task in plan.tasks}
        found: list[tuple[int | None, str | None, str, datetime | None]] = [
            (seats.unit_of(unit_id, host), slots[slot_id].name, say("replace"), at)
            for slot_id, unit_id, host, at in reads.read_removals(connection, begins)
        ]
        calibrated = reads.read_last_calibration_times(connection)
        found += [(unit_id, None, "workshop calibration", at) for unit_id, at in calibrated.items()]
        tests = reads.read_test_times(connection, RELEASE_TESTS)
        found += [(each.unit_id, None, say("{kind} test", kind=each.kind), each.passed_at) for each in tests]
        found += [(unit_id, None, tasks[task_id], at) for (unit_id, task_id), at in plan.done.items()]
    return {
        f"{seats.units[unit_id].tag} / {slot or item}": day.of(at)
        for unit_id, slot, item, at in found
        if unit_id in seats.units and at is not None and at >= begins
    }


@dataclass(frozen=True, slots=True)
class _Ahead:
    """A unit's bookings that are not over, by first day, and the last day of them all."""

    bookings: list[BookedUnit]
    last_end: date


def _ahead(promises: Iterable[BookedUnit], day: Day) -> dict[int, _Ahead]:
    still = (each for each in promises if each.out_at or each.ends_on >= day.today)
    return {
        unit_id: _Ahead(listed, max(each.ends_on for each in listed))
        for unit_id, listed in by_unit(still, attrgetter("unit_id")).items()
    }


def hard_lives(limits: Mapping[int, tuple[LifeLimit, ...]]) -> reads.HardLives:
    """Which part types need more than the day stored with a fitting."""

    def types(basis: LimitBasis) -> tuple[int, ...]:
        return tuple(key for key, listed in limits.items() if any(limit.basis is basis for limit in listed))

    counted = tuple(
        key
        for key, listed in limits.items()
        if any(limit.basis in USE_BASES for limit in listed)
        or (len(listed) > 1 and any(limit.basis is LimitBasis.TEST_INTERVAL for limit in listed))
    )
    return reads.HardLives(
        counted, made=types(LimitBasis.MADE), opened=types(LimitBasis.OPENED), fixed=types(LimitBasis.FIXED_DATE),
        limited=tuple(limits),
    )  # fmt: skip


class _Seats:
    """In which unit a fitting is, followed up through assemblies."""

    def __init__(self, units: Iterable[UnitRecord], hosts: dict[int, tuple[int | None, int | None]]) -> None:
        self.units = {unit.unit_id: unit for unit in units}
        self._root: dict[int, int | None] = {}
        for part_id, (unit_id, host) in hosts.items():
            self._root[part_id] = self._climb(part_id, unit_id, host, hosts)

    @staticmethod
    def _climb(
        part_id: int, unit_id: int | None, host: int | None, hosts: dict[int, tuple[int | None, int | None]]
    ) -> int | None:
        seen = {part_id}
        while unit_id is None and host is not None and host not in seen and host in hosts:
            seen.add(host)
            unit_id, host = hosts[host]
        return unit_id

    def unit_of(self, unit_id: int | None, host_part_id: int | None) -> int | None:
        if unit_id is not None or host_part_id is None:
            return unit_id
        return self._root.get(host_part_id)


@dataclass(frozen=True, slots=True)
class _Last:
    """A last good day, the days left to it, and how near that is."""

    day: date
    left: int
    state: DueState


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The day, the horizon, and what turns keys into words."""

    day: Day
    end: date
    types: dict[int, PartTypeRecord]
    slots: dict[int, SlotRecord]
    seats: _Seats
    ahead: dict[int, _Ahead]
    fresh: FreshnessBook

    def in_service(self, unit_id: int | None) -> bool:
        unit = self.seats.units.get(unit_id) if unit_id is not None else None
        return unit is None or unit.retired_on is None or unit.retired_on > self.day.today

    def shows(self, last: date | None) -> bool:
        """Whether a last good day belongs on the list: not known, or within the horizon."""
        return last is None or (last <= self.end and last != NEVER)

    def last(self, day: date) -> _Last:
        """A last good day with the days left to it and what that means."""
        left = (day - self.day.today).days
        state = DueState.PAST if left < 0 else DueState.DUE_SOON if left <= DUE_SOON_DAYS else DueState.LATER
        return _Last(day, left, state)

    def hits(self, unit_id: int | None, last: date | None) -> str | None:
        """The first booking of the unit that is not over and ends after the last good day."""
        ahead = self.ahead.get(unit_id) if unit_id is not None else None
        if ahead is None or (last is not None and last >= ahead.last_end):
            return None
        return next((each.code for each in ahead.bookings if last is None or each.ends_on > last), None)

    def item(
        self,
        item: str,
        last: date | None,
        basis: str,
        why: str,
        *,
        unit_id: int | None = None,
        part_type: str | None = None,
        part: str | None = None,
        place: str | None = None,
    ) -> DueItem:
        unit = self.seats.units.get(unit_id) if unit_id is not None else None
        known = self.last(last) if last is not None else None
        left, state = (known.left, known.state) if known is not None else (None, DueState.UNKNOWN)
        tag, where = (unit.tag, unit.place) if unit is not None else (None, place)
        hit = self.hits(unit_id, last)
        return DueItem(
            tag, slot=None, part_type=part_type, part=part, part_id=None, item=item, last_good_day=last, basis=basis,
            days_left=left, state=state, place=where, projected=False, why=why, hits=hit,
        )  # fmt: skip


def _easy(sheet: _Sheet, rows: Iterable[reads.EasyRow], book: LifeBook) -> Iterator[DueItem]:
    told = {
        (key, str(limit.basis)): (item_of(limit), limit.describe())
        for key, listed in book.limits.items()
        for limit in reversed(listed)
    }
    names = {key: each.name for key, each in sheet.types.items()}
    slots = {key: each.name for key, each in sheet.slots.items()}
    read: dict[Any, _Last] = {}
    for part_id, type_id, slot_id, unit_id, host_id, serial, lot, ref, kept, kept_basis in rows:
        if (last := read.get(kept)) is None:
            last = read[kept] = sheet.last(as_day(kept))
        basis, reject, foretold = kept_basis, book.rejects.get(part_id), book.forecasts.get(part_id)
        if last.day > sheet.end and reject is None and foretold is None:
            continue
        root = sheet.seats.unit_of(unit_id, host_id)
        unit = sheet.seats.units.get(root) if root is not None else None
        if not sheet.in_service(root):
            continue
        item, why = told.get((type_id, basis), (say("replace"), basis))
        if reject is None and foretold is not None and foretold[0] < last.day:
            last, basis, why = sheet.last(foretold[0]), FORECAST, by_forecast(*foretold).why
        if reject is not None and (rejected := sheet.day.of(reject.at) - timedelta(days=1)) < last.day:
            last, basis, why, item = sheet.last(rejected), REJECT, reject_words(reject), say("replace")
        if last.day > sheet.end:
            continue
        tag, place = (unit.tag, unit.place) if unit is not None else (None, None)
        label = serial or (say("lot {lot}", lot=lot) if lot else ref or say("part {part_id}", part_id=part_id))
        hit = sheet.hits(root, last.day)
        yield DueItem(
            tag, slot=slots[slot_id], part_type=names[type_id], part=label, part_id=part_id, item=item,
            last_good_day=last.day, basis=basis, days_left=last.left, state=last.state, place=place,
            projected=basis == FORECAST, why=why, hits=hit,
        )  # fmt: skip


def _hard(sheet: _Sheet, rows: Iterable[reads.HardFitting], book: LifeBook) -> Iterator[DueItem]:
    for each in rows:
        root = sheet.seats.unit_of(each.unit_id, each.host_part_id)
        if sheet.in_service(root):
            life = book.governing(each.part, each.fitted_at, root)
            yield from _of_life(sheet, life, each.part, unit_id=root, slot=sheet.slots[each.slot_id].name)


def _cylinders(sheet: _Sheet, parts: Iterable[PartRecord], book: LifeBook) -> Iterator[DueItem]:
    for part in parts:
        yield from _of_life(sheet, book.governing(part), part, unit_id=None, slot=None)


def _cylinder_types(types: dict[int, PartTypeRecord]) -> tuple[int, ...]:
    return tuple(key for key, each in types.items() if each.kind.endswith("cylinder"))


def _of_life(
    sheet: _Sheet, life: Governing, part: PartRecord, *, unit_id: int | None, slot: str | None
) -> Iterator[DueItem]:
    unit = sheet.seats.units.get(unit_id) if unit_id is not None else None
    tag, place = (unit.tag, unit.place) if unit is not None else (None, None)
    kind, label, part_id = sheet.types[part.part_type_id].name, part.label, part.part_id
    first = life.first
    if first is not None and first.day is not None and first.day <= sheet.end:
        last, hit = sheet.last(first.day), sheet.hits(unit_id, first.day)
        item, basis = item_of(first.limit), str(first.basis)
        yield DueItem(
            tag, slot=slot, part_type=kind, part=label, part_id=part_id, item=item, last_good_day=first.day,
            basis=basis, days_left=last.left, state=last.state, place=place, projected=first.projected,
            why=first.why, hits=hit,
        )  # fmt: skip
    if life.unknown:
        why, unknown = strung("; ", (each.why for each in life.unknown)), life.unknown[0]
        item, basis, hit = item_of(unknown.limit), str(unknown.basis), sheet.hits(unit_id, None)
        yield DueItem(
            tag, slot=slot, part_type=kind, part=label, part_id=part_id, item=item, last_good_day=None, basis=basis,
            days_left=None, state=DueState.UNKNOWN, place=place, projected=False, why=why, hits=hit,
        )  # fmt: skip


def _cleanliness(sheet: _Sheet, lost: Iterable[LostPart]) -> Iterator[DueItem]:
    """Parts that lost their oxygen-clean status and were not cleaned since, whatever their interval says."""
    basis = str(LimitBasis.TEST_INTERVAL)
    for each in lost:
        unit_id = sheet.seats.unit_of(each.unit_id, each.host_part_id)
        if sheet.in_service(unit_id):
            last = sheet.day.of(each.lost_at) - timedelta(days=1)
            kind, words = sheet.types[each.part.part_type_id].name, say("oxygen-clean status {each}", each=each.words)
            item = sheet.item(
                say("oxygen clean"), last, basis, words, unit_id=unit_id, part_type=kind, part=each.part.label
            )
            slot = sheet.slots[each.slot_id].name if each.slot_id is not None else None
            yield replace(item, slot=slot, part_id=each.part.part_id)


def _calibrations(sheet: _Sheet, units: Iterable[UnitRecord], done: dict[int, datetime]) -> Iterator[DueItem]:
    for unit in units:
        if not sheet.in_service(unit.unit_id):
            continue
        at, limit = done.get(unit.unit_id), sheet.fresh.of(unit.unit_type_id).calibration
        last = _good_through(sheet.day.of(at), limit) if at is not None else None
        if sheet.shows(last):
            why = (
                say("calibrated {at}, {limit}", at=sheet.day.of(at), limit=_rule(limit))
                if at
                else say("no workshop calibration on record")
            )
            basis = str(LimitBasis.TEST_INTERVAL)
            yield sheet.item("workshop calibration", last, basis, why, unit_id=unit.unit_id)


_Times = dict[tuple[int, str, str | None], reads.TestTimesRecord]


def _tests(
    sheet: _Sheet, units: Iterable[UnitRecord], tests: Iterable[reads.TestTimesRecord], opened: dict[int, datetime]
) -> Iterator[DueItem]:
    done: _Times = {(each.unit_id, each.kind, each.direction): each for each in tests}
    unsaid = {kind: {way for _, of, way in done if of == kind} for kind in RELEASE_TESTS}
    basis = str(LimitBasis.TEST_INTERVAL)
    for unit in units:
        if not sheet.in_service(unit.unit_id):
            continue
        limit, since = sheet.fresh.of(unit.unit_type_id).valves_and_loop, opened.get(unit.unit_id)
        for kind in RELEASE_TESTS:
            found = [
                _test_end(sheet, name, _spoken(done, unit.unit_id, kind, ways), since, limit)
                for name, ways in _asked(kind, unsaid[kind])
            ]
            last, why = min(found, key=lambda each: each[0] or date.min)
            if sheet.shows(last):
                yield sheet.item(say("{kind} test", kind=kind), last, basis, why, unit_id=unit.unit_id)


def _spoken(done: _Times, unit_id: int, kind: str, ways: Iterable[str | None]) -> list[reads.TestTimesRecord]:
    return [done[unit_id, kind, way] for way in ways if (unit_id, kind, way) in done]


def _asked(kind: str, recorded: set[str | None]) -> Iterable[tuple[str, Iterable[str | None]]]:
    """What is asked of a kind of test, and the recorded directions that speak for it."""
    if kind != "one-way valve":
        return ((kind, recorded),)
    return tuple((f"{kind}, {way}", (way, "both")) for way in ONE_WAY_DIRECTIONS)


def _test_end(
    sheet: _Sheet, name: str, done: list[reads.TestTimesRecord], opened: datetime | None, limit: Freshness
) -> tuple[date | None, str]:
    """Last good day of a test, with the calculation; a failed or undecided one, and an opening after it, end it."""
    passed = max((each.passed_at for each in done if each.passed_at is not None), default=None)
    failed = max((each.failed_at for each in done if each.failed_at is not None), default=None)
    if failed is not None and (passed is None or failed >= passed):
        day = sheet.day.of(failed)
        return day - timedelta(days=1), say("{name}: not passed {day}", name=name, day=day)
    if passed is None:
        return None, say("{name}: no test on record", name=name)
    day = sheet.day.of(passed)
    if opened is not None and passed <= opened:
        ended = sheet.day.of(opened)
        return ended - timedelta(days=1), say(
            "{name}: passed {day}, loop opened for work {ended}", name=name, day=day, ended=ended
        )
    return _good_through(day, limit), say("{name}: passed {day}, {limit}", name=name, day=day, limit=_rule(limit))


def _good_through(done: date, limit: Freshness) -> date:
    return NEVER if limit.stop_over_days is None else done + timedelta(days=limit.stop_over_days)


@lru_cache(maxsize=64)
def _rule(limit: Freshness) -> str:
    return limit.describe()


def _service(
    sheet: _Sheet, units: Iterable[UnitRecord], plan: ServiceBook, floods: Mapping[int, datetime]
) -> Iterator[DueItem]:
    """Tasks of each unit's service plan; what each assembly asks for is the diver's and stands on the sheet."""
    for unit in units:
        if not sheet.in_service(unit.unit_id):
            continue
        for task, found in plan.due(unit.unit_id, unit.unit_type_id, floods.get(unit.unit_id)):
            if task.basis == ServiceBasis.ASSEMBLY or not (
                found.due or (found.day is not None and found.day <= sheet.end)
            ):
                continue
            item = sheet.item(task.text, found.day, SERVICE_PLAN, found.why, unit_id=unit.unit_id)
            yield replace(item, projected=found.projected)


def _containers(sheet: _Sheet, containers: Iterable[ContainerRecord]) -> Iterator[DueItem]:
    for each in containers:
        if each.last_good_day is None or each.last_good_day <= sheet.end:
            why = say("{left_kg} left", left_kg=KILOGRAM.words(each.left_kg))
            basis, part = str(LimitBasis.FIXED_DATE), say("lot {lot}", lot=each.lot)
            yield sheet.item(
                say("absorbent lot"), each.last_good_day, basis, why, part_type=each.part_type, part=part,
                place=each.place,
            )  # fmt: skip


def _equipment(sheet: _Sheet, equipment: Iterable[EquipmentRecord]) -> Iterator[DueItem]:
    for each in equipment:
        if each.last_good_day is None or each.last_good_day <= sheet.end:
            why, basis = f"{each.kind} {each.name}", str(LimitBasis.FIXED_DATE)
            item = say("test equipment check")
            yield sheet.item(item, each.last_good_day, basis, why, part_type=each.name, part=each.serial)


def _competence(sheet: _Sheet, people: Iterable[reads.CompetenceRecord]) -> Iterator[DueItem]:
    for each in people:
        if each.valid_until <= sheet.end:
            what = say("{kind} qualification", kind=each.kind)
            why, basis = (
                say("{what} for {value}", what=what, value=each.unit_type or say("every unit type")),
                str(LimitBasis.FIXED_DATE),
            )
            yield sheet.item(what, each.valid_until, basis, why, part_type=each.unit_type, part=each.person)


def _order(item: DueItem) -> tuple[date, str, str, str, str]:
    return item.last_good_day or date.min, item.unit or "", item.slot or "", item.part or "", item.item
