"""The due list with its horizon, its groups, and what it is written to."""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QWidget

from fleetbench.window.detail.export_row import ExportRow
from fleetbench.window.detail.horizon_row import HorizonRow
from fleetbench.window.lists.list_page import ListPage, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import choice_button, text_label
from fleetbench.window.look.theme import CLOSE
from fleetbench.window.look.words import NONE, said
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.due.list import DueItem, list_due

GROUPS: dict[str, Callable[[DueItem], str]] = {
    "day": lambda row: "day not known" if row.last_good_day is None else f"{row.last_good_day:%Y-%m-%d}",
    "unit": lambda row: said(row.unit, "in no unit"),
    "part type": lambda row: said(row.part_type, NONE),
    "place": lambda row: said(row.place, "place not recorded"),
}
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
        # The zone is known here already: asking the shop for today would touch the database in this thread.
        today = context.shop.clock().astimezone(context.zone).date()
        self.horizon = HorizonRow(context.theme, today, None, self)
        self._groups = QButtonGroup(self)
        self.group_buttons = {name: choice_button(context.theme, name, self) for name in GROUPS}
        row = QHBoxLayout()
        row.setSpacing(CLOSE)
        row.addWidget(self.horizon, 1)
        row.addWidget(text_label("Group by", "label", self))
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
        return f"{name}, {count} {'item' if count == 1 else 'items'}"

    def _group_order(self, row: DueItem) -> tuple[str, int]:
        return GROUPS[self._group](row), -1_000_000 if row.days_left is None else row.days_left

    def _load(self) -> Sequence[DueItem]:
        # Called off the GUI thread; days and group are values that are only ever replaced whole.
        rows = list_due(self._context.shop, within_days=self._days)
        self._counts = Counter(map(GROUPS[self._group], rows))
        return rows

    def _writer(self) -> Callable[[Path], object]:
        shop, rows, group = self._context.shop, tuple(self.model.rows), self._group
        days = self._days

        def write(path: Path) -> None:
            # reportlab and openpyxl are slow to import; only whoever prints waits for them
            from fleetbench.printing import print_due

            today = shop.today()
            print_due(shop, rows, today, last_of(rows, today, days), path, grouped_by=group)

        return write

    @Slot(object)
    def _on_horizon(self, days: int | None) -> None:
        self._days = days
        self.refresh()


def last_of(rows: Sequence[DueItem], today: date, days: int | None) -> date:
    """The last day of what is shown: the horizon's, else that of the last item."""
    if days is not None:
        return today + timedelta(days=days)
    return max((row.last_good_day for row in rows if row.last_good_day is not None), default=today)


MakeSpec = Callable[[Column[DueItem], Callable[[], Sequence[DueItem]]], ListSpec[DueItem]]
