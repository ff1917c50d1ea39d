"""Blocks that flow over as many pages as they need: text, tables and headings, broken only between lines."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from fleetbench.calc.core.languages import ENGLISH, shown, spoken_here, worded
from fleetbench.paper.core.document import HEAD_HEIGHT, MARGIN, Heading, PageSize, draw_foot, draw_head, new_canvas
from fleetbench.paper.core.marks import NOT_RECORDED
from fleetbench.paper.core.pen import BOLD, REGULAR, Align, Pen, Spoilt, all_whole, fitted, settable, width, wrapped
from fleetbench.paper.core.tags import Artifact, Tag
from fleetbench.records.core.plain_file import Target, written

Draw = Callable[[Pen, float, float, float], None]

TEXT = 8.6
LINE = 11.4
LEAST = 7.0
"""Points: no heading of a table is smaller, and no type on a renter's technical record; common practice, no published
source."""
_LOOK_AHEAD = 40
_CLOSER, _LINE_OF_TEXT = 0.92, 12.0
"""How close lines may come to save a page, and the greatest height of a block that is one; common practice, no
published source."""


@dataclass(frozen=True, slots=True)
class Block:
    """Something of a fixed height. draw(pen, x, y, width) draws it with its top at y.

    with_next: never the last thing on a page; again: what is drawn once more where this block begins a page.
    tag: what its text is, where the block does not tell it piece by piece; drawn once more, it is an artifact.
    """

    height: float
    draw: Draw
    with_next: bool = False
    again: "Block | None" = None
    tag: Tag | Artifact | None = None


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
                pages[-1].append(replace(block.again, tag=Artifact.HEAD))
                used = block.again.height
        pages[-1].append(block)
        used += block.height
    return pages


def in_few_pages(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """The same, with lines of text a little closer where that alone saves a page."""
    pages = paginated(blocks, room)
    if len(pages) == 1:
        return pages
    closer = [replace(each, height=each.height * _CLOSER) if each.height <= _LINE_OF_TEXT else each for each in blocks]
    fewer = paginated(closer, room)
    return fewer if len(fewer) < len(pages) else pages


def _kept_together(blocks: Sequence[Block], place: int) -> float:
    height = 0.0
    for block in blocks[place : place + _LOOK_AHEAD]:
        height += block.height
        if not block.with_next:
            break
    return height


def write_flow(blocks: Sequence[Block], heading: Heading, target: Target, size: PageSize) -> int:
    """Write the blocks under the heading to a PDF; returns how many pages."""
    pages = in_few_pages(blocks, size.room)
    with written(target) as stream:
        head, title = heading.letterhead, f"{shown(heading.title)} {heading.record}"
        canvas = new_canvas(stream, (size.wide, size.high), title, head.centre, at=head.at)
        for number, page in enumerate(pages, start=1):
            pen = Pen(canvas, size.high)
            draw_head(pen, size, heading, again=number > 1)
            draw_blocks(pen, page, MARGIN, MARGIN + HEAD_HEIGHT, size.inner)
            draw_foot(pen, size, heading, number, len(pages))
            canvas.showPage()
        canvas.save()
    return len(pages)


def draw_blocks(pen: Pen, blocks: Iterable[Block], x: float, y: float, wide: float) -> None:
    """Draw the blocks below each other, the first with its top at y."""
    for block in blocks:
        with pen.tagged(block.tag):
            block.draw(pen, x, y, wide)
        y += block.height


def space(height: float) -> Block:
    """Nothing, of a height."""
    return Block(height, lambda _pen, _x, _y, _wide: None)


def section(title: str, beside: str = "", size: float = 10.0, beside_size: float | None = None) -> Block:
    """A section's heading with a rule under it; it stays with what follows."""
    small = size * 0.82 if beside_size is None else beside_size
    head = Tag("H2")

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        with pen.tagged(head):
            pen.text(x, y + size * 1.5, title, size, BOLD)
        if beside:
            left = len(shown(title)) * size * 0.62 + 10
            if not all_whole(fitted(beside, REGULAR, small, wide - left, pen.least)[:1]):
                left = width(settable(title), BOLD, max(size, pen.least)) + 6
            pen.fit(x + left, y + size * 1.5, beside, wide - left, small, align=Align.RIGHT)
        pen.rule(x, y + size * 1.5 + 3.5, wide, 0.6)

    return Block(size * 1.5 + 8, draw, with_next=True)


def text_lines(text: str, wide: float, size: float = TEXT, face: str = REGULAR, indent: float = 0.0) -> list[Block]:
    """Free text as one block a line, so that any length of it flows over pages; one paragraph to a listener."""
    tag = Tag("P")
    return [_line(line, size, face, indent, tag) for line in wrapped(text, face, size, wide - indent)]


def _line(line: str, size: float, face: str, indent: float, tag: Tag) -> Block:
    return Block(size * 1.33, lambda pen, x, y, _wide: pen.text(x + indent, y + size, line, size, face), tag=tag)


def pairs(facts: Sequence[tuple[str, str]], columns: int, size: float = TEXT, label_share: float = 0.34) -> list[Block]:
    """Labels with their values, filled column by column."""
    rows = -(-len(facts) // columns)
    tags = labelled_rows(len(facts))

    def block(row: int) -> Block:
        def draw(pen: Pen, x: float, y: float, wide: float) -> None:
            step = wide / columns
            label_room = _label_room([label for label, _ in facts], step, label_share, size * 0.86, pen.least)
            for column in range(columns):
                place = column * rows + row
                if place < len(facts):
                    label, value = facts[place]
                    left = x + column * step
                    face = REGULAR if value == NOT_RECORDED else BOLD
                    with pen.tagged(tags[place][0]):
                        pen.fit(left, y + size, label, label_room - 4, size * 0.86)
                    with pen.tagged(tags[place][1]):
                        pen.fit(left + label_room, y + size, value, step - label_room - 8, size, face)

        return Block(size * 1.36, draw)

    return [block(row) for row in range(rows)]


def _label_room(labels: Sequence[str], step: float, share: float, size: float, least: float) -> float:
    """Room for the labels: their share, or more where one of them would be cut short; at most half of all."""
    room, size = step * share, max(size, least)
    if all(all_whole(fitted(label, REGULAR, size, room - 4, least)[:1]) for label in labels):
        return room
    return min(step / 2, max(width(settable(label), REGULAR, size) for label in labels) + 4.1)


def labelled_rows(count: int) -> list[tuple[Tag, Tag]]:
    """The elements of labels with their values, in order: a table of two columns whose rows are headed."""
    whole, rows = Tag("Table"), []
    for _ in range(count):
        row = Tag("TR", whole)
        rows.append((Tag("TH", row, table="/Scope /Row"), Tag("TD", row)))
    return rows


def table(
    columns: Sequence[TableColumn],
    rows: Iterable[Sequence[str]],
    wide: float,
    size: float = 8.0,
    most_lines: int = 24,
    head_size: float | None = None,
    under: Block | None = None,
    alike: Iterable[Sequence[str]] | None = None,
) -> list[Block]:
    """A table with a head that comes again on each page; cells wrap, and one past `most_lines` ends in an ellipsis.

    Its last row never begins a page. under: the section's heading, which then comes again with the head. alike: the
    rows of all tables of the page whose columns are to stand below each other.
    """
    rows, whole = list(rows), Tag("Table")
    least = LEAST if head_size is None else head_size
    columns = _with_room(columns, rows if alike is None else list(alike), wide, size, least)
    head = _table_head(columns, max(LEAST, size * 0.86) if head_size is None else head_size, least, whole, wide)
    blocks = [head]
    again = head if under is None else _stacked(under, head)
    for row in rows:
        tags = Tag("TR", whole)
        blocks.append(_table_row(columns, row, wide, size, most_lines, again, [Tag("TD", tags) for _ in columns]))
    if len(blocks) > 2:
        blocks[-2] = replace(blocks[-2], with_next=True)
    return blocks


def _with_room(
    columns: Sequence[TableColumn], rows: Sequence[Sequence[str]], wide: float, size: float, least: float
) -> Sequence[TableColumn]:
    """The columns as wide as what stands in them asks for, where the words are others than English.

    Shares are set for English words, whose pages keep them; else a column gives what it does not need.
    """
    if spoken_here() == ENGLISH:
        return columns
    total = sum(column.share for column in columns)
    rooms = [wide * column.share / total for column in columns]
    told = [_asked(column, [row[place] for row in rows], size, least) for place, column in enumerate(columns)]
    rooms = fair_rooms(rooms, [narrowest for narrowest, _ in told], [best for _, best in told])
    return [replace(column, share=room) for column, room in zip(columns, rooms, strict=True)]


def _asked(column: TableColumn, cells: Sequence[str], size: float, least: float) -> tuple[float, float]:
    """The widths in which the heading and every word of a column stand whole, and in which every cell is one line."""
    face = BOLD if column.bold or column.mark else REGULAR
    beside = (9.5 + size * 1.1 if column.mark else 0.5 - column.inside(0.0)) + 0.1
    texts = [settable(worded(cell) if column.mark else cell) for cell in cells]
    words = texts if column.align is Align.RIGHT else [word for text in texts for word in text.split()]
    title, round_it = settable(worded(column.title)), (4.5 if column.mark else 0.5) - column.inside(0.0)
    heads = [max((width(each, REGULAR, least) for each in told), default=0.0) for told in (title.split(), [title])]
    longest, whole = (max((width(each, face, size) for each in told), default=0.0) for told in (words, texts))
    return max(heads[0] + round_it, longest + beside), max(heads[1] + round_it, whole + beside)


def fair_rooms(rooms: Sequence[float], least: Sequence[float], best: Sequence[float]) -> list[float]:
    """Widths of the same sum in which each column has its least, and its best as far as others have more than theirs.

    Where not even the least of all has room, what there is is shared by it.
    """
    rooms = _given(rooms, least, best)
    rooms = _given(rooms, least, least)
    return _given(rooms, best, best)


def _given(rooms: Sequence[float], wanted: Sequence[float], kept: Sequence[float]) -> list[float]:
    """The rooms after those above what they keep gave to those under what they want, the nearest to it first."""
    short = {place: want - room for place, (room, want) in enumerate(zip(rooms, wanted, strict=True)) if room < want}
    spare = [max(0.0, room - keep) for room, keep in zip(rooms, kept, strict=True)]
    spare = [0.0 if place in short else each for place, each in enumerate(spare)]
    there = left = sum(spare)
    new = list(rooms)
    for place in sorted(short, key=short.__getitem__):
        given = min(left, short[place])
        new[place] += given
        left -= given
    used = (there - left) / there if there else 0.0
    return [room - used * each for room, each in zip(new, spare, strict=True)]


def _stacked(upper: Block, lower: Block) -> Block:
    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        draw_blocks(pen, (upper, lower), x, y, wide)

    return Block(upper.height + lower.height, draw, with_next=True)


def _head_tags(columns: Sequence[TableColumn], whole: Tag) -> tuple[list[Tag], list[Tag]]:
    """The elements of the columns' headings, and of those that span neighbours, which stand in a row above them."""
    upper = Tag("TR", whole)
    if not any(column.over for column in columns):
        return [Tag("TH", upper, table="/Scope /Column") for _ in columns], []
    lower, titles, spans, last = Tag("TR", whole), [], [], ""
    for column in columns:
        if not column.over:
            titles.append(Tag("TH", upper, table="/Scope /Column /RowSpan 2"))
        else:
            if column.over != last:
                count = sum(each.over == column.over for each in columns)
                spans.append(Tag("TH", upper, table=f"/Scope /Column /ColSpan {count}"))
            titles.append(Tag("TH", lower, table="/Scope /Column"))
        last = column.over
    return titles, spans


def _steps(columns: Sequence[TableColumn], wide: float) -> list[tuple[float, float]]:
    total, left, steps = sum(column.share for column in columns), 0.0, []
    for column in columns:
        room = wide * column.share / total
        steps.append((left, room))
        left += room
    return steps


def _table_head(columns: Sequence[TableColumn], small: float, least: float, whole: Tag, wide: float) -> Block:
    first = small + 2 if any(column.over for column in columns) else 0.0
    titles, spans = _head_tags(columns, whole)
    rooms = [room for _, room in _steps(columns, wide)]
    lines = [_head_lines(column, small, least, room) for column, room in zip(columns, rooms, strict=True)]
    leading = small * 1.15
    last = first + small + leading * (max(map(len, lines)) - 1)

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        for column, tag, told, (left, room) in zip(columns, titles, lines, _steps(columns, wide), strict=True):
            inset = 4 if column.mark else 0
            with pen.tagged(tag):
                for number, line in enumerate(told, start=1):
                    base = y + last + 2 - (len(told) - number) * leading
                    pen.fit(x + left + inset, base, line, column.inside(room) - inset, small, align=column.align)
        for tag, (over, left, room) in zip(spans, _spans(columns, wide), strict=True):
            with pen.tagged(tag):
                pen.fit(x + left, y + small + 1, over, room - 5, small, align=Align.CENTRE)
            pen.rule(x + left + 6, y + small + 3, room - 14, 0.3, 0.5)
        pen.rule(x, y + last + 5, wide, 0.4, 0.35)

    return Block(last + 8, draw, with_next=True)


def _head_lines(column: TableColumn, small: float, least: float, room: float) -> Sequence[str]:
    """The heading on one line where it can stand whole on it, else on more."""
    title, inside = worded(column.title), column.inside(room) - (4 if column.mark else 0)
    fits = all_whole(fitted(title, REGULAR, small, inside, 0.0 if spoken_here() == ENGLISH else least)[:1])
    return (title,) if fits else wrapped(title, REGULAR, small, inside)


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
    columns: Sequence[TableColumn],
    row: Sequence[str],
    wide: float,
    size: float,
    most_lines: int,
    head: Block,
    tags: Sequence[Tag],
) -> Block:
    cells = [
        _cell_lines(column, text, column.inside(room), size, most_lines)
        for column, text, (_, room) in zip(columns, row, _steps(columns, wide), strict=True)
    ]
    leading = size * 1.25

    def draw(pen: Pen, x: float, y: float, wide: float) -> None:
        steps = _steps(columns, wide)
        for column, tag, text, lines, (left, room) in zip(columns, tags, row, cells, steps, strict=True):
            with pen.tagged(tag):
                _draw_cell(pen, column, text, lines, x + left, y + 1.5 + size, room, size)
        pen.rule(x, y + height - 0.5, wide, 0.25, 0.75)

    height = max(len(lines) for lines in cells) * leading + 4.5
    return Block(height, draw, again=head)


def _draw_cell(
    pen: Pen, column: TableColumn, text: str, lines: Sequence[str], x: float, y: float, room: float, size: float
) -> None:
    """Draw the lines of one cell, the first on the base line y."""
    face = BOLD if column.bold else REGULAR
    for number, line in enumerate(lines):
        base = y + number * size * 1.25
        if column.mark and number == 0 and line:
            pen.mark(x + 4, base, text, size, room - 9, line=line)
        elif column.mark:
            pen.fit(x + 4 + size * 1.1, base, line, room - 9 - size * 1.1, size, BOLD)
        else:
            pen.fit(x, base, line, column.inside(room), size, face, column.align)


def _cell_lines(column: TableColumn, text: str, room: float, size: float, most_lines: int) -> tuple[str, ...]:
    if most_lines == 1 or column.align is Align.RIGHT:
        return (text,)
    if column.mark:
        return wrapped(worded(text), BOLD, size, room - 4 - size * 1.1)
    lines = wrapped(text, BOLD if column.bold else REGULAR, size, room)
    if len(lines) > most_lines:
        return (*lines[: most_lines - 1], Spoilt(lines[most_lines - 1][:-1] + "…"))
    return lines
