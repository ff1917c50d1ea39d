"""Runs of a fill: the one that is planned, answered with margin and reason, and the one that was, typed."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.core.plausible import DEPTH, LOOP_MINUTES, WATER
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import ChoiceBox, NameCompleter, plain_button, put_hint, text_label, typed_choice
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme, font
from fleetbench.window.look.words import day_and_start, moment, said
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.canisters.absorbent import FillAnswer, FillOutlook, PlannedDive, WorkChoice, work_choices
from fleetbench.workshop.canisters.runs import RunChoices, RunEntry, correct_run, log_run, run_choices
from fleetbench.workshop.core.workplace import Workplace

CAUTION = say(
    "What is calculated here stands under the canister's manual. A pre-breathe is never evidence that absorbent works."
)

_WORK_LETTERS = 16
_WIDEST_ANSWER = 110 * GRID
_HAIR = 1e-6
"""What binary fractions lose: 210 rated minutes come back as 209.99999."""


class PlanPanel(QFrame):
    """Asks for a plan and says whether the chosen canister, and how many of all, cover it.

    Signals:
        asked: a PlannedDive, whenever the plan is changed and whole.
        refused: one line that names the field and the remedy.
    """

    asked = Signal(object)
    refused = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setProperty("role", "card")
        self.outlook: FillOutlook | None = None
        self._chosen: int | None = None
        self._mark: MarkLabel | None = None
        self._work: tuple[WorkChoice, ...] = work_choices()
        self._build()
        for field in self.fields:
            field.returnPressed.connect(self.ask)
        self.work.activated.connect(self.ask)
        self.ask_button.clicked.connect(self.ask)

    def _build(self) -> None:
        self.water = DecimalField("water", self)
        self.deep = DecimalField("depth", self)
        self.minutes = DecimalField("minutes", self)
        self.fields = (self.water, self.deep, self.minutes)
        self.work = ChoiceBox(self)
        self.work.setAccessibleName(worded("work"))
        for choice in self._work:
            rate = "" if choice.co2_l_min is None else say(", {co2_l_min:.2f} L/min CO2", co2_l_min=choice.co2_l_min)
            self.work.addItem(shown(strung("", (choice.name, rate))))
        self.ask_button = plain_button(self._theme, "Ask", "", self)
        order = (self.water, self.deep, self.work, self.minutes, self.ask_button)
        for before, after in pairwise(order):
            self.setTabOrder(before, after)
        self.work.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.work.setMinimumContentsLength(_WORK_LETTERS)
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        for field, label, unit in ((self.water, "Water", CELSIUS), (self.deep, "Depth", METRE)):
            line.addLayout(with_unit(field, label, unit, self))
        work = QVBoxLayout()
        work.setSpacing(2)
        work.addWidget(text_label(say("Work"), "label", self))
        work.addWidget(self.work)
        line.addLayout(work)
        line.addLayout(with_unit(self.minutes, "Loop minutes wanted", "min", self))
        line.addWidget(self.ask_button, 0, Qt.AlignmentFlag.AlignBottom)
        line.addStretch(1)
        self._answer = QHBoxLayout()
        self._answer.setSpacing(BLOCK)
        self._reason = text_label("", "small", self)
        self._reason.setWordWrap(True)
        self._all = text_label("", "body", self)
        self._all.setWordWrap(True)
        self._answer.addWidget(self._reason, 1)
        self._source = text_label(CAUTION, "small", self)
        self._source.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, APART)
        layout.setSpacing(CLOSE)
        layout.addLayout(line)
        layout.addLayout(self._answer)
        layout.addWidget(self._all)
        layout.addWidget(self._source)

    @property
    def words(self) -> tuple[str, str, str]:
        """The answer, its reason, and what is said of all canisters."""
        return self._mark.word if self._mark is not None else "", self._reason.text(), self._all.text()

    def focus_first(self) -> None:
        """Put the keyboard on the first field."""
        self.water.setFocus()
        self.water.selectAll()

    def plan(self) -> PlannedDive:
        """What stands in the fields; Refused naming the field where it is no figure or the minutes are missing."""
        minutes = self.minutes.value()
        if minutes is None:
            raise Refused(say("minutes: is missing; enter the loop minutes that are planned"))
        return PlannedDive(
            minutes, self.water.value(), self.deep.value(), self._work[self.work.currentIndex()].co2_l_min
        )

    @Slot()
    def ask(self) -> None:
        """Ask with what stands in the fields."""
        try:
            plan = self.plan()
        except Refused as refusal:
            self.refused.emit(str(refusal))
            return
        self.asked.emit(plan)

    def show_outlook(self, outlook: FillOutlook) -> None:
        """Show what came back; empty fields are filled with what was asked."""
        self.outlook = outlook
        if not any(field.is_said for field in self.fields):
            self.water.show_value(outlook.asked.water_c, 0)
            self.deep.show_value(outlook.asked.depth_m, 0)
            self.minutes.show_value(outlook.asked.minutes, 0)
        self._all.setText(shown(words_of_all(outlook.answers)))
        self._say()

    def choose(self, part_id: int | None) -> None:
        """Answer for this canister."""
        self._chosen = part_id
        self._say()

    def _say(self) -> None:
        answer = self.outlook.answer_of(self._chosen) if self.outlook and self._chosen is not None else None
        if self._mark is not None:
            self._answer.removeWidget(self._mark)
            self._mark.hide()
            self._mark.deleteLater()
        self._mark = MarkLabel(self._theme, answer_mark(answer), "heading", self)
        wide = QFontMetrics(font("heading")).horizontalAdvance(self._mark.word) + 8 * GRID
        self._mark.setMinimumWidth(min(wide, _WIDEST_ANSWER))
        self._answer.insertWidget(0, self._mark)
        self._reason.setText("" if answer is None else shown(reason_words(answer)))


def answer_mark(answer: FillAnswer | None) -> Mark:
    """Yes or no with the margin in minutes, rounded so that it never flatters."""
    if answer is None:
        return UNKNOWN.worded("Choose a canister to ask.")
    if answer.answer:
        return OK.worded(
            say("{canister}: yes, {minutes} min to spare", canister=answer.canister, minutes=over_by(answer))
        )
    if answer.fill is None:
        return STOP.worded(say("{canister}: no, nothing is packed in it", canister=answer.canister))
    return STOP.worded(say("{canister}: no, {minutes} min short", canister=answer.canister, minutes=short_by(answer)))


def over_by(answer: FillAnswer) -> int:
    """Whole minutes that a fill gives over what is asked, rounded down."""
    return math.floor(answer.margin + _HAIR)


def short_by(answer: FillAnswer) -> int:
    """Whole minutes that a fill falls short of what is asked, rounded up."""
    return math.ceil(-answer.margin - _HAIR)


def reason_words(answer: FillAnswer) -> str:
    """Why, with what was assumed."""
    return strung("; ", dict.fromkeys((*answer.all_reasons, *answer.cautions)))


def words_of_all(answers: Sequence[FillAnswer]) -> str:
    """How many cover it, and which by name of their unit or their own."""
    able = [each for each in answers if each.answer]
    packed = [each for each in answers if each.fill is not None]
    if not able:
        return say("Of all: none of {count} packed canisters covers it.", count=len(packed))
    names = strung(
        ", ", (say("{value} (+{each} min)", value=each.unit or each.canister, each=over_by(each)) for each in able[:8])
    )
    more = say(" and {count} more", count=len(able) - 8) if len(able) > 8 else ""
    return say(
        "Of all: {count} of {count_2} packed canisters cover it: {names}{more}.",
        count=len(able),
        count_2=len(packed),
        names=names,
        more=more,
    )


CLOCKS = (AnswerKey("1", "loop minutes", "loop"), AnswerKey("2", "dive minutes", "dive"))
HINT = say(
    "Loop minutes count from the first breath, pre-breathe and surface with them. Where only "
    "dive time is known, ten minutes a dive are added. Key /: not known, which counts as the "
    "coldest or deepest row of the table. Started: day and time, or the day alone. What is "
    "not known is not made up: the fill's clocks then run from the earliest it can have been."
)

_WIDE = 190 * GRID


ASKED = (("minutes", LOOP_MINUTES), (say("coldest water"), WATER), ("deepest", DEPTH), ("dives", None))


class RunDialog(ActDialog):
    """Logs one run of the fill in a canister, or puts its last run right: both stay on record, one counts.

    Signals:
        done_with: the key of the run.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        workplace: Workplace,
        part_id: int,
        zone: ZoneInfo,
        parent: QWidget | None = None,
        *,
        putting_right: bool = False,
    ) -> None:
        title, act = (
            (say("Correct the last run"), say("Correct run"))
            if putting_right
            else (say("Log a run"), say("Log the run"))
        )
        super().__init__(theme, background, title, act, parent)
        self._workplace, self._part_id, self._zone = workplace, part_id, zone
        self._putting_right = putting_right
        self.choices: RunChoices | None = None
        self._work = work_choices()
        self._build()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        for before, after in zip(self.order, self.order[1:], strict=False):
            before.returnPressed.connect(after.setFocus)
        self.order[-1].returnPressed.connect(self.act)
        self._loader.ask(lambda: run_choices(workplace, part_id))
        self.minutes.setFocus()

    def _build(self) -> None:
        self.minutes, self.coldest, self.deepest, self.dives = (
            DecimalField(name, self, quantity=quantity) for name, quantity in ASKED
        )
        self.dives.show_value(1, 0)
        self.order = (self.minutes, self.coldest, self.deepest)
        figures = QHBoxLayout()
        figures.setSpacing(BLOCK)
        for field, words, unit in (
            (self.minutes, "Minutes", "min"),
            (self.coldest, say("Coldest water"), CELSIUS),
            (self.deepest, "Deepest", METRE),
            (self.dives, "Dives", ""),
        ):
            figures.addLayout(with_unit(field, words, unit, self))
        figures.addStretch(1)
        self.clock = QuestionField(self.theme, "The minutes are", CLOCKS, self)
        self.clock.show_given("loop")
        self.started = QLineEdit(self)
        self.started.setAccessibleName(worded("started at"))
        put_hint(self.started, worded("not known"))
        self.started.setMaximumWidth(46 * GRID)
        self.diver = typed_choice("diver", self)
        self.diver.setMinimumContentsLength(20)
        self.setMinimumWidth(_WIDE)
        self.unit = ChoiceBox(self)
        self.unit.setAccessibleName(worded("unit"))
        self.work_box = ChoiceBox(self)
        self.work_box.setAccessibleName(worded("work"))
        for choice in self._work:
            self.work_box.addItem(
                worded("not known: as rated") if choice.co2_l_min is None else shown(choice.name), choice.co2_l_min
            )
        self.why = QLineEdit("typing", self)
        self.why.setAccessibleName(worded("reason"))
        self.why.setVisible(self._putting_right)
        hint = text_label(HINT, "small", self)
        hint.setWordWrap(True)
        self.body.addLayout(figures)
        self.body.addWidget(self.clock)
        self.body.addWidget(hint)
        rows = QHBoxLayout()
        rows.setSpacing(BLOCK)
        for words, widget in (
            (say("Started, at the site"), self.started),
            (say("Diver"), self.diver),
            (say("Unit"), self.unit),
            (say("Work"), self.work_box),
        ):
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(worded(words), "label", self))
            column.addWidget(widget)
            rows.addLayout(column)
        self.body.addLayout(rows)
        if self._putting_right:
            self.body.addWidget(text_label(say("Reason for the correction"), "label", self))
            self.body.addWidget(self.why)
            self.why.returnPressed.connect(self.act)

    @Slot(object)
    def show_choices(self, choices: RunChoices) -> None:
        """Show whose fill it is and where it sits."""
        self.choices = choices
        canister = choices.canister
        doing = (
            say("Correct the last run of {canister}", canister=canister)
            if self._putting_right
            else say("Log a run of {canister}", canister=canister)
        )
        self.heading.setText(shown(doing))
        self.note.setText(
            worded(
                say(
                    "{fill}, packed {packed_at}",
                    fill=said(choices.fill, say("no fill")),
                    packed_at=moment(choices.packed_at, self._zone),
                )
            )
        )
        self.diver.clear()
        for key, name in choices.divers:
            self.diver.addItem(name, key)
        self.diver.setCompleter(NameCompleter([name for _key, name in choices.divers], self.diver))
        self.diver.setCurrentIndex(self.diver.findData(choices.diver_id) if choices.diver_id is not None else -1)
        self.unit.clear()
        self.unit.addItems(choices.units)
        self.unit.setCurrentIndex(self.unit.findText(choices.unit) if choices.unit else -1)
        last = choices.last_run
        for field, before in zip(
            self.order, (last.minutes, last.coldest_c, last.deepest_m) if last else (), strict=False
        ):
            field.expect(last=before)
        if choices.fill is None:
            self.banner.say_refused(say("{canister} holds no fill; pack it first, key P.", canister=choices.canister))
        elif self._putting_right:
            self._show_last(choices)

    def _show_last(self, choices: RunChoices) -> None:
        last = choices.last_run
        if last is None or choices.last_run_id is None:
            self.banner.say_refused(say("No run of this fill is recorded; there is nothing to correct."))
            return
        self.minutes.setText(f"{last.minutes:g}")
        self.minutes.selectAll()
        self.clock.show_given(last.clock)
        self.dives.show_value(last.dives, 0)
        for field, value in ((self.coldest, last.coldest_c), (self.deepest, last.deepest_m)):
            if value is None:
                field.say_not_known()
            else:
                field.show_value(value, None)
        self.started.setText(self._shown(last))
        self.diver.setCurrentIndex(self.diver.findData(last.diver_id))
        self.unit.setCurrentIndex(self.unit.findText(last.unit or ""))
        if last.co2_l_min is not None and self.work_box.findData(last.co2_l_min) < 0:
            self.work_box.addItem(
                worded(say("as entered, {co2_l_min:g} L/min", co2_l_min=last.co2_l_min)), last.co2_l_min
            )
        self.work_box.setCurrentIndex(max(0, self.work_box.findData(last.co2_l_min)))

    def work(self) -> Callable[[], object]:
        """Logging what stands in the fields, or putting it in the place of the last run."""
        entry = self.entry()
        workplace, part_id = self._workplace, self._part_id
        if not self._putting_right:
            return lambda: log_run(workplace, part_id, entry)
        wrong = self.choices.last_run_id if self.choices is not None else None
        if wrong is None or self.choices is None or self.choices.last_run is None:
            raise Refused(say("run: none of this fill is recorded; there is nothing to correct"))
        before, why = self.choices.last_run, self.why.text()
        right = replace(entry, line_id=before.line_id)
        if self.started.text().strip() == self._shown(before):
            # The field shows minutes, and in the hour that comes twice not even which one; what nobody touched stays.
            right = replace(right, started_at=before.started_at, on=before.on)
        return lambda: correct_run(workplace, part_id, wrong, reason=why, instead=right)

    def _shown(self, run: RunEntry) -> str:
        if run.started_at is not None:
            return moment(run.started_at, self._zone)
        return run.on.isoformat() if run.on is not None else ""

    def entry(self) -> RunEntry:
        """The run as it stands in the fields; Refused names a field."""
        minutes, dives = self.minutes.value(), self.dives.value()
        if minutes is None:
            self.minutes.setFocus()
            raise Refused(say("minutes: is missing; enter loop minutes, or dive minutes and say so"))
        for field in (self.coldest, self.deepest):
            if not field.is_said:
                field.setFocus()
                raise Refused(say("{field}: is missing; enter the figure, or press / for not known", field=field.name))
        on, started = self._started()
        return RunEntry(
            minutes=minutes,
            clock=self.clock.given or "loop",
            dives=int(dives) if dives is not None else 1,
            started_at=started,
            on=on,
            coldest_c=self.coldest.value(),
            deepest_m=self.deepest.value(),
            co2_l_min=self.work_box.currentData(),
            diver_id=self._diver(),
            unit=self.unit.currentText() or None,
        )

    def _started(self) -> tuple[date | None, datetime | None]:
        """The day alone, or the start; neither where neither is known."""
        text = self.started.text().strip()
        try:
            on, start = day_and_start(text)
        except ValueError:
            raise Refused(
                say("started at: {text!r} is not a time; enter 2026-05-04 09:30, or the day alone", text=text)
            ) from None
        if on is None or start is None:
            return on, None
        try:
            return None, moment_at(datetime.combine(on, start), self._zone)
        except ValueError as fault:
            raise Refused(say("started at: {fault}", fault=str(fault))) from None

    def _diver(self) -> int | None:
        text = self.diver.currentText().strip()
        if not text:
            return None
        at = self.diver.findText(text, Qt.MatchFlag.MatchFixedString)
        if at < 0:
            raise Refused(say("diver: nobody is called {text!r}; choose one from the list", text=text))
        return int(self.diver.itemData(at))
