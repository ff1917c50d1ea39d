"""What is recorded of units, put together for one day: what sits where, and what hangs on each unit."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Set
from copy import copy
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, TypeVar

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
    read_fitted,
    read_part_types,
    read_slots,
)
from fleetbench.records.places.tables import centre_timezone
from fleetbench.records.readiness.reads import FleetRecords, read_fleet
from fleetbench.records.units.reads import UnitRecord, read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.known import known_of
from fleetbench.workshop.core.workplace import Day, Workplace, day_in, day_of
from fleetbench.workshop.parts.conditions import ConditionBook, condition_book, with_tests
from fleetbench.workshop.parts.lives import LifeBook, book_of
from fleetbench.workshop.units.changed import units_changed

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

    def __init__(self, records: FleetRecords, day: Day, before: "Fleet | None" = None) -> None:
        """before: the fleet as it was known on the same day; what of it stands is taken over."""
        self.records = records
        self.catalogue = records.catalogue
        self.day = day
        self._lives: dict[int, Governing] = {}
        self.answers: dict[Hashable, Any] = {}
        """What else was calculated of these records on this day, by whoever looked first."""
        self.earlier: Mapping[Hashable, Any] = {}
        """The same of the records before the last change: used only where what it was calculated from is equal."""
        if before is not None and (before.day.today, before.day.zone) == (day.today, day.zone):
            self.earlier = dict(before.answers)
            changed = units_changed(before.records, records)
            if changed is not None:
                self.answers = {key: each for key, each in self.earlier.items() if _stands(key, changed)}

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
        for each in (self.book, self.conditions, self.promises, self.tests, self._seats):
            del each

    @cached_property
    def book(self) -> LifeBook:
        """Limits, tests and use, from which any life is calculated."""
        return book_of(self.records.lives, self.day)

    @cached_property
    def conditions(self) -> ConditionBook:
        """What the condition of any fitted part hangs on."""
        records, catalogue = self.records, self.catalogue
        book = condition_book(self.book, catalogue.part_types, records.outcomes, records.holds, catalogue.notices, {})
        return with_tests(book, records.fitted, catalogue.slots, records.tests, records.openings)

    @cached_property
    def promises(self) -> dict[int, list[BookedUnit]]:
        """Promises of each unit that is not back from them, by first day."""
        return by_unit(self.records.promises, lambda each: each.unit_id)

    @cached_property
    def tests(self) -> dict[int, list[BenchTestRecord]]:
        """The last bench tests of each unit."""
        return by_unit(self.records.tests, lambda each: each.unit_id)

    @cached_property
    def _seats(self) -> dict[int, tuple[Seat, ...]]:
        catalogue = self.catalogue
        return _seats(self.records.units, self.records.fitted, catalogue.slots, catalogue.part_types)

    def seats(self, unit_id: int) -> tuple[Seat, ...]:
        """Every slot of a unit in tree order, filled or empty."""
        return self._seats[unit_id]

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


PER_UNIT = frozenset(("answer", "standing", "row", "first stops"))
"""What is calculated of a unit from what is recorded of it and the day alone; the unit's key stands beside the word."""


def _stands(key: Hashable, changed: Set[int]) -> bool:
    return isinstance(key, tuple) and key[0] in PER_UNIT and key[1] not in changed


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
            yield Seat(depth, slot, None, None, host)
            return
        fitting, part = found
        yield Seat(depth, slot, fitting, part, host)
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
            found = Fleet(read_fleet(connection), day, known.last.get(name))
            found.lay_out()
            known.last[name] = found
            return found

        return known.of(name, put_together).at(day)


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


def seats_in(connection: Connection, unit: UnitRecord) -> tuple[Seat, ...]:
    """Every slot of one unit in tree order, filled or empty; three statements."""
    return _seats((unit,), read_fitted(connection, unit.unit_id), read_slots(connection), read_part_types(connection))[
        unit.unit_id
    ]


def _seats(
    units: Iterable[UnitRecord],
    fitted: Iterable[FittedRecord],
    slots: Mapping[int, SlotRecord],
    part_types: Mapping[int, PartTypeRecord],
) -> dict[int, tuple[Seat, ...]]:
    in_units: dict[tuple[int, int], tuple[FittingRecord, PartRecord]] = {}
    in_hosts: dict[tuple[int, int], tuple[FittingRecord, PartRecord]] = {}
    for fitting, part in fitted:
        if fitting.unit_id is not None:
            in_units[fitting.unit_id, fitting.slot_id] = fitting, part
        elif fitting.host_part_id is not None:
            in_hosts[fitting.host_part_id, fitting.slot_id] = fitting, part
    assemblies = frozenset(each.part_type_id for each in part_types.values() if each.assembly)
    plan = _Plan(slots.values(), in_units, in_hosts, assemblies)
    return {unit.unit_id: tuple(plan.of_unit(unit)) for unit in units}
