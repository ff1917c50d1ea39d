"""Blocks that flow over as many pages as they need: text, tables and headings, broken only between lines."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from fleetbench.paper.core.document import HEAD_HEIGHT, MARGIN, Heading, PageSize, draw_frame, new_canvas
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, wrapped
from fleetbench.paper.core.words import NOT_RECORDED
from fleetbench.records.core.plain_file import Target, written

Draw = Callable[[Pen, float, float, float], None]

TEXT = 8.6
LINE = 11.4
_LOOK_AHEAD = 40


@dataclass(frozen=True, slots=True)
class Block:
    """Something of a fixed height. draw(pen, x, y, width) draws it with its top at y.

    with_next: never the last thing on a page; again: what is drawn once more where this block begins a page.
    """

    height: float
    draw: Draw
    with_next: bool = False
    again: "Block | None" = None


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column of a table; share of the width beside the other columns' shares; `over` spans equal neighbours."""

    title: str
    share: float
    align: Align = Align.LEFT
    bold: bool = False
    mark: bool = False
    over: str = ""

    def inside(self, room: float) -> float:
        """Width for the text: figures keep further off the column to their right."""
        return room - (10.0 if self.align is Align.RIGHT else 5.0)


def paginated(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """The blocks page by page; a block higher than the room stands alone on a page."""
    pages: list[list[Block]] = [[]]
    used = 0.0
    for place, block in enumerate(blocks):
        if pages[-1] and used + _kept_together(blocks, place) > room:
            pages.append([])
            used = 0.0
            if block.again is not None:
                pages[-1].append(block.again)
                used = block.again.height
        pages[-1].append(block)
        used += block.height
    return pages


def _kept_together(blocks: Sequence[Block], place: int) -> float:
    height = 0.0
    for block in blocks[place : place + _LOOK_AHEAD]:
        height += block.height
        if not block.with_next:
            break
    return height


def write_flow(blocks: Sequence[Block], heading: Heading, target: Target, size: PageSize) -> int:
    """Write the blocks under the heading to a PDF; returns how many pages."""
    pages = paginated(blocks, size.room)
    with written(target) as stream:
        head, title = heading.letterhead, f"{heading.title} {heading.record}"
        canvas = new_canvas(stream, (size.wide, size.high), title, head.centre, at=head.at)
        for number, page in enumerate(pages, start=1):
            pen = Pen(canvas, size.high)
            y = MARGIN + HEAD_HEIGHT
            for block in page:
                block.draw(pen, MARGIN, y, size.inner)
                y += block.height
            draw_frame(pen, size, heading, number, len(pages))
            canvas.showPage()
        canvas.save()
    return len(pages)


def space(height: float) -> Block:
    """Nothing, of a height."""
    return Block(height, lambda _pen, _x, _y, _wide: None)


def section(title: str, beside: str = "", size: float = 10.0, beside_size: float | None = None) -> Block:
    """A section's heading with a rule under it; it stays with what follows."""
    small = size * 0.82 if beside_size is None else beside_size

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        pen.text(x, y + size * 1.5, title, size, BOLD)
        if beside:
            left = len(title) * size * 0.62 + 10
            pen.fit(x + left, y + size * 1.5, beside, wide - left, small, align=Align.RIGHT)
        pen.rule(x, y + size * 1.5 + 3.5, wide, 0.6)

    return Block(size * 1.5 + 8, draw, with_next=True)


def text_lines(text: str, wide: float, size: float = TEXT, face: str = REGULAR, indent: float = 0.0) -> list[Block]:
    """Free text as one block a line, so that any length of it flows over pages."""
    return [_line(line, size, face, indent) for line in wrapped(text, face, size, wide - indent)]


def _line(line: str, size: float, face: str, indent: float) -> Block:
    return Block(size * 1.33, lambda pen, x, y, _wide: pen.text(x + indent, y + size, line, size, face))


def pairs(facts: Sequence[tuple[str, str]], columns: int, size: float = TEXT, label_share: float = 0.34) -> list[Block]:
    """Labels with their values, filled column by column."""
    rows = -(-len(facts) // columns)

    def block(row: int) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            step = wide / columns
            for column in range(columns):
                place = column * rows + row
                if place < len(facts):
                    label, value = facts[place]
                    label_room = step * label_share
                    pen.fit(x + column * step, y + size, label, label_room - 4, size * 0.86)
                    pen.fit(
                        x + column * step + label_room,
                        y + size,
                        value,
                        step - label_room - 8,
                        size,
                        REGULAR if value == NOT_RECORDED else BOLD,
                    )

        return Block(size * 1.36, draw)

    return [block(row) for row in range(rows)]


def table(
    columns: Sequence[TableColumn],
    rows: Iterable[Sequence[str]],
    wide: float,
    size: float = 8.0,
    most_lines: int = 24,
    head_size: float | None = None,
) -> list[Block]:
    """A table with a head that comes again on each page; cells wrap, and one past `most_lines` ends in an ellipsis."""
    head = _table_head(columns, size * 0.86 if head_size is None else head_size)
    blocks = [head]
    blocks.extend(_table_row(columns, row, wide, size, most_lines, head) for row in rows)
    return blocks


def _steps(columns: Sequence[TableColumn], wide: float) -> list[tuple[float, float]]:
    total, left, steps = sum(column.share for column in columns), 0.0, []
    for column in columns:
        room = wide * column.share / total
        steps.append((left, room))
        left += room
    return steps


def _table_head(columns: Sequence[TableColumn], small: float) -> Block:
    first = small + 2 if any(column.over for column in columns) else 0.0

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        for column, (left, room) in zip(columns, _steps(columns, wide), strict=True):
            inset = 4 if column.mark else 0
            pen.fit(
                x + left + inset,
                y + first + small + 2,
                column.title,
                column.inside(room) - inset,
                small,
                align=column.align,
            )
        for over, left, room in _spans(columns, wide):
            pen.fit(x + left, y + small + 1, over, room - 5, small, align=Align.CENTRE)
            pen.rule(x + left + 6, y + small + 3, room - 14, 0.3, 0.5)
        pen.rule(x, y + first + small + 5, wide, 0.4, 0.35)

    return Block(first + small + 8, draw, with_next=True)


def _spans(columns: Sequence[TableColumn], wide: float) -> list[tuple[str, float, float]]:
    spans: list[tuple[str, float, float]] = []
    for column, (left, room) in zip(columns, _steps(columns, wide), strict=True):
        if column.over and spans and spans[-1][0] == column.over:
            over, start, so_far = spans[-1]
            spans[-1] = (over, start, so_far + room)
        else:
            spans.append((column.over, left, room))
    return [span for span in spans if span[0]]


def _table_row(
    columns: Sequence[TableColumn], row: Sequence[str], wide: float, size: float, most_lines: int, head: Block
) -> Block:
    cells = [
        _cell_lines(column, text, column.inside(room), size, most_lines)
        for column, text, (_, room) in zip(columns, row, _steps(columns, wide), strict=True)
    ]
    leading = size * 1.25

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        for column, lines, (left, room) in zip(columns, cells, _steps(columns, wide), strict=True):
            face = BOLD if column.bold else REGULAR
            for number, line in enumerate(lines):
                base = y + 1.5 + size + number * leading
                if column.mark and number == 0 and line:
                    pen.mark(x + left + 4, base, line, size, room - 9)
                elif column.mark:
                    pen.fit(x + left + 4 + size * 1.1, base, line, room - 9 - size * 1.1, size, BOLD)
                else:
                    pen.fit(x + left, base, line, column.inside(room), size, face, column.align)
        pen.rule(x, y + height - 0.5, wide, 0.25, 0.75)

    height = max(len(lines) for lines in cells) * leading + 4.5
    return Block(height, draw, again=head)


def _cell_lines(column: TableColumn, text: str, room: float, size: float, most_lines: int) -> tuple[str, ...]:
    if most_lines == 1 or column.align is Align.RIGHT:
        return (text,)
    if column.mark:
        return wrapped(text, BOLD, size, room - 4 - size * 1.1)
    lines = wrapped(text, BOLD if column.bold else REGULAR, size, room)
    if len(lines) > most_lines:
        return (*lines[: most_lines - 1], lines[most_lines - 1][:-1] + "…")
    return lines
