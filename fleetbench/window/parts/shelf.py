"""The shelf: every part that sits in no slot, whether it may be fitted, and the acts on it."""

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import QItemSelection, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.parts.kinds import PartState
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import nothing_recorded
from fleetbench.window.look.marks import ADVISE, OK, STOP, Mark, mark_for
from fleetbench.window.look.words import NONE, counted, day, figure, last_day, said, spaced
from fleetbench.window.parts.acts import PartBar
from fleetbench.window.parts.stock import SIBLINGS
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.parts.shelf import ShelfRow, list_shelf

EMPTY = nothing_recorded(
    "No part lies on a shelf", "stock", "Spare parts stand here once they are received.", "receive", "Receive"
)


def list_page(context: PageContext) -> "ShelfList":
    """The list of parts on shelves."""
    return ShelfList(context)


class ShelfList(ListPage[ShelfRow]):
    """The list page with the acts above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, _spec(context), parent)
        self.desk = PartBar(context, receives=True, keys_on=self.table, parent=self)
        self.content.insertWidget(2, self.desk)
        self.desk.changed.connect(self._on_changed)
        self.desk.refused.connect(self.banner.say_refused)
        self.desk.left.connect(self.focus_table)
        self.rows_shown.connect(self._on_rows_shown)
        self.table.selectionModel().selectionChanged.connect(self._on_selection)

    def marked_rows(self) -> list[ShelfRow]:
        """The rows that are marked, in the order shown."""
        numbers = sorted({index.row() for index in self.table.selectionModel().selectedRows()})
        return [self.model.row_at(number) for number in numbers if number < len(self.model.rows)]

    @Slot(QItemSelection, QItemSelection)
    def _on_selection(self, _now: QItemSelection, _before: QItemSelection) -> None:
        self._choose_marked()

    def _choose_marked(self) -> None:
        rows = self.marked_rows()
        can = set.intersection(*(set(acts_of(row)) for row in rows)) if rows else set()
        self.desk.choose_parts([(row.part.part_id, row.part.label) for row in rows], sorted(can))

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        self._choose_marked()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()


def acts_of(row: ShelfRow) -> tuple[str, ...]:
    """Which acts the row's state allows; undo is offered and refused where there is nothing to take back."""
    if row.part.state == PartState.SENT_BACK:
        return ("take_back", "undo_last")
    opening = ("open_part",) if row.opened is None else ()
    if row.part.state == PartState.QUARANTINE:
        return (*opening, "record_test", "release_part", "send_back", "scrap_part", "undo_last")
    return (*opening, "record_test", "move_parts", "quarantine_part", "send_back", "scrap_part", "undo_last")


def state_of(row: ShelfRow) -> Mark:
    """The condition of the part: the same word and mark as on its own page."""
    return mark_for(row.condition)


def sum_up(rows: Sequence[ShelfRow]) -> str:
    """'96 parts: 84 usable, 9 set aside'."""
    usable, aside = sum(row.usable for row in rows), sum(row.part.state == PartState.QUARANTINE for row in rows)
    return say(
        "{count}: {usable} usable, {aside} set aside", count=counted(len(rows), "part"), usable=usable, aside=aside
    )


def describe(row: ShelfRow, currency: str = "") -> Detail:
    """What the list's own row says of a part."""
    reasons = tuple(Fact("", why) for why in row.why_not)
    return Detail(
        row.part.label,
        strung(", ", (row.kind.name, spaced(row.kind.kind))),
        (state_of(row),),
        (
            *((Section("What its records say" if row.usable else "Why it is not usable", reasons),) if reasons else ()),
            Section(
                "On the shelf",
                (
                    Fact("State", say("set aside") if row.part.state == PartState.QUARANTINE else say(row.part.state)),
                    Fact("Place", said(row.lies.place)),
                    Fact("Last valid day", last_day(row.last_good_day, row.days_left), note=row.why),
                    Fact("Made", said(row.made)),
                    Fact("Opened", said(row.opened, say("sealed"))),
                    Fact("Received", day(row.part.received_on, say("not recorded"))),
                ),
            ),
            Section(
                "Bought",
                (
                    Fact("Lot", said(row.part.lot)),
                    Fact("Supplier", said(row.lies.supplier)),
                    Fact("Price", figure(row.lies.price, currency, 2)),
                    Fact("Owner", row.lies.owner),
                ),
            ),
        ),
    )


def _spec(context: PageContext) -> ListSpec[ShelfRow]:
    return ListSpec(
        "Shelf",
        COLUMNS,
        key=lambda row: str(row.part.part_id),
        load=partial(list_shelf, context.workplace),
        describe=partial(describe, currency=context.currency),
        empty=EMPTY,
        sum_up=sum_up,
        place=lambda row: PageKey("parts", str(row.part.part_id)),
        choices=(
            QuickFilter("usable", lambda row: row.usable, OK),
            QuickFilter("ends within 90 days", lambda row: row.days_left is not None and row.days_left <= 90, ADVISE),
            QuickFilter("not usable", lambda row: not row.usable, STOP),
            QuickFilter("set aside", lambda row: row.part.state == PartState.QUARANTINE),
            QuickFilter("sent back", lambda row: row.part.state == PartState.SENT_BACK),
        ),
        siblings=SIBLINGS,
        sort_column="type",
    )


COLUMNS: tuple[Column[ShelfRow], ...] = (
    Column("part", "Part", lambda row: row.part.label, gives_way=True),
    Column("type", "Part type", lambda row: row.kind.name,
           lambda row: (row.kind.name, row.last_good_day is None, row.last_good_day or 0, row.part.label),
           gives_way=True),
    Column("state", "State", lambda row: state_of(row).word, lambda row: -state_of(row).rank, state=state_of,
           tooltip=lambda row: strung("; ", row.why_not)),
    Column("last", "Last valid day", lambda row: day(row.last_good_day, NONE), lambda row: row.last_good_day,
           tooltip=lambda row: row.why),
    Column("place", "Place", lambda row: said(row.lies.place, NONE), gives_way=True),
    Column("lot", "Lot", lambda row: said(row.part.lot, NONE), gives_way=True),
    Column("made", "Made", lambda row: said(row.made, NONE), shown=False),
    Column("opened", "Opened", lambda row: said(row.opened, say("sealed")), shown=False),
    Column("received", "Received", lambda row: day(row.part.received_on, NONE), lambda row: row.part.received_on,
           shown=False),
    Column("owner", "Owner", lambda row: row.lies.owner, shown=False),
)  # fmt: skip
