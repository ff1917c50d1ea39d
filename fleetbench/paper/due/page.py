"""The due list on paper, grouped as asked, with the parts to fetch from the shelf and what is short."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import groupby

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.parts.life import LimitBasis
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.marks import NOT_RECORDED, day, said
from fleetbench.paper.core.pen import Align
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.due.list import DueItem
from fleetbench.workshop.parts.orders import FetchRow

_GROUPED: dict[str, Callable[[DueItem], str]] = {
    "day": lambda line: day(line.last_good_day),
    "unit": lambda line: said(line.unit),
    "part type": lambda line: said(line.part_type),
    "place": lambda line: said(line.place),
}
_COLUMNS = (
    TableColumn(say("last valid day"), 12, bold=True),
    TableColumn(say("days left"), 9, Align.RIGHT),
    TableColumn("state", 12, mark=True),
    TableColumn("unit", 9, bold=True),
    TableColumn("slot", 15),
    TableColumn("item", 19),
    TableColumn("part", 16),
    TableColumn(say("set by"), 17),
    TableColumn(say("affects booking"), 13),
)
_SET_BY = {"fixed_date": say("fixed date"), "test_interval": say("test interval"), "storage": say("storage"),
           "forecast": say("forecast"), "received": say("received")}  # fmt: skip
"""What set a day, where the word of the record is no word, or told nowhere else."""
_FETCH_COLUMNS = (
    TableColumn(say("part type"), 30, bold=True),
    TableColumn("wanted", 14, Align.RIGHT),
    TableColumn(say("take, oldest usable first"), 40),
    TableColumn("from", 20),
    TableColumn("short", 14, Align.RIGHT, bold=True),
)


@dataclass(frozen=True, slots=True)
class DueList:
    """What falls due from one day through another, with what to fetch for it; fetch: None where nobody asked.

    settled: what was done in as many days before, for a calendar that may hold it still.
    """

    on: date
    through: date
    items: tuple[DueItem, ...]
    fetch: tuple[FetchRow, ...] | None = None
    settled: Mapping[str, date] = field(default_factory=dict)

    @property
    def done(self) -> dict[str, date]:
        """The day on which each thing was last done that is no longer on the list, by the name that it had there."""
        still = {name for _, name in self.named}
        return {name: on for name, on in self.settled.items() if name not in still}

    def with_later(self, every: Iterable[DueItem]) -> "DueList":
        """The list with what was done and is due again beyond it: a longer calendar may hold that day already."""
        done = self.done
        return replace(self, items=(*self.items, *(item for item in every if _name(item) in done)))

    @property
    def record(self) -> str:
        """The list is named by its first day."""
        return f"DUE-{self.on.isoformat()}"

    @property
    def named(self) -> tuple[tuple[DueItem, str], ...]:
        """Each item with a name that stays from one list to the next, though its day, its part or its limit changes.

        What is fitted is named by its slot, so that a calendar moves the event when the part is replaced instead of
        keeping the old part's; spares by the part, and everything else by what has to be done.
        """
        named, seen = [], Counter[str]()
        for item in self.items:
            name = _name(item)
            seen[name] += 1
            named.append((item, name if seen[name] == 1 else f"{name} ({seen[name]})"))
        return tuple(named)


def _name(item: DueItem) -> str:
    if item.part_id is None:
        words: tuple[str | None, ...] = (item.unit, item.slot, item.part, item.item)
    else:
        where = (item.unit, item.slot) if item.unit and item.slot else (f"part {item.part_id}",)
        words = (*where, "date missing" if item.last_good_day is None else None)
    return " / ".join(word for word in words if word)


def taken(row: FetchRow) -> tuple[str, ...]:
    """The pieces to take; those of one lot without serials of their own stand together."""
    counts = Counter(piece.part.label for piece in row.take)
    return tuple(
        part if count == 1 else say("{count} of {part}", count=count, part=part) for part, count in counts.items()
    )


def taken_from(row: FetchRow) -> str:
    """The places that the pieces lie in, each once."""
    return strung(
        ", ", dict.fromkeys(piece.place or say("place {not_recorded}", not_recorded=NOT_RECORDED) for piece in row.take)
    )


def write_due_list(
    due: DueList, target: Target, *, head: Letterhead, grouped_by: str = "day", size: PageSize = PageSize.A4
) -> int:
    """Write the due list as PDF, grouped by `day`, `unit`, `part type` or `place`; returns its number of pages.

    ValueError for another grouping.
    """
    heading = Heading(head, say("Due list"), due.record, _subtitle(due))
    return write_flow(_blocks(due, grouped_by, size.inner), heading, target, size)


def _subtitle(due: DueList) -> str:
    past = sum(1 for line in due.items if line.days_left is not None and line.days_left < 0)
    undated = sum(1 for line in due.items if line.last_good_day is None)
    count = len(due.items)
    return joined(
        (
            say("{on} through {through}", on=day(due.on), through=day(due.through)),
            say_count("{count} item", "{count} items", count),
            say("{past} past", past=past) if past else "",
            say("{undated} with a date {not_recorded}", undated=undated, not_recorded=NOT_RECORDED) if undated else "",
        )
    )


def _blocks(due: DueList, grouped_by: str, wide: float) -> list[Block]:
    if grouped_by not in _GROUPED:
        raise ValueError(
            say(
                "grouped_by: {grouped_by!r} is unknown; use one of {grouped}",
                grouped_by=grouped_by,
                grouped=strung(", ", _GROUPED),
            )
        )
    blocks: list[Block] = []
    if not due.items:
        blocks.extend(text_lines(say("Nothing falls due in these days, as far as the records go."), wide, 10))
    groups = _groups(due, grouped_by)
    rows = [_row(line) for _, lines in groups for line in lines]
    for place, (title, lines) in enumerate(groups, start=1):
        head = section(title)
        if blocks and place == len(groups) and len(lines) == 1:  # or it might have a page to itself
            blocks[-1] = replace(blocks[-1], with_next=True)
        blocks += [head, *table(_COLUMNS, map(_row, lines), wide, 7.4, 5, under=head, alike=rows)]
    forecast = {line.basis == LimitBasis.FORECAST for line in due.items if line.projected}
    if forecast:
        blocks.append(space(6))
    if False in forecast:
        blocks.extend(
            text_lines(say("projected: the day rests on expected use and moves with the bookings."), wide, 7.4)
        )
    if True in forecast:
        words = say("forecast, projected: the day rests on the cell's own calibrations and moves with the next.")
        blocks.extend(text_lines(words, wide, 7.4))
    return blocks + _fetch_blocks(due.fetch, wide)


def _groups(due: DueList, grouped_by: str) -> list[tuple[str, list[DueItem]]]:
    """What cannot be dated comes first among days, then what is past: neither is ever fine."""
    by_day = grouped_by == "day"
    key = _by_month if by_day else _GROUPED[grouped_by]

    def order(named: tuple[DueItem, str]) -> tuple[int, str, str, str, str]:
        line, name = named
        return (_urgency(line) if by_day else 0, key(line), _day_order(line), line.unit or "", name)

    items = (item for item, _ in sorted(due.named, key=order))
    return [(title, list(group)) for title, group in groupby(items, key=key)]


def _urgency(line: DueItem) -> int:
    return 0 if line.last_good_day is None else 1 if line.days_left is not None and line.days_left < 0 else 2


def _by_month(line: DueItem) -> str:
    if line.last_good_day is None:
        return say("Last valid day {not_recorded}", not_recorded=NOT_RECORDED)
    if line.days_left is not None and line.days_left < 0:
        return say("Past")
    return f"{line.last_good_day:%Y-%m}"


def _day_order(line: DueItem) -> str:
    return "" if line.last_good_day is None else line.last_good_day.isoformat()


def _row(line: DueItem) -> tuple[str, ...]:
    basis = _SET_BY.get(line.basis or "") or say(said(line.basis))
    return (
        day(line.last_good_day),
        say("unknown") if line.days_left is None else str(line.days_left),
        said(line.state),
        line.unit or say("in store"),
        line.slot or "",
        line.item,
        line.part or "–",
        say("{basis}, projected", basis=basis) if line.projected else basis,
        line.hits or say("no booking"),
    )


def _fetch_blocks(fetch: tuple[FetchRow, ...] | None, wide: float) -> list[Block]:
    if fetch is None:
        return []
    blocks = [space(8), section(say("Pick list from the shelf"))]
    if not fetch:
        return blocks + text_lines(say("Nothing to pick for these days."), wide)
    return blocks + table(_FETCH_COLUMNS, map(_fetch_row, fetch), wide, 8)


def _fetch_row(row: FetchRow) -> tuple[str, ...]:
    return (
        row.part_type,
        str(row.wanted),
        strung(", ", taken(row)) or say("none usable on the shelf"),
        taken_from(row),
        say("short {short}", short=row.short) if row.short > 0 else say("none short"),
    )
