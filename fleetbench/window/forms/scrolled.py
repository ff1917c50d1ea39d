"""The body of a dialog in a scroll area that takes the room it asks for, as far as the screen has it."""

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtWidgets import QDialog, QFrame, QScrollArea, QSizePolicy, QStyle, QVBoxLayout, QWidget

from fleetbench.window.look.theme import APART, BLOCK, GRID

LEAST = 24 * GRID
"""Height below which a body is not pressed, in px: two rows of fields."""

MARGINS = 2 * BLOCK + 2 * GRID
"""What a dialog and its frame have beside a body, in px."""


class ScrolledBody(QScrollArea):
    """Shows its body whole where there is room, and scrolls where there is not."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidgetResizable(True)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        inner = QWidget()
        inner.setObjectName("scrolled")
        self.body = QVBoxLayout(inner)
        self.body.setContentsMargins(0, 0, 0, 0)
        self.body.setSpacing(APART)
        self.setWidget(inner)

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        handled = super().eventFilter(watched, event)
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self.updateGeometry()  # what was shown or hidden in the body changes what is asked for
        return handled

    def sizeHint(self) -> QSize:
        wanted, margins = self.body.totalSizeHint(), self.contentsMargins()
        sides, ends = margins.left() + margins.right(), margins.top() + margins.bottom()
        if self.isVisible() and self.body.hasHeightForWidth():
            wide = max(self.width() - sides, self.body.totalMinimumSize().width())
            wanted.setHeight(self.body.totalHeightForWidth(wide))
        return wanted + QSize(sides, ends)

    def minimumSizeHint(self) -> QSize:
        bar = self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        room = self.screen().availableGeometry().width() - MARGINS
        return QSize(min(self.body.totalMinimumSize().width() + bar, room), min(LEAST, self.sizeHint().height()))


def keep_on_screen(dialog: QDialog, *, shrink: bool = False) -> None:
    """Give a dialog the height that it asks for, never more than its screen has, and bring it back onto the screen.

    shrink: a higher one is made as low as what it asks for; else it stays as high as it is.
    """
    screen = dialog.screen().availableGeometry()
    frame = dialog.frameGeometry().size() - dialog.geometry().size()
    title = max(frame.height(), dialog.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight))
    room = QSize(screen.width() - frame.width(), screen.height() - title)
    layout = dialog.layout()
    assert layout is not None
    asked = layout.totalHeightForWidth(dialog.width()) if layout.hasHeightForWidth() else layout.sizeHint().height()
    dialog.setMinimumSize(dialog.minimumSize().boundedTo(room))
    high = asked if shrink else max(dialog.height(), asked)
    dialog.resize(QSize(dialog.width(), high).boundedTo(room))
    placed = dialog.frameGeometry()
    left = min(placed.left(), screen.right() - placed.width() + 1)
    top = min(placed.top(), screen.bottom() - placed.height() + 1)
    dialog.move(max(screen.left(), left), max(screen.top(), top))
