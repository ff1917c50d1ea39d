"""Which units a change of the records reaches, found by comparing all that is read of the fleet before and after.

Every field of what is read stands in REACH with what leads from a row of it to units. A field that stands there with
ALL, or not at all, reaches every unit: so does whatever is not known.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import fields, is_dataclass
from functools import cached_property
from operator import attrgetter, itemgetter
from typing import Any, cast

from fleetbench.records.parts.reads import StayRow
from fleetbench.records.readiness.reads import FleetRecords
from fleetbench.workshop.parts.conditions import root_unit

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
