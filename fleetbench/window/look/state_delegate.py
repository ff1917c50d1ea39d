"""Cells of a list painted: state as shape, word and colour together, and small trend lines."""

from collections.abc import Sequence

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from fleetbench.window.lists.rows import MARK_ROLE, TREND_ROLE
from fleetbench.window.look.marks import Mark, shape_path
from fleetbench.window.look.spark import paint_trend
from fleetbench.window.look.theme import APART, CLOSE, GRID, ROW_HEIGHT, Theme, font

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
        trend: Sequence[float | None] | None = index.data(TREND_ROLE)
        if trend is not None:
            paint_trend(painter, self._theme, trend, inner.adjusted(0, CLOSE, 0, -CLOSE))
            return
        mark: Mark | None = index.data(MARK_ROLE)
        if mark is not None:
            paint_shape(painter, self._theme, mark, QRectF(inner.left(), inner.top(), SHAPE_SIDE, inner.height()))
            inner.adjust(SHAPE_SIDE + CLOSE, 0, 0, 0)
        self._paint_text(painter, inner, index, mark)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        return QSize(super().sizeHint(option, index).width() + 2 * GRID, ROW_HEIGHT)

    def _paint_text(
        self, painter: QPainter, box: QRectF, index: QModelIndex | QPersistentModelIndex, mark: Mark | None
    ) -> None:
        painter.save()
        painter.setFont(font("strong" if mark is not None else "body"))
        painter.setPen(self._theme.colour(mark.tone if mark is not None else "ink"))
        text, flag = str(index.data(Qt.ItemDataRole.DisplayRole) or ""), Qt.TextFlag.TextWordWrap
        if box.height() <= ROW_HEIGHT:
            flag = Qt.TextFlag.TextSingleLine
            text = painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(box.width()) + 1)
        painter.drawText(box, int(index.data(Qt.ItemDataRole.TextAlignmentRole)) | flag, text)
        painter.restore()
