"""A state in one line of a page: shape and word in its colour."""

from PySide6.QtCore import QRectF, QSize, Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from fleetbench.window.detail.detail import Badge
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.marks import Mark
from fleetbench.window.look.state_delegate import SHAPE_SIDE, paint_shape
from fleetbench.window.look.theme import CLOSE, Theme


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
        layout.addWidget(text_label(badge.word, "heading", self), 1)
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
        self._word = text_label(mark.word, role, self)
        self._word.setWordWrap(True)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(SHAPE_SIDE + CLOSE, 0, 0, 0)
        layout.addWidget(self._word, 1)
        self._tint()
        theme.changed.connect(self._tint)

    @property
    def word(self) -> str:
        """What is said."""
        return self._word.text()

    @Slot()
    def _tint(self) -> None:
        self._word.setStyleSheet(f"color: {self._theme.colour(self.mark.tone).name()};")
        self.update()

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        line = self._word.fontMetrics().height()
        top = 0 if self._word.height() >= 2 * line else (self.height() - line) / 2
        painter = QPainter(self)
        paint_shape(painter, self._theme, self.mark, QRectF(0, top, SHAPE_SIDE, line))
        painter.end()
