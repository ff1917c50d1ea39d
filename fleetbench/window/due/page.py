"""Due: what must be replaced or done, with its last valid day and the limit that governs.

The due list with its horizon, its groups, and what it is written to.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QButtonGroup, QWidget

from fleetbench.calc.core.languages import say, say_count, strung, worded
from fleetbench.calc.core.verdict import DueState
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.detail.export_row import ExportRow, HorizonRow
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import choice_button, nothing_recorded, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import DUE_SOON, STOP, UNKNOWN, mark_for
from fleetbench.window.look.words import NONE, counted, day, days_left, last_day, said, spaced
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey, ticket_for
from fleetbench.workshop.due.list import FORECAST, DueItem, list_due

GROUPS: dict[str, Callable[[DueItem], str]] = {
    "day": lambda row: say("day not known") if row.last_good_day is None else f"{row.last_good_day:%Y-%m-%d}",
    "unit": lambda row: said(row.unit, say("in no unit")),
    "part type": lambda row: said(row.part_type, NONE),
    "place": lambda row: said(row.place, say("place not recorded")),
}
GROUP_WORDS = {"day": say("day"), "unit": say("unit"), "part type": say("part type"), "place": say("place")}
ENDINGS = (".pdf", ".csv", ".xlsx", ".ics")


class DuePage(ListPage[DueItem]):
    """The list page with horizon and groups above the rows, and the export beside the title."""

    def __init__(self, context: PageContext, make_spec: "MakeSpec", parent: QWidget | None = None) -> None:
        self._context = context
        self._days: int | None = None
        self._group = "day"
        self._counts: Counter[str] = Counter()
        group = Column("group", "Group", self.group_words, self._group_order, shown=False, gives_way=True)
        super().__init__(context.theme, context.background, make_spec(group, self._load), parent)
        # The zone is known here already: asking the workplace for today would touch the database in this thread.
        today = context.workplace.clock().astimezone(context.zone).date()
        self.horizon = HorizonRow(context.theme, today, None, self)
        self._groups = QButtonGroup(self)
        self.group_buttons = {name: choice_button(context.theme, GROUP_WORDS[name], self) for name in GROUPS}
        row = FlowLayout()
        row.addWidget(self.horizon)
        row.addWidget(text_label(say("Group by"), "label", self))
        for number, (name, button) in enumerate(self.group_buttons.items()):
            self._groups.addButton(button, number)
            button.setChecked(name == "day")
            button.clicked.connect(partial(self.group_by, name))
            row.addWidget(button)
        self.content.insertLayout(2, row)
        self.exports = ExportRow(context.theme, context.background, "due-list", ENDINGS, self._writer, self)
        self.heading.addWidget(self.exports)
        self.horizon.chosen.connect(self._on_horizon)
        self.exports.written.connect(self.banner.say_note)
        self.exports.refused.connect(self.banner.say_refused)

    def group_by(self, name: str, _checked: bool = False) -> None:
        """Put rows that share a day, unit, part type or place together, each group with its count."""
        self._group = name
        self.group_buttons[name].setChecked(True)
        keys = [column.key for column in self.model.columns]
        shown = self._columns_menu.actions()
        shown[keys.index("group")].setChecked(name != "day")
        shown[keys.index("unit")].setChecked(name != "unit")
        self.refresh()
        by = "last" if name == "day" else "group"
        self.table.sortByColumn(keys.index(by), Qt.SortOrder.AscendingOrder)

    def group_words(self, row: DueItem) -> str:
        """'B-03, 5 items'."""
        name = GROUPS[self._group](row)
        count = self._counts[name]
        return strung(", ", (name, say_count("{count} item", "{count} items", count)))

    def _group_order(self, row: DueItem) -> tuple[str, int]:
        return GROUPS[self._group](row), -1_000_000 if row.days_left is None else row.days_left

    def _load(self) -> Sequence[DueItem]:
        # Called off the GUI thread; days and group are values that are only ever replaced whole.
        rows = list_due(self._context.workplace, within_days=self._days)
        self._counts = Counter(map(GROUPS[self._group], rows))
        return rows

    def _writer(self) -> Callable[[Path], object]:
        workplace, rows, group = self._context.workplace, tuple(self.model.rows), self._group
        days = self._days

        def write(path: Path) -> None:
            # reportlab and openpyxl are slow to import; only printing waits for them
            from fleetbench.printing import print_due

            today = workplace.today()
            print_due(workplace, rows, today, last_of(rows, today, days), path, grouped_by=group)

        return write

    @Slot(object)
    def _on_horizon(self, days: int | None) -> None:
        self._days = days
        self.refresh()

    def ticket_place(self) -> PageKey | None:
        """A ticket for the chosen item, with what is due of the plan on it where it is of the plan."""
        current = self.table.currentIndex()
        row = self.model.row_at(current.row()) if current.isValid() else None
        return ticket_for(row, what(row)) if row is not None else None


def last_of(rows: Sequence[DueItem], today: date, days: int | None) -> date:
    """The last day of what is shown: the horizon's, else that of the last item."""
    if days is not None:
        return today + timedelta(days=days)
    return max((row.last_good_day for row in rows if row.last_good_day is not None), default=today)


MakeSpec = Callable[[Column[DueItem], Callable[[], Sequence[DueItem]]], ListSpec[DueItem]]


EMPTY = nothing_recorded("Nothing is due", "due", "Whatever has a life or a service interval stands here.")
SIBLINGS = (("Due", PageKey("due")), (say("Pick list"), PageKey("fetch")), ("Notices", PageKey("notices")))


def list_page(context: PageContext) -> DuePage:
    """The list of due items; what is not known and what is past come first."""
    return DuePage(context, make_spec)


def make_spec(group: Column[DueItem], load: Callable[[], Sequence[DueItem]]) -> ListSpec[DueItem]:
    """What the list shows, with a column for the group in force."""
    return ListSpec(
        "Due",
        (group, *COLUMNS),
        key=key_of,
        load=load,
        describe=describe,
        empty=EMPTY,
        sum_up=sum_up,
        place=place_of,
        choices=(
            QuickFilter("not known", lambda row: row.state is DueState.UNKNOWN, UNKNOWN),
            QuickFilter("past", lambda row: row.state is DueState.PAST, STOP),
            QuickFilter("due soon", lambda row: row.state is DueState.DUE_SOON, DUE_SOON),
            QuickFilter("affects a booking", lambda row: row.hits is not None),
            QuickFilter("projected", lambda row: row.projected),
        ),
        sort_column="last",
        siblings=SIBLINGS,
        saved_as=(),
    )


def key_of(row: DueItem) -> str:
    """What makes an item this one and no other."""
    return "|".join(said(part, "") for part in (row.unit, row.slot, row.part, row.item, row.basis, row.part_type))


def place_of(row: DueItem) -> PageKey | None:
    """The part that runs out, else its unit."""
    if row.part_id is not None:
        return PageKey("parts", str(row.part_id))
    return PageKey("units", row.unit) if row.unit else None


def sum_up(rows: Sequence[DueItem]) -> str:
    """'214 items: 3 not known, 5 past, 12 due soon'."""
    states = Counter(row.state for row in rows)
    return say(
        "{count}: {states} not known, {states_2} past, {states_3} due soon",
        count=counted(len(rows), "item"),
        states=states[DueState.UNKNOWN],
        states_2=states[DueState.PAST],
        states_3=states[DueState.DUE_SOON],
    )


def order(row: DueItem) -> tuple[int, int]:
    """Not known before everything, then the earliest."""
    return (0, 0) if row.days_left is None else (1, row.days_left)


def describe(row: DueItem) -> Detail:
    """What the list's own row says of an item."""
    return Detail(
        said(row.slot, said(row.part_type, row.item)),
        strung(", ", (row.item, row.unit or say("in no unit"))),
        (mark_for(row.state),),
        (
            Section(
                "Last valid day",
                (
                    Fact(
                        "Last valid day",
                        last_day(row.last_good_day, row.days_left),
                        note=say("use is allowed on this day") if row.last_good_day else "",
                    ),
                    Fact("Set by limit", spaced(row.basis)),
                    Fact("Calculation", said(row.why), note=rests_on(row)),
                    Fact("Affects booking", said(row.hits, say("none"))),
                ),
            ),
            Section(
                "What",
                (
                    Fact("Part type", said(row.part_type, NONE)),
                    Fact("Part", said(row.part, NONE), leads_to=_part(row)),
                    Fact("Unit", said(row.unit, NONE), leads_to=PageKey("units", row.unit) if row.unit else None),
                    Fact("Place", said(row.place)),
                    *_ticket(row),
                ),
            ),
        ),
    )


def _ticket(row: DueItem) -> tuple[Fact, ...]:
    """A ticket begun for what falls due on a unit."""
    if row.unit is None:
        return ()
    return (Fact("Work", say("Open a ticket"), leads_to=ticket_for(row, what(row))),)


def _part(row: DueItem) -> PageKey | None:
    return PageKey("parts", str(row.part_id)) if row.part_id is not None and row.part else None


def what(row: DueItem) -> str:
    """The slot and the part in it, else the part, person or lot, else its type."""
    if row.slot:
        return strung(", ", (row.slot, row.part)) if row.part else row.slot
    return said(row.part, said(row.part_type, NONE))


def rests_on(row: DueItem) -> str:
    """What a projected day rests on; nothing for one that is certain."""
    if not row.projected:
        return ""
    return say("projected from its own calibrations") if row.basis == FORECAST else say("projected from use")


def last_words(row: DueItem) -> str:
    """The last good day; 'about' where it is projected."""
    on = day(row.last_good_day)
    return say("about {day}", day=on) if row.projected else on


COLUMNS: tuple[Column[DueItem], ...] = (
    Column("last", "Last valid day", last_words, order, state=lambda row: mark_for(row.state),
           heading_tip="About: projected from use, or from a cell's own calibrations. The detail tells how"),
    Column("unit", "Unit", lambda row: said(row.unit, NONE)),
    Column("item", "To do", lambda row: worded(row.item), gives_way=True, tooltip=lambda row: row.why),
    Column("what", "What", what, gives_way=True, tooltip=lambda row: said(row.part_type, "")),
    Column("hits", "Affects booking", lambda row: said(row.hits, NONE),
           heading_tip="The first hire or course of the unit that ends after the last valid day"),
    Column("days", "Days left", lambda row: days_left(row.days_left), order, shown=False),
    Column("slot", "Slot", lambda row: said(row.slot, NONE), shown=False),
    Column("part", "Part", lambda row: said(row.part, NONE), shown=False),
    Column("type", "Part type", lambda row: said(row.part_type, NONE), shown=False),
    Column("basis", "Set by limit", lambda row: spaced(row.basis), tooltip=lambda row: row.why, shown=False),
    Column("place", "Place", lambda row: said(row.place, NONE), shown=False),
    Column("state", "State", lambda row: say(row.state.value), order, shown=False),
)  # fmt: skip
