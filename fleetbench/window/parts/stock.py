"""Stock: what is on hand of each part type, what is usable and what ends soon."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM, in_unit, measured_in
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.act_bar import ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.words import NONE, counted, day, figure, spaced
from fleetbench.window.parts.dialogs import count_form, receive_form, received_words, use_up_form
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.parts import stock
from fleetbench.workshop.parts.stock import StockRow

EMPTY = nothing_recorded("No part types are recorded yet", "stock", "Each part type stands here with what is in stock.")
SIBLINGS = (
    ("Stock", PageKey("stock")),
    ("Shelf", PageKey("shelf")),
    ("Orders", PageKey("orders")),
    ("Kits", PageKey("kits")),
    ("Cylinders", PageKey("cylinders")),
    ("Absorbent", PageKey("absorbent")),
)


def _in_pieces(row: StockRow | None) -> bool:
    return row is not None and row.stocked_in == "piece"


def counted_words(row: StockRow, over: int) -> str:
    """'Oxygen cell: 2 fewer than the book, said so in their records.'."""
    if not over:
        return say("{part_type}: as on record.", part_type=row.part_type)
    return say(
        "{part_type}: {over} {what} than on record; each piece's record has it.",
        part_type=row.part_type,
        over=abs(over),
        what=say("more") if over > 0 else say("fewer"),
    )


ACTS = (
    ActSpec("receive", "Receive parts", "N", "add", "receive parts", at_any_time,
            lambda bar, row: receive_form(
                bar.workplace, row.code if row is not None else "", bar.context.currency),
            lambda _row, received: received_words(received)),
    ActSpec("count", "Stock-take", "Shift+S", "take stock", "stock-take", _in_pieces,
            lambda bar, row: count_form(bar.workplace, row.code, row.part_type), counted_words),
    ActSpec("use_up", "Use up", "U", "use up", "use up", _in_pieces,
            lambda bar, row: use_up_form(bar.workplace, row.code, row.part_type),
            lambda row, keys: say("{count} of {part_type} used up.", count=counted(len(keys), 'piece'),
                part_type=row.part_type)),
)  # fmt: skip


def list_page(context: PageContext) -> "StockList":
    """The list of part types."""
    return StockList(context)


class StockList(ActList[StockRow]):
    """The list page with the acts on counted stock above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context, _spec(context), ACTS, parent)


def _spec(context: PageContext) -> ListSpec[StockRow]:
    return ListSpec(
        "Stock",
        COLUMNS,
        key=lambda row: str(row.part_type_id),
        load=partial(stock.list_stock, context.workplace),
        describe=partial(describe, currency=context.currency),
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            QuickFilter("none usable", lambda row: state_of(row) is NONE_USABLE, STOP),
            QuickFilter("short for tickets", lambda row: row.free < 0, STOP),
            QuickFilter("ends soon", lambda row: row.expiring > 0, ADVISE),
            QuickFilter("past or not known", lambda row: row.expired > 0 or row.unknown > 0, UNKNOWN),
        ),
        siblings=SIBLINGS,
    )


NONE_USABLE = STOP.worded("none usable")
ENDS_SOON = ADVISE.worded("some ends soon")
USABLE = OK.worded("usable")
SHORT = STOP.worded("short for tickets")
NOT_STOCKED = UNKNOWN.worded("none on hand")


def state_of(row: StockRow) -> Mark:
    """Whether a part of that type could be taken from the shelf today, beyond what open tickets will take."""
    if row.free < 0:
        return SHORT
    if not row.on_hand:
        return NOT_STOCKED
    if not row.usable:
        return NONE_USABLE
    return ENDS_SOON if row.expiring else USABLE


def sum_up(rows: Sequence[StockRow]) -> str:
    """'48 part types: 2 none usable, 1 short for tickets, 5 end soon'."""
    marks = [state_of(row) for row in rows]
    none, short, soon = marks.count(NONE_USABLE), marks.count(SHORT), sum(row.expiring > 0 for row in rows)
    return say(
        "{count}: {none} none usable, {short} short for tickets, {soon} end soon",
        count=counted(len(rows), "part type"),
        none=none,
        short=short,
        soon=soon,
    )


def amount(row: StockRow, value: float) -> str:
    """So many pieces or kilograms."""
    if row.stocked_in != "piece":
        return in_unit(value, measured_in(row.stocked_in))
    return counted(round(value), "piece")


def describe(row: StockRow, currency: str = "") -> Detail:
    """What the list's own row says of a part type."""
    return Detail(
        row.part_type,
        strung(", ", (row.code, spaced(row.kind))),
        (state_of(row),),
        (
            Section(
                "On the shelf",
                (
                    Fact("On hand", amount(row, row.on_hand)),
                    Fact("Usable today", amount(row, row.usable), note=say("on no hold and inside every known limit")),
                    Fact("Reserved by tickets", amount(row, row.reserved)),
                    Fact("Ends within 90 days", amount(row, row.expiring)),
                    Fact("Expired", amount(row, row.expired)),
                    Fact("Date not known", amount(row, row.unknown)),
                    Fact("Set aside", amount(row, row.quarantine)),
                    Fact("First to expire", day(row.first_to_expire, NONE)),
                ),
            ),
            *((Section("Reserved for", tuple(Fact("", said) for said in row.reserved_for)),) if row.reserved else ()),
            Section(
                "Use and supply",
                (
                    Fact("Fitted", str(row.fitted)),
                    Fact(
                        "Lead time",
                        say("{lead_days} days", lead_days=row.lead_days)
                        if row.lead_days is not None
                        else say("not recorded"),
                    ),
                    Fact("Pack size", figure(row.pack_size, measured_in(row.stocked_in), 0)),
                    Fact("Price", figure(row.price, currency, 2)),
                ),
            ),
        ),
    )


def _number(value: float) -> str:
    return f"{value:g}"


def _amount(row: StockRow, value: float) -> str:
    """The bare number of pieces, and kilograms with their unit."""
    return KILOGRAM.words(float(f"{value:.5g}")) if row.stocked_in == "kg" else _number(value)


COLUMNS: tuple[Column[StockRow], ...] = (
    Column("type", "Part type", lambda row: row.part_type, gives_way=True),
    Column("state", "Shelf", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
    Column("hand", "On hand", lambda row: _amount(row, row.on_hand), lambda row: row.on_hand, align_right=True),
    Column("usable", "Usable", lambda row: _amount(row, row.usable), lambda row: row.usable, align_right=True),
    Column("reserved", "Reserved", lambda row: str(row.reserved), lambda row: row.reserved, align_right=True,
           tooltip=lambda row: strung("; ", row.reserved_for), heading_tip="Pieces that open tickets will take"),
    Column("soon", "Ends soon", lambda row: _amount(row, row.expiring), lambda row: row.expiring, align_right=True,
           heading_tip="Usable now, but its last valid day on the shelf is within 90 days"),
    Column("first", "First to expire", lambda row: day(row.first_to_expire, NONE), lambda row: row.first_to_expire,
           shown=False),
    Column("expired", "Expired", lambda row: _number(row.expired), lambda row: row.expired, True, shown=False),
    Column("fitted", "Fitted", lambda row: str(row.fitted), lambda row: row.fitted, True, shown=False),
    Column("kind", "Kind", lambda row: spaced(row.kind), shown=False),
    Column("code", "Code", lambda row: row.code, shown=False),
    Column("unknown", "Date not known", lambda row: _number(row.unknown), lambda row: row.unknown, True, shown=False),
    Column("aside", "Set aside", lambda row: _number(row.quarantine), lambda row: row.quarantine, True, shown=False),
)  # fmt: skip
