"""The due list on paper, grouped as asked, with the parts to fetch from the shelf and what is short."""

from collections.abc import Callable, Iterable
from itertools import groupby

from fleetbench.paper.core.document import Heading, PageSize, Target, joined
from fleetbench.paper.core.flow import Block, Column, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.shapes import DueLine, DuePageFacts, FetchLine
from fleetbench.paper.core.words import NOT_RECORDED, day, plain_number, said

_GROUPED: dict[str, Callable[[DueLine], str]] = {
    "day": lambda line: day(line.last_good_day),
    "unit": lambda line: said(line.unit),
    "part type": lambda line: said(line.part_type),
    "place": lambda line: said(line.place),
}
_COLUMNS = (
    Column("last good day", 12, bold=True),
    Column("days left", 8, Align.RIGHT),
    Column("state", 12, mark=True),
    Column("unit", 9, bold=True),
    Column("slot", 15),
    Column("item", 20),
    Column("part", 16),
    Column("limit that governs", 17),
    Column("first hit", 13),
)
_FETCH_COLUMNS = (
    Column("part type", 30, bold=True),
    Column("wanted", 14, Align.RIGHT),
    Column("take, oldest usable first", 40),
    Column("from", 20),
    Column("short", 14, Align.RIGHT, bold=True),
)


def write_due_list(facts: DuePageFacts, target: Target, *, size: PageSize = PageSize.A4) -> int:
    """Write the due list as PDF; returns its number of pages. ValueError for a grouping nobody knows."""
    heading = Heading(facts.letterhead, "Due list", facts.record, _subtitle(facts))
    return write_flow(_blocks(facts, size.inner), heading, target, size)


def _subtitle(facts: DuePageFacts) -> str:
    past = sum(1 for line in facts.lines if line.days_left is not None and line.days_left < 0)
    undated = sum(1 for line in facts.lines if line.last_good_day is None)
    count = len(facts.lines)
    return joined(
        (
            f"{day(facts.on)} through {day(facts.through)}",
            f"{count} {'item' if count == 1 else 'items'}",
            f"{past} past" if past else "",
            f"{undated} with a date {NOT_RECORDED}" if undated else "",
        )
    )


def _blocks(facts: DuePageFacts, wide: float) -> list[Block]:
    if facts.grouped_by not in _GROUPED:
        raise ValueError(f"grouped_by: {facts.grouped_by!r} is unknown; use one of {', '.join(_GROUPED)}")
    blocks: list[Block] = []
    if not facts.lines:
        blocks.extend(text_lines("Nothing falls due in these days, as far as the records go.", wide, 10))
    for title, lines in _groups(facts):
        blocks.append(section(title))
        blocks.extend(table(_COLUMNS, map(_row, lines), wide, 7.4, 5))
    foretold = {line.basis == "forecast" for line in facts.lines if line.projected}
    if foretold:
        blocks.append(space(6))
    if False in foretold:
        blocks.extend(text_lines("projected: the day rests on expected use and moves with the bookings.", wide, 7.4))
    if True in foretold:
        words = "forecast, projected: the day rests on the cell's own calibrations and moves with the next."
        blocks.extend(text_lines(words, wide, 7.4))
    return blocks + _fetch_blocks(facts.fetch, wide)


def _groups(facts: DuePageFacts) -> Iterable[tuple[str, list[DueLine]]]:
    key = _GROUPED[facts.grouped_by]
    if facts.grouped_by == "day":
        key = _by_month

    def order(line: DueLine) -> tuple[tuple[int, str], str, str, str]:
        return (_order(facts, line, key), _day_order(line), line.unit or "", line.uid)

    return [(title, list(group)) for title, group in groupby(sorted(facts.lines, key=order), key=key)]


def _by_month(line: DueLine) -> str:
    if line.last_good_day is None:
        return f"Last good day {NOT_RECORDED}"
    if line.days_left is not None and line.days_left < 0:
        return "Past"
    return f"{line.last_good_day:%Y-%m}"


def _order(facts: DuePageFacts, line: DueLine, key: Callable[[DueLine], str]) -> tuple[int, str]:
    """What cannot be dated comes first, then what is past: neither is ever fine."""
    if facts.grouped_by != "day":
        return (0, key(line))
    past = line.days_left is not None and line.days_left < 0
    return (0 if line.last_good_day is None else 1 if past else 2, key(line))


def _day_order(line: DueLine) -> str:
    return "" if line.last_good_day is None else line.last_good_day.isoformat()


def _row(line: DueLine) -> tuple[str, ...]:
    basis = said(line.basis).replace("_", " ")
    return (
        day(line.last_good_day),
        "unknown" if line.days_left is None else str(line.days_left),
        said(line.state),
        line.unit or "in store",
        line.slot or "",
        line.item,
        said(line.part),
        f"{basis}, projected" if line.projected else basis,
        line.first_hit or "no booking",
    )


def _fetch_blocks(fetch: tuple[FetchLine, ...] | None, wide: float) -> list[Block]:
    if fetch is None:
        return []
    blocks = [space(8), section("Parts to fetch from the shelf")]
    if not fetch:
        return blocks + text_lines("Nothing to fetch for these days.", wide)
    return blocks + table(_FETCH_COLUMNS, map(_fetch_row, fetch), wide, 8)


def _fetch_row(line: FetchLine) -> tuple[str, ...]:
    counted = "" if line.counted_in == "piece" else line.counted_in
    return (
        line.part_type,
        plain_number(line.wanted, counted),
        ", ".join(line.take) if line.take else "none usable on the shelf",
        said(line.place) if line.take else "",
        f"short {plain_number(line.short, counted)}" if line.short > 0 else "none short",
    )
