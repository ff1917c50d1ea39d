"""Runs of a fill: the one that is planned, answered with margin and reason, and the one that was, typed."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import CELSIUS, METRE, Measure
from fleetbench.calc.core.plausible import DEPTH, LOOP_MINUTES, WATER, Quantity
from fleetbench.calc.core.wall_time import moment_at
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import DecimalField, with_unit
from fleetbench.window.forms.figure import NOT_KNOWN_TEXT
from fleetbench.window.forms.form import REFUSED, Field, Form, Shown
from fleetbench.window.look.buttons import ChoiceBox, plain_button, text_label
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme, font
from fleetbench.window.look.words import day_and_start, moment, said
from fleetbench.workshop.canisters.absorbent import FillAnswer, FillOutlook, PlannedDive, WorkChoice, work_choices
from fleetbench.workshop.canisters.runs import RunChoices, RunEntry, correct_run, log_run
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


CLOCKS = ((say("loop minutes"), "loop"), (say("dive minutes"), "dive"))
HINT = say(
    "Loop minutes count from the first breath, pre-breathe and surface with them. Where only "
    "dive time is known, ten minutes a dive are added. Key /: not known, which counts as the "
    "coldest or deepest row of the table. Started: day and time, or the day alone. What is "
    "not known is not made up: the fill's clocks then run from the earliest it can have been."
)


def run_form(workplace: Workplace, zone: ZoneInfo, choices: RunChoices, *, correcting: bool) -> Form:
    """Logs one run of the fill in a canister, or corrects its last run: both stay on record, one counts."""
    last = choices.last_run
    seen = last if correcting and choices.last_run_id is not None else None
    begun = _begun(seen, zone) if seen is not None else ""
    works = [(say("not known: as rated") if each.co2_l_min is None else each.name, each.co2_l_min)
             for each in work_choices()]  # fmt: skip
    if seen is not None and seen.co2_l_min not in {value for _name, value in works}:
        works.append((say("as entered, {co2_l_min:g} L/min", co2_l_min=seen.co2_l_min), seen.co2_l_min))

    def against() -> Mapping[str, Shown]:
        if choices.fill is None:
            return {REFUSED: say("{canister} holds no fill; pack it first, key P.", canister=choices.canister)}
        lacks = correcting and seen is None
        return {REFUSED: say("No run of this fill is recorded; there is nothing to correct.") if lacks else ""}

    def read(name: str, words: str, unit: str | Measure, quantity: Quantity, **more: Any) -> Field:
        value = getattr(seen, name) if seen is not None else None
        before = {"last": getattr(last, name)} if last is not None else None
        default = NOT_KNOWN_TEXT if seen is not None and value is None else value
        return Field(name, words, "figure", unit=unit, quantity=quantity, default=default, expects=before, **more)

    def record(started: str, dives: int | None, why: str = "", **told: Any) -> int | None:
        on, start = started_at(started.strip(), zone)
        entry = RunEntry(on=on, started_at=start, dives=dives if dives is not None else 1, **told)
        if seen is None or choices.last_run_id is None:
            return log_run(workplace, choices.part_id, entry)
        right = replace(entry, line_id=seen.line_id)
        if started.strip() == begun:
            # The field shows minutes, and in the hour that comes twice not even which one; what nobody touched stays.
            right = replace(right, started_at=seen.started_at, on=seen.on)
        return correct_run(workplace, choices.part_id, choices.last_run_id, reason=why, instead=right)

    fill, at = said(choices.fill, say("no fill")), moment(choices.packed_at, zone)
    missing = say("is missing; enter the figure, or press / for not known")
    title = say("Correct the last run of {canister}") if correcting else say("Log a run of {canister}")
    why = Field("why", "Reason for the correction", default="typing", spoken="reason", aside=True)
    return Form(
        say(str(title), canister=choices.canister),
        act_words=say("Correct run") if correcting else say("Log the run"),
        note=say("{fill}, packed {packed_at}", fill=fill, packed_at=at),
        fields=(
            read("minutes", say("Minutes"), "min", LOOP_MINUTES,
                   wants=say("is missing; enter loop minutes, or dive minutes and say so")),
            read("coldest_c", say("Coldest water"), CELSIUS, WATER, wants=missing, unknown=True, beside=True),
            read("deepest_m", say("Deepest"), METRE, DEPTH, wants=missing, unknown=True, beside=True),
            Field("dives", "Dives", "whole", default=seen.dives if seen is not None else 1, beside=True, aside=True),
            Field("clock", "The minutes are", "question", HINT, choices=CLOCKS, aside=True,
                  default=seen.clock if seen is not None else "loop"),
            Field("started", "Started, at the site", default=begun, within="not known", spoken="started at",
                  aside=True),
            Field("diver_id", "Diver", "named", choices=[(name, key) for key, name in choices.divers], beside=True,
                  default=seen.diver_id if seen is not None else choices.diver_id, aside=True),
            Field("unit", "Unit", "choice", choices=[(say("not known"), None), *((tag, tag) for tag in choices.units)],
                  default=seen.unit if seen is not None else choices.unit, beside=True, aside=True),
            Field("co2_l_min", "Work", "choice", choices=works, beside=True, aside=True,
                  default=seen.co2_l_min if seen is not None else None),
            *([why] if correcting else []),
        ),
        act=record,
        load=against,
        first="minutes",
        wide=190,
    )  # fmt: skip


def _begun(run: RunEntry, zone: ZoneInfo) -> str:
    if run.started_at is not None:
        return moment(run.started_at, zone)
    return run.on.isoformat() if run.on is not None else ""


def started_at(text: str, zone: ZoneInfo) -> tuple[date | None, datetime | None]:
    """The day alone, or the start; neither where neither is known."""
    try:
        on, start = day_and_start(text)
    except ValueError:
        raise Refused(
            say("started at: {text!r} is not a time; enter 2026-05-04 09:30, or the day alone", text=text)
        ) from None
    if on is None or start is None:
        return on, None
    try:
        return None, moment_at(datetime.combine(on, start), zone)
    except ValueError as fault:
        raise Refused(say("started at: {fault}", fault=str(fault))) from None
