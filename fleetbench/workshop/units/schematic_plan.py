"""Where each box and pipe of a schematic lies: plain numbers, y downwards, for screen and paper alike."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fleetbench.workshop.units.schematic import Feed, Gas, Schematic, Station

Point = tuple[float, float]

_ENTRY = {Gas.OXYGEN: 0.65, Gas.DILUENT: 0.4, Gas.DRIVE: 0.2, Gas.BAILOUT: 0.5}
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
            Box(each, x + number * share, y + size.high, share, size.inside)
            for number, each in enumerate(station.inside)
        )
        made = Box(station, x, y, size.wide, size.high, inner)
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
                    label="back to the mouthpiece")  # fmt: skip

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
        oxygen = feed.gas is Gas.OXYGEN
        for here, there in pairwise(boxes):
            middle = here.y + here.high / 2
            yield Pipe(((here.x + here.wide, middle), (there.x, middle)), oxygen)
        last = boxes[-1]
        middle, right = last.y + last.high / 2, last.x + last.wide
        column = round((last.x - self._sizes.gap) / self._step)
        if feed.joins is None:
            yield Pipe(((right, middle), (right + self._sizes.gap, middle)), oxygen, "to the diver")
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
