"""The first step: conditions and gas of the bench session, in one line while it holds, as a form to open a new one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import capital, say, strung, worded
from fleetbench.calc.core.measures import CELSIUS
from fleetbench.calc.core.plausible import FLUSH_OXYGEN, HUMIDITY, ROOM_PRESSURE, ROOM_TEMPERATURE
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.records.core.errors import Refused
from fleetbench.window.cells.words import comparison_words, session_words
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, StepCard, settle_all, with_unit
from fleetbench.window.forms.figure import ENTER, PURE
from fleetbench.window.look.buttons import ChoiceBox, for_bench, lead_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, Theme
from fleetbench.workshop.bench.sessions import Equipment, LastConditions, SessionFacts
from fleetbench.workshop.cells.entry import PaperConditions

HINT = say(
    "Key / : not known. Without a barometer the standard pressure of the altitude is taken, "
    "with a wider uncertainty; without an analysis there is no oxygen point."
)


@dataclass(frozen=True, slots=True)
class SessionForm:
    """What the form asks to open: conditions in mbar, °C and percent, None for not known."""

    pressure_mbar: float | None
    temperature_c: float | None
    humidity_percent: float | None
    oxygen_shown_percent: float | None
    analyser_id: int | None
    barometer_id: int | None
    hygrometer_id: int | None


@dataclass(frozen=True, slots=True)
class PaperForm:
    """What the form says of a calibration typed from paper."""

    at: datetime
    conditions: PaperConditions
    settled: str


class SessionCard(StepCard):
    """Shows the session that holds, or asks for a new one.

    Signals:
        open_requested: a SessionForm.
        paper_given: a PaperForm.
        refused: one line that names the field and the remedy.
    """

    open_requested = Signal(object)
    paper_given = Signal(object)
    refused = Signal(str)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("1  Conditions and gas"), parent)
        self._zone = zone
        self.line = text_label("", "body", self)
        self.line.setWordWrap(True)
        self.warnings = text_label("", "small", self)
        self.warnings.setWordWrap(True)
        self.change_button = quiet_button(theme, "New conditions", "", self)
        self.paper_button = quiet_button(theme, "From a paper record", "", self)
        self.end_button = quiet_button(theme, "End session", "", self)
        self.end_button.setToolTip(worded("For instance because the gas was changed"))
        self.tools.addWidget(self.end_button)
        self.tools.addWidget(self.paper_button)
        self.tools.addWidget(self.change_button)
        self.form = QWidget(self)
        self._build_form()
        self.body.addWidget(self.line)
        self.body.addWidget(self.warnings)
        self.body.addWidget(self.form)
        self.change_button.clicked.connect(self.ask_anew)
        self.paper_button.clicked.connect(self.ask_paper)
        self.open_button.clicked.connect(self.submit)

    def _build_form(self) -> None:
        self.pressure = DecimalField("pressure", self.form, quantity=ROOM_PRESSURE)
        self.temperature = DecimalField("temperature", self.form, quantity=ROOM_TEMPERATURE)
        self.humidity = DecimalField("humidity", self.form, quantity=HUMIDITY)
        self.oxygen = DecimalField("oxygen", self.form, quantity=FLUSH_OXYGEN, rule=PURE)
        for field in (self.pressure, self.temperature, self.humidity, self.oxygen):
            field.asked.connect(self.refused)
        self.tools_of = {role: ChoiceBox(self.form) for role in ("barometer", "hygrometer", "analyser")}
        for role, box in self.tools_of.items():
            box.setAccessibleName(worded(role))
        for field in (self.pressure, self.humidity, self.oxygen):
            field.meter.chosen_in(self.tools_of[field.meter.kind])
        first = QHBoxLayout()
        first.setSpacing(BLOCK)
        for field, label, unit in (
            (self.pressure, say("Room pressure"), "mbar"),
            (self.temperature, "Temperature", CELSIUS),
            (self.humidity, "Humidity", "%"),
            (self.oxygen, say("Gas: oxygen as analysed"), "%"),
        ):
            first.addLayout(with_unit(field, label, unit, self.form))
        first.addStretch(1)
        second = QHBoxLayout()
        second.setSpacing(BLOCK)
        for role, box in self.tools_of.items():
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(capital(say(role)), "label", self.form))
            column.addWidget(box)
            second.addLayout(column)
        second.addStretch(1)
        self.open_button = for_bench(lead_button(self.theme, "Open the session", "", self.form))
        second.addWidget(self.open_button)
        self._paper = QWidget(self.form)
        self._build_paper()
        hint = text_label(HINT, "small", self.form)
        hint.setWordWrap(True)
        layout = QVBoxLayout(self.form)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(APART)
        layout.addLayout(first)
        layout.addWidget(self._paper)
        layout.addLayout(second)
        layout.addWidget(hint)

    def _build_paper(self) -> None:
        self.when = QLineEdit(self._paper)
        self.when.setPlaceholderText("2026-05-04 09:30")
        self.when.setAccessibleName(worded("when"))
        self.when.setMaximumWidth(200)
        self.settled = QuestionField(
            self.theme,
            "Does the paper record say that every cell had settled in oxygen?",
            (AnswerKey("1", "Yes", "yes"), AnswerKey("2", "No", "no"), AnswerKey("/", "Not known", "unknown")),
            self._paper,
        )
        line = QHBoxLayout(self._paper)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(BLOCK)
        line.addLayout(with_unit(self.when, "Done on (day and time)", "", self._paper))
        line.addWidget(self.settled)
        line.addStretch(1)
        self._paper.hide()

    def show_equipment(self, listed: Sequence[Equipment]) -> None:
        """Offer this equipment, what is in date first."""
        for role, box in self.tools_of.items():
            chosen = box.currentData()
            of_role = sorted(
                (tool for tool in listed if tool.tool.kind == role), key=lambda tool: tool.in_date is not True
            )
            in_date = [tool.tool.equipment_id for tool in of_role if tool.in_date]
            box.clear()
            box.addItem(worded("none at hand"), None)
            for tool in of_role:
                words = (
                    ""
                    if tool.in_date
                    else say(", not known to be in date")
                    if tool.in_date is None
                    else say(", out of date")
                )
                box.addItem(f"{tool.tool.name} {tool.tool.serial}{words}", tool.tool.equipment_id)
            # Only where there is no other to be mistaken for is one chosen beforehand.
            wanted = chosen if chosen is not None else in_date[0] if len(in_date) == 1 else None
            box.setCurrentIndex(max(box.findData(wanted), 0) if wanted is not None else 0)

    def expect(self, last: LastConditions) -> None:
        """Say what was recorded last at this centre, against which a reading is seen."""
        self.pressure.expect(last=last.pressure_mbar, hours=last.hours)
        self.temperature.expect(last=last.temperature_c)
        self.humidity.expect(last=last.humidity_percent)
        self.oxygen.expect(last=last.oxygen_shown_percent)

    def show_session(self, bench: SessionFacts | None, on_this_gas: Sequence[tuple[str, str]] = ()) -> None:
        """Show the session that holds in one line, and the other heads on its gas, or the form where there is none."""
        self._paper.hide()
        self.open_button.setText(worded("Open the session"))
        if bench is None:
            self.line.setText(
                worded("No session holds: enter conditions and gas once, for all heads of the next two hours.")
            )
            self.warnings.hide()
            self.note.setText("")
            self.form.show()
            self.change_button.hide()
            self.end_button.hide()
            return
        until = f"{bench.holds_until.astimezone(self._zone):%H:%M}"
        self.note.setText(
            worded(
                say("holds until {until}, while the pressure stays within 2 mbar and the gas is the same", until=until)
            )
        )
        self.line.setText(session_words(bench))
        self.warnings.setText(strung(" ", (*bench.warnings, comparison_words(on_this_gas))))
        self.warnings.show()
        self.form.hide()
        self.change_button.show()
        self.end_button.show()
        self.pressure.show_value(bench.pressure_mbar)
        self.temperature.show_value(bench.temperature_c)
        self.humidity.show_value(bench.humidity_percent, 0)
        self.oxygen.show_value(bench.oxygen_shown_percent)

    def show_paper(self, given: PaperForm) -> None:
        """Show the conditions of a calibration typed from paper in one line."""
        shown = given.conditions
        pressure = (
            say("pressure from altitude")
            if shown.pressure_mbar is None
            else say("{pressure_mbar:.1f} mbar", pressure_mbar=shown.pressure_mbar)
        )
        oxygen = say("gas not analysed")
        if shown.oxygen_shown_percent is not None:
            oxygen = say("oxygen {oxygen_shown_percent:.1f} %", oxygen_shown_percent=shown.oxygen_shown_percent)
        when = f"{given.at.astimezone(self._zone):%Y-%m-%d %H:%M}"
        self.line.setText(
            worded(
                say(
                    "From a paper record, done on {when}: {pressure}, {temperature_c}; {oxygen}.",
                    when=when,
                    pressure=pressure,
                    temperature_c=CELSIUS.words(shown.temperature_c, 1),
                    oxygen=oxygen,
                )
            )
        )
        self.note.setText("")
        self.warnings.hide()
        self.form.hide()
        self.change_button.show()
        self.end_button.hide()

    @Slot()
    def ask_anew(self) -> None:
        """Show the form with what held before, to be changed."""
        self._paper.hide()
        self.open_button.setText(worded("Open the session"))
        self.form.show()
        self.pressure.setFocus()
        self.pressure.selectAll()

    @Slot()
    def ask_paper(self) -> None:
        """Show the form with the paper's own questions."""
        self._paper.show()
        self.open_button.setText(worded("Take these conditions"))
        self.form.show()
        self.when.setFocus()

    def focus_first(self) -> None:
        """Put the keyboard where this step begins."""
        (self.pressure if self.form.isVisibleTo(self) else self.change_button).setFocus()

    @Slot()
    def submit(self) -> None:
        """Hand on what stands in the form, or say what is wrong with it."""
        try:
            settle_all(self.form)
            given = SessionForm(
                self.pressure.value(), self.temperature.value(), self.humidity.value(), self.oxygen.value(),
                *(self.tools_of[role].currentData() for role in ("analyser", "barometer", "hygrometer")),
            )  # fmt: skip
            if self._paper.isVisibleTo(self.form):
                self.paper_given.emit(self._paper_form(given))
            else:
                self.open_requested.emit(given)
        except Refused as refusal:
            self.refused.emit(str(refusal))

    def _paper_form(self, given: SessionForm) -> PaperForm:
        try:
            local = datetime.strptime(self.when.text().strip(), "%Y-%m-%d %H:%M")  # noqa: DTZ007 - the zone follows
        except ValueError:
            raise Refused(say("when: enter day and time from the paper record, such as 2026-05-04 09:30")) from None
        try:
            at = moment_at(local, self._zone)
        except ValueError as fault:
            raise Refused(say("when: {fault}", fault=str(fault))) from fault
        if given.temperature_c is None:
            raise Refused(say("temperature: is missing; enter the figure in {celsius}", celsius=CELSIUS))
        conditions = PaperConditions(
            pressure_mbar=given.pressure_mbar,
            temperature_c=given.temperature_c,
            humidity_percent=given.humidity_percent,
            oxygen_shown_percent=given.oxygen_shown_percent,
            analyser_id=given.analyser_id if given.oxygen_shown_percent is not None else None,
            barometer_id=given.barometer_id if given.pressure_mbar is not None else None,
        )
        return PaperForm(at, conditions, self.settled.given or "unknown")

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER and self.form.isVisible():
            if self.focusWidget() is self.oxygen or isinstance(self.focusWidget(), QComboBox):
                self.submit()
            else:
                self.focusNextChild()
            return
        super().keyPressEvent(event)
