"""Acts on absorbent containers: receive one, count one anew, and enter the date marked on it."""

from collections.abc import Callable
from datetime import date
from itertools import pairwise

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.plausible import CONTAINER_MASS
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.canisters.containers import (
    AbsorbentChoice,
    absorbent_choices,
    date_container,
    receive_container,
    stock_take,
)
from fleetbench.workshop.core.workplace import Shop


class ReceiveDialog(ActDialog):
    """Takes a container in: which absorbent, lot, kilograms and the last good day marked on it.

    Signals:
        done_with: the container's key.
    """

    def __init__(self, theme: Theme, background: Background, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(theme, background, "Receive absorbent", "Receive", parent)
        self._shop = shop
        self.kind = QComboBox(self)
        self.kind.setAccessibleName("absorbent")
        self.lot, self.last = _line("lot", self), _line("last good day", self)
        self.last.setPlaceholderText("2028-01-31")
        self.last.setToolTip("As it is marked on the container; left empty where nothing is marked.")
        self.kg = DecimalField("kilograms", self, quantity=CONTAINER_MASS)
        rows = QHBoxLayout()
        rows.setSpacing(BLOCK)
        rows.addLayout(_labelled("Lot", self.lot, self))
        rows.addLayout(with_unit(self.kg, "Net mass", "kg", self))
        rows.addLayout(_labelled("Last good day", self.last, self))
        self.body.addLayout(_labelled("Absorbent", self.kind, self))
        self.body.addLayout(rows)
        order = (self.lot, self.kg, self.last)
        for before, after in pairwise(order):
            before.returnPressed.connect(after.setFocus)
        self.last.returnPressed.connect(self.act)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(lambda: absorbent_choices(shop))
        self.lot.setFocus()

    @Slot(object)
    def show_choices(self, choices: tuple[AbsorbentChoice, ...]) -> None:
        """Offer these absorbents, the one that was received last first."""
        for each in choices:
            said = each.grade is not None and f"grade {each.grade}" in each.name
            words = each.name if said else f"{each.name}, grade {each.grade or 'not known'}"
            self.kind.addItem(words, each.code)
        if not choices:
            self.banner.say_refused("No absorbent is in the catalogue; add a part type counted in kilograms first.")

    def work(self) -> Callable[[], object]:
        """Receiving what stands in the fields."""
        code, lot, kg, last = self.kind.currentData(), self.lot.text(), self.kg.value(), day_of_text(self.last)
        if code is None:
            raise Refused("absorbent: is missing; add it to the catalogue first")
        if kg is None:
            self.kg.setFocus()
            raise Refused("kilograms: is missing; enter the net mass of absorbent")
        shop = self._shop
        return lambda: receive_container(shop, str(code), lot=lot, kg=kg, last_good_day=last)


class CountDialog(ActDialog):
    """Corrects a container's kilograms by what was weighed, with the reason.

    Signals:
        done_with: nothing.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        container_id: int,
        lot: str,
        book_kg: float,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, f"Stock-take of lot {lot}", "Correct the count", parent)
        self._shop, self._container_id = shop, container_id
        self.note.setText(f"{book_kg:.3f} kg by the book; what the book said is kept.")
        self.kg, self.reason = DecimalField("counted", self), _line("reason", self)
        self.reason.setPlaceholderText("for instance: weighed, spilled, thrown away")
        row = QHBoxLayout()
        row.setSpacing(BLOCK)
        row.addLayout(with_unit(self.kg, "Counted", "kg", self))
        row.addLayout(_labelled("Why", self.reason, self), 1)
        self.body.addLayout(row)
        self.kg.returnPressed.connect(self.reason.setFocus)
        self.reason.returnPressed.connect(self.act)
        self.kg.setFocus()

    def work(self) -> Callable[[], object]:
        """Correcting by what stands in the fields."""
        kg, reason = self.kg.value(), self.reason.text()
        if kg is None:
            raise Refused("counted: is missing; weigh what is left and enter kilograms")
        shop, container_id = self._shop, self._container_id
        return lambda: stock_take(shop, container_id, kg, reason)


class DateDialog(ActDialog):
    """Enters the last good day marked on a container.

    Signals:
        done_with: nothing.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        container_id: int,
        lot: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, f"Last good day of lot {lot}", "Enter it", parent)
        self._shop, self._container_id = shop, container_id
        self.note.setText("As marked on the container. A day that is known moves only to an earlier one.")
        self.last = _line("last good day", self)
        self.last.setPlaceholderText("2028-01-31")
        self.body.addWidget(self.last)
        self.last.returnPressed.connect(self.act)
        self.last.setFocus()

    def work(self) -> Callable[[], object]:
        """Entering what stands in the field."""
        last = day_of_text(self.last)
        if last is None:
            raise Refused("last good day: is missing; enter it as 2028-01-31")
        shop, container_id = self._shop, self._container_id
        return lambda: date_container(shop, container_id, last)


def day_of_text(field: QLineEdit) -> date | None:
    """The day in a field, None where it is empty; Refused naming the field otherwise."""
    text = field.text().strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(f"{field.accessibleName()}: {text!r} is no date; enter it as 2028-01-31") from None


def _line(name: str, parent: QWidget) -> QLineEdit:
    field = QLineEdit(parent)
    field.setAccessibleName(name)
    field.setMinimumWidth(36 * GRID)
    return field


def _labelled(words: str, widget: QWidget, parent: QWidget) -> QVBoxLayout:
    column = QVBoxLayout()
    column.setSpacing(2)
    column.addWidget(text_label(words, "label", parent))
    column.addWidget(widget)
    return column
