"""The fill log: a morning's cylinders typed in one go, checked whole, and recorded in one act."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from fleetbench.records.errors import Refused
from fleetbench.window.background import Background
from fleetbench.window.buttons import text_label
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.cylinder_words import OXYGEN_CAUTION
from fleetbench.window.fill_log_grid import REPEAT_KEY, FillGrid
from fleetbench.window.theme import APART, CLOSE, GRID, Theme
from fleetbench.window.words import counted
from fleetbench.workshop.cylinder_desk import CylinderLine, GasStation
from fleetbench.workshop.cylinder_fills import EntryFindings, FillEntry, check_fills, record_fills
from fleetbench.workshop.shop import Shop

_COMPATIBLE = (("not said", None), ("oxygen-compatible", True), ("not oxygen-compatible", False))


@dataclass(frozen=True, slots=True)
class Filled:
    """The fills that were recorded, by key."""

    fill_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Questioned:
    """Nothing was recorded yet: what is against the rows as typed."""

    findings: tuple[EntryFindings, ...]


def check_and_record(shop: Shop, entries: Sequence[FillEntry], confirmed: frozenset[int]) -> Filled | Questioned:
    """The fills recorded, or what is against them; an advice that was confirmed stands in nobody's way."""
    findings = check_fills(shop, entries)
    if any(each.stops or (each.asks and each.part_id not in confirmed) for each in findings):
        return Questioned(findings)
    return Filled(record_fills(shop, entries, confirmed=confirmed))


class FillLogDialog(ActDialog):
    """Rows of cylinders with their pressures; nothing typed is lost where a row is refused.

    Signals:
        done_with: a Filled.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        lines: Sequence[CylinderLine],
        station: GasStation,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, "Fill log", "Record fills", parent)
        self._shop = shop
        self.confirmed: frozenset[int] = frozenset()
        self.setMinimumWidth(270 * GRID)
        self.note.setText(
            f"Three digits at the end move on, {REPEAT_KEY} repeats the end above, / start not read, arrows step over, "
            "Enter on an empty end leads to the act. "
            f"{OXYGEN_CAUTION}"
        )
        self.batch = self._line("batch or bank", station.batch)
        self.machine = self._line("compressor or booster", station.machine)
        self.compatible = QComboBox(self)
        self.compatible.setAccessibleName("air or gas")
        for word, value in _COMPATIBLE:
            self.compatible.addItem(word, value)
        self.grid = FillGrid(theme, lines, self)
        self.body.addLayout(self._head())
        self.body.addWidget(self._scrolled(), 1)
        self.grid.finished.connect(self.act_button.setFocus)
        self.grid.changed.connect(self._on_changed)
        self.resize(270 * GRID, min(170, 80 + 12 * len(lines)) * GRID)
        self.grid.focus_first()

    def _line(self, name: str, text: str | None) -> QLineEdit:
        field = QLineEdit(text or "", self)
        field.setAccessibleName(name)
        field.setMaxLength(60)
        field.setMaximumWidth(60 * GRID)
        return field

    def _head(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(APART)
        for title, widget in (("Batch or bank", self.batch), ("Compressor or booster", self.machine),
                              ("Air or gas", self.compatible)):  # fmt: skip
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(title, "label", self))
            column.addWidget(widget)
            line.addLayout(column)
        line.addStretch(1)
        return line

    def _scrolled(self) -> QScrollArea:
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        body = QWidget()
        body.setObjectName("scrolled")
        layout = QVBoxLayout(body)
        layout.setContentsMargins(CLOSE, CLOSE, CLOSE, CLOSE)
        layout.addWidget(self.grid)
        layout.addStretch(1)
        area.setWidget(body)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setMinimumHeight(4 * 11 * GRID)
        self.grid.reached.connect(area.ensureWidgetVisible)
        return area

    def work(self) -> Callable[[], object]:
        """Checking and recording what was typed."""
        entries = self.grid.entries(
            self.batch.text().strip(), self.machine.text().strip(), self.compatible.currentData()
        )
        if not entries:
            raise Refused("end pressure: none is typed; read a gauge, or leave the log")
        shop, confirmed = self._shop, self.confirmed
        return lambda: check_and_record(shop, entries, confirmed)

    @Slot(object)
    def _on_done(self, value: Filled | Questioned) -> None:
        if isinstance(value, Filled):
            super()._on_done(value)
            return
        # It is disabled while the act is on its way, and what is disabled takes no keyboard.
        self.act_button.setEnabled(True)
        self.grid.say(value.findings)
        stopped = [each for each in value.findings if each.stops]
        asked = [each for each in value.findings if each.asks and not each.stops]
        if stopped:
            self.banner.say_refused(f"{counted(len(stopped), 'row')} refused, nothing recorded: see at its end.")
            self.grid.focus_on(stopped[0].part_id)
            return
        self.confirmed = frozenset(each.part_id for each in asked)
        self.banner.say_note(f"{counted(len(asked), 'row')} to look at. Enter records them as typed.")
        self.act_button.setFocus()

    @Slot()
    def _on_changed(self) -> None:
        # What was confirmed was confirmed of the figures as they stood.
        self.confirmed = frozenset()
