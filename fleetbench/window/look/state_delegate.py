"""Cells of a list painted: state as shape, word and colour together, and small trend lines.

A state in one line of a page: shape and word in its colour.

A tiny trend line for a list: no axes, the last value marked, gaps where nothing was measured.
"""

from collections.abc import Sequence
from functools import lru_cache

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from fleetbench.calc.core.languages import worded
from fleetbench.window.detail.detail import Badge
from fleetbench.window.lists.rows import told_by
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import Mark, shape_path
from fleetbench.window.look.theme import APART, CLOSE, GRID, Theme, font, measure_of, put_tone, row_height

_LEAST_SPAN = 0.1


def trend_points(values: Sequence[float | None], box: QRectF) -> list[QPointF | None]:
    """Where each value falls inside the box, None where there is none.

    The box spans at least a tenth of the middle value, so that ordinary scatter does not look like a fall.
    """
    known = [value for value in values if value is not None]
    if not known:
        return [None] * len(values)
    middle = (min(known) + max(known)) / 2
    span = max(max(known) - min(known), _LEAST_SPAN * abs(middle)) or 1.0
    step = box.width() / max(1, len(values) - 1)
    return [
        None
        if value is None
        else QPointF(box.left() + number * step, box.center().y() - (value - middle) / span * box.height())
        for number, value in enumerate(values)
    ]


def paint_trend(painter: QPainter, theme: Theme, values: Sequence[float | None], box: QRectF) -> None:
    """Paint the line of the values, oldest first, and a dot on the last one; nothing for an empty series."""
    points = trend_points(values, box.adjusted(2, 2, -3, -2))
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(theme.colour("muted"), 1.5))
    painter.drawPath(_line(points))
    last = next((point for point in reversed(points) if point is not None), None)
    if last is not None:
        dot = QPainterPath()
        dot.addEllipse(last, 2.5, 2.5)
        painter.fillPath(dot, theme.colour("ink"))
    painter.restore()


def _line(points: Sequence[QPointF | None]) -> QPainterPath:
    path, joined = QPainterPath(), False
    for point in points:
        if point is not None and joined:
            path.lineTo(point)
        elif point is not None:
            path.moveTo(point)
        joined = point is not None
    return path


SHAPE_SIDE = 13


def paint_shape(painter: QPainter, theme: Theme, mark: Mark, box: QRectF) -> None:
    """Paint a mark's shape in its colour, centred in the box."""
    side = min(SHAPE_SIDE, box.width(), box.height())
    square = QRectF(0, 0, side, side)
    square.moveCenter(box.center())
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.fillPath(shape_path(mark.shape, square), theme.colour(mark.tone))
    painter.restore()


class StateDelegate(QStyledItemDelegate):
    """Paints every cell of a list; a cell with a mark gets its shape and colour, one with a trend its line."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    # Qt overrides

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        box = QRectF(option.rect)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, self._theme.colour("chosen"))
        painter.fillRect(QRectF(box.left(), box.bottom() - 1, box.width(), 1), self._theme.colour("line"))
        inner = box.adjusted(APART, 0, -APART, 0)
        trend, mark, text, alignment = told_by(index)
        if trend is not None:
            paint_trend(painter, self._theme, trend, inner.adjusted(0, CLOSE, 0, -CLOSE))
            return
        if mark is not None:
            paint_shape(painter, self._theme, mark, QRectF(inner.left(), inner.top(), SHAPE_SIDE, inner.height()))
            inner.adjust(SHAPE_SIDE + CLOSE, 0, 0, 0)
        self._paint_text(painter, inner, (text, alignment), mark)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(super().sizeHint(option, index).width() + 2 * GRID, row_height())

    def _paint_text(self, painter: QPainter, box: QRectF, told: tuple[str, int], mark: Mark | None) -> None:
        text, alignment = told
        role = "strong" if mark is not None else "body"
        painter.save()
        painter.setFont(font(role))
        painter.setPen(self._theme.colour(mark.tone if mark is not None else "ink"))
        flag = Qt.TextFlag.TextWordWrap
        if box.height() <= (high := row_height()):
            flag = Qt.TextFlag.TextSingleLine
            text = _elided(text, int(box.width()) + 1, role, high)
        painter.drawText(box, alignment | flag.value, text)
        painter.restore()


@lru_cache(8192)
def _elided(text: str, width: int, role: str, _row_height: int) -> str:
    """The text as its room shows it, found once for a size of text: a table is painted again at every key."""
    return measure_of(role).elidedText(text, Qt.TextElideMode.ElideRight, width)


class BadgeLabel(QWidget):
    """Icon and word of a badge."""

    def __init__(self, theme: Theme, badge: Badge, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self.badge = theme, badge
        self._picture = QLabel(self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(CLOSE)
        layout.addWidget(self._picture, 0, Qt.AlignmentFlag.AlignVCenter)
        layout.addWidget(text_label(worded(badge.word), "heading", self), 1)
        theme.changed.connect(self._tint)
        self._tint()

    @Slot()
    def _tint(self) -> None:
        self._picture.setPixmap(self._theme.icon(self.badge.icon, "muted").pixmap(QSize(20, 20)))


class MarkLabel(QWidget):
    """Shape and word of a mark; a long word wraps and the shape stays on its first line."""

    def __init__(self, theme: Theme, mark: Mark, role: str = "strong", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.mark = mark
        self._word = text_label(worded(mark.word), role, self)
        self._word.setWordWrap(True)
        put_tone(self._word, mark.tone)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(SHAPE_SIDE + CLOSE, 0, 0, 0)
        layout.addWidget(self._word, 1)
        theme.changed.connect(self.update)

    @property
    def word(self) -> str:
        """What is said."""
        return self._word.text()

    # Qt overrides

    def sizeHint(self) -> QSize:
        """As wide as its word in one line, which a label that may wrap does not ask for by itself."""
        word = self._word.fontMetrics().horizontalAdvance(self._word.text())
        return QSize(SHAPE_SIDE + CLOSE + word + 1, super().sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        line = self._word.fontMetrics().height()
        top = 0 if self._word.height() >= 2 * line else (self.height() - line) / 2
        painter = QPainter(self)
        paint_shape(painter, self._theme, self.mark, QRectF(0, top, SHAPE_SIDE, line))
        painter.end()
