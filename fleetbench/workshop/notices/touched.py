"""Everything that a notice touches: parts wherever they are, units now and before, and the hires in that time."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from fleetbench.calc.notices.scope import Covered, Marks, covers_part, covers_unit, doubt
from fleetbench.records.canisters.reads import ContainerRecord, read_containers
from fleetbench.records.hires.reads import BookedUnit, read_booked_units
from fleetbench.records.notices import reads
from fleetbench.records.parts.lives import ServiceRecord, read_services
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.reads import read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.units.use import DEEPEST_NESTING

GONE = ("scrapped", "sent back")
"""States in which a part is no longer in the house."""

ALWAYS = datetime(9999, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class TouchedPart:
    """A part that a notice names; unit and slot where it sits now, else the place where it lies."""

    part_id: int
    part: str
    part_type: str
    lot: str | None
    state: str
    unit_id: int | None
    unit: str | None
    slot: str | None
    place: str | None


@dataclass(frozen=True, slots=True)
class TouchedUnit:
    """A unit that a notice touches.

    now: it is named itself, or holds a named part now. why: what in it is named, a sentence each.
    """

    unit_id: int
    unit: str
    place: str | None
    now: bool
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TouchedHire:
    """A hire or course that a named part was on, or will be on. state: `out now`, `back` or `to come`."""

    line_id: int
    booking: str
    kind: str
    unit: str
    diver: str | None
    renter: str | None
    starts_on: date
    ends_on: date
    state: str


@dataclass(frozen=True, slots=True)
class TouchedContainer:
    """A container of absorbent that a notice names."""

    container_id: int
    lot: str
    part_type: str
    left_kg: float
    place: str | None


@dataclass(frozen=True, slots=True)
class Touched:
    """All of it; units that hold something now come first, hires that are out now come first."""

    parts: tuple[TouchedPart, ...]
    units: tuple[TouchedUnit, ...]
    hires: tuple[TouchedHire, ...]
    containers: tuple[TouchedContainer, ...]

    @property
    def units_now(self) -> tuple[TouchedUnit, ...]:
        """Units that are named or carry something named now: a notice may stop these, and no others."""
        return tuple(unit for unit in self.units if unit.now)

    @property
    def units_before(self) -> tuple[TouchedUnit, ...]:
        """Units that carried something named and no longer do: these are told."""
        return tuple(unit for unit in self.units if not unit.now)

    @property
    def parts_here(self) -> tuple[TouchedPart, ...]:
        """Named parts that are still in the house."""
        return tuple(part for part in self.parts if part.state not in GONE)

    @property
    def told(self) -> tuple[str, ...]:
        """Each unit that carried something named, what until when, and who dived it meanwhile."""
        return tuple(f"{unit.unit}: {'; '.join(unit.why)}; {self._dived(unit.unit)}" for unit in self.units_before)

    def _dived(self, tag: str) -> str:
        lines = [
            f"{hire.diver or hire.renter or 'name not recorded'} ({hire.starts_on} to {hire.ends_on})"
            for hire in self.hires
            if hire.unit == tag and hire.state != "to come"
        ]
        return f"dived by {', '.join(lines)}" if lines else "no hire with it is recorded"


@dataclass(frozen=True, slots=True)
class _Stay:
    unit_id: int
    start: datetime
    end: datetime
    why: str
    now: bool


class NoticeBook:
    """Parts, units, stays and hires, read once, asked for any scope; in a fixed number of statements."""

    def __init__(self, connection: Connection, today: date) -> None:
        self._connection = connection
        self.today = today
        self.units = {each.unit_id: each for each in read_units(connection)}
        self._parts = reads.read_marked_parts(connection)
        self._stays: dict[int, list[ServiceRecord]] = defaultdict(list)
        for stay in read_services(connection):
            self._stays[stay.part_id].append(stay)
        self._containers = sorted(read_containers(connection, empty=True), key=_key)

    def in_service(self, unit_id: int) -> bool:
        """Whether a unit is not retired."""
        retired = self.units[unit_id].retired_on
        return retired is None or retired > self.today

    def touched(self, scopes: Iterable[Covered]) -> Touched:
        """What these scopes touch, now and before."""
        asked = tuple(scopes)
        parts = [each for each in self._parts if any(covers_part(scope, part_marks(each)) for scope in asked)]
        containers = [each for each in self._containers if any(covers_part(s, _container_marks(each)) for s in asked)]
        keys = tuple(each.container_id for each in containers)
        uses = reads.read_fill_uses(self._connection, keys) if keys else ()
        packed = self._packed(containers, reads.read_packed_now(self._connection, keys)) if keys else {}
        stays = [*self._named_units(asked), *self._of_parts(asked, parts, packed), *self._of_fills(containers, uses)]
        return Touched(
            tuple(self._touched_part(each) for each in (*parts, *(p for p in self._parts if p.part_id in packed))),
            self._touched_units(stays),
            self._touched_hires(stays, {use.line_id for use in uses if use.line_id is not None}),
            tuple(TouchedContainer(c.container_id, c.lot, c.part_type, c.left_kg, c.place) for c in containers),
        )

    def units_now(self, scopes: Iterable[Covered]) -> dict[int, tuple[str, ...]]:
        """Units in service that are named or hold a named part now, with what in them is named."""
        touched = self.touched(scopes)
        return {each.unit_id: each.why for each in touched.units if each.now and self.in_service(each.unit_id)}

    def seat_of(self, part_id: int) -> tuple[int, str] | None:
        """Unit and slot in which a part sits now, itself or by way of an assembly."""
        found = next((stay for stay in self._spans(part_id) if stay.now), None)
        slot = next((stay.slot for stay in self._stays[part_id] if stay.removed_at is None), "")
        return (found.unit_id, slot) if found else None

    def _packed(self, containers: Iterable[ContainerRecord], packed: Iterable[tuple[int, int]]) -> dict[int, str]:
        lots = {each.container_id: each.lot for each in containers}
        return {part_id: f"packed with absorbent lot {lots[container]}" for container, part_id in packed}

    def _named_units(self, scopes: tuple[Covered, ...]) -> Iterator[_Stay]:
        for unit in self.units.values():
            marks = Marks(serial=unit.serial, types=(unit.unit_type_code, unit.unit_type), kind="unit")
            named = [scope for scope in scopes if covers_unit(scope, marks)]
            for scope in named:
                said = f"{scope.covers} {unit.serial if scope.covers == 'serials' else scope.first}"
                why = f"the unit itself, {doubt(scope, marks) or said}"
                yield _Stay(unit.unit_id, datetime.min.replace(tzinfo=UTC), ALWAYS, why, True)

    def _of_parts(
        self, scopes: tuple[Covered, ...], parts: Iterable[reads.MarkedPartRecord], packed: dict[int, str]
    ) -> Iterator[_Stay]:
        for part in parts:
            lot = f", lot {part.lot}" if part.lot and part.serial else ""
            lot += _only_in_doubt(scopes, part_marks(part))
            for stay in self._spans(part.part_id):
                yield _Stay(stay.unit_id, stay.start, stay.end, f"{part.part_type} {part.label}{lot}{stay.why}",
                            stay.now)  # fmt: skip
        for part_id, why in packed.items():
            for stay in self._spans(part_id):
                if stay.now:
                    yield _Stay(stay.unit_id, stay.start, stay.end, f"canister {why}{stay.why}", True)

    def _of_fills(self, containers: Iterable[ContainerRecord], uses: Iterable[reads.FillUseRecord]) -> Iterator[_Stay]:
        lots = {each.container_id: each.lot for each in containers}
        for use in uses:
            why = f"absorbent lot {lots[use.container_id]}, last used {use.last_at:%Y-%m-%d}"
            yield _Stay(use.unit_id, use.first_at, use.last_at, why, False)

    def _spans(
        self, part_id: int, start: datetime | None = None, end: datetime = ALWAYS, depth: int = DEEPEST_NESTING
    ) -> Iterator[_Stay]:
        """Every stay of a part in a unit, itself or inside an assembly, within a span of time."""
        for stay in self._stays.get(part_id, ()) if depth else ():
            first = stay.fitted_at if start is None else max(start, stay.fitted_at)
            last = min(end, stay.removed_at or ALWAYS)
            if last < first:
                continue
            if stay.unit_id is not None:
                now = last == ALWAYS
                until = "" if now else f" until {last:%Y-%m-%d}"
                yield _Stay(stay.unit_id, first, last, f" in {stay.slot}{until}", now)
            elif stay.host_part_id is not None:
                for outer in self._spans(stay.host_part_id, first, last, depth - 1):
                    until = "" if outer.now else f" until {outer.end:%Y-%m-%d}"
                    yield _Stay(outer.unit_id, outer.start, outer.end, f" in {stay.slot}{until}", outer.now)

    def _touched_part(self, part: reads.MarkedPartRecord) -> TouchedPart:
        seat = self.seat_of(part.part_id)
        return TouchedPart(
            part.part_id, part.label, part.part_type, part.lot, part.state, seat[0] if seat else None,
            self.units[seat[0]].tag if seat else None, seat[1] if seat else None, part.place,
        )  # fmt: skip

    def _touched_units(self, stays: Iterable[_Stay]) -> tuple[TouchedUnit, ...]:
        of_unit: dict[int, list[_Stay]] = defaultdict(list)
        for stay in stays:
            of_unit[stay.unit_id].append(stay)
        found = []
        for unit_id, listed in of_unit.items():
            unit, now = self.units[unit_id], any(stay.now for stay in listed)
            # What is in it now is what matters; where nothing is, what was in it.
            why = dict.fromkeys(stay.why for stay in listed if stay.now or not now)
            found.append(TouchedUnit(unit_id, unit.tag, unit.place, now, tuple(why)))
        return tuple(sorted(found, key=lambda each: (not each.now, each.unit)))

    def _touched_hires(self, stays: list[_Stay], by_fill: set[int]) -> tuple[TouchedHire, ...]:
        names = read_names(self._connection)
        of_unit: dict[int, list[_Stay]] = defaultdict(list)
        for stay in stays:
            of_unit[stay.unit_id].append(stay)
        found = [
            TouchedHire(
                line.line_id, line.code, line.kind, self.units[line.unit_id].tag,
                names.get(line.diver_id or 0), names.get(line.renter_id or 0), line.starts_on, line.ends_on,
                _state(line),
            )
            for line in read_booked_units(self._connection)
            if line.line_id in by_fill or any(_meets(line, stay, self.today) for stay in of_unit.get(line.unit_id, ()))
        ]  # fmt: skip
        return tuple(sorted(found, key=lambda each: (_STATES.index(each.state), each.starts_on, each.line_id)))


_STATES = ("out now", "to come", "back")


def _state(line: BookedUnit) -> str:
    if line.out_at is None:
        return "to come"
    return "out now" if line.received_at is None else "back"


def _meets(line: BookedUnit, stay: _Stay, today: date) -> bool:
    """Whether the unit was out with the part in it; a hire to come is met by what is in the unit now."""
    if line.out_at is None:
        return stay.now and line.ends_on >= today
    return line.out_at <= stay.end and (line.received_at or ALWAYS) >= stay.start


def part_marks(part: reads.MarkedPartRecord) -> Marks:
    """What a notice can name a part by."""
    return Marks(part.serial, part.lot, part.firmware, (part.code, part.part_type), part.kind)


def _only_in_doubt(scopes: tuple[Covered, ...], marks: Marks) -> str:
    """Why a part counts that no scope names; empty where one does."""
    covering = [doubt(scope, marks) for scope in scopes if covers_part(scope, marks)]
    return f", {covering[0]}," if all(covering) else ""


def _key(container: ContainerRecord) -> int:
    return container.container_id


def _container_marks(container: ContainerRecord) -> Marks:
    return Marks(lot=container.lot, types=(container.code, container.part_type))
