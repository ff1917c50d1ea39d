"""Parts on paper: the order list, also as a table, and the note that goes with a part sent back under warranty.

The list of parts to fetch, by the place they lie in, and what is short.
"""

from collections.abc import Sequence
from datetime import date
from functools import partial
from itertools import groupby

from fleetbench.calc.core.languages import say, say_count, strung
from fleetbench.calc.core.measures import KILOGRAM, Measure, in_unit, measured_in
from fleetbench.paper.core.document import Heading, Letterhead, PageSize, joined
from fleetbench.paper.core.flow import Block, TableColumn, pairs, section, space, table, text_lines, write_flow
from fleetbench.paper.core.marks import NOT_RECORDED, by_whom, day, figure, moment, plain_number, said
from fleetbench.paper.core.pen import Align
from fleetbench.paper.core.spreadsheet import Cell, write_csv, write_xlsx
from fleetbench.records.core.plain_file import Target
from fleetbench.records.parts.lookups import ProofFigures
from fleetbench.workshop.parts.acts import ReturnPage
from fleetbench.workshop.parts.orders import FetchRow, OrderLine

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
    return write_flow(_order_blocks(wanted, on, service_level, size.inner), heading, target, size)


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


def _order_blocks(wanted: Sequence[OrderLine], today: date, service_level: float, wide: float) -> list[Block]:
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


_PROOFS = (
    TableColumn("when", 16, bold=True),
    TableColumn("what", 14),
    TableColumn("result", 11, mark=True),
    TableColumn("read", 30, Align.LEFT),
    TableColumn("finding", 32),
)


def write_return(facts: ReturnPage, target: Target, *, head: Letterhead, size: PageSize = PageSize.A4) -> int:
    """Write the note of a returned part as PDF; returns its number of pages."""
    subtitle = joined((facts.page.kind.name, say("sent {sent_at}", sent_at=moment(facts.sent_at))))
    heading = Heading(head, say("Return of {label}", label=facts.page.part.label), f"RETURN-{facts.event_id}", subtitle)
    return write_flow(_blocks(facts, size.inner, head.currency), heading, target, size)


def _blocks(facts: ReturnPage, wide: float, currency: str | None) -> list[Block]:
    known = pairs(
        (
            (say("part type"), facts.page.kind.name),
            (say("serial"), said(facts.page.part.serial)),
            (say("lot"), said(facts.page.part.lot)),
            (say("made"), day(facts.page.made)),
            (say("opened"), day(facts.page.opened)),
            (say("received"), day(facts.page.part.received_on)),
            (say("supplier"), said(facts.page.lies.supplier)),
            (say("price"), figure(facts.page.lies.price, currency or "", 2)),
            (say("sent back"), by_whom(facts.sent_at, facts.sent_by)),
        ),
        2,
        label_share=0.22,
    )
    blocks = [space(2), *known, section(say("What is wrong with it")), *text_lines(facts.reason, wide)]
    blocks.append(section(say("Readings that prove it")))
    blocks += table(_PROOFS, map(_proof, facts.proofs), wide, 7.8)
    blocks.append(section(say("Where it served")))
    for line in facts.served or (say("It was never fitted."),):
        blocks += text_lines(line, wide, 8.2)
    return blocks


def _proof(proof: ProofFigures) -> tuple[str, ...]:
    figures = strung("; ", _figures(proof)) or say("no figure")
    return moment(proof.at), proof.kind, proof.result, figures, said(proof.finding)


def _figures(proof: ProofFigures) -> tuple[str, ...]:
    """What was read, in words; nothing for what was not."""
    read = []
    if proof.air_mv is not None:
        read.append(say("air {air_mv:.1f} mV", air_mv=proof.air_mv))
    if proof.oxygen_mv is not None:
        read.append(say("oxygen {oxygen_mv:.1f} mV", oxygen_mv=proof.oxygen_mv))
    if proof.linearity is not None:
        u = f" ± {proof.expanded_u:.1f}" if proof.expanded_u is not None else ""
        read.append(say("linearity {figure} %", figure=f"{proof.linearity:.1f}{u}"))
    if proof.held is not None:
        read.append(say("held") if proof.held else say("fell"))
    if proof.value is not None:
        read.append(in_unit(proof.value, measured_in(proof.unit)))
    return tuple(read)


_TAKE = (
    TableColumn("take", 24, bold=True),
    TableColumn(say("part type"), 28),
    TableColumn(say("last valid day"), 14),
    TableColumn("for", 30),
    TableColumn(say("got it"), 8),
)
_SHORT = (
    TableColumn(say("part type"), 40, bold=True),
    TableColumn("wanted", 12, Align.RIGHT),
    TableColumn("short", 12, Align.RIGHT),
    TableColumn("for", 40),
)


def write_fetch_list(
    rows: Sequence[FetchRow],
    target: Target,
    *,
    head: Letterhead,
    first: date,
    last: date,
    size: PageSize = PageSize.A4,
) -> int:
    """Write what to fetch for the days from first through last as PDF, a section a place; returns its pages.

    Pieces are told for the slots in the workshop's order, oldest usable first.
    """
    short = sum(row.short for row in rows)
    subtitle = joined(
        (
            say("{first} through {last}", first=day(first), last=day(last)),
            say("{count} to take", count=sum(len(row.take) for row in rows)),
            say("{short} short", short=short) if short else "",
        )
    )
    heading = Heading(head, say("Pick list"), f"FETCH-{first.isoformat()}", subtitle)
    return write_flow(_fetch_blocks(rows, size.inner), heading, target, size)


def _fetch_blocks(rows: Sequence[FetchRow], wide: float) -> list[Block]:
    if not rows:
        return text_lines(say("Nothing to pick for these days: no part in a unit ends within them."), wide, 10)
    pieces = sorted(_pieces(rows), key=lambda piece: (piece[0], piece[1][1]))
    blocks: list[Block] = []
    for place, listed in groupby(pieces, key=lambda piece: piece[0]):
        blocks.append(section(place))
        blocks.extend(table(_TAKE, [cells for _place, cells in listed], wide, 8.2, 5))
    short = [row for row in rows if row.short]
    if short:
        blocks.append(section(say("Short: no usable piece lies on a shelf")))
        blocks.extend(
            table(
                _SHORT,
                [
                    (row.part_type, str(row.wanted), str(row.short), strung("; ", row.wanted_for[len(row.take) :]))
                    for row in short
                ],
                wide,
                8.2,
                5,
            )
        )
    blocks.append(space(6))
    said = say("Look at each part before it is fitted: what is marked on it stands above what is recorded.")
    return blocks + text_lines(said, wide, 7.4)


def _pieces(rows: Sequence[FetchRow]) -> list[tuple[str, tuple[str, ...]]]:
    """Where each piece lies, and its row of the list."""
    return [
        (
            piece.place or say("place {not_recorded}", not_recorded=NOT_RECORDED),
            (
                piece.part.label,
                row.part_type,
                say("no limit on the shelf") if piece.last_good_day is None else day(piece.last_good_day),
                where,
                "",
            ),
        )
        for row in rows
        for piece, where in zip(row.take, row.wanted_for, strict=False)
    ]
