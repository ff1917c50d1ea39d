"""The order list on paper and as a table: what to order on which day from whom, and what the figures rest on."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from itertools import groupby

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.core.measures import KILOGRAM, Measure, in_unit
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.spreadsheet import Cell, write_csv, write_xlsx
from fleetbench.paper.core.words import NOT_RECORDED, day, plain_number
from fleetbench.records.core.plain_file import Target
from fleetbench.workshop.parts.orders import OrderLine

_COLUMNS = (
    TableColumn(say("part type"), 27, bold=True),
    TableColumn("usable", 8, Align.RIGHT),
    TableColumn(say("on hand"), 8, Align.RIGHT),
    TableColumn("reserved", 9, Align.RIGHT),
    TableColumn(say("ends soon"), 10, Align.RIGHT),
    TableColumn("need", 8, Align.RIGHT),
    TableColumn(say("short from"), 12),
    TableColumn("order", 16, bold=True),
    TableColumn("lead", 9, Align.RIGHT),
    TableColumn("cost", 10, Align.RIGHT),
)
_TITLES = (
    "order on", "part type", "code", "order", "packs", "pack size", "counted in", "usable", "on hand", "reserved",
    "ends on the shelf", "need", "safety stock", "short on", "days late", "lead days", "cost", "why", "supplier",
)  # fmt: skip


def write_order_list(
    lines: Sequence[OrderLine],
    target: Target,
    *,
    head: Letterhead,
    on: date,
    through: date,
    service_level: float,
    size: PageSize = PageSize.A4,
) -> int:
    """Write what to order from one day through another as PDF, by day and supplier; returns its number of pages.

    service_level: the chance (0 to 1) with which the stock is to meet the need.
    """
    wanted = [line for line in lines if line.order_on is not None]
    subtitle = _subtitle(wanted, on, through, head.currency or "")
    heading = Heading(head, say("Order list"), f"ORDER-{on.isoformat()}", subtitle)
    return write_flow(_blocks(wanted, on, service_level, size.inner), heading, target, size)


def write_order_table(lines: Sequence[OrderLine], target: Target, *, head: Letterhead, xlsx: bool = False) -> int:
    """Write every part type of the list as CSV or XLSX; returns its rows."""
    named = [f"cost, {head.currency}" if head.currency and title == "cost" else title for title in _TITLES]
    rows = [_cells(row) for row in lines]
    if xlsx:
        write_xlsx({"orders": (named, rows)}, target, head=head, title=say("Order list"))
    else:
        write_csv(named, rows, target)
    return len(rows)


def _subtitle(wanted: Sequence[OrderLine], first: date, last: date, currency: str) -> str:
    late = sum(row.late_by > 0 for row in wanted)
    cost = sum(row.cost for row in wanted if row.cost is not None)
    unpriced = sum(row.cost is None for row in wanted)
    return joined(
        (
            say("{first} through {last}", first=day(first), last=day(last)),
            say_count("{count} part type to order", "{count} part types to order", len(wanted)),
            say("{late} too late for the need", late=late) if late else "",
            say("cost {cost}", cost=f"{cost:,.2f} {currency}".rstrip()) if cost else "",
            say("{unpriced} without a price", unpriced=unpriced) if unpriced else "",
        )
    )


def _blocks(wanted: Sequence[OrderLine], today: date, service_level: float, wide: float) -> list[Block]:
    blocks: list[Block] = []
    if not wanted:
        blocks.extend(text_lines(say("Nothing is to order in these days, as far as the records go."), wide, 10))
    for title, rows in groupby(sorted(wanted, key=_by_day_and_supplier), key=partial(_title, today=today)):
        listed, head = list(rows), section(title)
        blocks += [head, *table(_COLUMNS, map(_row, listed), wide, 7.4, 5, under=head, alike=map(_row, wanted))]
        for row in listed:
            words = say("{part_type}: {why}.", part_type=row.part_type, why=strung("; ", row.why))
            blocks.extend(text_lines(words, wide, 7.0))
    blocks.append(space(6))
    said = say(
        "need: pieces or {kilogram} expected through the last day, by last valid days and by "
        "failures seen. Short from: the first day through which usable stock no longer meets the "
        "need with a chance of {service_level:.0%}. The forecast is an estimate; order more "
        "where the maker's manual asks for it.",
        kilogram=KILOGRAM.word,
        service_level=service_level,
    )
    return blocks + text_lines(said, wide, 7.4)


def _by_day_and_supplier(row: OrderLine) -> tuple[date, bool, str]:
    return row.order_on or date.max, row.supplier is None, (row.supplier or "").casefold()


def _title(row: OrderLine, today: date) -> str:
    when = (
        say("Order today, {today}", today=day(today))
        if row.order_on == today
        else say("Order by {order_on}", order_on=day(row.order_on))
    )
    if row.supplier:
        return strung(", ", (when, say("from {supplier}", supplier=row.supplier)))
    return strung(", ", (when, say("supplier {not_recorded}", not_recorded=NOT_RECORDED)))


def _row(row: OrderLine) -> tuple[str, ...]:
    packs = "" if row.pack_size == 1 else f" ({row.packs} x {row.pack_size:g})"
    unit: str | Measure = KILOGRAM if row.stocked_in == "kg" else ""
    return (
        row.part_type,
        in_unit(row.usable, unit),
        in_unit(row.on_hand, unit),
        f"{row.reserved:g}",
        in_unit(row.expiring, unit),
        in_unit(row.need, unit, 1),
        strung(", ", (day(row.short_on), *((say("late"),) if row.late_by else ()))),
        f"{in_unit(row.quantity, unit)}{packs}",
        f"{row.lead_days} d",
        NOT_RECORDED if row.cost is None else f"{row.cost:,.2f}",
    )


def _cells(row: OrderLine) -> tuple[Cell, ...]:
    return (
        "nothing to order" if row.order_on is None else row.order_on,
        row.part_type,
        row.code,
        row.quantity,
        row.packs,
        row.pack_size,
        row.stocked_in,
        round(row.usable, 2),
        round(row.on_hand, 2),
        row.reserved,
        round(row.expiring, 2),
        round(row.need, 2),
        round(row.safety, 2),
        "" if row.short_on is None else row.short_on,
        row.late_by,
        row.lead_days,
        plain_number(row.cost) if row.cost is None else row.cost,
        strung("; ", row.why),
        row.supplier or NOT_RECORDED,
    )
