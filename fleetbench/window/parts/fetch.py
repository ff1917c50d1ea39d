"""What to fetch from the shelf for the work of the coming days: oldest usable first, and what is short."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import say, strung
from fleetbench.window.detail.detail import Detail, Fact, Line, Section, Table
from fleetbench.window.detail.export_row import ExportRow, HorizonRow
from fleetbench.window.due.page import SIBLINGS
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness
from fleetbench.window.look.marks import OK, STOP, Mark
from fleetbench.window.look.words import NONE, counted, day, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.due.list import list_due
from fleetbench.workshop.parts.orders import FetchRow, fetch_list

DAYS = 14
"""How far ahead the page looks at first; common practice, no published source."""

EMPTY = Emptiness(
    "Nothing to pick",
    "No part in a unit ends within these days. Look further ahead, or at Due for what is only to be tested.",
    "stock",
    "go to due",
    "Open Due",
)


def list_page(context: PageContext) -> "FetchPage":
    """The list of what to fetch."""
    return FetchPage(context)


class FetchPage(ListPage[FetchRow]):
    """The list page with its horizon above the rows."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        self._context = context
        self._days: int | None = DAYS
        super().__init__(context.theme, context.background, self._make_spec(), parent)
        # The zone is known here already: asking the workplace for today would touch the database in this thread.
        today = context.workplace.clock().astimezone(context.zone).date()
        self.horizon = HorizonRow(context.theme, today, DAYS, self)
        self.content.insertWidget(2, self.horizon)
        self.horizon.chosen.connect(self._on_horizon)
        self.exports = ExportRow(context.theme, context.background, "fetch", (".pdf",), self._writer, self)
        self.heading.addWidget(self.exports)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    def _make_spec(self) -> ListSpec[FetchRow]:
        return ListSpec(
            "Pick list",
            COLUMNS,
            key=lambda row: str(row.part_type_id),
            load=self._load,
            describe=describe,
            empty=EMPTY,
            sum_up=sum_up,
            choices=(QuickFilter("short", lambda row: row.short > 0, STOP),),
            siblings=SIBLINGS,
            sort_column="type",
        )

    def _load(self) -> Sequence[FetchRow]:
        # Called off the GUI thread; the days are a value that is only ever replaced whole.
        return fetch_within(self._context.workplace, self._days)[0]

    def _writer(self) -> Callable[[Path], object]:
        workplace, days = self._context.workplace, self._days

        def write(path: Path) -> None:
            # reportlab is slow to import; only printing waits for it
            from fleetbench.paper.core.document import letterhead
            from fleetbench.paper.parts.pages import write_fetch_list

            rows, last = fetch_within(workplace, days)
            head = letterhead(workplace)
            write_fetch_list(rows, path, head=head, first=workplace.today(), last=last, size=head.size)

        return write

    @Slot(object)
    def _on_horizon(self, days: int | None) -> None:
        self._days = days
        self.refresh()


def fetch_within(workplace: Workplace, days: int | None) -> tuple[tuple[FetchRow, ...], date]:
    """What to fetch for so many days from today, None for everything that is due, and the last of these days."""
    items, today = list_due(workplace, within_days=days), workplace.today()
    last = max((item.last_good_day for item in items if item.last_good_day is not None), default=today)
    through = last if days is None else today + timedelta(days=days)
    return fetch_list(workplace, items, through), through


def state_of(row: FetchRow) -> Mark:
    """Whether the shelf holds enough."""
    return STOP.worded(say("short {count}", count=row.short)) if row.short else OK.worded("all there")


def take_words(row: FetchRow) -> str:
    """The parts to take, in their order."""
    return strung(", ", (piece.part.label for piece in row.take)) or say("none usable on the shelf")


def from_words(row: FetchRow) -> str:
    """The places they lie in."""
    return strung(", ", dict.fromkeys(said(piece.place) for piece in row.take)) or NONE


def sum_up(rows: Sequence[FetchRow]) -> str:
    """'12 parts of 5 types, 2 short'."""
    wanted, short = sum(row.wanted for row in rows), sum(row.short for row in rows)
    return say(
        "{wanted} of {count}, {short} short",
        wanted=counted(wanted, "part"),
        count=counted(len(rows), "type"),
        short=short,
    )


def describe(row: FetchRow) -> Detail:
    """What to take from where, and what it is for."""
    return Detail(
        row.part_type,
        row.code,
        (state_of(row),),
        (
            Table(
                "Take, oldest usable first",
                ("Part, from", "Last valid day"),
                tuple(
                    Line(
                        (
                            strung(", ", (piece.part.label, said(piece.place))),
                            day(piece.last_good_day, say("no limit")),
                        ),
                        leads_to=PageKey("parts", str(piece.part.part_id)),
                    )
                    for piece in row.take
                ),
                "None that is usable lies on the shelf: look at Orders.",
                column=0,
            ),
            Section("Wanted for", tuple(Fact("", where) for where in row.wanted_for)),
        ),
    )


COLUMNS: tuple[Column[FetchRow], ...] = (
    Column("type", "Part type", lambda row: row.part_type),
    Column("wanted", "Wanted", lambda row: str(row.wanted), lambda row: row.wanted, align_right=True),
    Column("state", "Shelf", lambda row: state_of(row).word, lambda row: -row.short, state=state_of),
    Column("take", "Take, oldest usable first", take_words, gives_way=True, tooltip=take_words),
    Column("from", "From", from_words),
    Column("for", "For", lambda row: strung("; ", row.wanted_for), tooltip=lambda row: strung("; ", row.wanted_for),
           shown=False),
)  # fmt: skip
