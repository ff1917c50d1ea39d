"""The elapsed limits of a fill as clocks that run: time left, when each ends, and a bar that shortens.

What is left of a fill as a bar in a list, with the minutes written beside it.
"""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt, QTimerEvent, Slot
from PySide6.QtGui import QHideEvent, QPainter, QPaintEvent, QShowEvent
from PySide6.QtWidgets import QStyle, QStyleOptionViewItem, QVBoxLayout, QWidget

from fleetbench.calc.canisters.fill_clocks import FillClock
from fleetbench.calc.core.languages import capital, say, shown
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.marks import ADVISE, OK, STOP, UNKNOWN, Mark
from fleetbench.window.look.state_delegate import MarkLabel, StateDelegate
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme, font, row_height
from fleetbench.window.look.words import moment

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
