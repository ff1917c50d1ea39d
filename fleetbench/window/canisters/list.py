"""The list of canisters: each with its fill, a bar of what is left, its clocks, and the answer to the plan.

The elapsed limits of a fill are clocks that run: time left, when each ends, and a bar that shortens.

What is left of a fill as a bar in a list, with the minutes written beside it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt, QTimerEvent, Slot
from PySide6.QtGui import QHideEvent, QPainter, QPaintEvent, QShowEvent
from PySide6.QtWidgets import QStyle, QStyleOptionViewItem, QVBoxLayout, QWidget

from fleetbench.calc.canisters.fill import AbsorbentRule
from fleetbench.calc.canisters.fill_clocks import FillClock
from fleetbench.calc.core.languages import capital, say, shown
from fleetbench.window.canisters.acts import ACTS, ChosenCanister
from fleetbench.window.canisters.runs import PlanPanel, over_by, reason_words, short_by
from fleetbench.window.lists.act_bar import ActBar
from fleetbench.window.lists.list_page import ListPage, ListSpec, QuickFilter
from fleetbench.window.lists.rows import Column
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel, StateDelegate
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme, font, row_height
from fleetbench.window.look.words import NONE, figure, moment
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.canisters.absorbent import FillAnswer, FillGauge, FillOutlook, PlannedDive, fill_outlook
from fleetbench.workshop.canisters.list import CanisterRow, FillState, list_canisters

BAR_HEIGHT = 2.5 * GRID
GAUGE_WIDTH = 40 * GRID
_TEXT_ROOM = 11 * GRID


class GaugeDelegate(StateDelegate):
    """Paints a share of one as a bar under a frame, and the cell's text to its right; None paints the text alone."""

    def __init__(self, theme: Theme, share_of: Callable[[int], float | None], parent: QObject | None = None) -> None:
        super().__init__(theme, parent)
        self._share_of = share_of

    # Qt overrides

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        share = self._share_of(index.row())
        if share is None:
            super().paint(painter, option, index)
            return
        box = QRectF(option.rect)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, self._theme.colour("chosen"))
        painter.fillRect(QRectF(box.left(), box.bottom() - 1, box.width(), 1), self._theme.colour("line"))
        inner = box.adjusted(APART, 0, -APART, 0)
        bar = QRectF(inner.left(), 0, inner.width() - _TEXT_ROOM, BAR_HEIGHT)
        bar.moveCenter(QRectF(bar.left(), inner.top(), bar.width(), row_height() - 1).center())
        paint_bar(painter, self._theme, bar, share)
        painter.save()
        painter.setFont(font("body"))
        painter.setPen(self._theme.colour("ink" if share > 0 else "check_stop"))
        flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(inner.adjusted(bar.width() + CLOSE, 0, 0, 0), int(flags), str(index.data() or ""))
        painter.restore()


def paint_bar(painter: QPainter, theme: Theme, box: QRectF, share: float) -> None:
    """Paint a frame filled from the left up to a share of one."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    frame = box.adjusted(0.5, 0.5, -0.5, -0.5)
    painter.setPen(theme.colour("edge"))
    painter.setBrush(theme.colour("sunken"))
    painter.drawRoundedRect(frame, 2, 2)
    if share > 0:
        filled = frame.adjusted(1.5, 1.5, -1.5, -1.5)
        filled.setWidth(max(1.0, filled.width() * min(1.0, share)))
        painter.fillRect(filled, theme.colour("accent"))
    painter.restore()


TICK_MS = 20_000
_NEAR = timedelta(hours=2)


class ClockStrip(QWidget):
    """The clocks of one fill side by side; they run while the strip is seen."""

    def __init__(
        self, theme: Theme, clock: Callable[[], datetime], zone: ZoneInfo, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme, self._clock, self._zone = theme, clock, zone
        self._line = FlowLayout(self, SECTION)
        self._faces: list[ClockFace] = []
        self._ticking = 0
        self.hide()

    @property
    def words(self) -> tuple[str, ...]:
        """What the clocks say now."""
        return tuple(face.words for face in self._faces)

    def show_clocks(self, clocks: Sequence[FillClock]) -> None:
        """Show these clocks instead; none hides the strip."""
        while (item := self._line.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        self._faces = [ClockFace(self._theme, each, self._zone, self) for each in clocks]
        for face in self._faces:
            self._line.addWidget(face)
        self.setVisible(bool(self._faces))
        self.tick()

    @Slot()
    def tick(self) -> None:
        """Say the time left again."""
        now = self._clock()
        for face in self._faces:
            face.show_at(now)

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.tick()
        self._ticking = self._ticking or self.startTimer(TICK_MS)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        if self._ticking:
            self.killTimer(self._ticking)
            self._ticking = 0

    def timerEvent(self, event: QTimerEvent) -> None:
        self.tick()


class ClockFace(QWidget):
    """One clock: the rule, the time left in words with its state, and when it ends."""

    def __init__(self, theme: Theme, clock: FillClock, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._of, self._zone = theme, clock, zone
        self._share: float | None = None
        self._mark: MarkLabel | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, int(BAR_HEIGHT) + CLOSE)
        self._layout.setSpacing(2)
        self._layout.addWidget(text_label(capital(say(clock.rule)), "label", self))
        self._said = text_label("", "small", self)
        self._layout.addWidget(self._said)
        self.setMinimumWidth(58 * GRID)

    @property
    def words(self) -> str:
        """The rule with what is said of it."""
        mark = self._mark.word if self._mark is not None else ""
        return f"{self._of.rule}: {mark}, {self._said.text()}".removesuffix(", ")

    def show_at(self, now: datetime) -> None:
        """Say the time left at that moment."""
        mark, said, self._share = told(self._of, now, self._zone)
        if self._mark is None or self._mark.mark != mark:
            if self._mark is not None:
                self._layout.removeWidget(self._mark)
                self._mark.hide()
                self._mark.deleteLater()
            self._mark = MarkLabel(self._theme, mark, "strong", self)
            self._layout.insertWidget(1, self._mark)
        self._said.setText(shown(said))
        self.update()

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._share is not None:
            painter = QPainter(self)
            paint_bar(
                painter,
                self._theme,
                QRectF(0, self.height() - BAR_HEIGHT - 1, self.width() - APART, BAR_HEIGHT),
                self._share,
            )
            painter.end()

    def sizeHint(self) -> QSize:
        return super().sizeHint().expandedTo(QSize(58 * GRID, 14 * GRID))


def told(clock: FillClock, now: datetime, zone: ZoneInfo) -> tuple[Mark, str, float | None]:
    """A clock's state with the time left as its word, when it ends, and the share of its hours that is left."""
    if not clock.known:
        return UNKNOWN.worded("not known"), say("a fill with it has no standing"), None
    left = clock.left(now)
    if left is None or clock.ends is None:
        return (
            OK.worded(
                say("{hours:g} h, not begun", hours=clock.hours) if clock.hours is not None else say("not begun")
            ),
            "",
            1.0,
        )
    share = left / timedelta(hours=clock.hours) if clock.hours else None
    if not left:
        return (
            STOP.worded("over"),
            say("since {ends}", ends=moment(clock.ends, zone)),
            0.0 if share is not None else None,
        )
    mark = ADVISE if left <= _NEAR else OK
    # A date is told by its last good day, not by the midnight after it.
    last = (clock.ends - timedelta(microseconds=1)).astimezone(zone)
    ends = (
        say("last valid day {last:%Y-%m-%d}", last=last)
        if clock.hours is None
        else say("ends {ends}", ends=moment(clock.ends, zone))
    )
    return mark.worded(say("{time} left", time=time_left(left))), ends, share


def time_left(left: timedelta) -> str:
    """'22 h 48 min', '13 days', '35 min'; rounded down, since rounding up would promise time."""
    minutes = int(left.total_seconds() // 60)
    if minutes >= 3 * 24 * 60:
        return say("{minutes} days", minutes=minutes // (24 * 60))
    return (
        say("{minutes} h {minutes_2:02d} min", minutes=minutes // 60, minutes_2=minutes % 60)
        if minutes >= 60
        else say("{minutes} min", minutes=minutes)
    )


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
        return self._context.workplace.clock()

    def _load(self) -> tuple[CanisterEntry, ...]:
        # Called off the GUI thread; what is asked is a value that is only ever replaced whole.
        outlook = fill_outlook(self._context.workplace, self._asked)
        return tuple(CanisterEntry(row, outlook) for row in list_canisters(self._context.workplace))

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
        title=say("Left, min"),
        text=lambda entry: figure(entry.gauge.minutes if entry.gauge else None, "", 0, NONE),
        sort_key=lambda entry: entry.gauge.minutes if entry.gauge else None,
        tooltip=lambda entry: entry.gauge.reason if entry.gauge else "",
        gives_way=False,
    )
    added = (
        Column("plan", "Plan", plan_words, plan_order, state=plan_mark,
               tooltip=lambda entry: reason_words(entry.answer) if entry.answer else "",
               heading_tip="Whether its fill covers the plan above, and by how many minutes"),
        _clock_column("first", say("Since first use"), AbsorbentRule.FIRST_USE, now, context),
        _clock_column("opened", say("Since opened"), AbsorbentRule.OPENED, now, context),
    )  # fmt: skip
    first = [key for key in ("canister", "state", "unit", "left") if key in over]
    rest = [column for key, column in over.items() if key not in first]
    return (*(over[key] for key in first), *added, *rest)


def plan_words(entry: CanisterEntry) -> str:
    """'yes, 80 min to spare', 'no, 12 min short', or nothing for an empty canister."""
    answer = entry.answer
    if answer is None or answer.fill is None:
        return NONE
    if entry.row.state is FillState.OUT:
        return say("not known while it is out")
    return (
        say("yes, {answer} to spare", answer=over_by(answer))
        if answer.answer
        else say("no, {answer} short", answer=short_by(answer))
    )


def plan_mark(entry: CanisterEntry) -> Mark | None:
    """Yes or no by shape too."""
    if entry.answer is None or entry.answer.fill is None:
        return None
    if entry.row.state is FillState.OUT:
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
        return UNKNOWN.worded(found.word) if found.rank == 0 and entry.row.state is FillState.OUT else found

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
        title=column.title,
        text=over(column.text),
        sort_key=over(column.sort_key),
        align_right=column.align_right,
        state=over(column.state),
        trend=over(column.trend),
        tooltip=over(column.tooltip),
        heading_tip=column.heading_tip,
        shown=column.shown,
        gives_way=column.gives_way,
    )


def _over_choice(choice: QuickFilter[CanisterRow]) -> QuickFilter[CanisterEntry]:
    return QuickFilter(choice.word, lambda entry: choice.keep(entry.row), choice.mark)
