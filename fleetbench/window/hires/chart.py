"""The time line that can be worked on: units by days, with a cursor, spans to mark and bookings to move.

Keys: arrows move the cursor, with Ctrl by a week, Page Up and Page Down by a month; T is today. Shift with left or
right marks days; Enter books the marked days or opens what lies under the cursor. M takes a booking up: the arrows move
it, Shift with left or right moves its last day, Enter lets it go, Escape puts it back. Plus and minus change the width
of a day.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QSize, Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractScrollArea, QToolTip, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.hires.availability import Strip
from fleetbench.calc.hires.promises import GONE, HireState
from fleetbench.window.hires.availability_rows import ChartRow, rows_of, words_of_cell, words_of_count
from fleetbench.window.hires.paint import FOOT, HEAD, NAMES, ROW, Frame, Ghost, Painting
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.workshop.hires.availability import Availability, InTheWay, Move, TypeDays, what_stands_in_the_way

if TYPE_CHECKING:
    from collections.abc import Callable

DAY_WIDTHS = (3, 6, 12, 20, 30, 44)
USUAL_WIDTH = 30
LEAST_ROWS = 6
NOT_JUDGED = say("Units are being calculated: nothing can be booked or moved here until they are.")
EDGE = 5
"""So near to a bar's end the pointer takes its last day and not the whole bar."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A booking that was taken up: its strip, where from and where to. grip: days from its first day to the hand."""

    strip: Strip
    from_row: int
    row: int
    first: date
    last: date
    grip: int = 0
    only_end: bool = False


@dataclass(frozen=True, slots=True)
class Marked:
    """Days marked on a row, from where marking began to where it is."""

    row: int
    begun: int
    now: int

    @property
    def days(self) -> tuple[int, int]:
        """First and last day, counted from the first of the time line."""
        return min(self.begun, self.now), max(self.begun, self.now)


class AvailabilityChart(QAbstractScrollArea):
    """Paints one Availability and says what is wished for.

    Signals:
        cell_chosen: the cursor moved; ask words_here.
        booking_wanted: row, first and last day to book.
        opening_wanted: the record under the cursor is to be opened.
        move_wanted: a Move that nothing stands in the way of.
        told: a line on what letting go would do, and whether it is refused; empty where nothing is being moved.
    """

    cell_chosen = Signal()
    booking_wanted = Signal(object, object, object)
    opening_wanted = Signal()
    move_wanted = Signal(object)
    told = Signal(str, bool)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.shown: Availability | None = None
        self.rows: tuple[ChartRow, ...] = ()
        self.types: tuple[TypeDays, ...] = ()
        self.unit_type: str | None = None
        self.day_width = USUAL_WIDTH
        self.at = (0, 0)
        self.taken: Taken | None = None
        self.marked: Marked | None = None
        self.in_the_way = InTheWay((), ())
        self._pressed: QPoint | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.viewport().setMouseTracking(True)
        self.setFrameShape(QAbstractScrollArea.Shape.NoFrame)
        self.setMinimumHeight(HEAD + 4 * ROW)
        self.setAccessibleName(worded("time line of units"))
        theme.changed.connect(self._on_theme_changed)

    # what is shown

    def show_availability(self, shown: Availability) -> None:
        """Show these units and days; the cursor stays on its unit and day."""
        was = self.shown
        tag = self.row.tag if self.row is not None else None
        day = self.day
        self.shown = shown
        self._lay_out()
        if was is None:
            self.at = (next((n for n, row in enumerate(self.rows) if row.tag), 0), (shown.today - shown.first).days)
            self.go_to_today()
        else:
            number = next((n for n, row in enumerate(self.rows) if row.tag == tag), self.at[0])
            self.at = (number, (day - shown.first).days if day is not None else 0)
        self._keep_in_bounds()
        self.let_be()

    def show_type(self, code: str | None) -> None:
        """Show one unit type, None for all."""
        self.unit_type = code
        self._lay_out()
        self._keep_in_bounds()
        self.let_be()

    def _lay_out(self) -> None:
        if self.shown is None:
            return
        self.rows = rows_of(self.shown, self.unit_type)
        self.types = tuple(each for each in self.shown.types if self.unit_type in (None, each.code))
        self._set_bars()

    @property
    def row(self) -> ChartRow | None:
        """The row under the cursor."""
        return self.rows[self.at[0]] if self.at[0] < len(self.rows) else None

    @property
    def day(self) -> date | None:
        """The day under the cursor."""
        return self.shown.first + timedelta(days=self.at[1]) if self.shown is not None else None

    def strip_here(self) -> Strip | None:
        """What lies under the cursor: a booking, else what keeps the unit in."""
        if self.row is None or self.day is None:
            return None
        bands = self.row.bands_on(self.day)
        return self.row.strip_on(self.day) or (bands[0] if bands else None)

    def words_here(self) -> tuple[str, ...]:
        """What is known of the cell under the cursor."""
        if self.row is None or self.day is None or self.shown is None:
            return ()
        return words_of_cell(self.row, self.day, self.shown.today)

    def count_words_here(self) -> str:
        """Promised against fit units of the cursor's type and day."""
        kind = next((each for each in self.types if self.row is not None and each.code == self.row.unit_type), None)
        if kind is None or self.day is None:
            return ""
        return words_of_count(kind, kind.days[self.at[1]], self.day)

    # moving about

    def go_to(self, row: int, day: int) -> None:
        """Put the cursor on a cell and bring it into view."""
        self.at = (row, day)
        self._keep_in_bounds()
        self._bring_into_view()
        self.viewport().update()
        self.cell_chosen.emit()

    @Slot()
    def go_to_today(self) -> None:
        """Put the cursor on today, a week of days before it in view."""
        if self.shown is not None:
            today = (self.shown.today - self.shown.first).days
            self.at = (self.at[0], today)
            back = 1 if self.day_width >= 12 else 14
            self.horizontalScrollBar().setValue((today - back) * self.day_width)
            self.viewport().update()
            self.cell_chosen.emit()

    @Slot()
    def widen(self) -> None:
        """Make days wider."""
        self._zoom(1)

    @Slot()
    def narrow(self) -> None:
        """Make days narrower."""
        self._zoom(-1)

    def _zoom(self, step: int) -> None:
        at = DAY_WIDTHS.index(self.day_width) + step
        if 0 <= at < len(DAY_WIDTHS):
            x = self.at[1] * self.day_width - self.horizontalScrollBar().value()
            self.day_width = DAY_WIDTHS[at]
            self._set_bars()
            self.horizontalScrollBar().setValue(self.at[1] * self.day_width - x)
            self.viewport().update()

    def _keep_in_bounds(self) -> None:
        days = self.shown.length if self.shown is not None else 1
        self.at = (max(0, min(self.at[0], len(self.rows) - 1)), max(0, min(self.at[1], days - 1)))

    def _bring_into_view(self) -> None:
        ghost = self._ghost()
        row, day = (ghost.row, ghost.first) if ghost is not None else self.at
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        x, width = day * self.day_width, self._body().width()
        if x < across.value() or x + self.day_width > across.value() + width:
            across.setValue(x - width // 3)
        y, height = row * ROW, self._body().height()
        if y < down.value():
            down.setValue(y)
        elif y + ROW > down.value() + height:
            down.setValue(y + ROW - height)

    def _body(self) -> QSize:
        foot = FOOT * len(self.foot_types())
        return QSize(self.viewport().width() - NAMES, max(ROW, self.viewport().height() - HEAD - foot))

    def foot_types(self) -> tuple[TypeDays, ...]:
        """The types whose counts are shown: as many as leave room for the units, the cursor's own among them."""
        room = max(1, (self.viewport().height() - HEAD - LEAST_ROWS * ROW) // FOOT)
        if len(self.types) <= room or self.row is None:
            return self.types[:room]
        kinds = [each.code for each in self.types]
        first = max(0, min(kinds.index(self.row.unit_type), len(kinds) - room))
        return self.types[first : first + room]

    def _set_bars(self) -> None:
        days = self.shown.length if self.shown is not None else 0
        body = self._body()
        self.horizontalScrollBar().setRange(0, max(0, days * self.day_width - body.width()))
        self.horizontalScrollBar().setPageStep(body.width())
        self.horizontalScrollBar().setSingleStep(self.day_width)
        self.verticalScrollBar().setRange(0, max(0, len(self.rows) * ROW - body.height()))
        self.verticalScrollBar().setPageStep(body.height())
        self.verticalScrollBar().setSingleStep(ROW)

    # taking up and letting go

    def take_up(self) -> bool:
        """Take up the booking under the cursor, to move it; False where there is none that can move."""
        if self.row is None or self.day is None:
            return False
        strip = self.row.strip_on(self.day)
        if strip is None or strip.state is HireState.BACK or not self._may_act():
            return False
        number = self.at[0]
        only_end = strip.state in GONE
        self.taken = Taken(
            strip,
            from_row=number,
            row=number,
            first=strip.first,
            last=strip.last,
            grip=(self.day - strip.first).days,
            only_end=only_end,
        )
        self.marked = None
        self._tell()
        return True

    def _may_act(self) -> bool:
        """Whether units are judged, so that booking or moving can rest on it; said where they are not."""
        pending = self.shown is None or self.shown.pending
        if pending:
            self.told.emit(NOT_JUDGED, True)
        return not pending

    def let_be(self) -> None:
        """Put back what was taken up, and mark nothing."""
        self.taken = self.marked = None
        self.in_the_way = InTheWay((), ())
        self.told.emit("", False)
        self.viewport().update()
        self.cell_chosen.emit()

    def let_go(self) -> None:
        """Wish for the move, where it is one and nothing refuses it; otherwise put it back."""
        move = self.moving
        refused = self.in_the_way.refused
        changed = (
            self.taken is not None
            and move is not None
            and (
                self.taken.row != self.taken.from_row
                or (move.first, move.last) != (self.taken.strip.first, self.taken.strip.last)
            )
        )
        if changed and not refused:
            self.move_wanted.emit(move)
        if not refused:
            self.let_be()

    @property
    def moving(self) -> Move | None:
        """What letting go would do; None where the row is no unit."""
        if self.taken is None:
            return None
        to = self.rows[self.taken.row].tag
        if to is None:
            return None
        return Move(
            self.taken.strip.text,
            from_tag=self.rows[self.taken.from_row].tag,
            to_tag=to,
            first=self.taken.first,
            last=self.taken.last,
        )

    def _shift(self, rows: int, days: int, last_only: bool) -> None:
        taken = self.taken
        if taken is None:
            return
        row = max(0, min(len(self.rows) - 1, taken.row + rows)) if not taken.only_end else taken.row
        step = timedelta(days=days)
        if last_only or taken.only_end:
            taken = replace(taken, row=row, last=max(taken.first, taken.last + step))
        else:
            taken = replace(taken, row=row, first=taken.first + step, last=taken.last + step)
        self._hold(taken)
        self._bring_into_view()

    def _hold(self, taken: Taken) -> None:
        if taken != self.taken:
            self.taken = taken
            self.at = (taken.row, self.at[1])
            self._tell()

    def _tell(self) -> None:
        """Say what letting go would do, before it is let go."""
        move = self.moving
        if self.taken is None or self.shown is None:
            return
        if move is None:
            self.in_the_way = InTheWay((say("take it to a unit's row"),), ())
        else:
            self.in_the_way = what_stands_in_the_way(self.shown, move)
        refused = self.in_the_way.refused
        if refused:
            self.told.emit(say("Cannot go there: {reasons}.", reasons=strung("; ", refused)), True)
        elif move is not None:
            others = say(" All its units move with it.") if self._has_others(move) else ""
            warned = "".join(say(" But {each}.", each=each) for each in self.in_the_way.warned)
            words = say(
                "Let go: {code} on {to_tag} from {first} to {last}.{others}{warned}",
                code=move.code,
                to_tag=move.to_tag,
                first=move.first,
                last=move.last,
                others=others,
                warned=warned,
            )
            self.told.emit(words, False)
        self.viewport().update()

    def _has_others(self, move: Move) -> bool:
        assert self.taken is not None
        moved = (move.first, move.last) != (self.taken.strip.first, self.taken.strip.last)
        return moved and sum(each.text == move.code for row in self.rows for each in row.strips) > 1

    def _mark(self, row: int, begun: int, now: int) -> None:
        if not self._may_act():
            return
        self.marked = Marked(row, begun, now)
        self.at = (row, now)
        self._keep_in_bounds()
        self._bring_into_view()
        self.viewport().update()
        assert self.shown is not None
        first, last = (self.shown.first + timedelta(days=each) for each in self.marked.days)
        name = self.rows[row].tag or say("a unit to be chosen")
        over = [each.text for each in self.rows[row].strips if each.first <= last and first <= each.last]
        on_it = (
            say(" On it already: {over}; it would go to the waiting list or to other days.", over=strung(", ", over))
            if over
            else ""
        )
        self.told.emit(
            worded(
                say("Enter books {name} from {first} to {last}.{on_it}", name=name, first=first, last=last, on_it=on_it)
            ),
            bool(over),
        )

    def _book_marked(self) -> None:
        if self.marked is not None and self.shown is not None:
            first, last = (self.shown.first + timedelta(days=each) for each in self.marked.days)
            row = self.rows[self.marked.row]
            self.let_be()
            self.booking_wanted.emit(row, first, last)

    def act_here(self) -> None:
        """Book the marked or free days, or open what lies under the cursor."""
        if self.taken is not None:
            self.let_go()
        elif self.marked is not None:
            self._book_marked()
        elif self.row is not None and self.day is not None and self.shown is not None:
            free = self.row.strip_on(self.day) is None and self.day >= self.shown.today and not self.shown.pending
            if free and self.row.tag is not None:
                self.booking_wanted.emit(self.row, self.day, self.day)
            else:
                self.opening_wanted.emit()

    # where the pointer is

    def cell_at(self, at: QPoint) -> tuple[int, int] | None:
        """Row and day under the pointer, None beside the rows."""
        body = self._body()
        if self.shown is None or at.x() < NAMES or not HEAD <= at.y() < HEAD + body.height():
            return None
        row = (at.y() - HEAD + self.verticalScrollBar().value()) // ROW
        day = (at.x() - NAMES + self.horizontalScrollBar().value()) // self.day_width
        return (row, day) if row < len(self.rows) and 0 <= day < self.shown.length else None

    def point_of(self, row: int, day: int) -> QPoint:
        """The middle of a cell in the viewport."""
        x = NAMES + day * self.day_width - self.horizontalScrollBar().value() + self.day_width // 2
        return QPoint(x, HEAD + row * ROW - self.verticalScrollBar().value() + ROW // 2)

    def _at_end_of(self, strip: Strip, x: int) -> bool:
        assert self.shown is not None
        end = (strip.last - self.shown.first).days + 1
        right = NAMES + end * self.day_width - self.horizontalScrollBar().value()
        return right - EDGE <= x <= right

    def frame_now(self) -> Frame | None:
        """What would be painted now."""
        if self.shown is None:
            return None
        return Frame(
            self.shown, rows=self.rows, types=self.foot_types(), day_width=self.day_width,
            left=self.horizontalScrollBar().value(),
            top=self.verticalScrollBar().value(), width=self.viewport().width(), height=self.viewport().height(),
            cursor=self.at,
            focused=self.hasFocus(), ghost=self._ghost(),
        )  # fmt: skip

    def _ghost(self) -> Ghost | None:
        if self.taken is not None and self.shown is not None:
            first, last = ((each - self.shown.first).days for each in (self.taken.first, self.taken.last))
            return Ghost(
                self.taken.row,
                first=first,
                last=last,
                words=self.taken.strip.text,
                refused=bool(self.in_the_way.refused),
            )
        if self.marked is not None:
            return Ghost(self.marked.row, *self.marked.days, "book", False)
        return None

    @Slot()
    def _on_theme_changed(self) -> None:
        self.viewport().update()

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(240 * GRID, 120 * GRID)

    def paintEvent(self, _event: QPaintEvent) -> None:
        frame = self.frame_now()
        painter = QPainter(self.viewport())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if frame is not None:
            Painting(painter, self._theme, frame).draw()
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._set_bars()
        self._bring_into_view()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, shift = Qt.Key(event.key()), bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        week = 7 if event.modifiers() & Qt.KeyboardModifier.ControlModifier else 1
        steps = {
            Qt.Key.Key_Left: (0, -week), Qt.Key.Key_Right: (0, week), Qt.Key.Key_Up: (-1, 0), Qt.Key.Key_Down: (1, 0),
            Qt.Key.Key_PageUp: (0, -30), Qt.Key.Key_PageDown: (0, 30),
        }  # fmt: skip
        acts: dict[Qt.Key, Callable[[], object]] = {
            Qt.Key.Key_Return: self.act_here, Qt.Key.Key_Enter: self.act_here, Qt.Key.Key_M: self.take_up,
            Qt.Key.Key_Home: self.go_to_today, Qt.Key.Key_Plus: self.widen, Qt.Key.Key_Minus: self.narrow,
        }  # fmt: skip
        if key in steps:
            self._step(*steps[key], shift=shift)
        elif key in acts:
            acts[key]()
        elif key == Qt.Key.Key_Escape and (self.taken is not None or self.marked is not None):
            self.let_be()
        else:
            event.ignore()

    def _step(self, rows: int, days: int, *, shift: bool) -> None:
        row, day = self.at
        if self.taken is not None:
            self._shift(rows, days, shift)
        elif shift and days:
            begun = self.marked.begun if self.marked is not None and self.marked.row == row else day
            self._mark(row, begun, max(0, day + days))
        else:
            if self.marked is not None:
                self.let_be()
            self.go_to(row + rows, day + days)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position().toPoint())
        if event.button() is not Qt.MouseButton.LeftButton or cell is None:
            return
        self.let_be()
        self._pressed = event.position().toPoint()
        self.at = cell
        self.viewport().update()
        self.cell_chosen.emit()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at = event.position().toPoint()
        cell = self.cell_at(at)
        if self._pressed is None:
            strip = self.rows[cell[0]].strip_on(self._date(cell[1])) if cell is not None else None
            near = strip is not None and strip.state is not HireState.BACK and self._at_end_of(strip, at.x())
            self.viewport().setCursor(Qt.CursorShape.SizeHorCursor if near else Qt.CursorShape.ArrowCursor)
            return
        if cell is None or (self.taken is None and self.marked is None and (at - self._pressed).manhattanLength() < 4):
            return
        if self.taken is None and self.marked is None:
            self._begin(self._pressed)
        if self.taken is not None:
            self._drag_to(cell)
        elif self.marked is not None:
            self._mark(self.marked.row, self.marked.begun, cell[1])

    def _begin(self, at: QPoint) -> None:
        cell = self.cell_at(at)
        if cell is None:
            return
        strip = self.rows[cell[0]].strip_on(self._date(cell[1]))
        if strip is None:
            self._mark(cell[0], cell[1], cell[1])
        elif self.take_up() and self.taken is not None and self._at_end_of(strip, at.x()):
            self.taken = replace(self.taken, only_end=True)

    def _drag_to(self, cell: tuple[int, int]) -> None:
        taken = self.taken
        assert taken is not None
        day = self._date(cell[1])
        if taken.only_end:
            self._hold(replace(taken, last=max(taken.first, day)))
        else:
            first = day - timedelta(days=taken.grip)
            length = taken.strip.last - taken.strip.first
            self._hold(replace(taken, row=cell[0], first=first, last=first + length))

    def mouseReleaseEvent(self, _event: QMouseEvent) -> None:
        self._pressed = None
        if self.taken is not None:
            refused = self.in_the_way.refused
            self.let_go()
            if refused:
                words = strung("; ", refused)
                self.let_be()
                self.told.emit(worded(say("It was put back: {words}.", words=words)), True)
        elif self.marked is not None:
            self._book_marked()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self.cell_at(event.position().toPoint()) is not None:
            self.act_here()

    def viewportEvent(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            cell = self.cell_at(event.pos())
            if cell is not None and self.shown is not None:
                words = words_of_cell(self.rows[cell[0]], self._date(cell[1]), self.shown.today)
                QToolTip.showText(event.globalPos(), as_plain_tip(strung("\n", words)), self)
            return True
        return super().viewportEvent(event)

    def _date(self, day: int) -> date:
        assert self.shown is not None
        return self.shown.first + timedelta(days=day)
