"""The list of canisters: each with its fill, a bar of what is left, its clocks, and the answer to the plan.

The plan: temperature, depth, work and minutes wanted; yes or no with margin and reason, for one and for all.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from PySide6.QtCore import QModelIndex, Qt, QTimerEvent, Signal, Slot
from PySide6.QtGui import QFontMetrics, QHideEvent, QShowEvent
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.canisters.fill import AbsorbentRule
from fleetbench.calc.canisters.fill_clocks import FillClock
from fleetbench.records.core.errors import Refused
from fleetbench.window.canisters.acts import ACTS, ChosenCanister
from fleetbench.window.canisters.clocks import GAUGE_WIDTH, TICK_MS, GaugeDelegate, told
from fleetbench.window.forms.fields import DecimalField, with_unit
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.window.lists.list_page import Choice, ListPage, ListSpec
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import plain_button, text_label
from fleetbench.window.look.marks import OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme, font
from fleetbench.window.look.words import NONE, figure
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.canisters.absorbent import (
    FillAnswer,
    FillGauge,
    FillOutlook,
    PlannedDive,
    WorkChoice,
    fill_outlook,
    work_choices,
)
from fleetbench.workshop.canisters.list import OUT, CanisterRow, list_canisters


@dataclass(frozen=True, slots=True)
class CanisterEntry:
    """A canister among all that were asked; the gauge is None while nothing is packed in it."""

    row: CanisterRow
    outlook: FillOutlook

    @property
    def gauge(self) -> FillGauge | None:
        """What is left of its fill, and its clocks."""
        return self.outlook.gauges.get(self.row.part.part_id)

    @property
    def answer(self) -> FillAnswer | None:
        """Its answer to the plan."""
        return self.outlook.answer_of(self.row.part.part_id)


class CanisterList(ListPage[CanisterEntry]):
    """The list page with the plan above the rows and the bench's acts below the title."""

    def __init__(self, context: PageContext, spec: ListSpec[CanisterRow], parent: QWidget | None = None) -> None:
        self._context, self._row_spec = context, spec
        self._asked: PlannedDive | None = None
        self._gauge_is_wide = False
        super().__init__(context.theme, context.background, self._entry_spec(), parent)
        self.bench = ActBar(context, ACTS, self.table, self)
        self.plan = PlanPanel(context.theme, self)
        self.content.insertWidget(2, self.bench)
        self.content.insertWidget(3, self.plan)
        self._gauge_column = [each.key for each in self.model.columns].index("left")
        self._gauge_delegate = GaugeDelegate(context.theme, self._share_at, self.table)
        self.table.setItemDelegateForColumn(self._gauge_column, self._gauge_delegate)
        self._ticking = 0
        self.bench.changed.connect(self._on_changed)
        self.bench.refused.connect(self.banner.say_refused)
        self.rows_shown.connect(self._on_rows_shown)
        self.plan.asked.connect(self._on_asked)
        self.plan.refused.connect(self.banner.say_refused)
        self.table.selectionModel().currentRowChanged.connect(self._on_chosen)

    def _entry_spec(self) -> ListSpec[CanisterEntry]:
        spec = self._row_spec
        return ListSpec(
            spec.title,
            entry_columns(spec.columns, self._now, self._context),
            key=lambda entry: spec.key(entry.row),
            load=self._load,
            describe=lambda entry: spec.describe(entry.row),
            empty=spec.empty,
            sum_up=lambda entries: spec.sum_up([entry.row for entry in entries]),
            place=lambda entry: spec.place(entry.row),
            choices=tuple(_over_choice(choice) for choice in spec.choices),
        )

    def _now(self) -> datetime:
        return self._context.shop.clock()

    def _load(self) -> tuple[CanisterEntry, ...]:
        # Called off the GUI thread; what is asked is a value that is only ever replaced whole.
        outlook = fill_outlook(self._context.shop, self._asked)
        return tuple(CanisterEntry(row, outlook) for row in list_canisters(self._context.shop))

    @Slot(int)
    def _on_rows_shown(self, _count: int) -> None:
        shown = self.model.total > 0
        if shown and not self._gauge_is_wide:
            self._gauge_is_wide = True
            self.table.setColumnWidth(self._gauge_column, GAUGE_WIDTH)
        self.plan.setVisible(shown)
        self.bench.setVisible(shown)
        if self.model.rows:
            self.plan.show_outlook(self.model.row_at(0).outlook)
        self._choose_current()

    def _share_at(self, row: int) -> float | None:
        gauge = self.model.row_at(row).gauge
        return None if gauge is None else gauge.share

    @Slot(object)
    def _on_asked(self, asked: PlannedDive) -> None:
        self._asked = asked
        self.refresh()

    @Slot(str)
    def _on_changed(self, words: str) -> None:
        self.banner.say_note(words)
        self.refresh()

    @Slot(QModelIndex, QModelIndex)
    def _on_chosen(self, _current: QModelIndex, _before: QModelIndex) -> None:
        self._choose_current()

    def _choose_current(self) -> None:
        current = self.table.currentIndex()
        entry = self.model.row_at(current.row()) if current.isValid() else None
        part_id = entry.row.part.part_id if entry is not None else None
        self.plan.choose(part_id)
        if entry is None:
            self.bench.choose(None)
        else:
            self.bench.choose(ChosenCanister(entry.row.part.part_id, entry.row.part.label, entry.gauge is not None))

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._ticking = self._ticking or self.startTimer(TICK_MS)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if self._ticking:
            self.killTimer(self._ticking)
            self._ticking = 0

    def timerEvent(self, event: QTimerEvent) -> None:
        self.table.viewport().update()


def entry_columns(
    columns: Sequence[Column[CanisterRow]], now: Any, context: PageContext
) -> tuple[Column[CanisterEntry], ...]:
    """The columns of the plain list over entries, with bar, plan and clocks among them."""
    over = {column.key: _over(column) for column in columns}
    over["left"] = replace(
        over["left"],
        title="Left, min",
        text=lambda entry: figure(entry.gauge.minutes if entry.gauge else None, "", 0, NONE),
        sort_key=lambda entry: entry.gauge.minutes if entry.gauge else None,
        tooltip=lambda entry: entry.gauge.reason if entry.gauge else "",
        gives_way=False,
    )
    added = (
        Column("plan", "Plan", plan_words, plan_order, state=plan_mark,
               tooltip=lambda entry: reason_words(entry.answer) if entry.answer else "",
               heading_tip="Whether its fill covers the plan above, and by how many minutes"),
        _clock_column("first", "Since first use", AbsorbentRule.FIRST_USE, now, context),
        _clock_column("opened", "Since opened", AbsorbentRule.OPENED, now, context),
    )  # fmt: skip
    first = [key for key in ("canister", "state", "unit", "left") if key in over]
    rest = [column for key, column in over.items() if key not in first]
    return (*(over[key] for key in first), *added, *rest)


def plan_words(entry: CanisterEntry) -> str:
    """'yes, 80 min over', 'no, 12 min short', or nothing for an empty canister."""
    answer = entry.answer
    if answer is None or answer.fill is None:
        return NONE
    if entry.row.state == OUT:
        return "not known while it is out"
    return f"yes, {over_by(answer)} over" if answer.answer else f"no, {short_by(answer)} short"


def plan_mark(entry: CanisterEntry) -> Mark | None:
    """Yes or no by shape too."""
    if entry.answer is None or entry.answer.fill is None:
        return None
    if entry.row.state == OUT:
        return UNKNOWN
    return OK if entry.answer.answer else STOP


def plan_order(entry: CanisterEntry) -> float | None:
    """The margin, so that the fill with most to spare sorts last."""
    return entry.answer.margin if entry.answer is not None and entry.answer.fill is not None else None


def clock_words(clock: FillClock | None, now: datetime, context: PageContext) -> str:
    """The time left on a clock, or that it has not begun."""
    return NONE if clock is None else told(clock, now, context.zone)[0].word


def _clock_column(key: str, title: str, rule: AbsorbentRule, now: Any, context: PageContext) -> Column[CanisterEntry]:
    def clock(entry: CanisterEntry) -> FillClock | None:
        found = entry.gauge.clocks if entry.gauge is not None else ()
        return next((each for each in found if each.rule is rule), None)

    def mark(entry: CanisterEntry) -> Mark | None:
        of = clock(entry)
        if of is None:
            return None
        found = told(of, now(), context.zone)[0]
        return UNKNOWN.worded(found.word) if found.rank == 0 and entry.row.state == OUT else found

    def ends(entry: CanisterEntry) -> datetime | None:
        of = clock(entry)
        return None if of is None else of.ends

    return Column(
        key, title, lambda entry: clock_words(clock(entry), now(), context), ends, state=mark,
        heading_tip="Time left by the canister type's limit; it runs while the page is open",
    )  # fmt: skip


def _over(column: Column[CanisterRow]) -> Column[CanisterEntry]:
    def over(function: Any) -> Any:
        return None if function is None else lambda entry: function(entry.row)

    return Column(
        column.key,
        column.title,
        over(column.text),
        over(column.sort_key),
        column.align_right,
        over(column.state),
        over(column.trend),
        over(column.tooltip),
        column.heading_tip,
        column.shown,
        column.gives_way,
    )


def _over_choice(choice: Choice[CanisterRow]) -> Choice[CanisterEntry]:
    return Choice(choice.word, lambda entry: choice.keep(entry.row), choice.mark)


CAUTION = (
    "What is reckoned here stands under the canister's manual. A pre-breathe is never evidence that absorbent works."
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
        self.work = QComboBox(self)
        self.work.setAccessibleName("work")
        for choice in self._work:
            rate = "" if choice.co2_l_min is None else f", {choice.co2_l_min:.2f} L/min CO2"
            self.work.addItem(f"{choice.name}{rate}")
        self.ask_button = plain_button(self._theme, "Ask", "", self)
        order = (self.water, self.deep, self.work, self.minutes, self.ask_button)
        for before, after in pairwise(order):
            self.setTabOrder(before, after)
        self.work.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.work.setMinimumContentsLength(_WORK_LETTERS)
        line = QHBoxLayout()
        line.setSpacing(BLOCK)
        for field, label, unit in ((self.water, "Water", "°C"), (self.deep, "Depth", "m")):
            line.addLayout(with_unit(field, label, unit, self))
        work = QVBoxLayout()
        work.setSpacing(2)
        work.addWidget(text_label("Work", "label", self))
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
            raise Refused("minutes: is missing; enter the loop minutes that are planned")
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
        self._all.setText(words_of_all(outlook.answers))
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
        self._reason.setText("" if answer is None else reason_words(answer))


def answer_mark(answer: FillAnswer | None) -> Mark:
    """Yes or no with the margin in minutes, rounded so that it never flatters."""
    if answer is None:
        return UNKNOWN.worded("Choose a canister to ask.")
    if answer.answer:
        return OK.worded(f"{answer.canister}: yes, {over_by(answer)} min over")
    if answer.fill is None:
        return STOP.worded(f"{answer.canister}: no, nothing is packed in it")
    return STOP.worded(f"{answer.canister}: no, {short_by(answer)} min short")


def over_by(answer: FillAnswer) -> int:
    """Whole minutes that a fill gives over what is asked, rounded down."""
    return math.floor(answer.margin + _HAIR)


def short_by(answer: FillAnswer) -> int:
    """Whole minutes that a fill falls short of what is asked, rounded up."""
    return math.ceil(-answer.margin - _HAIR)


def reason_words(answer: FillAnswer) -> str:
    """Why, with what was assumed."""
    return "; ".join(dict.fromkeys((*answer.all_reasons, *answer.cautions)))


def words_of_all(answers: Sequence[FillAnswer]) -> str:
    """How many cover it, and which by name of their unit or their own."""
    able = [each for each in answers if each.answer]
    packed = [each for each in answers if each.fill is not None]
    if not able:
        return f"Of all: none of {len(packed)} packed canisters covers it."
    names = ", ".join(f"{each.unit or each.canister} (+{over_by(each)} min)" for each in able[:8])
    more = f" and {len(able) - 8} more" if len(able) > 8 else ""
    return f"Of all: {len(able)} of {len(packed)} packed canisters cover it: {names}{more}."
