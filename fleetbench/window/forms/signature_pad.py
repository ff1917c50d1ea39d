"""A box to sign in with a mouse, a finger or a pen."""

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from fleetbench.calc.core.languages import worded
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.workshop.hires.signing import HIGH, WIDE, Stroke

LEAST_STEP = 3
"""Points closer than this are one point: a hand that rests is no stroke of its own."""


class SignaturePad(QWidget):
    """Keeps what is drawn as strokes in a box of 1000 by 300; Delete or Backspace clears it.

    Signals:
        signed: a stroke was finished, or the box was cleared.
    """

    signed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._strokes: list[list[tuple[int, int]]] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(worded("signature, drawn; Delete clears it"))
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setMinimumSize(60 * GRID, 18 * GRID)

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """What was drawn, empty where nothing was."""
        return tuple(tuple(each) for each in self._strokes if each)

    def clear(self) -> None:
        """Take everything away."""
        self._strokes = []
        self.update()
        self.signed.emit()

    def _point(self, at: QPointF) -> tuple[int, int]:
        x = round(at.x() / max(1, self.width()) * WIDE)
        y = round(at.y() / max(1, self.height()) * HIGH)
        return min(WIDE, max(0, x)), min(HIGH, max(0, y))

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(125 * GRID, 38 * GRID)

    def heightForWidth(self, width: int) -> int:
        return width * HIGH // WIDE

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._strokes.append([self._point(event.position())])
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if not self._strokes or not event.buttons() & Qt.MouseButton.LeftButton:
            return
        last, new = self._strokes[-1][-1], self._point(event.position())
        if abs(last[0] - new[0]) + abs(last[1] - new[1]) >= LEAST_STEP:
            self._strokes[-1].append(new)
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton and self._strokes:
            self.signed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.clear()
            return
        super().keyPressEvent(event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        # Ink is dark on white in both themes, as it is on the page that it is printed on.
        painter.fillRect(self.rect(), Qt.GlobalColor.white)
        frame, wide = ("accent", 3) if self.hasFocus() else ("edge", 1)
        painter.setPen(QPen(self._theme.colour(frame), wide))
        painter.drawRect(self.rect().adjusted(wide // 2, wide // 2, -1 - wide // 2, -1 - wide // 2))
        painter.setPen(QPen(self._theme.colour("line"), 1))
        base = round(self.height() * 0.82)
        painter.drawLine(2 * GRID, base, self.width() - 2 * GRID, base)
        painter.setPen(QPen(Qt.GlobalColor.black, 2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        for stroke in self._strokes:
            points = [QPointF(x * self.width() / WIDE, y * self.height() / HIGH) for x, y in stroke]
            path = QPainterPath(points[0])
            for point in points[1:] or points:
                path.lineTo(point)
            painter.drawPath(path)
