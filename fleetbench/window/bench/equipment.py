"""Test equipment: the register with uncertainty, serial and last good day, and what was last measured with each.

A new piece of test equipment, or what a new certificate says of one.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import date
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.records.bench.tables import KINDS
from fleetbench.window.bench.valves import BENCH_SIBLINGS
from fleetbench.window.detail.detail import Detail, Fact, Section
from fleetbench.window.forms.fields import DecimalField, with_unit
from fleetbench.window.forms.form import ActDialog, day_of
from fleetbench.window.lists.act_bar import ActBar, ActList, ActSpec, at_any_time
from fleetbench.window.lists.list_page import Choice, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import Emptiness, text_label
from fleetbench.window.look.marks import ADVISE, STOP, UNKNOWN, mark_for
from fleetbench.window.look.theme import BLOCK, Theme
from fleetbench.window.look.words import NONE, NOT_RECORDED, counted, day, moment
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.bench.equipment import UNITS_OF, EquipmentRow, add_equipment, certify_equipment, list_equipment
from fleetbench.workshop.core.workplace import Shop


class EquipmentDialog(ActDialog):
    """Asks for kind, name and serial of a new piece, and of any for its uncertainty, digit and last good day."""

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, row: EquipmentRow | None, parent: QWidget | None = None
    ) -> None:
        title = "Add test equipment" if row is None else f"New certificate of {row.tool.name} {row.tool.serial}"
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
        self._on_kind(row.tool.kind if row is not None else self.kind.currentText())
        if row is not None:
            self.unit.setCurrentText(row.tool.unit or self.unit.currentText())
            self.unit.setEnabled(False)
            self.uncertainty.setText("" if row.tool.uncertainty is None else f"{row.tool.uncertainty:g}")
            self.digit.setText("" if row.tool.digit is None else f"{row.tool.digit:g}")
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
            key = row.tool.equipment_id
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
        return day_of(self.until.text(), "last good day")

    @Slot(str)
    def _on_kind(self, kind: str) -> None:
        self.unit.clear()
        self.unit.addItems(UNITS_OF[kind])


EMPTY = Emptiness(
    "No test equipment is recorded yet",
    "Add what you measure with: without its uncertainty and last good day no measured test can pass in full.",
    "valves",
)


def list_page(context: PageContext) -> "EquipmentPage":
    """The register of test equipment."""
    return EquipmentPage(context)


def _asked(bar: ActBar, row: EquipmentRow | None) -> EquipmentDialog:
    return EquipmentDialog(bar.context.theme, bar.context.background, bar.shop, row, bar.window())


ACTS = (
    ActSpec("add", "Add a piece", "N", "add", "add test equipment", at_any_time, lambda bar, _row: _asked(bar, None),
            "The piece is recorded."),
    ActSpec("certify", "New certificate", "Shift+C", "certificate", "certify test equipment", form=_asked,
            said="The certificate is recorded."),
)  # fmt: skip


class EquipmentPage(ActList[EquipmentRow]):
    """The register, with an act to add a piece and one to write down a new certificate."""

    def __init__(self, context: PageContext, parent: QWidget | None = None) -> None:
        spec = ListSpec(
            "Test equipment",
            columns(context.zone),
            key=lambda row: str(row.tool.equipment_id),
            load=partial(list_equipment, context.shop),
            describe=partial(describe, zone=context.zone),
            empty=EMPTY,
            sum_up=sum_up,
            choices=(
                Choice("past", lambda row: row.state == "past", STOP),
                Choice("due soon", lambda row: row.state == "due soon", ADVISE),
                Choice("not known", lambda row: row.state == "unknown" or row.tool.uncertainty is None, UNKNOWN),
            ),
            siblings=BENCH_SIBLINGS,
        )
        super().__init__(context, spec, ACTS, parent)


def sum_up(rows: Sequence[EquipmentRow]) -> str:
    """'12 pieces: 10 good, 1 due soon, 1 past'."""
    states = Counter(row.state for row in rows)
    return f"{counted(len(rows), 'piece')}: " + ", ".join(f"{number} {word}" for word, number in states.most_common())


def columns(zone: ZoneInfo) -> tuple[Column[EquipmentRow], ...]:
    """The columns of the register."""
    return (
        Column("kind", "Kind", lambda row: row.tool.kind),
        Column("name", "Name", lambda row: row.tool.name, gives_way=True),
        Column("serial", "Serial", lambda row: row.tool.serial),
        Column("state", "In date", lambda row: mark_for(row.state).word, lambda row: -mark_for(row.state).rank,
               state=lambda row: mark_for(row.state)),
        Column("until", "Last good day", lambda row: day(row.tool.last_good_day),
               lambda row: day(row.tool.last_good_day, "0")),
        Column("u", "Standard uncertainty", lambda row: in_unit(row.tool.uncertainty, row.tool.unit)),
        Column("digit", "Digit", lambda row: in_unit(row.tool.digit, row.tool.unit)),
        Column("used", "Last used", lambda row: moment(row.last_used_at, zone, NONE), lambda row: row.last_used_at),
    )  # fmt: skip


def in_unit(value: float | None, unit: str | None) -> str:
    """A figure in its unit, or that it is not recorded."""
    return NOT_RECORDED if value is None else f"{value:g} {unit or ''}".rstrip()


def describe(row: EquipmentRow, zone: ZoneInfo) -> Detail:
    """Everything on one piece."""
    weakened = "A result read with it is weakened: cells are to be repeated, other tests say so beside their figure."
    return Detail(
        row.tool.name,
        f"{row.tool.kind}, serial {row.tool.serial}",
        (mark_for(row.state),),
        (
            Section(
                "In date",
                (
                    Fact("Last good day", day(row.tool.last_good_day), mark_for(row.state),
                         weakened if row.in_date is not True else ""),
                    Fact("Last used", moment(row.last_used_at, zone, NONE)),
                ),
            ),
            Section(
                "How well it reads",
                (
                    Fact("Standard uncertainty", in_unit(row.tool.uncertainty, row.tool.unit),
                         note="of one reading; results show twice it (k = 2, JCGM 100:2008)"),
                    Fact("Digit", in_unit(row.tool.digit, row.tool.unit),
                         note="what the last place of its display stands for"),
                ),
            ),
        ),
    )  # fmt: skip
