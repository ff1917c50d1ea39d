"""A run of a fill, typed: loop minutes, coldest water and deepest point; what is not known is said, never guessed."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, worded
from fleetbench.calc.core.measures import CELSIUS, METRE
from fleetbench.calc.core.plausible import DEPTH, LOOP_MINUTES, WATER
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import AnswerKey, DecimalField, QuestionField, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.names import NameCompleter
from fleetbench.window.look.buttons import ChoiceBox, put_hint, text_label, typed_choice
from fleetbench.window.look.theme import BLOCK, GRID, Theme
from fleetbench.window.look.words import day_and_start, moment, said
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.workshop.canisters.absorbent import work_choices
from fleetbench.workshop.canisters.runs import RunChoices, RunEntry, correct_run, log_run, run_choices
from fleetbench.workshop.core.workplace import Workplace

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
