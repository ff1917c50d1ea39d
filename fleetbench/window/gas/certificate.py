"""A supplier's certificate of a batch of gas, typed line by line beside what the specification asks."""

from collections.abc import Callable, Sequence
from datetime import date
from itertools import pairwise

from PySide6.QtCore import QTimer, Slot
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QWidget

from fleetbench.calc.gas.cylinders import PurityLimit, Specification
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.gas.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, CLOSE, GRID, Theme
from fleetbench.window.parts.part_dialogs import line_field
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.gas.entry import specification_of
from fleetbench.workshop.gas.fills import enter_certificate

GASES = ("oxygen", "air")


class CertificateDialog(ActDialog):
    """What a certificate states; what it does not state stays empty and is told as not stated.

    Signals:
        done_with: the findings, one a line of the specification.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, batches: Sequence[str], parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, "Gas certificate", "Save certificate", parent)
        self._shop = shop
        self.setMinimumWidth(190 * GRID)
        self.note.setText(
            "A figure outside its limit stops every cylinder filled from the batch. What is not stated stays empty. "
            f"{OXYGEN_CAUTION}"
        )
        self.gas = QComboBox(self)
        self.gas.setAccessibleName("gas")
        self.gas.addItems(GASES)
        self.batch = line_field("batch", self, "as on the bank or cylinder")
        self.batch.setText(next(iter(batches), ""))
        self.supplier, self.issued = line_field("supplier", self), line_field("issued on", self, "2026-05-04")
        head = QHBoxLayout()
        head.setSpacing(BLOCK)
        for words, field in (("Gas", self.gas), ("Batch", self.batch), ("Supplier or laboratory", self.supplier),
                             ("Issued on", self.issued)):  # fmt: skip
            head.addLayout(labelled(field, words, self), 1)
        self.body.addLayout(head)
        self.held = text_label("", "small", self)
        self.held.setWordWrap(True)
        self.body.addWidget(self.held)
        self.fields: dict[str, DecimalField] = {}
        self._lines = QWidget(self)
        self.body.addWidget(self._lines)
        for before, after in pairwise((self.batch, self.supplier, self.issued)):
            before.returnPressed.connect(after.setFocus)
        self.issued.returnPressed.connect(self._on_head_done)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_specification)
        self._loader.refused.connect(self.banner.say_refused)
        self.gas.currentTextChanged.connect(self._on_gas)
        self._on_gas(self.gas.currentText())
        (self.supplier if self.batch.text() else self.batch).setFocus()

    @Slot(str)
    def _on_gas(self, gas: str) -> None:
        shop = self._shop
        self._loader.ask(lambda: specification_of(shop, gas))

    @Slot(object)
    def show_specification(self, specification: Specification) -> None:
        """Ask for each line of this specification."""
        self.held.setText(f"Held against {specification.name}: {specification.source}.")
        lines = QWidget(self)
        grid = QGridLayout(lines)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(CLOSE)
        grid.setVerticalSpacing(CLOSE)
        self.fields = {}
        rows = -(-len(specification.lines) // 2)
        for number, line in enumerate(specification.lines):
            field = DecimalField(line.what, lines)
            self.fields[line.what] = field
            row, left = number % rows, 5 * (number // rows)
            grid.addWidget(text_label(line.what.capitalize(), "label", lines), row, left)
            grid.addWidget(field, row, left + 1)
            grid.addWidget(text_label(line.unit, "small", lines), row, left + 2)
            grid.addWidget(text_label(asked_words(line), "small", lines), row, left + 3)
            grid.setColumnMinimumWidth(left + 4, BLOCK)
        grid.setColumnStretch(9, 1)
        for before, after in pairwise(self.fields.values()):
            before.returnPressed.connect(after.setFocus)
        list(self.fields.values())[-1].returnPressed.connect(self.act_button.setFocus)
        for field in self.fields.values():
            field.installEventFilter(self)
        self.body.replaceWidget(self._lines, lines)
        self._lines.hide()
        self._lines.deleteLater()
        self._lines = lines
        # The new fields know their height only once the style has dressed them.
        QTimer.singleShot(0, self, self.adjustSize)

    @Slot()
    def _on_head_done(self) -> None:
        next(iter(self.fields.values()), self.act_button).setFocus()

    def work(self) -> Callable[[], object]:
        """Keeping what was typed."""
        values = {what: value for what, field in self.fields.items() if (value := field.value()) is not None}
        text = self.issued.text().strip()
        try:
            issued = date.fromisoformat(text)
        except ValueError:
            raise Refused(f"issued on: {text!r} is not a date; enter one such as 2026-05-04") from None
        shop, gas, batch, supplier = self._shop, self.gas.currentText(), self.batch.text(), self.supplier.text()
        return lambda: enter_certificate(shop, batch=batch, gas=gas, issued_on=issued, values=values, supplier=supplier)


def asked_words(line: PurityLimit) -> str:
    """'at least 99.5' or '20 to 22' or 'at most 10'."""
    if line.least is not None and line.most is not None:
        return f"{line.least:g} to {line.most:g}"
    return f"at least {line.least:g}" if line.least is not None else f"at most {line.most:g}"
