"""The order list on paper and as CSV: what to order on which day, how many packs, and what the figures rest on."""

import csv
import io
from collections.abc import Sequence
from datetime import date
from itertools import groupby

from fleetbench.calc.core.measures import KILOGRAM, Measure, in_unit
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, section, space, table, text_lines, write_flow
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.spreadsheet import neutral
from fleetbench.paper.core.words import NOT_RECORDED, day, plain_number
from fleetbench.records.core.plain_file import Target, written
from fleetbench.workshop.parts.orders import OrderLine

_COLUMNS = (
    TableColumn("part type", 27, bold=True),
    TableColumn("usable", 8, Align.RIGHT),
    TableColumn("on hand", 8, Align.RIGHT),
    TableColumn("reserved", 9, Align.RIGHT),
    TableColumn("ends soon", 10, Align.RIGHT),
    TableColumn("need", 8, Align.RIGHT),
    TableColumn("short from", 12),
    TableColumn("order", 16, bold=True),
    TableColumn("lead", 9, Align.RIGHT),
    TableColumn("cost", 10, Align.RIGHT),
)
_TITLES = (
    "order on", "part type", "code", "order", "packs", "pack size", "counted in", "usable", "on hand", "reserved",
    "ends on the shelf", "need", "safety stock", "short on", "days late", "lead days", "cost", "why",
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
    """Write what to order from one day through another as PDF, a section a day; returns its number of pages.

    service_level: the chance (0 to 1) with which the stock is to meet the need.
    """
    wanted = [line for line in lines if line.order_on is not None]
    subtitle = _subtitle(wanted, on, through, head.currency or "")
    heading = Heading(head, "Order list", f"ORDER-{on.isoformat()}", subtitle)
    return write_flow(_blocks(wanted, on, service_level, size.inner), heading, target, size)


def write_order_csv(lines: Sequence[OrderLine], target: Target, currency: str | None = None) -> int:
    """Write every part type of the list as CSV (RFC 4180, UTF-8 with its mark for spreadsheets); returns its rows."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    named = (f"cost, {currency}" if currency and title == "cost" else title for title in _TITLES)
    writer.writerow(list(named))
    for row in lines:
        writer.writerow([neutral(cell) if isinstance(cell, str) else cell for cell in _cells(row)])
    with written(target) as out:
        out.write(stream.getvalue().encode("utf-8-sig"))
    return len(lines)


def _subtitle(wanted: Sequence[OrderLine], first: date, last: date, currency: str) -> str:
    late = sum(row.late_by > 0 for row in wanted)
    cost = sum(row.cost for row in wanted if row.cost is not None)
    unpriced = sum(row.cost is None for row in wanted)
    return joined(
        (
            f"{day(first)} through {day(last)}",
            f"{len(wanted)} part {'type' if len(wanted) == 1 else 'types'} to order",
            f"{late} too late for the need" if late else "",
            f"cost {cost:,.2f} {currency}".rstrip() if cost else "",
            f"{unpriced} without a price" if unpriced else "",
        )
    )


def _blocks(wanted: Sequence[OrderLine], today: date, service_level: float, wide: float) -> list[Block]:
    blocks: list[Block] = []
    if not wanted:
        blocks.extend(text_lines("Nothing is to order in these days, as far as the records go.", wide, 10))
    for on, rows in groupby(wanted, key=lambda row: row.order_on):
        listed = list(rows)
        blocks.append(section(f"Order by {day(on)}" if on != today else f"Order today, {day(on)}"))
        blocks.extend(table(_COLUMNS, map(_row, listed), wide, 7.4, 5))
        for row in listed:
            blocks.extend(text_lines(f"{row.part_type}: {'; '.join(row.why)}.", wide, 7.0))
    blocks.append(space(6))
    said = (
        f"need: pieces or {KILOGRAM.word} expected through the last day, by last valid days and by failures seen. "
        "Short from: the first day through which usable stock no longer meets the need with a chance of "
        f"{service_level:.0%}. The forecast is an estimate; order more where the maker's manual asks for it."
    )
    return blocks + text_lines(said, wide, 7.4)


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
        f"{day(row.short_on)}{', late' if row.late_by else ''}",
        f"{in_unit(row.quantity, unit)}{packs}",
        f"{row.lead_days} d",
        NOT_RECORDED if row.cost is None else f"{row.cost:,.2f}",
    )


def _cells(row: OrderLine) -> tuple[str | float | int, ...]:
    return (
        "nothing to order" if row.order_on is None else day(row.order_on),
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
        "" if row.short_on is None else day(row.short_on),
        row.late_by,
        row.lead_days,
        plain_number(row.cost) if row.cost is None else row.cost,
        "; ".join(row.why),
    )
