"""Everything that a notice touches: parts wherever they are, units now and before, and the hires in that time."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.hires.promises import HireState
from fleetbench.calc.notices.scope import Covered, Exposure, Marks, covers_part, covers_unit, doubt, exposure
from fleetbench.calc.parts.kinds import GONE
from fleetbench.records.canisters.reads import ContainerRecord, RunRecord, read_containers, read_runs_in
from fleetbench.records.hires.reads import BookedUnit, read_booked_units
from fleetbench.records.notices import reads
from fleetbench.records.parts.lives import ServiceRecord, read_services
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.reads import read_units
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.units.fleet import by_unit
from fleetbench.workshop.units.use import DEEPEST_NESTING

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
    """A hire or course that a named part was on, or will be on. state: out, back or to come.

    exposure: what its recorded runs say; dives: those with the part, by this diver where runs name one. A dive of the
    house, on no hire, has line 0 and `no booking`, and its own days.
    """

    line_id: int
    booking: str
    kind: str
    unit: str
    diver: str | None
    renter: str | None
    starts_on: date
    ends_on: date
    state: HireState
    exposure: Exposure = Exposure.MAY
    dives: int = 0

    @property
    def who(self) -> str:
        """Whom to tell."""
        return self.diver or self.renter or say("name not recorded")

    @property
    def exposed(self) -> str:
        """What the runs say, with the number of dives."""
        dives = [say_count("{count} dive", "{count} dives", self.dives)] if self.dives else []
        return strung(", ", (say(self.exposure), *dives))


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
    def exposed(self) -> tuple[TouchedHire, ...]:
        """Who dived or may have dived with something named: those who did first, the most dives first."""
        had = (hire for hire in self.hires if hire.exposure in (Exposure.DIVED, Exposure.MAY))
        return tuple(sorted(had, key=_by_dives))

    @property
    def told(self) -> tuple[str, ...]:
        """Each unit that carried something named, what until when, and who dived or may have dived it meanwhile."""
        return tuple(
            strung(": ", (unit.unit, strung("; ", (*unit.why, self._dived(unit.unit))))) for unit in self.units_before
        )

    def _dived(self, tag: str) -> str:
        lines = [exposed_words(hire) for hire in self.exposed if hire.unit == tag]
        return strung("; ", lines) or say("nobody is recorded to have dived it meanwhile")


def exposed_words(hire: TouchedHire) -> str:
    """'Zoë Orrel dived with it, 4 dives (B-03, 2026-03-01 to 2026-03-05)'."""
    return say(
        "{who} {exposed} ({unit}, {starts_on} to {ends_on})",
        who=hire.who,
        exposed=hire.exposed,
        unit=hire.unit,
        starts_on=hire.starts_on,
        ends_on=hire.ends_on,
    )


def _by_dives(hire: TouchedHire) -> tuple[bool, int]:
    return hire.exposure is not Exposure.DIVED, -hire.dives


@dataclass(frozen=True, slots=True)
class _Stay:
    """fills: those that are named, where not a part but absorbent was in the unit; None for a part."""

    unit_id: int
    start: datetime
    end: datetime
    why: str
    now: bool
    fills: frozenset[int] | None = None

    def holds(self, run: RunRecord) -> bool:
        """Whether a run may have been dived in this stay; an earliest beginning and a latest end count."""
        mine = self.fills is None or run.fill_id in self.fills
        return mine and run.started_at <= self.end and run.ends_at >= self.start


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
        self._names = read_names(connection)

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
        of_unit = by_unit(stays, _unit_of)
        return Touched(
            tuple(self._touched_part(each) for each in (*parts, *(p for p in self._parts if p.part_id in packed))),
            self._touched_units(of_unit),
            self._touched_hires(of_unit, {use.line_id for use in uses if use.line_id is not None}),
            tuple(
                TouchedContainer(c.container_id, lot=c.lot, part_type=c.part_type, left_kg=c.left_kg, place=c.place)
                for c in containers
            ),
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
        return {part_id: say("packed with absorbent lot {lots}", lots=lots[container]) for container, part_id in packed}

    def _named_units(self, scopes: tuple[Covered, ...]) -> Iterator[_Stay]:
        for unit in self.units.values():
            marks = Marks(serial=unit.serial, types=(unit.unit_type_code, unit.unit_type), kind="unit")
            named = [scope for scope in scopes if covers_unit(scope, marks)]
            for scope in named:
                said = f"{scope.covers} {unit.serial if scope.covers == 'serials' else scope.first}"
                why = say("the unit itself, {doubt}", doubt=doubt(scope, marks) or said)
                yield _Stay(unit.unit_id, start=datetime.min.replace(tzinfo=UTC), end=ALWAYS, why=why, now=True)

    def _of_parts(
        self, scopes: tuple[Covered, ...], parts: Iterable[reads.MarkedPartRecord], packed: dict[int, str]
    ) -> Iterator[_Stay]:
        for part in parts:
            lot = [say("lot {lot}", lot=part.lot)] if part.lot and part.serial else []
            named = strung(", ", (f"{part.part_type} {part.label}", *lot)) + _only_in_doubt(scopes, part_marks(part))
            for stay in self._spans(part.part_id):
                yield _Stay(
                    stay.unit_id, start=stay.start, end=stay.end, why=strung(" ", (named, stay.why)), now=stay.now
                )
        for part_id, why in packed.items():
            for stay in self._spans(part_id):
                if stay.now:
                    yield _Stay(
                        stay.unit_id,
                        start=stay.start,
                        end=stay.end,
                        why=strung(" ", (say("canister {why}", why=why), stay.why)),
                        now=True,
                    )

    def _of_fills(self, containers: Iterable[ContainerRecord], uses: Iterable[reads.FillUseRecord]) -> Iterator[_Stay]:
        lots = {each.container_id: each.lot for each in containers}
        fills = reads.read_fills_from(self._connection, tuple(lots)) if lots else {}
        for use in uses:
            why = say(
                "absorbent lot {lots}, last used {last_at:%Y-%m-%d}", lots=lots[use.container_id], last_at=use.last_at
            )
            yield _Stay(
                use.unit_id, start=use.first_at, end=use.last_at, why=why, now=False, fills=fills[use.container_id]
            )

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
                yield _Stay(
                    stay.unit_id, start=first, end=last, why=_in_words(stay.slot, None if now else last), now=now
                )
            elif stay.host_part_id is not None:
                for outer in self._spans(stay.host_part_id, first, last, depth - 1):
                    words = _in_words(stay.slot, None if outer.now else outer.end)
                    yield _Stay(outer.unit_id, start=outer.start, end=outer.end, why=words, now=outer.now)

    def _touched_part(self, part: reads.MarkedPartRecord) -> TouchedPart:
        seat = self.seat_of(part.part_id)
        return TouchedPart(
            part.part_id, part=part.label, part_type=part.part_type, lot=part.lot, state=part.state,
            unit_id=seat[0] if seat else None,
            unit=self.units[seat[0]].tag if seat else None, slot=seat[1] if seat else None, place=part.place,
        )  # fmt: skip

    def _touched_units(self, of_unit: Mapping[int, Sequence[_Stay]]) -> tuple[TouchedUnit, ...]:
        found = []
        for unit_id, listed in of_unit.items():
            unit, now = self.units[unit_id], any(stay.now for stay in listed)
            # What is in it now is what matters; where nothing is, what was in it.
            why = dict.fromkeys(stay.why for stay in listed if stay.now or not now)
            found.append(TouchedUnit(unit_id, unit=unit.tag, place=unit.place, now=now, why=tuple(why)))
        return tuple(sorted(found, key=lambda each: (not each.now, each.unit)))

    def _touched_hires(self, of_unit: Mapping[int, Sequence[_Stay]], by_fill: set[int]) -> tuple[TouchedHire, ...]:
        runs = read_runs_in(self._connection, of_unit)
        of_line: dict[int | None, list[RunRecord]] = defaultdict(list)
        for run in runs:
            of_line[run.line_id].append(run)
        met = [
            line
            for line in read_booked_units(self._connection)
            if line.line_id in by_fill or any(_meets(line, stay, self.today) for stay in of_unit.get(line.unit_id, ()))
        ]
        found = [
            each for line in met for each in self._exposed(line, of_unit.get(line.unit_id, ()), of_line[line.line_id])
        ]
        found += self._of_the_house(of_unit, of_line[None])
        return tuple(sorted(found, key=lambda each: (_STATES.index(each.state), each.starts_on, each.line_id)))

    def _exposed(self, line: BookedUnit, stays: Sequence[_Stay], runs: list[RunRecord]) -> Iterator[TouchedHire]:
        """One hire, once for each diver whose runs with the part are recorded, else for whom it was booked."""
        state, row = _state(line), self._hire(line)
        if state is HireState.TO_COME:
            yield replace(row, exposure=Exposure.AHEAD)
            return
        dived = _dives_by([run for run in runs if _in_any(stays, run)], line.diver_id)
        others = sum(run.dives for run in runs if not _in_any(stays, run))
        stated = None if line.dives is None else max(0, line.dives - sum(dived.values()))
        rest = exposure(with_it=0, others=others, stated=stated, back=state is HireState.BACK)
        for diver, dives in dived.items():
            name = self._names.get(diver or 0) or row.diver
            yield replace(row, diver=name, exposure=Exposure.DIVED, dives=dives)
        if not dived or (rest is Exposure.MAY and line.diver_id not in (None, *dived)):
            yield replace(row, exposure=rest)

    def _hire(self, line: BookedUnit) -> TouchedHire:
        return TouchedHire(
            line.line_id, booking=line.code, kind=line.kind, unit=self.units[line.unit_id].tag,
            diver=self._names.get(line.diver_id or 0), renter=self._names.get(line.renter_id or 0),
            starts_on=line.starts_on, ends_on=line.ends_on,
            state=_state(line),
        )  # fmt: skip

    def _of_the_house(self, of_unit: Mapping[int, Sequence[_Stay]], runs: list[RunRecord]) -> Iterator[TouchedHire]:
        """Dives with the part that no hire shows, one line for each unit and diver."""
        by_diver: dict[tuple[int, int | None], list[RunRecord]] = defaultdict(list)
        for run in runs:
            if _in_any(of_unit[run.unit_id], run):
                by_diver[run.unit_id, run.diver_id].append(run)
        for (unit_id, diver), mine in by_diver.items():
            first, last = (at.date() for at in (mine[0].started_at, max(run.ends_at for run in mine)))
            tag, name = self.units[unit_id].tag, self._names.get(diver or 0)
            yield TouchedHire(0, booking=say("no booking"), kind="dive", unit=tag, diver=name, renter=None,
                starts_on=first, ends_on=last, state=HireState.BACK,
                              exposure=Exposure.DIVED, dives=sum(run.dives for run in mine))  # fmt: skip


def _unit_of(stay: _Stay) -> int:
    return stay.unit_id


def _in_any(stays: Iterable[_Stay], run: RunRecord) -> bool:
    return any(stay.holds(run) for stay in stays)


def _dives_by(runs: Iterable[RunRecord], usual: int | None) -> dict[int | None, int]:
    """How many dives each diver made; a run that names none is the hire's own diver's."""
    found: dict[int | None, int] = defaultdict(int)
    for run in runs:
        found[run.diver_id if run.diver_id is not None else usual] += run.dives
    return dict(found)


_STATES = (HireState.OUT, HireState.TO_COME, HireState.BACK)


def _state(line: BookedUnit) -> HireState:
    if line.out_at is None:
        return HireState.TO_COME
    return HireState.OUT if line.received_at is None else HireState.BACK


def _meets(line: BookedUnit, stay: _Stay, today: date) -> bool:
    """Whether the unit was out with the part in it; a hire to come is met by what is in the unit now."""
    if line.out_at is None:
        return stay.now and line.ends_on >= today
    return line.out_at <= stay.end and (line.received_at or ALWAYS) >= stay.start


def part_marks(part: reads.MarkedPartRecord) -> Marks:
    """What a notice can name a part by."""
    return Marks(part.serial, lot=part.lot, firmware=part.firmware, types=(part.code, part.part_type), kind=part.kind)


def _only_in_doubt(scopes: tuple[Covered, ...], marks: Marks) -> str:
    """Why a part counts that no scope names; empty where one does."""
    covering = [doubt(scope, marks) for scope in scopes if covers_part(scope, marks)]
    return f", {covering[0]}," if all(covering) else ""


def _key(container: ContainerRecord) -> int:
    return container.container_id


def _container_marks(container: ContainerRecord) -> Marks:
    return Marks(lot=container.lot, types=(container.code, container.part_type))


def _in_words(slot: str, until: datetime | None) -> str:
    """Where a part sat, and until when where it sits there no longer."""
    return say("in {slot}", slot=slot) if until is None else say("in {slot} until {day:%Y-%m-%d}", slot=slot, day=until)
