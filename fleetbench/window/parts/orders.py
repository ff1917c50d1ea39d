"""Orders: what to order of each part type, by when and how much, with what the figures rest on."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.measures import KILOGRAM
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, OK, STOP, Mark
from fleetbench.window.look.words import NONE, counted, day, figure, in_currency, said
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.parts.orders import OrderLine, order_list

EMPTY = nothing_recorded("No part types are recorded yet", "stock", "What to order stands here once parts have lives.")
ENDINGS = (".pdf", ".csv", ".xlsx")
LATE = STOP.worded("late")
ORDER = ADVISE.worded("order")
ENOUGH = OK.worded("enough")
SUPPLIED = say("of the newest piece that came with one")


def list_page(context: PageContext) -> "OrderPage":
    """The list of orders."""
    return OrderPage(context)


class OrderPage(ListPage[OrderLine]):
    """The list page with its export beside the title."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, _spec(context), parent)
        self._workplace = context.workplace
        self.exports = ExportRow(context.theme, context.background, "order-list", ENDINGS, self._writer, self)
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    def _writer(self) -> Callable[[Path], object]:
        workplace = self._workplace

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.printing import print_orders

            print_orders(workplace, path)

        return write


def state_of(row: OrderLine) -> Mark:
    """Whether to order, and whether that comes in time."""
    if row.order_on is None:
        return ENOUGH
    return LATE if row.late_by else ORDER


def sum_up(rows: Sequence[OrderLine], currency: str = "") -> str:
    """'5 of 28 part types to order in 90 days, 1 too late, cost 1,744.00 EUR'."""
    wanted = [row for row in rows if row.order_on is not None]
    late, cost = sum(row.late_by > 0 for row in wanted), sum(row.cost or 0.0 for row in wanted)
    said = say("{count} of {count_2} to order in 90 days", count=len(wanted), count_2=counted(len(rows), "part type"))
    more = (
        say("{late} too late", late=late) if late else "",
        say("cost {cost}", cost=f"{cost:,.2f} {currency}".rstrip()) if cost else "",
    )
    return strung(", ", filter(None, (said, *more)))


def describe(row: OrderLine, currency: str = "") -> Detail:
    """What the list's own row says of a part type."""
    return Detail(
        row.part_type,
        row.code,
        (state_of(row),),
        (
            Section(
                "Order",
                (
                    Fact("Order by", day(row.order_on, say("nothing to order"))),
                    Fact("How many", how_many(row)),
                    Fact("Short from", day(row.short_on, say("not within 90 days"))),
                    Fact("Lead time", say("{lead_days} days", lead_days=row.lead_days)),
                    Fact("Supplier", said(row.supplier), note=SUPPLIED),
                    Fact("Cost", figure(row.cost, currency, 2, NONE)),
                ),
            ),
            Section(
                "Need in 90 days",
                (
                    Fact("Expected", amount(row, row.need, ".1f"), note=_made_of(row)),
                    Fact("Safety stock", amount(row, row.safety, ".1f")),
                    Fact("Reserved by tickets", str(row.reserved)),
                    Fact(
                        "Usable today",
                        amount(row, row.usable),
                        note=say("of {row} on hand", row=amount(row, row.on_hand)),
                    ),
                    Fact("Ends on the shelf", amount(row, row.expiring)),
                ),
            ),
            Section("What it rests on", tuple(Fact("", why) for why in row.why)),
        ),
    )


def how_many(row: OrderLine) -> str:
    """'9 (3 packs of 3)'."""
    if row.order_on is None:
        return NONE
    if row.pack_size == 1:
        return amount(row, row.quantity)
    return say(
        "{row} ({packs} of {pack_size:g})",
        row=amount(row, row.quantity),
        packs=counted(row.packs, "pack"),
        pack_size=row.pack_size,
    )


def amount(row: OrderLine, value: float, style: str = ".5g") -> str:
    """The bare number of pieces, and kilograms with their unit."""
    return KILOGRAM.words(float(f"{value:{style}}")) if row.stocked_in == "kg" else f"{value:{style}}"


def _made_of(row: OrderLine) -> str:
    return (
        ""
        if row.stocked_in == "kg"
        else say("{due:.1f} due, {failures:.1f} failures", due=row.due, failures=row.failures)
    )


def _spec(context: PageContext) -> ListSpec[OrderLine]:
    return ListSpec(
        "Orders",
        tuple(
            replace(each, title=in_currency(each.title, context.currency)) if each.key == "cost" else each
            for each in COLUMNS
        ),
        key=lambda row: str(row.part_type_id),
        load=partial(order_list, context.workplace),
        describe=partial(describe, currency=context.currency),
        empty=EMPTY,
        sum_up=partial(sum_up, currency=context.currency),
        choices=(
            QuickFilter("to order", lambda row: row.order_on is not None, ADVISE),
            QuickFilter("too late", lambda row: row.late_by > 0, STOP),
            QuickFilter("reserved", lambda row: row.reserved > 0),
        ),
        siblings=SIBLINGS,
        saved_as=(),
        sort_column="order",
    )


COLUMNS: tuple[Column[OrderLine], ...] = (
    Column("type", "Part type", lambda row: row.part_type, gives_way=True),
    Column("order", "Order by", lambda row: day(row.order_on, say("enough")), lambda row: row.order_on, state=state_of),
    Column("quantity", "How many", how_many, lambda row: row.quantity, align_right=True),
    Column("usable", "Usable", lambda row: amount(row, row.usable), lambda row: row.usable, align_right=True),
    Column("hand", "On hand", lambda row: amount(row, row.on_hand), lambda row: row.on_hand, True, shown=False),
    Column("reserved", "Reserved", lambda row: str(row.reserved), lambda row: row.reserved, True, shown=False,
           heading_tip="Pieces that tasks of open tickets will take; part of the need"),
    Column("expiring", "Ends in 90 days", lambda row: amount(row, row.expiring), lambda row: row.expiring, True,
           shown=False),
    Column("need", "Need", lambda row: amount(row, row.need, ".1f"), lambda row: row.need, align_right=True,
           tooltip=lambda row: strung("; ", row.why),
           heading_tip="Pieces or kilograms expected in 90 days, by last valid days, failures so far, and bookings"),
    Column("short", "Short from", lambda row: day(row.short_on, NONE), lambda row: row.short_on, shown=False),
    Column("cost", "Cost", lambda row: figure(row.cost, "", 2, NONE), lambda row: row.cost, align_right=True),
    Column("supplier", "Supplier", lambda row: said(row.supplier), lambda row: row.supplier, shown=False),
    Column("code", "Code", lambda row: row.code, shown=False),
)  # fmt: skip
