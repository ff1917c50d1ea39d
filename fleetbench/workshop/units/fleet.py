"""What is recorded of units, put together for one day: what sits where, and what hangs on each unit.

Which units a change of the records reaches, found by comparing all that is read of the fleet before and after: every
field of what is read stands in REACH with what leads from a row of it to units. A field that stands there with ALL, or
not at all, reaches every unit: so does whatever is not known.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence, Set
from copy import copy
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from functools import cached_property
from operator import attrgetter, itemgetter
from typing import TYPE_CHECKING, Any, TypeGuard, TypeVar, cast

from fleetbench.calc.core.languages import say
from fleetbench.calc.parts.life import Governing, governing
from fleetbench.records.bench.reads import BenchTestRecord
from fleetbench.records.core.errors import NotFound
from fleetbench.records.hires.reads import BookedUnit
from fleetbench.records.parts.reads import (
    FittedRecord,
    FittingRecord,
    PartRecord,
    PartTypeRecord,
    SlotRecord,
    StayRow,
    read_fitted,
    read_part_types,
    read_slots,
)
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.readiness.reads import FleetRecords, read_fleet
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.known import known_if_free, known_of
from fleetbench.workshop.core.workplace import Day, Workplace, day_in, day_of
from fleetbench.workshop.parts.conditions import LIVES, ConditionBook, condition_book, root_unit, with_tests
from fleetbench.workshop.parts.lives import LifeBook, book_of

if TYPE_CHECKING:
    from fleetbench.records.parts.lives import LifeRecords

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Seat:
    """One slot of a unit, or of an assembly in it, with what sits there; depth 0 is the unit's own slot."""

    depth: int
    slot: SlotRecord
    fitting: FittingRecord | None
    part: PartRecord | None
    host: PartRecord | None


class Fleet:
    """The records of all units or of one, indexed by unit."""

    def __init__(
        self, records: FleetRecords, day: Day, before: "Fleet | None" = None, *, in_brief: bool = False
    ) -> None:
        """before: the fleet as it was known on the same day; what of it stands is taken over.

        in_brief: what is judged of it is answered in brief, for lists, which tell nothing of a check that is ok.
        """
        self.in_brief = in_brief
        self.records = records
        self.catalogue = records.catalogue
        self.day = day
        self._lives: dict[int, Governing] = {}
        self.answers: dict[Hashable, Any] = {}
        """What else was calculated of these records on this day, by whoever looked first."""
        self.earlier: Mapping[tuple[Any, ...], Any] = {}
        """The same of the records before the last change: used only where what it was calculated from is equal."""
        self._book_before: tuple[LifeRecords, LifeBook] | None = None
        if before is not None and (before.day.today, before.day.zone) == (day.today, day.zone):
            self._book_before = before.records.lives, before.book
            self.earlier = {key: each for key, each in before.answers.items() if _of_one_unit(key)}
            changed = units_changed(before.records, records)
            if changed is not None:
                self.answers = {key: each for key, each in self.earlier.items() if key[1] not in changed}

    def at(self, day: Day) -> "Fleet":
        """The same at another moment of the same day."""
        if day.today != self.day.today:
            raise ValueError(
                say(
                    "day: what is known is of {today}, not of {today_2}; read the records again",
                    today=self.day.today,
                    today_2=day.today,
                )
            )
        other = copy(self)
        other.day = day
        return other

    def lay_out(self) -> None:
        """Calculate what every look at the fleet needs, so that all moments of the day share it."""
        for each in (self.book, self.conditions, self._plan, self._units):
            del each
        self._book_before = None

    @cached_property
    def book(self) -> LifeBook:
        """Limits, tests and use, from which any life is calculated."""
        return book_of(self.records.lives, self.day, before=self._book_before)

    @cached_property
    def conditions(self) -> ConditionBook:
        """What the condition of any fitted part hangs on."""
        records, catalogue = self.records, self.catalogue
        book = condition_book(self.book, catalogue.part_types, records.outcomes, records.holds, catalogue.notices, {})
        return with_tests(book, records.fitted, catalogue.slots, records.tests, records.openings)

    def of_units(self, name: str) -> dict[int, list[Any]]:
        """What is read of the fleet under this name, by unit; put in order once for all moments of the day."""
        return self.once(("by_unit", name), lambda: by_unit(getattr(self.records, name), attrgetter("unit_id")))

    def once(self, what: Hashable, find: Callable[[], Row]) -> Row:
        """What hangs on these records and the day alone, found when it is first asked for."""
        if what not in self.answers:
            self.answers[what] = find()
        return cast("Row", self.answers[what])

    @property
    def tests(self) -> dict[int, list[BenchTestRecord]]:
        """The last bench tests of each unit."""
        return self.of_units("tests")

    @property
    def promises(self) -> dict[int, list[BookedUnit]]:
        """Promises of each unit that is not back from them, by first day."""
        return self.of_units("promises")

    @cached_property
    def _plan(self) -> "_Plan":
        return _plan_of(self.records.fitted, self.catalogue.slots, self.catalogue.part_types)

    @cached_property
    def _units(self) -> dict[int, UnitRecord]:
        return {unit.unit_id: unit for unit in self.records.units}

    def seats(self, unit_id: int) -> tuple[Seat, ...]:
        """Every slot of a unit in tree order, filled or empty."""
        return self.once(("seats", unit_id), lambda: tuple(self._plan.of_unit(self._units[unit_id])))

    def life(self, seat: Seat, unit_id: int) -> Governing:
        """The limit that governs what sits in a slot; no limit for an empty one."""
        if seat.part is None or seat.fitting is None:
            return Governing(None)
        if seat.part.part_id not in self._lives:
            self._lives[seat.part.part_id] = self.book.governing(seat.part, seat.fitting.fitted_at, unit_id)
        return self._lives[seat.part.part_id]

    def age(self, seat: Seat, unit_id: int) -> Governing:
        """The limit of age or use that governs, whatever a measurement said: a check of its own asks for that."""
        if seat.part is None or seat.fitting is None or seat.part.part_id not in self.book.rejects:
            return self.life(seat, unit_id)
        return governing(self.book.last_good_days(seat.part, seat.fitting.fitted_at, unit_id, rejects=False))

    def name(self, person_id: int | None) -> str | None:
        """The person's name, the code where it was erased, None for nobody."""
        return self.catalogue.names.get(person_id) if person_id is not None else None


PER_UNIT = frozenset(("answer", "standing", "row", "first stops", "faults", "seats", "valves"))
"""What is calculated of a unit from what is recorded of it and the day alone; the unit's key stands beside the word."""


def _of_one_unit(key: Hashable) -> TypeGuard[tuple[Any, ...]]:
    return isinstance(key, tuple) and key[0] in PER_UNIT


class _Plan:
    """Which slots there are, and what sits in them."""

    def __init__(
        self,
        slots: Iterable[SlotRecord],
        in_units: dict[tuple[int, int], tuple[FittingRecord, PartRecord]],
        in_hosts: dict[tuple[int, int], tuple[FittingRecord, PartRecord]],
        assemblies: frozenset[int],
    ) -> None:
        self._of_unit_type: dict[int, list[SlotRecord]] = defaultdict(list)
        self._of_assembly: dict[int, list[SlotRecord]] = defaultdict(list)
        for slot in slots:
            if slot.unit_type_id is not None:
                self._of_unit_type[slot.unit_type_id].append(slot)
            elif slot.assembly_type_id is not None:
                self._of_assembly[slot.assembly_type_id].append(slot)
        self._in_units, self._in_hosts, self._assemblies = in_units, in_hosts, assemblies

    def of_unit(self, unit: UnitRecord) -> Iterator[Seat]:
        for slot in self._of_unit_type.get(unit.unit_type_id, ()):
            yield from self._seat(0, slot, self._in_units.get((unit.unit_id, slot.slot_id)), None)

    def _seat(
        self, depth: int, slot: SlotRecord, found: tuple[FittingRecord, PartRecord] | None, host: PartRecord | None
    ) -> Iterator[Seat]:
        if found is None:
            yield Seat(depth, slot=slot, fitting=None, part=None, host=host)
            return
        fitting, part = found
        yield Seat(depth, slot=slot, fitting=fitting, part=part, host=host)
        if part.part_type_id in self._assemblies:
            for inner in self._of_assembly.get(part.part_type_id, ()):
                yield from self._seat(depth + 1, inner, self._in_hosts.get((part.part_id, inner.slot_id)), part)


def by_unit(rows: Iterable[Row], unit_of: Callable[[Row], int]) -> dict[int, list[Row]]:
    """Rows of each unit in their order."""
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[unit_of(row)].append(row)
    return dict(found)


def whole_fleet(workplace: Workplace, on: date | None = None) -> Fleet:
    """Every unit, read at once, or known since nothing of it was written.

    What was calculated of a unit stands where all that is recorded of it is the same as before.
    """
    with workplace.database.reading() as connection, known_of(workplace.database, connection) as known:
        day = day_in(workplace, centre_timezone(connection), on)
        name = "fleet", day.today

        def put_together() -> Fleet:
            found = Fleet(read_fleet(connection), day, known.last.get(name), in_brief=True)
            found.lay_out()
            known.last[name] = found
            if on is None:
                known.last[LIVES] = found.records.lives, found.book
            return found

        return known.of(name, put_together).at(day)


def known_fleet(workplace: Workplace) -> Fleet | None:
    """Every unit where all of it is known, without waiting; None where it is to be read, or is being read just now."""
    with workplace.database.reading() as connection, known_if_free(workplace.database, connection) as known:
        day = day_in(workplace, centre_timezone(connection))
        name = "fleet", day.today
        if known is None or not known.reads.stands(name):
            return None
        return cast("Fleet", known.last[name]).at(day)


def judged_units(workplace: Workplace, what: str = "row") -> int:
    """Of how many units this was calculated today, without waiting; 0 while another reader is at it."""
    with workplace.database.reading() as connection, known_if_free(workplace.database, connection) as known:
        day = day_in(workplace, centre_timezone(connection))
        fleet = known.last.get(("fleet", day.today)) if known is not None else None
        keys = [*fleet.answers] if fleet is not None else []
        return len({key[1] for key in keys if _of_one_unit(key) and key[0] == what})


def one_unit(workplace: Workplace, tag: str, on: date | None = None) -> Fleet:
    """One unit by its tag or former tag; NotFound for another text."""
    day = day_of(workplace, on)
    with workplace.database.reading() as connection:
        return Fleet(read_fleet(connection, unit_of_tag(connection, tag)), day)


def unit_of_tag(connection: Connection, tag: str) -> UnitRecord:
    """The unit with a tag or former tag; NotFound for another text."""
    found = read_units(connection, tag)
    if not found:
        raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
    return found[0]


def plan_in(connection: Connection, unit_id: int | None = None) -> _Plan:
    """Gives every slot of one unit or of any, in tree order, filled or empty; three statements."""
    return _plan_of(read_fitted(connection, unit_id), read_slots(connection), read_part_types(connection))


def _plan_of(
    fitted: Iterable[FittedRecord], slots: Mapping[int, SlotRecord], part_types: Mapping[int, PartTypeRecord]
) -> _Plan:
    in_units: dict[tuple[int, int], tuple[FittingRecord, PartRecord]] = {}
    in_hosts: dict[tuple[int, int], tuple[FittingRecord, PartRecord]] = {}
    for fitting, part in fitted:
        if fitting.unit_id is not None:
            in_units[fitting.unit_id, fitting.slot_id] = fitting, part
        elif fitting.host_part_id is not None:
            in_hosts[fitting.host_part_id, fitting.slot_id] = fitting, part
    assemblies = frozenset(each.part_type_id for each in part_types.values() if each.assembly)
    return _Plan(slots.values(), in_units, in_hosts, assemblies)


ALL = "all"
UNIT, PART, WORN_UNIT, HOST, PERSON, BOOKING, FILL = "unit", "part", "worn unit", "host", "person", "booking", "fill"

Lead = tuple[str, Callable[[Any], Any]]
"""By what a row leads to units, and what gives it of a row, or of a key of a dictionary or set."""

_BY_UNIT: tuple[Lead, ...] = ((UNIT, attrgetter("unit_id")),)
_BY_PART: tuple[Lead, ...] = ((PART, attrgetter("part_id")),)
_BY_PERSON: tuple[Lead, ...] = ((PERSON, attrgetter("person_id")),)
_BOTH = (*_BY_UNIT, *_BY_PART)


def _itself(key: Any) -> Any:
    return key


_KEY_IS_UNIT: tuple[Lead, ...] = ((UNIT, _itself),)
_KEY_IS_PART: tuple[Lead, ...] = ((PART, _itself),)
_FIRST_OF_KEY: tuple[Lead, ...] = ((UNIT, itemgetter(0)),)

REACH: dict[str, tuple[Lead, ...] | str] = {
    "catalogue.centre": ALL, "catalogue.part_types": ALL, "catalogue.slots": ALL, "catalogue.limits": ALL,
    "catalogue.ratings": ALL, "catalogue.notices": ALL, "catalogue.notices_done": ((UNIT, itemgetter(1)),),
    "catalogue.names": ((PERSON, _itself),),
    "units": _BY_UNIT, "fitted": ((PART, lambda row: row.part.part_id),),
    "lives.limits": ALL, "lives.test_rows": ((PART, itemgetter(0)),), "lives.stays": ((HOST, itemgetter(0)),),
    "lives.runs": ((WORN_UNIT, itemgetter(0)),), "lives.lines": ((WORN_UNIT, itemgetter(1)),),
    "lives.promises": _BY_UNIT, "lives.first_fitted": _KEY_IS_PART, "lives.forecasts": _KEY_IS_PART,
    "lives.judgements": _BY_PART,
    "promises": _BY_UNIT, "absences": _BY_UNIT, "returns": _BY_UNIT, "disinfections": _BY_UNIT, "holds": _BOTH,
    "tickets": _BY_UNIT, "put_off": _BY_UNIT, "outcomes": _BOTH, "calibrations": _BY_UNIT, "openings": _BY_UNIT,
    "tests": _BOTH, "fills": _BY_PART, "runs_of_fills": ((FILL, attrgetter("fill_id")), *_BY_UNIT),
    "gas.cylinders": _BY_PART, "gas.fills": _BY_PART, "gas.analyses": _BY_PART, "gas.gauges": _BY_PART,
    "gas.certificates": ALL, "gas.cleanings": _BY_PART, "gas.losses": _BY_PART, "gas.kept": _KEY_IS_PART,
    "checks.readers": ALL, "checks.reader_cells": ALL, "checks.settings": _BY_UNIT, "checks.pots": _BY_PART,
    "checks.releases": _BY_UNIT, "checks.papers": _BY_PERSON, "checks.last_dives": _BY_PERSON,
    "checks.stated": ((BOOKING, attrgetter("booking_id")),), "checks.altitudes": ((BOOKING, _itself),),
    "checks.accessories": ALL,
    "turn.open_cards": _BY_UNIT, "turn.finished": _KEY_IS_UNIT, "turn.cleanings": _BOTH,
    "turn.cleanings_of_sets": _BOTH, "turn.returns_of_sets": _KEY_IS_PART, "turn.floods": _KEY_IS_UNIT,
    "turn.full_tests": _KEY_IS_UNIT, "turn.last_runs": _KEY_IS_UNIT, "turn.last_dives": _KEY_IS_UNIT,
    "turn.last_dives_of_sets": _KEY_IS_PART, "turn.approved": ALL, "turn.firmware_changes": _KEY_IS_PART,
    "turn.looks": _BY_UNIT, "turn.service.tasks": ALL, "turn.service.needs": ALL, "turn.service.done": _FIRST_OF_KEY,
    "turn.service.waiting": _FIRST_OF_KEY, "turn.service.hand_backs": _KEY_IS_UNIT,
    "turn.service.assemblies": _KEY_IS_UNIT, "turn.service.tested": _FIRST_OF_KEY,
    "turn.service.not_counted": _FIRST_OF_KEY,
    "accepted": (*_BY_UNIT, (PERSON, attrgetter("person_id"))), "used": _BOTH,
}  # fmt: skip

MADE_ONCE = frozenset(("lives.key",))
"""What is no record: how a database writes times."""


def fields_of(records: Any, within: str = "") -> Iterator[tuple[str, Any]]:
    """Every field of what is read, by its place, with what was read."""
    for each in fields(records):
        name, value = f"{within}{each.name}", getattr(records, each.name)
        if is_dataclass(value) and name not in REACH:
            yield from fields_of(value, f"{name}.")
        else:
            yield name, value


def units_changed(before: FleetRecords, now: FleetRecords) -> frozenset[int] | None:
    """The keys of units of which anything that is read of them differs; None for all of them.

    What is read of a unit in the same order is the same; the place among other units' rows says nothing.
    """
    ways, found = _Ways(before, now), set[int]()
    for (name, was), (other, now_is) in zip(fields_of(before), fields_of(now), strict=True):
        if was is now_is or name in MADE_ONCE:
            continue
        leads = REACH.get(name, ALL)
        if name != other or isinstance(leads, str):
            if name != other or was != now_is:
                return None
            continue
        for key in _keys_changed(was, now_is, leads):
            for (by, _), value in zip(leads, key, strict=True):
                if value is not None:
                    found |= ways.units(by, value)
    return frozenset(found)


def _keys_changed(was: Any, now: Any, leads: tuple[Lead, ...]) -> Iterable[tuple[Any, ...]]:
    """What leads to units, of every row that differs."""
    gives = [give for _, give in leads]
    if isinstance(was, Mapping):
        differ = {key for key in was.keys() | now.keys() if key not in was or key not in now or was[key] != now[key]}
        return {tuple(give(key) for give in gives) for key in differ}
    if isinstance(was, Set):
        return {tuple(give(key) for give in gives) for key in was ^ now}
    first, end = _alike(was, now)
    old, new = (_grouped(rows[first : len(rows) - end], gives) for rows in (was, now))
    return {key for key in old.keys() | new.keys() if old.get(key) != new.get(key)}


def _alike(was: Sequence[Any], now: Sequence[Any]) -> tuple[int, int]:
    """How many rows at the start, and how many at the end, are the same."""
    most = min(len(was), len(now))
    first = next((at for at in range(most) if was[at] != now[at]), most)
    end = next((at for at in range(most - first) if was[-1 - at] != now[-1 - at]), most - first)
    return first, end


def _grouped(rows: Iterable[Any], gives: Iterable[Callable[[Any], Any]]) -> dict[tuple[Any, ...], list[Any]]:
    found: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for row in rows:
        found[tuple(give(row) for give in gives)].append(row)
    return found


class _Ways:
    """What leads from a row to units, by how either state of the records has it."""

    def __init__(self, before: FleetRecords, now: FleetRecords) -> None:
        self._both = before, now

    def units(self, by: str, value: Hashable) -> Set[int]:
        """The units to which it leads."""
        if by == UNIT:
            return {cast("int", value)}
        if by == HOST:
            return set[int]().union(*(self._units_of_part.get(part, ()) for part in self._held_by(value)))
        if by == WORN_UNIT:
            return {cast("int", value), *self._worn.get(value, ())}
        table: Mapping[Hashable, set[int]] = getattr(self, f"_units_of_{by}")
        return table.get(value, frozenset())

    @cached_property
    def _units_of_part(self) -> dict[Hashable, set[int]]:
        found: dict[Hashable, set[int]] = defaultdict(set)
        for records in self._both:
            sits = {fitting.part_id: fitting for fitting, _ in records.fitted}
            for part_id, fitting in sits.items():
                unit_id = fitting.unit_id if fitting.unit_id is not None else root_unit(fitting, sits)
                if unit_id is not None:
                    found[part_id].add(unit_id)
        return found

    @cached_property
    def _stays(self) -> list[StayRow]:
        return [stay for records in self._both for stay in records.lives.stays]

    @cached_property
    def _in_host(self) -> dict[Hashable, set[int]]:
        found: dict[Hashable, set[int]] = defaultdict(set)
        for part_id, _, host, *_ in self._stays:
            if host is not None:
                found[host].add(part_id)
        return found

    def _held_by(self, part: Hashable) -> set[Hashable]:
        """The part and every one that ever sat in it, itself or inside another."""
        held, to_look = {part}, [part]
        while to_look:
            inside = self._in_host.get(to_look.pop(), set()) - held
            held |= inside
            to_look += inside
        return held

    @cached_property
    def _worn(self) -> dict[Hashable, set[int]]:
        """The units in which what wore a unit's use sits now, by that unit."""
        found: dict[Hashable, set[int]] = defaultdict(set)
        for part_id, unit_id, *_ in self._stays:
            if unit_id is not None:
                for held in self._held_by(part_id):
                    found[unit_id] |= self._units_of_part.get(held, set())
        return found

    @cached_property
    def _units_of_person(self) -> dict[Hashable, set[int]]:
        """The units that a person has booked, dives, teaches on, released or calibrated, or decided about."""
        found: dict[Hashable, set[int]] = defaultdict(set)
        for records in self._both:
            for booked in records.promises:
                for person in (booked.diver_id, booked.renter_id, booked.instructor_id):
                    found[person].add(booked.unit_id)
            for release in records.checks.releases:
                found[release.signed_by_id].add(release.unit_id)
            for calibration in records.calibrations:
                found[calibration.person_id].add(calibration.unit_id)
            for accepted in records.accepted:
                found[accepted.person_id].add(accepted.unit_id)
        return found

    @cached_property
    def _units_of_booking(self) -> dict[Hashable, set[int]]:
        found: dict[Hashable, set[int]] = defaultdict(set)
        for records in self._both:
            for booked in records.promises:
                found[booked.booking_id].add(booked.unit_id)
        return found

    @cached_property
    def _units_of_fill(self) -> dict[Hashable, set[int]]:
        found: dict[Hashable, set[int]] = defaultdict(set)
        for records in self._both:
            for fill in records.fills:
                found[fill.fill_id] |= self._units_of_part.get(fill.part_id, set())
        return found
