"""The breathing loop and gas side of a unit, laid out from its type's slots, each slot with its state.

The loop runs one way: mouthpiece, exhale side, canister, head, inhale side, and back. What has no place on it stands
beside; a slot of a kind never heard of is drawn all the same.

Where each box and pipe of a schematic lies: plain numbers, y downwards, for screen and paper alike.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import pairwise

from fleetbench.calc.bench.leak_places import LeakPlace
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import in_unit, measured_in
from fleetbench.calc.parts.condition import TEST_OF, Condition
from fleetbench.calc.parts.kinds import LOOP_KINDS, MOUTH_KINDS
from fleetbench.records.core.errors import NotFound
from fleetbench.records.units.reads import UnitRecord
from fleetbench.workshop.bench.valves import ValveBench, ValveRow, leak_places, tests_of
from fleetbench.workshop.canisters.list import FillState
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.list import FittedPart, LifeWord, fitted_part
from fleetbench.workshop.readiness.ready import Readiness
from fleetbench.workshop.turn_rounds.handsets import batteries_of
from fleetbench.workshop.units.fleet import Fleet, one_unit
from fleetbench.workshop.units.list import CellLine, FillLine, cell_lines, fill_line


class DrawnSide(IntEnum):
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
        return self.state if worst is self else strung(": ", (worst.slot, worst.state))

    @property
    def worst(self) -> str:
        """The worst state in the box."""
        return max((self.state, *(each.state for each in self.inside)), key=lambda word: GRAVITY.get(word, _HEAVY))


@dataclass(frozen=True, slots=True)
class Feed:
    """One gas side from its cylinder on; joins: number of the loop's station that it flows into, None for none."""

    gas: DrawnSide
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
    "packed": 0, FillState.OUT: 4, "not read": 5,
    "not tested": 5, "not calibrated": 5, "undecided": 5, "repeat": 5, "stale": 6, "past": 6, "failed": 7, "reject": 7,
}  # fmt: skip
"""How heavily a state weighs, so that the worst of several is shown."""

_HEAVY = 4
NO_LIMIT = say("no limit")
_FEED_RANK = {"cylinder": 0, "shut-off": 1, "first stage": 2, "gauge": 3, "hose": 4}
_HEAD, _CANISTER, _COUNTERLUNG = "head", "canister", "counterlung"


def unit_schematic(workplace: Workplace, tag: str) -> Schematic:
    """The schematic of one unit as recorded now; NotFound for an unknown tag."""
    fleet = one_unit(workplace, tag)
    unit = next(iter(fleet.records.units), None)
    if unit is None:
        raise NotFound(say("unit {tag}: no unit has this tag; check the tag or look it up with find", tag=tag))
    return with_leaks(schematic_of(fleet, Readiness(fleet), unit), leak_places(workplace, tag))


def with_leaks(drawn: Schematic, places: Sequence[LeakPlace]) -> Schematic:
    """The drawing whose stations tell where the loop leaked."""
    told = {each.place.casefold(): each.words for each in places}

    def marked(station: Station) -> Station:
        said = told.get(station.slot.casefold())
        words = say("{station}. Loop {said}", station=station.words, said=said) if said else station.words
        return replace(station, words=words, inside=tuple(marked(each) for each in station.inside))

    return replace(drawn, loop=tuple(marked(each) for each in drawn.loop))


def schematic_of(fleet: Fleet, readiness: Readiness, unit: UnitRecord) -> Schematic:
    """The schematic of a unit whose records are at hand."""
    bench = ValveBench(fleet, readiness)
    tests = fleet.tests.get(unit.unit_id, ())
    cells = {each.position: each for each in cell_lines(fleet, readiness, unit.unit_id)}
    fill = fill_line(fleet, readiness, unit.unit_id)
    out = readiness.is_out(unit.unit_id) is not None
    unread = {line.slot for line in batteries_of(fleet, unit.unit_id, unit.unit_type_id) if line.read_at is None}
    placed = []
    for seat in fleet.seats(unit.unit_id):
        part = fitted_part(fleet, seat, unit.unit_id)
        valve = bench.row(unit, seat, tuple(tests_of(seat, tests))) if seat.slot.kind in TEST_OF else None
        cell = cells.get(seat.slot.name) if seat.slot.kind == "cell" else None
        placed.append((part, _station(part, valve, cell, fill=fill, out=out, unread=part.slot in unread)))
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


Placed = tuple[FittedPart, Station, tuple[int, int]]
"""A slot drawn in a box of its own, with its place: that of the assembly that holds it, then its own."""


def _boxes(placed: Sequence[tuple[FittedPart, Station]]) -> Iterator[Placed]:
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


def _along(boxes: Sequence[Placed]) -> Iterator[tuple[FittedPart, tuple[int, int, int, int, int], Station]]:
    """Each box with where it stands along the loop: mouth, exhale side, the middle by its place, inhale side."""
    for number, (part, station, place) in enumerate(boxes):
        yield part, (_stretch(part), _nearness(part), *place, number), station


def _stretch(part: FittedPart) -> int:
    name = part.slot.casefold()
    if part.slot_kind in MOUTH_KINDS:
        return 0
    if "exhale" in name or "exhalation" in name:
        return 1
    return 3 if "inhale" in name or "inhalation" in name else 2


def _nearness(part: FittedPart) -> int:
    """Order within a stretch by how near the mouthpiece a kind sits; none in the middle, where the place tells."""
    stretch, near = _stretch(part), ("one-way valve", "hose", "counterlung")
    if stretch == 0:
        return MOUTH_KINDS.index(part.slot_kind)
    rank = near.index(part.slot_kind) if part.slot_kind in near else len(near)
    return {1: rank, 3: -rank}.get(stretch, 0)


def _is_on_loop(part: FittedPart) -> bool:
    return part.flow_place is not None or (part.slot_kind in LOOP_KINDS and _gas_word(part) is None)


def _gas(part: FittedPart) -> DrawnSide | None:
    """Which gas side a slot off the loop belongs to; None for neither."""
    word = _gas_word(part)
    if word is not None:
        return word
    if part.slot_kind in ("solenoid", "injector"):
        return DrawnSide.OXYGEN
    if part.slot_kind in ("addition valve", "inflator") or "manual addition" in part.slot_kind:
        return DrawnSide.OXYGEN if part.oxygen_side else DrawnSide.DILUENT
    return DrawnSide.OXYGEN if part.oxygen_side else None


def _gas_word(part: FittedPart) -> DrawnSide | None:
    said = f"{part.slot_kind} {part.slot}".casefold()
    if "bailout" in said and part.slot_kind != "bailout valve":
        return DrawnSide.BAILOUT
    for word, gas in (("drive gas", DrawnSide.DRIVE), ("diluent", DrawnSide.DILUENT)):
        if word in said:
            return gas
    return DrawnSide.OXYGEN if "oxygen" in part.slot_kind else None


def _feeds(boxes: Sequence[Placed], loop: Sequence[Station]) -> Iterator[Feed]:
    for gas in DrawnSide:
        mine = [(part, station) for part, station, _place in boxes if _gas(part) is gas]
        if mine:
            ordered = sorted(enumerate(mine), key=lambda each: (_feed_rank(each[1][0]), each[0]))
            yield Feed(gas, tuple(station for _number, (_part, station) in ordered), _joins(gas, loop))


def _feed_rank(part: FittedPart) -> int:
    return next((rank for word, rank in _FEED_RANK.items() if word in part.slot_kind), 5)


def _joins(gas: DrawnSide, loop: Sequence[Station]) -> int | None:
    """Oxygen flows in at the head, diluent at the counterlung, each at the middle of a loop without one."""
    if gas is DrawnSide.BAILOUT or not loop:
        return None
    wanted = (_HEAD, _CANISTER) if gas is DrawnSide.OXYGEN else (_COUNTERLUNG, _CANISTER, _HEAD)
    for kind in wanted:
        for number, station in enumerate(loop):
            if station.slot_kind == kind:
                return number
    return len(loop) // 2


def _station(
    part: FittedPart, valve: ValveRow | None, cell: CellLine | None, *, fill: FillLine | None, out: bool, unread: bool
) -> Station:
    """unread: a battery whose voltage nobody read."""
    states, words = [NO_LIMIT if part.state is LifeWord.NO_LIMIT else say(str(part.state))], [_life_words(part)]
    if part.part_id is not None and valve is not None:
        states.append(valve.test_state)
        words.append(_test_words(valve))
    elif part.condition is not None and part.condition.state is Condition.NOT_TESTED:
        states.append(say(str(part.condition.state)))
        words += part.condition.told[:1]
    if part.part_id is not None and part.slot_kind == "cell":
        states.append(cell.verdict or say("not calibrated") if cell is not None else say("not calibrated"))
        words.append(_cell_words(cell))
    if part.part_id is not None and part.slot_kind == "canister":
        # What is left of a fill that is out is known once the dives are.
        spent = fill is not None and (fill.minutes_left or 0) <= 0 and not out
        states.append(
            say("empty") if fill is None else say("past") if spent else say(FillState.OUT) if out else say("packed")
        )
        words.append(_fill_words(fill))
    if part.part_id is not None and unread:
        states.append(say("not read"))
        words.append(say("Its voltage was not read since it was fitted"))
    told = [word for word in states if word != NO_LIMIT] or states
    state = max(told, key=lambda word: GRAVITY.get(word, _HEAVY))
    return Station(
        part.slot_id,
        slot=part.slot,
        slot_kind=part.slot_kind,
        part_id=part.part_id,
        part=part.part,
        state=state,
        words=strung(". ", words),
    )


def _life_words(part: FittedPart) -> str:
    if part.part_id is None:
        return say("empty")
    end = (
        ""
        if part.last_good_day is None
        else say(", last valid day {last_good_day}", last_good_day=part.last_good_day.isoformat())
    )
    return say(
        "{value} {part}. Life: {state}{end}",
        value=part.part_type or say("part"),
        part=part.part,
        state=part.state,
        end=end,
    )


def _test_words(valve: ValveRow) -> str:
    if valve.last_test is None:
        return say("Last test: none")
    last = valve.last_test.record
    held = "" if last.held is None else say(", held") if last.held else say(", did not hold")
    value = "" if last.value is None else strung("", (", ", in_unit(last.value, measured_in(last.unit_of_value))))
    good = (
        ""
        if valve.test_last_good_day is None
        else say(", last valid day {test_last_good_day}", test_last_good_day=valve.test_last_good_day.isoformat())
    )
    told = strung("", (say(last.kind), " ", say(last.result), held, value))
    return say(
        "Last test {at:%Y-%m-%d} UTC: {told}; {test_state}{good}",
        at=last.at,
        told=told,
        test_state=valve.test_state,
        good=good,
    )


def _cell_words(cell: CellLine | None) -> str:
    last = cell.outcome if cell is not None else None
    if cell is None or last is None:
        return say("Last calibration: none since it was fitted")
    linearity = "" if last.linearity is None else say(", linearity {linearity:.1f} %", linearity=last.linearity)
    return say(
        "Last calibration {at:%Y-%m-%d} UTC: {verdict}{linearity}",
        at=last.at,
        verdict=cell.verdict,
        linearity=linearity,
    )


def _fill_words(fill: FillLine | None) -> str:
    if fill is None:
        return say("No fill is packed")
    if fill.minutes_left is None:
        return say("Fill packed {packed_at:%Y-%m-%d} UTC, {reason}", packed_at=fill.fill.packed_at, reason=fill.reason)
    return say(
        "Fill packed {packed_at:%Y-%m-%d} UTC, {minutes_left:.0f} loop minutes left for the next dive",
        packed_at=fill.fill.packed_at,
        minutes_left=fill.minutes_left,
    )


Point = tuple[float, float]

_ENTRY = {DrawnSide.OXYGEN: 0.65, DrawnSide.DILUENT: 0.4, DrawnSide.DRIVE: 0.2, DrawnSide.BAILOUT: 0.5}
"""Where along a box's lower edge each gas flows in, so that two lines into one box stay apart."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Width and height of a box, gap between columns, height of a channel for pipes, height of what is inside a box.

    columns: most boxes side by side; a longer loop goes on in a further row.
    """

    wide: float
    high: float
    gap: float
    channel: float
    inside: float
    columns: int = 99


@dataclass(frozen=True, slots=True)
class Box:
    """One station with its rectangle; inner: those inside it with theirs."""

    station: Station
    x: float
    y: float
    wide: float
    high: float
    inner: tuple["Box", ...] = ()

    @property
    def bottom(self) -> float:
        """The lower end, with what is inside."""
        return max([self.y + self.high, *(each.y + each.high for each in self.inner)])


@dataclass(frozen=True, slots=True)
class Pipe:
    """A line along which gas flows, to its last point; oxygen: a gas side that carries oxygen; label: words on it."""

    points: tuple[Point, ...]
    oxygen: bool = False
    label: str = ""


@dataclass(frozen=True, slots=True)
class SchematicPlan:
    """The whole drawing."""

    boxes: tuple[Box, ...]
    pipes: tuple[Pipe, ...]
    wide: float
    high: float


def planned(drawn: Schematic, sizes: Sizes) -> SchematicPlan:
    """The drawing at these sizes; nothing overlaps, and pipes run in the gaps between boxes."""
    return _Planner(drawn, sizes).plan()


class _Planner:
    """Rows from the top: the way back, the loop, the gas sides, what stands beside."""

    def __init__(self, drawn: Schematic, sizes: Sizes) -> None:
        self._drawn, self._sizes = drawn, sizes
        self._boxes: list[Box] = []
        self._loop: list[Box] = []
        self._rows: list[float] = []
        feeds = max((len(feed.stations) for feed in drawn.feeds), default=1)
        self._columns = max(1, min(sizes.columns, max(len(drawn.loop), feeds)))

    def plan(self) -> SchematicPlan:
        size = self._sizes
        y = self._lay_loop(size.channel * 0.7)
        pipes = list(self._loop_pipes())
        y = self._lay_feeds(y, pipes)
        bottom = self._lay_beside(y)
        right = max([box.x + box.wide + size.gap for box in self._boxes], default=0.0)
        # What ends beside its last box has its words there.
        spoken = [pipe.points[-1][0] + size.wide * 0.8 for pipe in pipes if pipe.label and len(pipe.points) == 2]
        return SchematicPlan(tuple(self._boxes), tuple(pipes), max([right, *spoken]), bottom)

    @property
    def _step(self) -> float:
        return self._sizes.wide + self._sizes.gap

    def _left(self, column: int) -> float:
        return self._sizes.gap + column * self._step

    def _gap_after(self, column: int) -> float:
        return self._left(column) + self._sizes.wide + self._sizes.gap / 2

    def _box(self, station: Station, column: int, y: float) -> Box:
        size, x = self._sizes, self._left(column)
        share = size.wide / max(1, len(station.inside))
        inner = tuple(
            Box(each, x=x + number * share, y=y + size.high, wide=share, high=size.inside)
            for number, each in enumerate(station.inside)
        )
        made = Box(station, x=x, y=y, wide=size.wide, high=size.high, inner=inner)
        self._boxes.append(made)
        return made

    # the loop

    def _lay_loop(self, y: float) -> float:
        """Rows of the loop; returns where the channel under its last row begins."""
        loop = self._drawn.loop
        for start in range(0, len(loop), self._columns):
            self._rows.append(y)
            row = [self._box(each, column, y) for column, each in enumerate(loop[start : start + self._columns])]
            self._loop += row
            y = max(box.bottom for box in row) + self._sizes.channel
        return y if loop else 0.0

    def _loop_pipes(self) -> Iterator[Pipe]:
        if self._loop:
            yield self._way_back(self._loop[0], self._loop[-1])
        for number, (here, there) in enumerate(pairwise(self._loop)):
            middle, target = here.y + here.high / 2, there.y + there.high / 2
            if here.y == there.y:
                yield Pipe(((here.x + here.wide, middle), (there.x, target)))
                continue
            out, channel = self._gap_after(number % self._columns), there.y - self._sizes.channel / 2
            back = self._sizes.gap / 2
            yield Pipe(((here.x + here.wide, middle), (out, middle), (out, channel), (back, channel), (back, target),
                        (there.x, target)))  # fmt: skip

    def _way_back(self, first: Box, last: Box) -> Pipe:
        out, top, back = self._gap_after((len(self._loop) - 1) % self._columns), self._sizes.channel * 0.35, 1.0
        start, end = last.y + last.high / 2, first.y + first.high / 2
        return Pipe(((last.x + last.wide, start), (out, start), (out, top), (back, top), (back, end), (first.x, end)),
                    label=say("back to the mouthpiece"))  # fmt: skip

    # gas sides

    def _lay_feeds(self, y: float, pipes: list[Pipe]) -> float:
        """Rows of gas sides, each with its last box near where it joins; returns where the next row begins."""
        rows: list[list[tuple[Feed, int]]] = []
        for feed in sorted(self._drawn.feeds, key=lambda each: (each.joins is None, -(each.joins or 0))):
            self._give_room(rows, feed)
        for row in rows:
            placed = [
                (feed, [self._box(each, start + n, y) for n, each in enumerate(feed.stations)]) for feed, start in row
            ]
            joining = [feed for feed, _boxes in placed if feed.joins is not None]
            for feed, boxes in placed:
                share = (len(joining) - joining.index(feed)) / (len(joining) + 1) if feed in joining else 0.0
                pipes += self._feed_pipes(feed, boxes, share)
            y = max(box.bottom for _feed, boxes in placed for box in boxes) + self._sizes.channel
        return y

    def _give_room(self, rows: list[list[tuple[Feed, int]]], feed: Feed) -> None:
        """Into the first row with room left of where it joins (right of all for what joins nothing), else a new row."""
        count = len(feed.stations)
        joins = None if feed.joins is None else feed.joins % self._columns
        for row in rows:
            if joins is None:
                end = max(start + len(each.stations) for each, start in row)
                # A column is left free for the words at its end, and one before it where there is room.
                if end + count < self._columns:
                    row.append((feed, min(end + 1, self._columns - count - 1)))
                    return
                continue
            end = min([joins, *(start - 1 for _each, start in row)])
            if end - count + 1 >= 0 and all(each.joins is not None for each, _start in row):
                row.append((feed, end - count + 1))
                return
        rows.append([(feed, max(0, (joins if joins is not None else 0) - count + 1))])

    def _feed_pipes(self, feed: Feed, boxes: Sequence[Box], share: float) -> Iterator[Pipe]:
        oxygen = feed.gas is DrawnSide.OXYGEN
        for here, there in pairwise(boxes):
            middle = here.y + here.high / 2
            yield Pipe(((here.x + here.wide, middle), (there.x, middle)), oxygen)
        last = boxes[-1]
        middle, right = last.y + last.high / 2, last.x + last.wide
        column = round((last.x - self._sizes.gap) / self._step)
        if feed.joins is None:
            yield Pipe(((right, middle), (right + self._sizes.gap, middle)), oxygen, say("to the diver"))
            return
        target, out = self._loop[feed.joins], self._gap_after(column)
        under = max(box.bottom for box in self._loop if box.y == self._rows[-1])
        # Channels of neighbouring feeds lie apart, so that their lines are never taken for one.
        channel = under + self._sizes.channel * share
        points: list[Point] = [(right, middle), (out, middle), (out, channel)]
        enter = target.x + target.wide * _ENTRY[feed.gas]
        if target.y != self._rows[-1]:
            beside = self._gap_after(feed.joins % self._columns)
            row_under = max(box.bottom for box in self._loop if box.y == target.y) + self._sizes.channel * 0.7
            points += [(beside, channel), (beside, row_under), (enter, row_under)]
        else:
            points.append((enter, channel))
        yield Pipe((*points, (enter, target.bottom)), oxygen)

    # what stands beside

    def _lay_beside(self, y: float) -> float:
        for number, each in enumerate(self._drawn.beside):
            self._box(each, number % self._columns, y + number // self._columns * (self._sizes.high + self._sizes.gap))
        return max((box.bottom for box in self._boxes), default=0.0)
