"""Stock: what is on hand of each part type, what is usable and what ends soon."""

from collections.abc import Sequence
from functools import partial

from fleetbench.window.detail import Detail, Fact, Section
from fleetbench.window.empty_state import nothing_recorded
from fleetbench.window.list_page import Choice, ListPage, ListSpec
from fleetbench.window.marks import ADVISE, OK, STOP, UNKNOWN, Mark
from fleetbench.window.pages import PageContext
from fleetbench.window.place import Place
from fleetbench.window.rows import Column
from fleetbench.window.words import NONE, counted, day, figure, spaced
from fleetbench.workshop import stock
from fleetbench.workshop.stock import StockRow

EMPTY = nothing_recorded("No part types are recorded yet", "stock")
SIBLINGS = (
    ("Stock", Place("stock")),
    ("Shelf", Place("shelf")),
    ("Orders", Place("orders")),
    ("Cylinders", Place("cylinders")),
    ("Absorbent", Place("absorbent")),
)


def list_page(context: PageContext) -> ListPage[StockRow]:
    """The list of part types."""
    spec = ListSpec(
        "Stock",
        COLUMNS,
        key=lambda row: str(row.part_type_id),
        load=partial(stock.list_stock, context.shop),
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        choices=(
            Choice("none usable", lambda row: state_of(row) is NONE_USABLE, STOP),
            Choice("ends within 90 days", lambda row: row.expiring > 0, ADVISE),
            Choice("expired on the shelf", lambda row: row.expired > 0),
            Choice("date not known", lambda row: row.unknown > 0, UNKNOWN),
        ),
        siblings=SIBLINGS,
    )
    return ListPage(context.theme, context.background, spec)


NONE_USABLE = STOP.worded("none usable")
ENDS_SOON = ADVISE.worded("some ends soon")
USABLE = OK.worded("usable")
NOT_STOCKED = UNKNOWN.worded("none on hand")


def state_of(row: StockRow) -> Mark:
    """Whether a part of that type could be taken from the shelf today."""
    if not row.on_hand:
        return NOT_STOCKED
    if not row.usable:
        return NONE_USABLE
    return ENDS_SOON if row.expiring else USABLE


def sum_up(rows: Sequence[StockRow]) -> str:
    """'48 part types: 2 with none usable, 5 with some that ends within 90 days'."""
    none, soon = sum(state_of(row) is NONE_USABLE for row in rows), sum(row.expiring > 0 for row in rows)
    return f"{counted(len(rows), 'part type')}: {none} with none usable, {soon} with some that ends within 90 days"


def amount(row: StockRow, value: float) -> str:
    """So many pieces or kilograms."""
    return f"{value:g} {row.stocked_in}{'s' if row.stocked_in == 'piece' and value != 1 else ''}"


def describe(row: StockRow) -> Detail:
    """What the list's own row says of a part type."""
    return Detail(
        row.part_type,
        f"{row.code}, {spaced(row.kind)}",
        (state_of(row),),
        (
            Section(
                "On the shelf",
                (
                    Fact("On hand", amount(row, row.on_hand)),
                    Fact("Usable today", amount(row, row.usable), note="on no hold and inside every known limit"),
                    Fact("Ends within 90 days", amount(row, row.expiring)),
                    Fact("Expired", amount(row, row.expired)),
                    Fact("Date not known", amount(row, row.unknown)),
                    Fact("Set aside", amount(row, row.quarantine)),
                    Fact("First to expire", day(row.first_to_expire, NONE)),
                ),
            ),
            Section(
                "Use and supply",
                (
                    Fact("Fitted", str(row.fitted)),
                    Fact("Lead time", f"{row.lead_days} days" if row.lead_days is not None else "not recorded"),
                    Fact("Pack size", figure(row.pack_size, row.stocked_in, 0)),
                    Fact("Price", figure(row.price, "", 2)),
                ),
            ),
        ),
    )


def _number(value: float) -> str:
    return f"{value:g}"


COLUMNS: tuple[Column[StockRow], ...] = (
    Column("type", "Part type", lambda row: row.part_type),
    Column("state", "Shelf", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of),
    Column("usable", "Usable", lambda row: _number(row.usable), lambda row: row.usable, align_right=True),
    Column("hand", "On hand", lambda row: _number(row.on_hand), lambda row: row.on_hand, align_right=True),
    Column("in", "In", lambda row: row.stocked_in),
    Column("soon", "Ends in 90 days", lambda row: _number(row.expiring), lambda row: row.expiring, align_right=True),
    Column("expired", "Expired", lambda row: _number(row.expired), lambda row: row.expired, align_right=True),
    Column("first", "First to expire", lambda row: day(row.first_to_expire, NONE), lambda row: row.first_to_expire),
    Column("fitted", "Fitted", lambda row: str(row.fitted), lambda row: row.fitted, align_right=True),
    Column("kind", "Kind", lambda row: spaced(row.kind)),
    Column("code", "Code", lambda row: row.code, shown=False),
    Column("unknown", "Date not known", lambda row: _number(row.unknown), lambda row: row.unknown, True, shown=False),
    Column("aside", "Set aside", lambda row: _number(row.quarantine), lambda row: row.quarantine, True, shown=False),
)
