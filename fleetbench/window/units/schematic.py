"""The schematic of a unit on the screen: boxes in the order of the flow, pipes with arrows, states."""

from dataclasses import replace
from itertools import pairwise

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QEnterEvent, QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QFrame, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import mark_for
from fleetbench.window.look.state_delegate import SHAPE_SIDE, paint_shape
from fleetbench.window.look.theme import APART, CLOSE, GRID, TIGHT, Theme, font
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.units.schematic import Box, Pipe, Schematic, SchematicPlan, Sizes, planned

SIZES = Sizes(wide=26 * GRID, high=18 * GRID, gap=3 * GRID, channel=9 * GRID, inside=9 * GRID)
_NARROWEST = 20 * GRID
CAPTION = say(
    "Breathing loop from the mouthpiece by the exhale side, canister, head and inhale side "
    "back; gas flows in from below. Doubled lines carry oxygen. Arrow keys move, Enter opens."
)
_ARROW = 2 * GRID
_PAD = 6
_SET_IN = (1.0, 0.92, 0.84, 0.76, 0.68, 0.6)
"""Widths in which words are set, the first in which they fit; common practice, no published source."""
_STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


class StationButton(QAbstractButton):
    """One slot: its name, and its state in shape, word and colour; a small one (inside a box) shows shape and number.

    Signals:
        place_requested: the Place of the part in it.
        moved: columns and rows to go from here.
    """

    place_requested = Signal(object)
    moved = Signal(int, int)

    def __init__(self, theme: Theme, box: Box, small: bool, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme, self.station, self._small = theme, box.station, small
        self.mark = mark_for(self.station.state).worded(self.station.state)
        self.lie(box)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        part = self.station.part or say("empty")
        words = strung("", (self.station.slot, ": ", self.station.shown, ". ", self.station.words))
        self.setAccessibleName(shown(strung(", ", (self.station.slot, self.station.shown, part))))
        self.setAccessibleDescription(shown(self.station.words))
        self.setToolTip(as_plain_tip(shown(words)))
        if self.station.part_id is not None:
            self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.clicked.connect(self._on_clicked)

    def lie(self, box: Box) -> None:
        """Lie where the plan has it."""
        self.setGeometry(round(box.x), round(box.y), round(box.wide), round(box.high))

    @Slot()
    def _on_clicked(self) -> None:
        if self.station.part_id is not None:
            self.place_requested.emit(PageKey("parts", str(self.station.part_id)))

    # Qt overrides

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        whole = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.fillRect(whole, self._theme.colour("raised"))
        painter.setPen(QPen(self._theme.colour("edge"), 1))
        painter.drawRect(whole)
        if self._small:
            self._paint_small(painter)
        else:
            self._paint_words(painter)
        if self.hasFocus() or self.underMouse():
            painter.setPen(QPen(self._theme.colour("accent"), 3 if self.hasFocus() else 1))
            painter.drawRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5))
        painter.end()

    def _paint_words(self, painter: QPainter) -> None:
        room = self.width() - 2 * _PAD
        wrapped = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap
        painter.setFont(font("label"))
        painter.setPen(self._theme.colour("ink"))
        foot = QRectF(_PAD, self.height() - 6 * GRID, SHAPE_SIDE, 5 * GRID)
        _draw_fitting(painter, QRectF(_PAD, TIGHT, room, foot.top() - TIGHT), wrapped, shown(self.station.slot))
        mark = mark_for(self.station.worst)
        paint_shape(painter, self._theme, mark, foot)
        painter.setFont(font("small"))
        painter.setPen(self._theme.colour(mark.tone))
        line = QRectF(_PAD + SHAPE_SIDE + TIGHT, foot.top(), room - SHAPE_SIDE - TIGHT, foot.height())
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        _draw_fitting(painter, line, middle, worded(self.station.shown))

    def _paint_small(self, painter: QPainter) -> None:
        digits = "".join(sign for sign in self.station.slot if sign.isdigit()) or self.station.slot[:2]
        painter.setFont(font("small"))
        painter.setPen(self._theme.colour("ink"))
        half = QRectF(0, TIGHT / 2, self.width(), self.height() / 2 - TIGHT / 2)
        painter.drawText(half, Qt.AlignmentFlag.AlignCenter, digits)
        below = QRectF(0, self.height() / 2, self.width(), self.height() / 2 - TIGHT)
        paint_shape(painter, self._theme, self.mark, below)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if key in _STEPS:
            self.moved.emit(*_STEPS[key])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        elif key == Qt.Key.Key_Escape:
            event.ignore()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    def enterEvent(self, event: QEnterEvent) -> None:
        super().enterEvent(event)
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        super().leaveEvent(event)
        self.update()


class SchematicBody(QWidget):
    """The drawing itself; exactly one slot takes part in the Tab order, arrow keys go from slot to slot.

    Signals:
        place_requested: the Place of a part.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, drawn: Schematic, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._drawn = theme, drawn
        self.plan: SchematicPlan = planned(drawn, SIZES)
        self._columns = max([1, len(drawn.loop), *(len(feed.stations) for feed in drawn.feeds)])
        self.setFixedSize(QSize(round(self.plan.wide) + 1, round(self.plan.high) + 1))
        self.buttons: list[StationButton] = []
        for box in self.plan.boxes:
            self._add(box, small=False)
            for inner in box.inner:
                self._add(inner, small=True)
        if self.buttons:
            self.buttons[0].setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        theme.changed.connect(self.update)

    def _add(self, box: Box, small: bool) -> None:
        button = StationButton(self._theme, box, small, self)
        button.place_requested.connect(self.place_requested)
        button.moved.connect(self._on_moved)
        self.buttons.append(button)

    def fit(self, room: int) -> None:
        """Make the boxes as wide as the room allows, within reason."""
        wide = min(SIZES.wide, max(float(_NARROWEST), (room - SIZES.gap - 2) / self._columns - SIZES.gap))
        self.plan = planned(self._drawn, replace(SIZES, wide=wide))
        self.setFixedSize(QSize(round(self.plan.wide) + 1, round(self.plan.high) + 1))
        boxes = [each for box in self.plan.boxes for each in (box, *box.inner)]
        for button, box in zip(self.buttons, boxes, strict=True):
            button.lie(box)
        self.update()

    def button(self, slot: str) -> StationButton:
        """The button of the slot with that name; raises KeyError where none is drawn."""
        for button in self.buttons:
            if button.station.slot == slot:
                return button
        raise KeyError(slot)

    @Slot(int, int)
    def _on_moved(self, columns: int, rows: int) -> None:
        here = self.sender()
        assert isinstance(here, StationButton)
        found = nearest(here, self.buttons, columns, rows)
        if found is None:
            return
        for button in self.buttons:
            chosen = button is found
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus if chosen else Qt.FocusPolicy.ClickFocus)
        found.setFocus(Qt.FocusReason.OtherFocusReason)

    # Qt overrides

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for pipe in self.plan.pipes:
            self._paint_pipe(painter, pipe)
        painter.end()

    def _paint_pipe(self, painter: QPainter, pipe: Pipe) -> None:
        colour = self._theme.colour("muted")
        points = QPolygonF([QPointF(*point) for point in pipe.points])
        # The ground first, so that a line crosses another visibly and never seems to run into it.
        painter.setPen(QPen(self._theme.colour("raised"), 8))
        painter.drawPolyline(points)
        if pipe.oxygen:
            # A wide line with a narrow one of the ground's colour on it reads as two, round every corner.
            painter.setPen(QPen(colour, 6))
            painter.drawPolyline(points)
            painter.setPen(QPen(self._theme.colour("raised"), 2.5))
        else:
            painter.setPen(QPen(colour, 2))
        painter.drawPolyline(points)
        self._paint_arrow(painter, pipe)
        if pipe.label:
            self._paint_label(painter, pipe)

    def _paint_arrow(self, painter: QPainter, pipe: Pipe) -> None:
        (x0, y0), (x1, y1) = pipe.points[-2:]
        length = max(1e-9, ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
        along, across = (
            QPointF((x1 - x0) / length, (y1 - y0) / length),
            QPointF(-(y1 - y0) / length, (x1 - x0) / length),
        )
        tip = QPointF(x1, y1)
        head = QPolygonF([tip, tip - along * _ARROW + across * 5, tip - along * _ARROW - across * 5])
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.colour("muted"))
        painter.drawPolygon(head)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_label(self, painter: QPainter, pipe: Pipe) -> None:
        painter.setFont(font("small"))
        painter.setPen(self._theme.colour("muted"))
        label = shown(pipe.label)
        wide = painter.fontMetrics().horizontalAdvance(label) + 2 * CLOSE
        if len(pipe.points) == 2:
            x, y = pipe.points[-1]
            painter.drawText(QRectF(x + TIGHT, y - 10, wide, 20), Qt.AlignmentFlag.AlignVCenter, label)
            return
        (x0, y0), (x1, _y1) = max(pairwise(pipe.points), key=lambda each: abs(each[1][0] - each[0][0]))
        box = QRectF((x0 + x1) / 2 - wide / 2, y0 - 10, wide, 20)
        painter.fillRect(box, self._theme.colour("raised"))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, label)


def _draw_fitting(painter: QPainter, box: QRectF, flags: Qt.AlignmentFlag | Qt.TextFlag, text: str) -> None:
    """Draw a text in a box, set narrower where it would not fit at its own width; the narrowest may still be cut."""
    for narrower in _SET_IN:
        place = QRectF(0, 0, box.width() / narrower, box.height())
        needed = painter.boundingRect(place, flags, text)
        if needed.width() <= place.width() and needed.height() <= place.height():
            break
    painter.save()
    painter.setClipRect(box)
    painter.translate(box.topLeft())
    painter.scale(narrower, 1.0)
    painter.drawText(place, flags, text)
    painter.restore()


class SchematicView(QFrame):
    """The schematic with its caption in a card; scrolls sideways where the window is narrow.

    Signals:
        place_requested: the Place of a part.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, drawn: Schematic, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "card")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, CLOSE, APART, TIGHT)
        layout.setSpacing(CLOSE)
        caption = text_label(CAPTION, "small", self)
        caption.setWordWrap(True)
        self.body = SchematicBody(theme, drawn)
        self.body.setObjectName("flow")
        self._area = QScrollArea(self)
        self._area.setObjectName("flow")
        self._area.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setWidget(self.body)
        self._area.setFixedHeight(self.body.height() + 4 * GRID)
        layout.addWidget(caption)
        layout.addWidget(self._area)
        self.body.place_requested.connect(self.place_requested)
        for button in self.body.buttons:
            button.moved.connect(self._show_focused)

    @Slot()
    def _show_focused(self) -> None:
        focused = self.body.focusWidget()
        if focused is not None:
            self._area.ensureWidgetVisible(focused, APART, 0)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.body.fit(self.width() - 2 * APART - 2 * GRID)


def nearest(here: StationButton, buttons: list[StationButton], columns: int, rows: int) -> StationButton | None:
    """The button nearest in that direction, sideways distance counting double; None where nothing lies there."""
    start, best, shortest = here.geometry().center(), None, float("inf")
    for button in buttons:
        away = button.geometry().center() - start
        ahead = away.x() * columns + away.y() * rows
        aside = abs(away.x() * rows) + abs(away.y() * columns)
        if button is not here and ahead > 0 and ahead + 2 * aside < shortest:
            best, shortest = button, ahead + 2 * aside
    return best
