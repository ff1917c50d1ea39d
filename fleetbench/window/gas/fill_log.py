"""The fill log: a morning's cylinders typed in one go, checked whole, and recorded in one act."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, worded
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.calc.core.plausible import CYLINDER_TEMPERATURE
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.reads import CylinderFillRecord
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.metered import held, put_back
from fleetbench.window.gas.acts import OXYGEN_CAUTION
from fleetbench.window.gas.fill_grid import REPEAT_KEY, FillGrid
from fleetbench.window.look.buttons import ChoiceBox, put_hint, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme, scaled
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.fills import EntryFindings, FillEntry, check_fills, correct_fill, record_fills
from fleetbench.workshop.gas.list import CylinderLine, GasStation

_COMPATIBLE = ((say("not recorded"), None), ("oxygen-compatible", True), (say("not oxygen-compatible"), False))


@dataclass(frozen=True, slots=True)
class Filled:
    """The fills that were recorded, by key."""

    fill_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class KeptLog:
    """A log that was left half-way: texts of its rows by cylinder, of its head, and which air or gas was chosen."""

    rows: dict[int, tuple[str | Metered, ...]]
    head: tuple[str | Metered, ...]
    compatible: int


@dataclass(frozen=True, slots=True)
class Questioned:
    """Nothing was recorded yet: what is against the rows as typed."""

    findings: tuple[EntryFindings, ...]


def check_and_record(
    workplace: Workplace, entries: Sequence[FillEntry], confirmed: frozenset[int], *, instead: int | None = None,
    at: datetime | None = None,
) -> Filled | Questioned:  # fmt: skip
    """The fills recorded, or what is against them; an advice that was confirmed stands in nobody's way.

    instead: the key of the fill that the one entry puts right. at: when they were filled, now where None.
    """
    findings = check_fills(workplace, entries)
    if any(each.stops or (each.asks and each.part_id not in confirmed) for each in findings):
        return Questioned(findings)
    if instead is not None:
        return Filled((correct_fill(workplace, instead, entries[0], confirmed=True),))
    return Filled(record_fills(workplace, entries, confirmed=confirmed, at=at))


def filled_at(text: str, now: datetime) -> datetime | None:
    """The hour typed as a moment of the same day and zone as now; None for an empty field. Refused for no hour."""
    if not text:
        return None
    digits = text.replace(":", "").replace(".", "")
    if not digits.isdigit() or len(digits) not in (3, 4) or int(digits[:-2]) > 23 or int(digits[-2:]) > 59:
        raise Refused(
            say(
                "filled at: {text!r} is not a time of today; enter one such as 09:30, or leave it empty for now",
                text=text,
            )
        )
    return now.replace(hour=int(digits[:-2]), minute=int(digits[-2:]), second=0, microsecond=0)


class FillLogDialog(ActDialog):
    """Rows of cylinders with their pressures; nothing typed is lost where a row is refused.

    Signals:
        done_with: a Filled.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        lines: Sequence[CylinderLine],
        station: GasStation,
        parent: QWidget | None = None,
        *,
        instead: CylinderFillRecord | None = None,
    ) -> None:
        title = say("Fill log") if instead is None else say("Correct the fill of {label}", label=lines[0].part.label)
        super().__init__(
            theme, background, title, say("Record fills") if instead is None else say("Save correction"), parent
        )
        self._workplace, self._instead = workplace, instead
        self.confirmed: frozenset[int] = frozenset()
        self.setMinimumWidth(248 * GRID)
        self.note.setText(
            worded(
                say(
                    "The last digit moves on, {repeat_key} repeats the end above, / start not read, arrows "
                    "step over, Enter on an empty end leads to the act. {oxygen_caution}",
                    repeat_key=REPEAT_KEY,
                    oxygen_caution=OXYGEN_CAUTION,
                )
            )
        )
        self.batch = self._line(say("batch or bank"), station.batch if instead is None else instead.batch)
        self.machine = self._line(say("compressor or booster"), station.machine if instead is None else instead.machine)
        self.at = self._line(say("filled at"), None)
        put_hint(self.at, worded("now"))
        self.at.setMaximumWidth(scaled(28 * GRID))
        self.compatible = ChoiceBox(self)
        self.compatible.setAccessibleName(worded("air or gas"))
        for word, value in _COMPATIBLE:
            self.compatible.addItem(worded(word), value)
        self.warm = DecimalField("cylinders' temperature", self, quantity=CYLINDER_TEMPERATURE)
        put_hint(self.warm, worded("not taken"))
        self.warm.expect(last=station.warm_c)
        self.warm.textChanged.connect(self._on_changed)
        self.grid = FillGrid(theme, lines, self)
        self.body.addLayout(self._head())
        self.body.addWidget(self._scrolled(), 1)
        self.grid.finished.connect(self.act_button.setFocus)
        self.grid.changed.connect(self._on_changed)
        self.resize(270 * GRID, min(170, 80 + 12 * len(lines)) * GRID)
        self.grid.focus_first()
        if instead is not None:
            self._show_earlier(instead)

    def _show_earlier(self, fill: CylinderFillRecord) -> None:
        """Stand as it was typed, the keyboard on the figure that is most often wrong."""
        self.note.setText(
            worded("What stood there stays on record; this one takes its place, with 'typing' as its reason.")
        )
        self.compatible.setCurrentIndex(self.compatible.findData(fill.oxygen_compatible))
        self.at.setEnabled(False)
        self.warm.show_value(fill.temperature_c, None)
        row = self.grid.rows[0]
        row.oxygen.setText(f"{fill.oxygen_asked:g}")
        row.helium.setText(f"{fill.helium_asked:g}")
        row.start.give(fill.start_bar)
        row.end.give(fill.end_bar)
        row.end.setFocus()

    def _line(self, name: str, text: str | None) -> QLineEdit:
        field = QLineEdit(text or "", self)
        field.setAccessibleName(worded(name))
        field.setMaxLength(60)
        field.setMaximumWidth(60 * GRID)
        return field

    def _head(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(APART)
        for title, widget in ((say("Batch or bank"), self.batch), (say("Compressor or booster"), self.machine),
                              (say("Air or gas"), self.compatible), (say("Filled at"), self.at),
                              (say("Cylinders at, {celsius}", celsius=CELSIUS), self.warm)):  # fmt: skip
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(worded(title), "label", self))
            column.addWidget(widget)
            if widget is self.warm:
                column.addWidget(self.warm.line_beside(self))
            line.addLayout(column)
        line.addStretch(1)
        return line

    def _scrolled(self) -> QScrollArea:
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        body = QWidget()
        body.setObjectName("scrolled")
        layout = QVBoxLayout(body)
        layout.setContentsMargins(CLOSE, CLOSE, CLOSE, CLOSE)
        layout.addWidget(self.grid)
        layout.addStretch(1)
        area.setWidget(body)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setMinimumHeight(4 * 11 * GRID)
        area.setMinimumWidth(min(body.minimumSizeHint().width() + BLOCK, 230 * GRID))
        self.grid.reached.connect(area.ensureWidgetVisible)
        return area

    def kept(self) -> KeptLog:
        """What stands in the fields, so that a log left half-way comes back as it was."""
        head = tuple(held(field) for field in (self.batch, self.machine, self.at, self.warm))
        return KeptLog(self.grid.kept(), head, self.compatible.currentIndex())

    def bring_back(self, kept: KeptLog) -> None:
        """Show what stood in the fields before."""
        for field, text in zip((self.batch, self.machine, self.at, self.warm), kept.head, strict=True):
            put_back(field, text)
        self.compatible.setCurrentIndex(kept.compatible)
        self.grid.bring_back(kept.rows)

    def work(self) -> Callable[[], object]:
        """Checking and recording what was typed."""
        entries = self.grid.entries(
            self.batch.text().strip(), self.machine.text().strip(), self.compatible.currentData(), self.warm.value()
        )
        if not entries:
            raise Refused(say("end pressure: none is typed; read a gauge, or leave the log"))
        workplace, confirmed = self._workplace, self.confirmed
        instead = self._instead.fill_id if self._instead is not None else None
        hour = self.at.text().strip()

        def work() -> Filled | Questioned:
            at = filled_at(hour, workplace.clock().astimezone(workplace.zone()))
            return check_and_record(workplace, entries, confirmed, instead=instead, at=at)

        return work

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
            self.banner.say_refused(
                say("{count} refused, nothing recorded: see at its end.", count=counted(len(stopped), "row"))
            )
            self.grid.focus_on(stopped[0].part_id)
            return
        self.confirmed = frozenset(each.part_id for each in asked)
        self.banner.say_note(say("{count} to look at. Enter records them as typed.", count=counted(len(asked), "row")))
        self.act_button.setFocus()

    @Slot()
    def _on_changed(self) -> None:
        # What was confirmed was confirmed of the figures as they stood.
        self.confirmed = frozenset()
