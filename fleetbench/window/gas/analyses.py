"""Analyses typed for a row of cylinders: digits without the point, helium only where it was asked for."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QEvent, QObject, Qt, Slot
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.plausible import HELIUM as HELIUM_GAS
from fleetbench.calc.core.plausible import MIXED_OXYGEN
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.records.core.errors import Refused
from fleetbench.records.gas.reads import AnalysisRecord
from fleetbench.records.gas.tables import SIGNED
from fleetbench.records.people.reads import PersonRecord
from fleetbench.window.forms.figure import NOT_KNOWN_KEY, PURE, TENS, FigureField, FigureRule
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.metered import over_its_line
from fleetbench.window.gas.acts import gas_words, whereabouts
from fleetbench.window.look.buttons import ChoiceBox, text_label
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.analyses import AnalysisEntry, correct_analysis, look_exchanged, record_analyses
from fleetbench.workshop.gas.list import CylinderLine, GasStation

BY_PIN = SIGNED[1]
_BEGINS = Qt.MatchFlag.MatchStartsWith


MIXED = FigureRule(1, TENS, 5.0, 60.0, MIXED_OXYGEN)
HELIUM = FigureRule(1, TENS, 0.0, 95.0, HELIUM_GAS)


@dataclass(slots=True)
class AnalysisRow:
    """The fields of one cylinder."""

    line: CylinderLine
    oxygen: FigureField
    helium: FigureField | None


def _expect(field: FigureField, before: float | None, asked: float | None) -> None:
    """Hold a figure against the fraction that was asked for, or where none was against the percentage seen last."""
    if asked is None:
        field.expect(last=before)
    else:
        last = say("not recorded") if before is None else f"{before:.4g}"
        field.expect(last=100.0 * asked, known_as=say("last {last}, asked for", last=last))


class AnalysisDialog(ActDialog):
    """Rows of cylinders with what the analyser shows; by the diver it is signed.

    Signals:
        done_with: the answers, one a cylinder.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        lines: Sequence[CylinderLine],
        station: GasStation,
        divers: Sequence[PersonRecord] = (),
        parent: QWidget | None = None,
        *,
        instead: AnalysisRecord | None = None,
    ) -> None:
        title = (
            say("Analyses") if instead is None else say("Correct the analysis of {label}", label=lines[0].part.label)
        )
        words = say("Record analyses") if instead is None else say("Save correction")
        super().__init__(theme, background, title, words, parent)
        self._workplace, self._instead = workplace, instead
        self.setMinimumWidth(200 * GRID)
        self.note.setText(
            worded(
                say(
                    "Digits without the point: 996 is 99.6 %, 212 is 21.2 %. {not_known_key} for a cylinder "
                    "not analysed. Each cylinder is analysed by itself; nothing is copied from one to "
                    "another.",
                    not_known_key=NOT_KNOWN_KEY,
                )
            )
        )
        self.analyser = self._chooser("analyser")
        for tool in station.analysers:
            told = {True: "", False: say("out of date"), None: say("last valid day not known")}[tool.in_date]
            self.analyser.addItem(shown(strung(", ", filter(None, (tool.name, told)))), tool.equipment_id)
        self.analyser.addItem(worded("not recorded"), None)
        self.who = self._chooser(say("analysed by"))
        self.who.addItem(worded("the centre"), None)
        for person in divers:
            self.who.addItem(worded(say("the diver, {person}", person=person.name)), person.person_id)
        self.signed = self._chooser("signed")
        for word in SIGNED:
            self.signed.addItem(worded(word), word)
        self.pin = QLineEdit(self)
        self.pin.setEchoMode(QLineEdit.EchoMode.Password)
        self.pin.setAccessibleName(worded("the diver's PIN"))
        self.pin.setMaxLength(12)
        self.rows = [self._row(line) for line in lines]
        for row in self.rows:
            row.oxygen.meter.chosen_in(self.analyser)
        self.body.addLayout(self._head())
        self.body.addLayout(self._grid())
        self.who.currentIndexChanged.connect(self._show_signing)
        self.signed.currentIndexChanged.connect(self._show_signing)
        self.pin.returnPressed.connect(self.act)
        self._show_signing()
        if self.rows:
            self.rows[0].oxygen.setFocus()
        if instead is not None:
            self._show_earlier(instead)

    def _show_earlier(self, seen: AnalysisRecord) -> None:
        """Stand as it was typed; whose analysis it is cannot change."""
        self.note.setText(
            worded("What stood there stays on record; this one takes its place, with 'typing' as its reason.")
        )
        row = self.rows[0]
        if seen.oxygen_percent is not None:
            row.oxygen.give(seen.oxygen_percent)
        if row.helium is not None and seen.helium_percent is not None:
            row.helium.give(seen.helium_percent)
        self.analyser.setCurrentIndex(max(0, self.analyser.findText(seen.analyser or say("not recorded"), _BEGINS)))
        self.who.setCurrentIndex(max(0, self.who.findData(seen.person_id if seen.by_diver else None)))
        self.who.setEnabled(False)

    @Slot()
    def _show_signing(self) -> None:
        """Ask how the diver signs only where it is the diver's analysis, and the PIN only where it signs."""
        by_diver = self.who.currentData() is not None
        self._signing.setVisible(by_diver)
        self._pin_box.setVisible(by_diver and self.signed.currentData() == BY_PIN)

    def _chooser(self, name: str) -> QComboBox:
        box = ChoiceBox(self)
        box.setAccessibleName(worded(name))
        box.setMinimumWidth(70 * GRID)
        return box

    def _row(self, line: CylinderLine) -> AnalysisRow:
        name = strung(", ", (line.part.label, say(line.state.facts.role)))
        oxygen = FigureField(
            PURE if line.state.facts.role == GasRole.OXYGEN else MIXED, say("{name}, oxygen", name=name), self
        )
        asked_helium = line.state.asked is not None and line.state.asked.helium > 0.0
        helium = FigureField(HELIUM, say("{name}, helium", name=name), self) if asked_helium else None
        seen, asked = line.state.analysis, line.state.asked
        _expect(oxygen, seen.oxygen_percent if seen else None, asked.oxygen if asked else None)
        if helium is not None:
            _expect(helium, seen.helium_percent if seen else None, asked.helium if asked else None)
        return AnalysisRow(line, oxygen, helium)

    def _head(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(APART)
        for title, widget in (("Analyser", self.analyser), (say("Analysed by"), self.who)):
            line.addWidget(self._labelled(title, widget))
        self._signing = self._labelled("Signed", self.signed)
        self._pin_box = self._labelled(say("The diver's PIN"), self.pin)
        line.addWidget(self._signing)
        line.addWidget(self._pin_box)
        line.addStretch(1)
        return line

    def _labelled(self, title: str, widget: QWidget) -> QWidget:
        box = QWidget(self)
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(text_label(worded(title), "label", box))
        column.addWidget(widget)
        return box

    def _grid(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(CLOSE * 2)
        grid.setVerticalSpacing(CLOSE)
        for column, title in enumerate(("Cylinder", "Role", "In", say("Asked for"), "O2 %", "He %")):
            grid.addWidget(text_label(worded(title), "label", self), 0, column)
        fields: list[FigureField] = []
        for number, row in enumerate(self.rows, start=1):
            line = row.line
            texts = (line.part.label, line.state.facts.role, whereabouts(line), gas_words(line.state.asked))
            for column, text in enumerate(texts):
                grid.addWidget(text_label(text, "strong" if column == 0 else "body", self), number, column)
            grid.addLayout(over_its_line(row.oxygen, self), number, 4)
            fields.append(row.oxygen)
            if row.helium is not None:
                grid.addLayout(over_its_line(row.helium, self), number, 5)
                fields.append(row.helium)
        grid.setColumnStretch(6, 1)
        for place, field in enumerate(fields):
            field.asked.connect(self._on_asked)
            field.entered.connect(partial(self._on_entered, fields, place))
            field.passed.connect(partial(self._move_on, fields, place))
            field.stepped.connect(partial(self._step, fields, place))
            field.backed.connect(partial(self._step, fields, place, -1, 0))
        return grid

    def _on_entered(self, fields: list[FigureField], place: int) -> None:
        following = fields[place + 1] if place + 1 < len(fields) else None
        if following is not None and not following.is_filled and fields[place].hasFocus():
            following.setFocus()

    def _move_on(self, fields: list[FigureField], place: int) -> None:
        last = self.pin if self.pin.isVisible() and not self.pin.text() else self.act_button
        (fields[place + 1] if place + 1 < len(fields) else last).setFocus()

    def _step(self, fields: list[FigureField], place: int, rows: int, columns: int) -> None:
        to = place + rows + columns
        if 0 <= to < len(fields):
            fields[to].setFocus()

    def work(self) -> Callable[[], object]:
        """Recording what the analyser showed."""
        diver = self.who.currentData()
        signed = self.signed.currentData() if diver is not None else None
        for row in self.rows:
            for field in (row.oxygen, row.helium):
                if field is not None and field.is_open:
                    field.setFocus()
                    raise Refused(
                        say("{field}: is not settled yet; type it again, or clear it with Backspace", field=field.name)
                    )
        entries = [
            AnalysisEntry(
                part_id=row.line.part.part_id,
                oxygen_percent=row.oxygen.value,
                helium_percent=row.helium.value if row.helium is not None else None,
                analyser_id=self.analyser.currentData(),
                by_diver=diver is not None,
                person_id=diver,
                signed=signed,
                pin=self.pin.text() if signed == BY_PIN else None,
            )
            for row in self.rows
            if row.oxygen.value is not None
        ]
        if not entries:
            raise Refused(say("oxygen: none is typed; read the analyser, or cancel"))
        workplace = self._workplace
        if self._instead is not None:
            key = self._instead.analysis_id
            return lambda: (correct_analysis(workplace, key, entries[0]),)
        lines = {row.line.part.part_id: row.line for row in self.rows}
        names = {key: line.part.label for key, line in lines.items()}
        self.ask_once(look_exchanged(names, {key: line.state.asked for key, line in lines.items()}, entries), entries)
        return lambda: record_analyses(workplace, entries)

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        # These fields keep Enter for themselves: it confirms a figure that was asked about.
        return False if isinstance(watched, FigureField) else super().eventFilter(watched, event)
