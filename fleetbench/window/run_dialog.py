"""A run of a fill, typed: loop minutes, coldest water and deepest point; what is not known is said, never guessed."""

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QComboBox, QCompleter, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.wall_time import moment_at
from fleetbench.records.errors import Refused
from fleetbench.window.background import Background, Refresher
from fleetbench.window.buttons import text_label
from fleetbench.window.calibrate_card import DecimalField, with_unit
from fleetbench.window.calibrate_question import AnswerKey, Question
from fleetbench.window.canister_dialog import ActDialog
from fleetbench.window.theme import BLOCK, GRID, Theme
from fleetbench.window.words import moment, said
from fleetbench.workshop.fill_plan import work_choices
from fleetbench.workshop.runs import RunChoices, RunEntry, log_run, run_choices
from fleetbench.workshop.shop import Shop

CLOCKS = (AnswerKey("1", "loop minutes", "loop"), AnswerKey("2", "dive minutes", "dive"))
HINT = (
    "Loop minutes count from the first breath, pre-breathe and surface with them. Where only dive time is known, ten "
    "minutes a dive are added. Key /: not known, which counts as the coldest or deepest row of the table."
)

_WIDE = 190 * GRID


class RunDialog(ActDialog):
    """Logs one run of the fill in a canister.

    Signals:
        done_with: the key of the run.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        part_id: int,
        zone: ZoneInfo,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, "Log a run", "Log the run", parent)
        self._shop, self._part_id, self._zone = shop, part_id, zone
        self.choices: RunChoices | None = None
        self._work = work_choices()
        self._build()
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_choices)
        self._loader.refused.connect(self.banner.say_refused)
        for before, after in zip(self.order, self.order[1:], strict=False):
            before.returnPressed.connect(after.setFocus)
        self.order[-1].returnPressed.connect(self.act)
        self._loader.ask(lambda: run_choices(shop, part_id))
        self.minutes.setFocus()

    def _build(self) -> None:
        self.minutes, self.coldest, self.deepest, self.dives = (
            DecimalField(name, self) for name in ("minutes", "coldest water", "deepest", "dives")
        )
        self.dives.show_value(1, 0)
        self.order = (self.minutes, self.coldest, self.deepest)
        figures = QHBoxLayout()
        figures.setSpacing(BLOCK)
        for field, words, unit in (
            (self.minutes, "Minutes", "min"),
            (self.coldest, "Coldest water", "°C"),
            (self.deepest, "Deepest", "m"),
            (self.dives, "Dives", ""),
        ):
            figures.addLayout(with_unit(field, words, unit, self))
        figures.addStretch(1)
        self.clock = Question(self.theme, "The minutes are", CLOCKS, self)
        self.clock.show_given("loop")
        self.started = QLineEdit(self)
        self.started.setAccessibleName("started at")
        self.started.setPlaceholderText("so that it ends now")
        self.started.setMaximumWidth(46 * GRID)
        self.diver = QComboBox(self)
        self.diver.setAccessibleName("diver")
        self.diver.setEditable(True)
        self.diver.setMinimumContentsLength(20)
        self.setMinimumWidth(_WIDE)
        self.diver.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.unit = QComboBox(self)
        self.unit.setAccessibleName("unit")
        self.work_box = QComboBox(self)
        self.work_box.setAccessibleName("work")
        for choice in self._work:
            self.work_box.addItem("not known: as rated" if choice.co2_l_min is None else choice.name, choice.co2_l_min)
        hint = text_label(HINT, "small", self)
        hint.setWordWrap(True)
        self.body.addLayout(figures)
        self.body.addWidget(self.clock)
        self.body.addWidget(hint)
        rows = QHBoxLayout()
        rows.setSpacing(BLOCK)
        for words, widget in (
            ("Started, at the site", self.started),
            ("Diver", self.diver),
            ("Unit", self.unit),
            ("Work", self.work_box),
        ):
            column = QVBoxLayout()
            column.setSpacing(2)
            column.addWidget(text_label(words, "label", self))
            column.addWidget(widget)
            rows.addLayout(column)
        self.body.addLayout(rows)

    @Slot(object)
    def show_choices(self, choices: RunChoices) -> None:
        """Show whose fill it is and where it sits."""
        self.choices = choices
        self.heading.setText(f"Log a run of {choices.canister}")
        self.note.setText(f"{said(choices.fill, 'no fill')}, packed {moment(choices.packed_at, self._zone)}")
        self.diver.clear()
        for key, name in choices.divers:
            self.diver.addItem(name, key)
        completer = self.diver.completer()
        if completer is not None:
            completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.diver.setCurrentIndex(self.diver.findData(choices.diver_id) if choices.diver_id is not None else -1)
        self.unit.clear()
        self.unit.addItems(choices.units)
        self.unit.setCurrentIndex(self.unit.findText(choices.unit) if choices.unit else -1)
        if choices.fill is None:
            self.banner.say_refused(f"{choices.canister} holds no fill; pack it first, key P.")

    def work(self) -> Callable[[], object]:
        """Logging what stands in the fields."""
        entry = self.entry()
        shop, part_id = self._shop, self._part_id
        return lambda: log_run(shop, part_id, entry)

    def entry(self) -> RunEntry:
        """The run as it stands in the fields; Refused names a field."""
        minutes, dives = self.minutes.value(), self.dives.value()
        if minutes is None:
            self.minutes.setFocus()
            raise Refused("minutes: is missing; enter loop minutes, or dive minutes and say so")
        for field in (self.coldest, self.deepest):
            if not field.is_said:
                field.setFocus()
                raise Refused(f"{field.name}: is missing; enter it, or press / for not known")
        return RunEntry(
            minutes=minutes,
            clock=self.clock.given or "loop",
            dives=int(dives) if dives is not None else 1,
            started_at=self._started(),
            coldest_c=self.coldest.value(),
            deepest_m=self.deepest.value(),
            co2_l_min=self.work_box.currentData(),
            diver_id=self._diver(),
            unit=self.unit.currentText() or None,
        )

    def _started(self) -> datetime | None:
        text = self.started.text().strip()
        if not text:
            return None
        try:
            local = datetime.strptime(text, "%Y-%m-%d %H:%M")
        except ValueError:
            raise Refused(f"started at: {text!r} is no time; enter it as 2026-05-04 09:30") from None
        try:
            return moment_at(local, self._zone)
        except ValueError as fault:
            raise Refused(f"started at: {fault}") from None

    def _diver(self) -> int | None:
        text = self.diver.currentText().strip()
        if not text:
            return None
        at = self.diver.findText(text, Qt.MatchFlag.MatchFixedString)
        if at < 0:
            raise Refused(f"diver: nobody is called {text!r}; choose one from the list")
        return int(self.diver.itemData(at))
