"""What is left of a fill as a bar in a list, with the minutes written beside it."""

from collections.abc import Callable

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QStyle, QStyleOptionViewItem

from fleetbench.window.look.state_delegate import StateDelegate
from fleetbench.window.look.theme import APART, CLOSE, GRID, ROW_HEIGHT, Theme, font

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
        bar.moveCenter(QRectF(bar.left(), inner.top(), bar.width(), ROW_HEIGHT - 1).center())
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
