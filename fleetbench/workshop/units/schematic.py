"""The breathing loop and gas side of a unit, laid out from its type's slots, each slot with its state.

The loop runs one way: mouthpiece, exhale side, canister, head, inhale side, and back. What has no place on it stands
beside; a slot of a kind never heard of is drawn all the same.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

from fleetbench.records.core.errors import NotFound
from fleetbench.records.units.reads import UnitRecord
from fleetbench.workshop.bench.valves import TEST_OF, ValveBench, ValveRow, tests_of
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.list import FittedPart, LifeWord, fitted_part
from fleetbench.workshop.readiness.ready import Readiness
from fleetbench.workshop.units.fleet import Fleet, one_unit
from fleetbench.workshop.units.list import CellLine, FillLine, cell_lines, fill_line


class Gas(IntEnum):
    """Which gas side a slot belongs to, in the order in which they are drawn."""

    OXYGEN = 0
    DILUENT = 1
    DRIVE = 2
    BAILOUT = 3


@dataclass(frozen=True, slots=True)
class Station:
    """One slot in its place: what sits there, its state in a word, and what hovering over it tells.

    inside: slots of an assembly drawn within its box, such as the cells of a head.
    """

    slot_id: int
    slot: str
    slot_kind: str
    part_id: int | None
    part: str | None
    state: str
    words: str
    inside: tuple["Station", ...] = ()

    @property
    def shown(self) -> str:
        """The word of the worst state in the box, with whose it is where it is not the slot's own."""
        worst = max((self, *self.inside), key=lambda each: GRAVITY.get(each.state, _HEAVY))
        return self.state if worst is self else f"{worst.slot}: {worst.state}"

    @property
    def worst(self) -> str:
        """The worst state in the box."""
        return max((self.state, *(each.state for each in self.inside)), key=lambda word: GRAVITY.get(word, _HEAVY))


@dataclass(frozen=True, slots=True)
class Feed:
    """One gas side from its cylinder on; joins: number of the loop's station that it flows into, None for none."""

    gas: Gas
    stations: tuple[Station, ...]
    joins: int | None


@dataclass(frozen=True, slots=True)
class Schematic:
    """A unit's loop from the mouthpiece once round, its gas sides, and what stands beside them."""

    unit: str
    loop: tuple[Station, ...]
    feeds: tuple[Feed, ...]
    beside: tuple[Station, ...]

    def stations(self) -> Iterator[Station]:
        """Every station, those inside a box after the box."""
        for each in (*self.loop, *(each for feed in self.feeds for each in feed.stations), *self.beside):
            yield each
            yield from each.inside


GRAVITY = {
    "good": 0, "fresh": 0, "pass": 0, "no limit": 1, "due soon": 2, "watch": 2, "empty": 3, "unknown": 4,
    "not tested": 5, "not calibrated": 5, "undecided": 5, "repeat": 5, "stale": 6, "past": 6, "failed": 6, "reject": 6,
}  # fmt: skip
"""How heavily a state weighs, so that the worst of several is shown."""

_HEAVY = 4
NO_LIMIT = "no limit"
MOUTH_ORDER = ("mouthpiece", "mouthpiece valve", "bailout valve")
LOOP_KINDS = frozenset((
    *MOUTH_ORDER, "one-way valve", "hose", "counterlung", "canister", "head", "loop set", "relief valve", "water trap",
    "carbon dioxide sensor", "canister temperature probe",
))  # fmt: skip
_FEED_RANK = {"cylinder": 0, "shut-off": 1, "first stage": 2, "gauge": 3, "hose": 4}
_HEAD, _CANISTER, _COUNTERLUNG = "head", "canister", "counterlung"


def unit_schematic(shop: Shop, tag: str) -> Schematic:
    """The schematic of one unit as recorded now; NotFound for an unknown tag."""
    fleet = one_unit(shop, tag)
    unit = next(iter(fleet.records.units), None)
    if unit is None:
        raise NotFound(f"unit {tag}: no unit has this tag; check the tag or look it up with find")
    return schematic_of(fleet, Readiness(fleet), unit)


def schematic_of(fleet: Fleet, readiness: Readiness, unit: UnitRecord) -> Schematic:
    """The schematic of a unit whose records are at hand."""
    bench = ValveBench(fleet, readiness)
    tests = [each for each in fleet.records.tests if each.unit_id == unit.unit_id]
    cells = {each.position: each for each in cell_lines(fleet, readiness, unit.unit_id)}
    fill = fill_line(fleet, readiness, unit.unit_id)
    placed = []
    for seat in fleet.seats(unit.unit_id):
        part = fitted_part(fleet, seat, unit.unit_id)
        valve = bench.row(unit, seat, tuple(tests_of(seat, tests))) if seat.slot.kind in TEST_OF else None
        cell = cells.get(seat.slot.name) if seat.slot.kind == "cell" else None
        placed.append((part, _station(part, valve, cell, fill)))
    return arranged(unit.tag, placed)


def arranged(unit: str, placed: Sequence[tuple[FittedPart, Station]]) -> Schematic:
    """Slots in tree order, each put in its place; every slot is drawn exactly once."""
    boxes = list(_boxes(placed))
    on_loop = [each for each in boxes if _is_on_loop(each[0])]
    loop = [station for _part, _key, station in sorted(_along(on_loop), key=lambda each: each[1])]
    others = [each for each in boxes if not _is_on_loop(each[0])]
    feeds = tuple(_feeds([each for each in others if _gas(each[0]) is not None], loop))
    beside = tuple(station for part, station, _place in others if _gas(part) is None)
    return Schematic(unit, tuple(loop), feeds, beside)


Box = tuple[FittedPart, Station, tuple[int, int]]
"""A slot drawn in a box of its own, with its place: that of the assembly that holds it, then its own."""


def _boxes(placed: Sequence[tuple[FittedPart, Station]]) -> Iterator[Box]:
    """Slots drawn in boxes of their own; cells go inside their head, a loop set gives way to what is in it."""
    number = 0
    while number < len(placed):
        part, station = placed[number]
        end = number + 1
        while end < len(placed) and placed[end][0].depth > part.depth:
            end += 1
        inner = placed[number + 1 : end]
        if part.slot_kind == "loop set" and inner:
            for each, own in inner:
                yield each, own, (part.flow_place or 0, each.flow_place or 0)
        else:
            yield part, replace(station, inside=tuple(own for _part, own in inner)), (part.flow_place or 0, 0)
        number = end


def _along(boxes: Sequence[Box]) -> Iterator[tuple[FittedPart, tuple[int, int, int, int, int], Station]]:
    """Each box with where it stands along the loop: mouth, exhale side, the middle by its place, inhale side."""
    for number, (part, station, place) in enumerate(boxes):
        yield part, (_stretch(part), _nearness(part), *place, number), station


def _stretch(part: FittedPart) -> int:
    name = part.slot.casefold()
    if part.slot_kind in MOUTH_ORDER:
        return 0
    if "exhale" in name or "exhalation" in name:
        return 1
    return 3 if "inhale" in name or "inhalation" in name else 2


def _nearness(part: FittedPart) -> int:
    """Order within a stretch by how near the mouthpiece a kind sits; none in the middle, where the place tells."""
    stretch, near = _stretch(part), ("one-way valve", "hose", "counterlung")
    if stretch == 0:
        return MOUTH_ORDER.index(part.slot_kind)
    rank = near.index(part.slot_kind) if part.slot_kind in near else len(near)
    return {1: rank, 3: -rank}.get(stretch, 0)


def _is_on_loop(part: FittedPart) -> bool:
    return part.flow_place is not None or (part.slot_kind in LOOP_KINDS and _gas_word(part) is None)


def _gas(part: FittedPart) -> Gas | None:
    """Which gas side a slot off the loop belongs to; None for neither."""
    word = _gas_word(part)
    if word is not None:
        return word
    if part.slot_kind in ("solenoid", "injector"):
        return Gas.OXYGEN
    if part.slot_kind in ("addition valve", "inflator") or "manual addition" in part.slot_kind:
        return Gas.OXYGEN if part.oxygen_side else Gas.DILUENT
    return Gas.OXYGEN if part.oxygen_side else None


def _gas_word(part: FittedPart) -> Gas | None:
    said = f"{part.slot_kind} {part.slot}".casefold()
    if "bailout" in said and part.slot_kind != "bailout valve":
        return Gas.BAILOUT
    for word, gas in (("drive gas", Gas.DRIVE), ("diluent", Gas.DILUENT)):
        if word in said:
            return gas
    return Gas.OXYGEN if "oxygen" in part.slot_kind else None


def _feeds(boxes: Sequence[Box], loop: Sequence[Station]) -> Iterator[Feed]:
    for gas in Gas:
        mine = [(part, station) for part, station, _place in boxes if _gas(part) is gas]
        if mine:
            ordered = sorted(enumerate(mine), key=lambda each: (_feed_rank(each[1][0]), each[0]))
            yield Feed(gas, tuple(station for _number, (_part, station) in ordered), _joins(gas, loop))


def _feed_rank(part: FittedPart) -> int:
    return next((rank for word, rank in _FEED_RANK.items() if word in part.slot_kind), 5)


def _joins(gas: Gas, loop: Sequence[Station]) -> int | None:
    """Oxygen flows in at the head, diluent at the counterlung, each at the middle of a loop without one."""
    if gas is Gas.BAILOUT or not loop:
        return None
    wanted = (_HEAD, _CANISTER) if gas is Gas.OXYGEN else (_COUNTERLUNG, _CANISTER, _HEAD)
    for kind in wanted:
        for number, station in enumerate(loop):
            if station.slot_kind == kind:
                return number
    return len(loop) // 2


def _station(part: FittedPart, valve: ValveRow | None, cell: CellLine | None, fill: FillLine | None) -> Station:
    states, words = [NO_LIMIT if part.state is LifeWord.NO_LIMIT else str(part.state)], [_life_words(part)]
    if part.part_id is not None and valve is not None:
        states.append(valve.test_state)
        words.append(_test_words(valve))
    if part.part_id is not None and part.slot_kind == "cell":
        states.append(cell.verdict or "not calibrated" if cell is not None else "not calibrated")
        words.append(_cell_words(cell))
    if part.part_id is not None and part.slot_kind == "canister":
        states += ["past"] if fill is not None and fill.minutes_left is not None and fill.minutes_left <= 0 else []
        words.append(_fill_words(fill))
    told = [word for word in states if word != NO_LIMIT] or states
    state = max(told, key=lambda word: GRAVITY.get(word, _HEAVY))
    return Station(part.slot_id, part.slot, part.slot_kind, part.part_id, part.part, state, ". ".join(words))


def _life_words(part: FittedPart) -> str:
    if part.part_id is None:
        return "Empty"
    end = "" if part.last_good_day is None else f", last good day {part.last_good_day.isoformat()}"
    return f"{part.part_type or 'part'} {part.part}. Life: {part.state}{end}"


def _test_words(valve: ValveRow) -> str:
    last = valve.last_test
    if last is None:
        return "Last test: none"
    held = "" if last.held is None else ", held" if last.held else ", did not hold"
    value = "" if last.value is None else f", {last.value:g} {last.unit or ''}".rstrip()
    good = "" if valve.test_last_good_day is None else f", good until {valve.test_last_good_day.isoformat()}"
    return f"Last test {last.at:%Y-%m-%d} UTC: {last.kind} {last.result}{held}{value}; {valve.test_state}{good}"


def _cell_words(cell: CellLine | None) -> str:
    if cell is None or cell.calibrated_at is None:
        return "Last calibration: none since it was fitted"
    linearity = "" if cell.linearity is None else f", linearity {cell.linearity:.1f} %"
    return f"Last calibration {cell.calibrated_at:%Y-%m-%d} UTC: {cell.verdict}{linearity}"


def _fill_words(fill: FillLine | None) -> str:
    if fill is None:
        return "No fill is packed"
    if fill.minutes_left is None:
        return f"Fill packed {fill.packed_at:%Y-%m-%d} UTC, {fill.reason}"
    return f"Fill packed {fill.packed_at:%Y-%m-%d} UTC, {fill.minutes_left:.0f} loop minutes left for the next dive"
