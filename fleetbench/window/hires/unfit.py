"""A manager's decision to book units that are not fit: who, by PIN, and why; and the dialogs that ask for it alone."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QWidget

from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.hires.availability import Move, move_promise
from fleetbench.workshop.hires.fitness import BookUnfit, left_unmet
from fleetbench.workshop.hires.plan import PlanChange, accept_plan
from fleetbench.workshop.people.list import list_people


class ManagerFields(QWidget):
    """Manager, PIN and reason in a row; nobody chosen is no decision."""

    def __init__(self, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.manager = QComboBox(self)
        self.manager.setAccessibleName("manager")
        self.pin, self.reason = QLineEdit(self), QLineEdit(self)
        for field, name in ((self.pin, "PIN"), (self.reason, "reason")):
            field.setAccessibleName(name)
            field.setMaxLength(300)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(BLOCK)
        fields: tuple[tuple[QWidget, str, int], ...] = (
            (self.manager, "Booked although not fit, by manager", 2),
            (self.pin, "PIN", 1),
            (self.reason, "Reason", 3),
        )
        for widget, words, share in fields:
            row.addLayout(labelled(widget, words, self), share)
        self._people = Refresher(background, self)
        self._people.loaded.connect(self.show_people)
        self._people.ask(lambda: list_people(shop))

    @Slot(object)
    def show_people(self, people: tuple[PersonRecord, ...]) -> None:
        """Offer the managers."""
        self.manager.clear()
        self.manager.addItem("nobody", None)
        for each in people:
            if each.active and each.role == "manager":
                self.manager.addItem(each.name, each.person_id)

    def decision(self) -> BookUnfit | None:
        """What a manager decided, None where none is named."""
        manager = self.manager.currentData()
        return BookUnfit(self.reason.text(), manager, self.pin.text()) if manager is not None else None


class MoveUnfitDialog(ActDialog):
    """Moves a booking onto a unit or days that are not fit, by a manager's decision alone.

    Signals:
        done_with: nothing.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, move: Move, why: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Move {move.code} although not fit", "Move booking", parent)
        self._shop, self._move = shop, move
        self.setMinimumWidth(170 * GRID)
        self.note.setText(why)
        self.manager = ManagerFields(background, shop, self)
        self.body.addWidget(self.manager)
        self.manager.manager.setFocus()

    def work(self) -> Callable[[], object]:
        """Moving it, with what the manager decided."""
        shop, move, unfit = self._shop, self._move, self.manager.decision()
        return lambda: move_promise(shop, move, unfit=unfit)


def accepted(
    shop: Shop, changes: Sequence[PlanChange], days: int, unfit: BookUnfit | None = None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Accept changes of a plan: the codes of the bookings changed, and what is unmet after it within so many days."""
    return accept_plan(shop, changes, unfit=unfit), left_unmet(shop, days)


class AcceptUnfitDialog(ActDialog):
    """Accepts changes of a plan that promise units which are not fit, by a manager's decision alone.

    Signals:
        done_with: what `accepted` gives.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        changes: Sequence[PlanChange],
        days: int,
        look: Sequence[str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, "Accept units that are not fit", "Accept changes", parent)
        self._shop, self._changes, self._days = shop, changes, days
        self.setMinimumWidth(170 * GRID)
        self.note.setText("A manager may book these all the same. Cancel, and untick them, to accept the others alone.")
        for words in look:
            line = text_label(words, "body", self)
            line.setWordWrap(True)
            self.body.addWidget(line)
        self.manager = ManagerFields(background, shop, self)
        self.body.addWidget(self.manager)
        self.manager.manager.setFocus()

    def work(self) -> Callable[[], object]:
        """Accepting them, with what the manager decided."""
        shop, changes, days, unfit = self._shop, self._changes, self._days, self.manager.decision()
        return lambda: accepted(shop, changes, days, unfit)
