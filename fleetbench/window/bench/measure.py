"""One measured test: set-up, equipment, readings that stamp their time, a plot and an answer that grow with them."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QRect, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QFontMetrics, QHideEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from fleetbench.calc.bench.measured import Measured
from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import capital, say, shown, strung, worded
from fleetbench.calc.core.measures import CELSIUS, measured_in
from fleetbench.calc.core.plausible import GAS_TEMPERATURE
from fleetbench.records.core.errors import Refused
from fleetbench.window.bench.readings import (
    READING_WORDS,
    BenchPlot,
    PlotFacts,
    asked_once,
    facts_in,
    offer_words,
    reading_cells,
    time_left_words,
    tool_words,
    value_words,
)
from fleetbench.window.cells.grid import RowEnd, RowWords
from fleetbench.window.detail.detail import Line, Table
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, StepCard, with_unit
from fleetbench.window.forms.figure import ENTER
from fleetbench.window.forms.metered import held, put_back
from fleetbench.window.lists.act_bar import ActSpec
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import ChoiceBox, for_bench, lead_button, quiet_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import REPEAT, mark_for
from fleetbench.window.look.state_delegate import SHAPE_SIDE
from fleetbench.window.look.theme import BLOCK, CLOSE, GRID, Theme, font
from fleetbench.workshop.bench.equipment import tool_chosen, tools_for
from fleetbench.workshop.bench.measured import (
    OVER_TIME,
    QUANTITY,
    RECORDED_AS,
    SetUp,
    Stamped,
    reading_limits,
    reading_quantity,
    set_up_quantity,
)
from fleetbench.workshop.bench.offers import BenchPlan, Method, TestOffer
from fleetbench.workshop.bench.tests import RecordedTest
from fleetbench.workshop.core.workplace import Workplace

HELD_ANSWERS = (AnswerKey("1", "Held", "held"), AnswerKey("2", "Fell", "fell"), AnswerKey("/", "Not recorded", "none"))
WITH_TEMPERATURE = (Method.LOOP, Method.BACK_LEAK_DECAY)

_ON_ONE_LINE, _TOOL_LETTERS = 3, 14
_PLOT_HEIGHT = 62 * GRID
_SHOWN = 5
"""How many of the newest readings stand in figures; the plot shows all of them."""

ACTS = (
    ActSpec("record", "Record", "Ctrl+Return", "record", "measured bench test"),
    ActSpec("correct", "Correct", "F4", act="measured bench test"),
    ActSpec("photograph", "Photograph", "F7", act="add photograph"),
    ActSpec("paste", "Paste a photograph", "Ctrl+V", act="add photograph"),
)
"""What has a key of its own on the cards of the bench."""


def _tell_tool(box: QComboBox, text: str) -> None:
    box.setToolTip(as_plain_tip(text))


class MeasureCard(StepCard):
    """Takes one measured test from its set-up to the record.

    Signals:
        changed: readings or set-up changed; the answer is to be worked out anew.
        record_requested: hand in what was measured.
        correct_requested: correct what was just recorded.
        tool_chosen: kind and key of equipment, for the tests that follow in this session.
        refused: one line that names the field and the remedy.
    """

    changed = Signal()
    record_requested = Signal()
    correct_requested = Signal()
    tool_chosen = Signal(str, object)
    refused = Signal(str)

    def __init__(
        self,
        theme: Theme,
        workplace: Workplace,
        plan: BenchPlan,
        offer: TestOffer,
        zone: ZoneInfo,
        parent: QWidget | None = None,
        *,
        in_hand: Sequence[int] = (),
    ) -> None:
        super().__init__(theme, offer_words(offer), parent)
        self._workplace, self._plan, self.offer, self._zone = workplace, plan, offer, zone
        self._in_hand = in_hand
        self._before = plan.last_figures.get(offer.key, {})
        self.readings: tuple[Stamped, ...] = ()
        self.measured: Measured | None = None
        self.fields: dict[str, DecimalField] = {}
        self.gauges: dict[str, QComboBox] = {}
        self._table: LinesView | None = None
        self._ticker = QTimer(self)
        self._ticker.setInterval(1000)
        self._ticker.timeout.connect(self._show_time)
        self._build()
        self._connect()
        self._keep_to_tools()

    def _build(self) -> None:
        for text, role in ((self.offer.set_up, "body"), (say("Limit: {limit}", limit=self.offer.limit), "small")):
            label = text_label(text, role, self)
            label.setWordWrap(True)
            self.body.addWidget(label)
        above = [self._tool_line(), self._field_line()]
        if len(self.offer.tools) + len(asked_once(self.offer)) <= _ON_ONE_LINE:
            both = QHBoxLayout()
            both.setSpacing(BLOCK)
            for line in above:
                both.addLayout(line)
            both.addStretch(1)
            above = [both]
        for line in above:
            self.body.addLayout(line)
        self.held: QuestionField | None = None
        if self.offer.method is Method.LOOP:
            self.held = QuestionField(self.theme, "By eye: did it hold?", HELD_ANSWERS, self)
        self.body.addLayout(self._reading_line())
        if self.held is not None:
            self.body.addWidget(self.held)
        self.record_button = for_bench(lead_button(self.theme, "Record   Ctrl+Enter", "", self))
        self.correct_button = quiet_button(self.theme, ACTS[1].text, "", self)
        self.correct_button.hide()
        feet = FlowLayout()
        for button in (self.record_button, self.correct_button, self.back_button):
            feet.addWidget(button)
        self.body.addLayout(feet)
        # What grows stands below what is operated, so that no row of readings pushes a button out of sight.
        self.body.addLayout(self._answer_line(), 1)
        self._show_readings()

    def _answer_line(self) -> QHBoxLayout:
        """The plot, and beside it the answer as far as it goes with the last readings."""
        self.plot = BenchPlot(self.theme, self)
        self.figure = text_label("", "heading", self)
        self.time_left = text_label("", "strong", self)
        self.time_left.setWordWrap(True)
        self.end = RowWords(self.theme, self)
        self._table_room = QVBoxLayout()
        column = QVBoxLayout()
        for widget in (self.figure, self.end, self.time_left):
            column.addWidget(widget)
        column.addLayout(self._table_room)
        column.addStretch(1)
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        self.plot.setFixedHeight(_PLOT_HEIGHT)
        line.addWidget(self.plot, 1, Qt.AlignmentFlag.AlignTop)
        line.addLayout(column, 1)
        return line

    def _tool_line(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        for kind in self.offer.tools:
            box = ChoiceBox(self)
            box.setAccessibleName(worded(kind))
            box.setMaximumWidth(80 * GRID)
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            box.setMinimumContentsLength(_TOOL_LETTERS)
            box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            box.addItem(worded("not chosen"), None)
            listed = tools_for(self._plan.equipment, kind, self.offer.read_in(kind))
            for row in listed:
                box.addItem(shown(tool_words(row)), row.tool.equipment_id)
            proposed = tool_chosen([row.tool.equipment_id for row in listed], self._in_hand)
            box.setCurrentIndex(max(box.findData(proposed), 0))
            box.setToolTip(as_plain_tip(box.currentText()))
            box.currentTextChanged.connect(partial(_tell_tool, box))
            self.gauges[kind] = box
            column = QVBoxLayout()
            column.setSpacing(2)
            label = text_label(capital(say(kind)), "label", self)
            label.setMaximumWidth(box.maximumWidth())  # else a wide page puts both in the middle of a column
            column.addWidget(label)
            column.addWidget(box)
            line.addLayout(column, 1)
        line.addStretch()
        return line

    def _field_line(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        volume = self._plan.loop_volume_l if self.offer.method is Method.LOOP else None
        known = {"ambient_mbar": self._plan.ambient_mbar, "volume_l": volume}
        for name, label, unit in asked_once(self.offer):
            field = DecimalField(label.lower(), self, quantity=set_up_quantity(self.offer, name))
            if name == "reference" and self.offer.tools:
                field.meter.serve(self.offer.tools[0], self.offer.unit)
            if field.meter.kind in self.gauges and name != "supply_bar":
                field.meter.chosen_in(self.gauges[field.meter.kind])
            field.show_value(known.get(name), 1)
            field.expect(last=known.get(name) or self._before.get(RECORDED_AS[name]), hours=0.0)
            field.asked.connect(self.refused)
            self.fields[name] = field
            line.addLayout(with_unit(field, label, unit, self))
        line.addStretch(1)
        return line

    def _reading_line(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        words = READING_WORDS[self.offer.method]
        self.value_field = DecimalField(words.lower(), self, quantity=reading_quantity(self.offer))
        if self.offer.tools and self.offer.method is not Method.REFERENCE:  # what a sensor shows, no meter reads
            self.value_field.meter.serve(self.offer.tools[0], self.offer.unit, self.gauges[self.offer.tools[0]])
        self.value_field.meter.taken.connect(partial(self._on_metered, self.value_field))
        self.value_field.asked.connect(self.refused)
        line.addLayout(
            with_unit(self.value_field, say("{words}, then Enter", words=words), measured_in(self.offer.unit), self)
        )
        self.temperature_field: DecimalField | None = None
        if self.offer.method in WITH_TEMPERATURE:
            self.temperature_field = DecimalField("gas temperature", self, quantity=GAS_TEMPERATURE)
            self.temperature_field.expect(last=self._before.get(say("gas temperature")))
            self.temperature_field.meter.chosen_in(self.gauges["thermometer"])
            self.temperature_field.meter.taken.connect(partial(self._on_metered, self.temperature_field))
            self.temperature_field.asked.connect(self.refused)
            line.addLayout(with_unit(self.temperature_field, "Gas temperature, then Enter", CELSIUS, self))
        self.back_button = quiet_button(self.theme, "Undo the last reading", "", self)
        line.addStretch(1)
        return line

    def _connect(self) -> None:
        for kind, box in self.gauges.items():
            box.setProperty("kind", kind)
            box.activated.connect(self._on_tool)
        for field in self.fields.values():
            field.editingFinished.connect(self.changed)
            field.editingFinished.connect(self._show_plot)
        if self.held is not None:
            self.held.answered.connect(self._on_held)
        self.back_button.clicked.connect(self.take_back)
        self.record_button.clicked.connect(self.record_requested)
        self.correct_button.clicked.connect(self.correct_requested)

    def focus_first(self) -> None:
        """Put the keyboard on the first field that is empty: of the set-up, else the reading."""
        empty = next((field for field in self.fields.values() if not field.is_said), None)
        (empty if empty is not None and not self.readings else self.value_field).setFocus()

    def set_up(self) -> SetUp:
        """What was set up; Refused where a field holds no figure."""
        values: dict[str, Any] = {name: field.value() for name, field in self.fields.items()}
        counted = values.pop("counted", None)
        if counted is not None and counted != int(counted):
            raise Refused(say("pulses counted: is no whole number; count them"))
        held = {"held": True, "fell": False}.get((self.held.given or "") if self.held is not None else "")
        chosen = {kind: box.currentData() for kind, box in self.gauges.items() if box.currentData() is not None}
        room = values.get("ambient_mbar")
        barometer = self._plan.barometer_id if room == round(self._plan.ambient_mbar, 1) else None
        return SetUp(
            held=held,
            counted=int(counted) if counted is not None else None,
            barometer_id=room.source.equipment_id if isinstance(room, Metered) else barometer,
            tools=chosen,
            **values,
        )

    @property
    def is_begun(self) -> bool:
        """Whether readings stand here that are not recorded."""
        return bool(self.readings) and self.record_button.isEnabled()

    @property
    def watch(self) -> tuple[datetime, float | None] | None:
        """When readings over time were begun, and the minutes they are watched for; None where nothing is watched."""
        over_time = self.offer.method in OVER_TIME and self.readings
        return (self.readings[0].at, self._until()) if over_time else None

    def kept(self) -> dict[str, Any]:
        """What was entered, as plain values, so that a test left half-way comes back as it was."""
        return {
            "readings": [[each.at.isoformat(), each.value, each.temperature_c] for each in self.readings],
            "fields": {name: held(field) for name, field in self.fields.items()},
            "tools": {kind: box.currentData() for kind, box in self.gauges.items()},
            "held": self.held.given if self.held is not None else None,
        }

    def bring_back(self, kept: Mapping[str, Any]) -> None:
        """Show what was entered before."""
        self.readings = tuple(Stamped(datetime.fromisoformat(at), value, warm) for at, value, warm in kept["readings"])
        for name, text in kept["fields"].items():
            put_back(self.fields[name], text)
        for kind, key in kept["tools"].items():
            self.gauges[kind].setCurrentIndex(max(self.gauges[kind].findData(key), 0))
        if self.held is not None:
            self.held.show_given(kept["held"])
        if self.readings:
            self.value_field.expect(last=self.readings[-1].value)
            if self.offer.method in OVER_TIME:
                self._ticker.start()
        self._show_readings()

    # readings

    @Slot()
    def stamp(self) -> None:
        """Take the figure in the field as a reading of this moment."""
        at = self._workplace.clock()
        try:
            value = self.value_field.settle()
            at = value.source.at if isinstance(value, Metered) else at  # when it was read, not handed in
            warm = self.temperature_field.settle() if self.temperature_field is not None else None
            if value is None:
                raise Refused(say("{name}: is missing; read it and enter what is shown", name=self.value_field.name))
        except Refused as refusal:
            self.refused.emit(str(refusal))
            return
        if self.readings and at <= self.readings[-1].at:
            self.refused.emit(worded("time: has not moved since the last reading; read again"))
            return
        self.readings = (*self.readings, Stamped(at, value, warm))
        self._keep_to_tools()
        self.value_field.clear()
        if self.temperature_field is not None:
            self.temperature_field.expect(last=warm)
            self.temperature_field.clear()
        self.value_field.setFocus()
        if self.offer.method in OVER_TIME:
            self._ticker.start()
        self._show_readings()
        self.changed.emit()

    def _on_metered(self, field: DecimalField, _value: object) -> None:
        """A reading of a meter is stamped at once, with the gas temperature where that is asked for."""
        field.setFocus()
        self._on_enter()

    def _keep_to_tools(self) -> None:
        """Read on from the pieces that the readings so far were taken with, and against the last of them."""
        before = self._before.get(QUANTITY[self.offer.method])
        self.value_field.expect(last=self.readings[-1].value if self.readings else before)
        for kind, field in zip(self.offer.tools, (self.value_field, self.temperature_field), strict=False):
            if field is not None:
                field.meter.keep_to(self.gauges[kind].currentData() if self.readings else None)

    @Slot()
    def take_back(self) -> None:
        """Undo the last reading."""
        self.readings = self.readings[:-1]
        self._keep_to_tools()
        if not self.readings:
            self._ticker.stop()
        self._show_readings()
        self.changed.emit()

    def _show_readings(self) -> None:
        self.back_button.setEnabled(bool(self.readings))
        self._show_table()
        self._show_plot()

    @Slot()
    def _show_plot(self) -> None:
        try:
            low, high = reading_limits(self.offer, self.set_up())
        except Refused:
            low, high = None, None
        over_time = self.offer.method in OVER_TIME
        unit = self.offer.unit or ""
        facts = PlotFacts(
            tuple(self._points(over_time)),
            unit=unit,
            over_time=over_time,
            low=low,
            high=high,
            until_minutes=self._until(),
        )
        self.plot.show_facts(facts_in(measured_in(unit), facts))

    def _points(self, over_time: bool) -> Sequence[tuple[float, float]]:
        if not over_time:
            return [(float(number), each.value) for number, each in enumerate(self.readings, start=1)]
        return [((each.at - self.readings[0].at).total_seconds() / 60.0, each.value) for each in self.readings]

    def _until(self) -> float | None:
        limits = self.offer.limits
        if limits.lock_up is not None:
            return limits.lock_up.watch_minutes
        return limits.loop.minutes if limits.loop is not None else None

    def _show_table(self) -> None:
        if self._table is not None:
            self._table_room.removeWidget(self._table)
            self._table.hide()
            self._table.deleteLater()
            self._table = None
        if not self.readings:
            return
        width = 4 if self.offer.method in WITH_TEMPERATURE else 3
        heads = ("Read at", "After", "Figure", "Gas")[:width]
        newest = list(reversed(reading_cells(self.readings, measured_in(self.offer.unit), self._zone)))[:_SHOWN]
        lines = [Line(cells[:width]) for cells in newest]
        self._table = LinesView(self.theme, Table("Readings", heads, tuple(lines)), self)
        self._table_room.insertWidget(0, self._table)

    # answers

    def show_measured(self, measured: Measured) -> None:
        """Show the answer as far as it has gone."""
        self.measured = measured
        self.figure.setText(shown(value_words(measured)))
        words = strung(" ", (measured.sentence, *(strung("", (capital(note), ".")) for note in measured.notes)))
        self._say(RowEnd(mark_for(measured.verdict), words))
        self._show_time()

    def show_undecided(self, line: str) -> None:
        """Show why the readings as they stand cannot be judged."""
        self.measured = None
        self.figure.setText("")
        self._say(RowEnd(REPEAT, line))
        self.time_left.setText("")

    def show_recorded(self, test: RecordedTest) -> None:
        """Show what was recorded, and offer to put it right."""
        self._ticker.stop()
        self.time_left.setText("")
        self._say(RowEnd(mark_for(test.answer.verdict), test.answer.sentence))
        self.record_button.setEnabled(False)
        self.correct_button.show()
        self.correct_button.setFocus()

    def _say(self, end: RowEnd) -> None:
        """Show mark and words, with as much height as they need at this width."""
        self.end.show_end(end)
        room = max(40 * GRID, self.end.width() - SHAPE_SIDE - CLOSE)
        words = QFontMetrics(font("small")).boundingRect(
            QRect(0, 0, room, 10_000), int(Qt.TextFlag.TextWordWrap), end.line
        )
        self.end.setMinimumHeight(words.height() + 8 * GRID)

    def open_again(self) -> None:
        """Let the readings be corrected and recorded anew."""
        self.record_button.setEnabled(True)
        self.correct_button.hide()
        self.focus_first()

    @Slot()
    def _show_time(self) -> None:
        if self.measured is None or not self.record_button.isEnabled():
            return
        first: datetime | None = self.readings[0].at if self.readings else None
        since = (self._workplace.clock() - first).total_seconds() if first is not None else None
        last = (self.readings[-1].at - first).total_seconds() if first is not None else None
        self.time_left.setText(shown(time_left_words(self.measured, since, last)))

    @Slot(int)
    def _on_tool(self, _index: int) -> None:
        box = self.sender()
        assert isinstance(box, QComboBox)
        self.tool_chosen.emit(box.property("kind"), box.currentData())
        self.changed.emit()

    @Slot(str)
    def _on_held(self, _value: str) -> None:
        self.changed.emit()
        self.record_button.setFocus()

    # Qt overrides

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._ticker.stop()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._say(self.end.shown)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if event.key() in ENTER and ctrl and self.record_button.isEnabled():
            self.record_requested.emit()
        elif event.key() in ENTER and not ctrl:
            self._on_enter()
        elif event.key() == Qt.Key.Key_F4 and self.correct_button.isVisible():
            self.correct_requested.emit()
        else:
            super().keyPressEvent(event)

    def _on_enter(self) -> None:
        """Enter goes on: from field to field of the set-up, then stamps reading after reading."""
        here, order = self.focusWidget(), list(self.fields.values())
        if here is self.record_button and self.record_button.isEnabled():
            self.record_requested.emit()
        elif here in order:
            following = order.index(here) + 1
            (order[following] if following < len(order) else self.value_field).setFocus()
        elif here is self.value_field and self.temperature_field is not None and self.value_field.is_said:
            self.temperature_field.setFocus()
        elif here in (self.value_field, self.temperature_field):
            self.stamp()
