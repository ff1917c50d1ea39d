"""A swap in mid-course: a failed unit in, another out in its place, and what changed hands, item by item."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.hires.dialogs import text_field
from fleetbench.window.hires.leaving_checks import LeavingChecks
from fleetbench.window.lists.entry_table import TOLD, EntryModel, EntryTable, Index
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.receive import SwapItem, Swapping, look_before_swap, swap_items, swap_unit
from fleetbench.workshop.readiness.leaving import LeavingLook

HEADINGS = ("Item", "Failed unit ↔ the other unit", "Exchanged y/n")
ASKED = "What changed hands: type y where it did. Everything else stays with its own unit, its analyses too."


@dataclass(frozen=True, slots=True)
class _Row:
    """One item, in the columns that stand there already."""

    unit: str
    diver: str | None
    key: str


class SwapItemsModel(EntryModel[_Row]):
    """A line an item that may change hands; not exchanged unless y is typed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(HEADINGS, parent)

    def show_items(self, items: Sequence[SwapItem]) -> None:
        """Show these items, none of them exchanged."""
        self.beginResetModel()
        self.rows = tuple(_Row(each.name, f"{each.with_failed or 'nothing'} ↔ {each.with_other or 'nothing'}", each.key)
                          for each in items)  # fmt: skip
        self.typed = {}
        self.endResetModel()

    def exchanged(self) -> tuple[str, ...]:
        """Keys of the items that changed hands; Refused for another answer than y or n."""
        for row, each in enumerate(self.rows):
            if self.text_at(row, TOLD).casefold() not in ("", "y", "n"):
                raise Refused(f"{each.unit}: {self.text_at(row, TOLD)!r}; type y for exchanged, n for not exchanged")
        return tuple(each.key for row, each in enumerate(self.rows) if self.text_at(row, TOLD).casefold() == "y")

    # Qt overrides

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        shown = super().data(index, role)
        if role == Qt.ItemDataRole.DisplayRole and index.isValid() and index.column() == TOLD:
            said = str(shown).strip().casefold()
            return "exchanged" if said == "y" else "not exchanged" if said in ("", "n") else shown
        return shown


class SwapDialog(ActDialog):
    """Takes a failed unit in and gives another out in its place.

    Signals:
        done_with: the ReceivedUnit.
        place_requested: the Place of the act that puts a check right.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, "Swap a unit", "Swap them", parent)
        self._shop = shop
        self.setMinimumWidth(220 * GRID)
        self.resize(220 * GRID, 176 * GRID)
        self.note.setText("The diver keeps booking and deposit; the failed unit gets a ticket.")
        self.failed, self.instead, self.reason = (
            text_field(name, self) for name in ("failed unit", "in its place", "reason")
        )
        self.model = SwapItemsModel(self)
        self.table = EntryTable("what changed hands", TOLD, self)
        self.table.setModel(self.model)
        self.table.setMinimumHeight(28 * GRID)
        self.checks = LeavingChecks(theme, background, shop, shop.today(), self)
        self._build()
        self._items, self._looks = (Refresher(background, self) for _ in range(2))
        self._connect()
        self.failed.setFocus()

    def _build(self) -> None:
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        for field, words, stretch in (
            (self.failed, "Unit that failed", 1),
            (self.instead, "Unit that goes out in its place", 1),
            (self.reason, "What failed, in a sentence", 2),
        ):
            row.addLayout(labelled(field, words, self), stretch)
        self.body.addLayout(row)
        asked = text_label(ASKED, "small", self)
        asked.setWordWrap(True)
        self.body.addWidget(asked)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.checks, 2)

    def _connect(self) -> None:
        self.failed.returnPressed.connect(self.instead.setFocus)
        self.instead.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self._to_items)
        for field in (self.failed, self.instead):
            field.editingFinished.connect(self.ask_items)
        self.model.dataChanged.connect(self.look)
        self._items.loaded.connect(self.show_items)
        self._looks.loaded.connect(self.show_look)
        for loader in (self._items, self._looks):
            loader.refused.connect(self.banner.say_refused)
        self.checks.place_requested.connect(self._on_place)

    @Slot()
    def ask_items(self) -> None:
        """Ask what may change hands, once both units are named."""
        shop, failed, instead = self._shop, self.failed.text().strip(), self.instead.text().strip()
        if failed and instead:
            self._items.ask(lambda: swap_items(shop, failed, instead))

    @Slot(object)
    def show_items(self, items: tuple[SwapItem, ...]) -> None:
        """Show a line an item, and make every check of the unit that would go out."""
        if {each.key for each in items} != {each.key for each in self.model.rows} or not self.model.typed:
            self.model.show_items(items)
            self.table.resizeColumnsToContents()
        self.look()

    @Slot()
    def look(self) -> None:
        """Make every check again for what is said to have changed hands."""
        shop = self._shop
        try:
            swapping = self._swapping()
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.clear()
        self._looks.ask(lambda: look_before_swap(shop, swapping))

    @Slot(object)
    def show_look(self, look: LeavingLook) -> None:
        """Show what was found of the unit that would go out."""
        found = self.checks.show_looks(look.unit, f"Now and through {look.assessment.span[1]}", (look,))
        self.checks.until.setText(look.assessment.span[1].isoformat())
        self.note.setText(f"{found}. A stop cannot be accepted: correct it, or choose another unit.")

    @Slot()
    def _to_items(self) -> None:
        if self.model.rows:
            self.table.setCurrentIndex(self.model.index(0, TOLD))
            self.table.setFocus()
        else:
            self.act_button.setFocus()

    @Slot(object)
    def _on_place(self, place: object) -> None:
        self.place_requested.emit(place)
        self.reject()

    def _swapping(self) -> Swapping:
        failed, instead = self.failed.text().strip(), self.instead.text().strip()
        if not failed or not instead:
            raise Refused("unit: scan or type both tags")
        return Swapping(failed=failed, instead=instead, reason=self.reason.text(), exchanged=self.model.exchanged())

    def work(self) -> Callable[[], object]:
        """Swapping the two."""
        shop, swapping = self._shop, self._swapping()
        accepted, manager, pin = self.checks.accepted()
        return lambda: swap_unit(shop, swapping, accepting=accepted, manager_id=manager, pin=pin)
