"""A new piece of test equipment, or what a new certificate says of one."""

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.records.bench.equipment import KINDS
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.theme import BLOCK, Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.bench.equipment import UNITS_OF, EquipmentRow, add_equipment, certify_equipment
from fleetbench.workshop.core.workplace import Shop


class EquipmentDialog(ActDialog):
    """Asks for kind, name and serial of a new piece, and of any for its uncertainty, digit and last good day."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: EquipmentRow | None, parent: QWidget | None = None
    ) -> None:
        title = "Add test equipment" if row is None else f"New certificate of {row.name} {row.serial}"
        super().__init__(theme, background, title, "Record", parent)
        self._shop, self._row = shop, row
        self.note.setText("Standard uncertainty: as the certificate states it for k = 1; half of one stated for k = 2.")
        self.kind = QComboBox(self)
        self.kind.setAccessibleName("kind")
        self.kind.addItems(KINDS)
        self.unit = QComboBox(self)
        self.unit.setAccessibleName("unit")
        self.name = QLineEdit(self)
        self.serial = QLineEdit(self)
        self.uncertainty = DecimalField("uncertainty", self)
        self.digit = DecimalField("digit", self)
        self.until = QLineEdit(self)
        self.until.setPlaceholderText("2027-01-31")
        self.until.setAccessibleName("last good day")
        if row is None:
            self._line((self.kind, "Kind"), (self.name, "Name"), (self.serial, "Serial"))
        self._line(
            (self.uncertainty, "Standard uncertainty"),
            (self.digit, "Digit of its display"),
            (self.unit, "Unit"),
            (self.until, "Last good day"),
        )
        self.kind.currentTextChanged.connect(self._on_kind)
        self._on_kind(row.kind if row is not None else self.kind.currentText())
        if row is not None:
            self.unit.setCurrentText(row.unit or self.unit.currentText())
            self.unit.setEnabled(False)
            self.uncertainty.setText("" if row.uncertainty is None else f"{row.uncertainty:g}")
            self.digit.setText("" if row.digit is None else f"{row.digit:g}")
        for field in (self.name, self.serial, self.uncertainty, self.digit, self.until):
            field.returnPressed.connect(self.focusNextChild)
        (self.kind if row is None else self.until).setFocus()

    def _line(self, *fields: tuple[QWidget, str]) -> None:
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        for field, label in fields:
            if isinstance(field, QLineEdit):
                line.addLayout(with_unit(field, label, "", self))
                continue
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(label, "label", self))
            column.addWidget(field)
            line.addLayout(column)
        line.addStretch(1)
        self.body.addLayout(line)

    def work(self) -> Callable[[], object]:
        """The act with what stands in the fields; Refused where a figure or day is none."""
        shop, row = self._shop, self._row
        uncertainty, digit, until = self.uncertainty.value(), self.digit.value(), self._day()
        if row is not None:
            key = row.equipment_id
            return lambda: certify_equipment(shop, key, last_good_day=until, uncertainty=uncertainty, digit=digit)
        kind, name, serial, unit = (
            self.kind.currentText(),
            self.name.text(),
            self.serial.text(),
            self.unit.currentText(),
        )
        return lambda: add_equipment(
            shop, kind=kind, name=name, serial=serial, uncertainty=uncertainty, unit=unit, last_good_day=until,
            digit=digit,
        )  # fmt: skip

    def _day(self) -> date | None:
        said = self.until.text().strip()
        if not said:
            return None
        try:
            return date.fromisoformat(said)
        except ValueError:
            raise Refused(f"last good day: {said!r} is no date; write it as 2027-01-31") from None

    @Slot(str)
    def _on_kind(self, kind: str) -> None:
        self.unit.clear()
        self.unit.addItems(UNITS_OF[kind])
