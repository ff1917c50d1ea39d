"""The rail at the left: one large button a page."""

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QButtonGroup, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import worded
from fleetbench.window.look.buttons import as_button_text, text_label
from fleetbench.window.look.theme import APART, BLOCK, GRID, TIGHT, Theme, put_font
from fleetbench.window.shell.pages import PageSpec

_STEPS = {Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}


class RailButton(QPushButton):
    """One page; Enter opens it, and the arrow keys are left to the rail, which moves without opening."""

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in _STEPS:
            event.ignore()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        else:
            super().keyPressEvent(event)


class Rail(QWidget):
    """Shows which page is open and opens another.

    Signals:
        page_requested: the name of the page.
    """

    page_requested = Signal(str)

    def __init__(self, theme: Theme, specs: tuple[PageSpec, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("rail")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setMinimumWidth(44 * GRID)
        self._names = tuple(spec.name for spec in specs)
        self._group = QButtonGroup(self)
        self._centre = text_label("", "small", self)
        self._centre.setObjectName("centre")
        self._centre.setWordWrap(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, APART, 0, BLOCK)
        layout.setSpacing(TIGHT // 2)
        for number, spec in enumerate(specs):
            layout.addWidget(self._make_button(theme, number, spec))
        layout.addStretch(1)
        layout.addWidget(self._centre)
        self._group.idClicked.connect(self._on_clicked)

    def _make_button(self, theme: Theme, number: int, spec: PageSpec) -> QPushButton:
        button = RailButton(as_button_text(f"  {worded(spec.title)}"), self)
        button.setProperty("role", "place")
        button.setCheckable(True)
        put_font(button, "strong")
        button.setIconSize(QSize(20, 20))
        button.setToolTip(f"{worded(spec.title)} ({spec.keys})")
        button.setAccessibleName(worded(spec.title))
        theme.dress(button, spec.name)
        self._group.addButton(button, number)
        return button

    def mark(self, name: str) -> None:
        """Show that page as the open one; none for a page that stands under no entry."""
        if name in self._names:
            self._group.button(self._names.index(name)).setChecked(True)
            return
        self._group.setExclusive(False)
        for button in self._group.buttons():
            button.setChecked(False)
        self._group.setExclusive(True)

    def button(self, name: str) -> QPushButton:
        """The button of a page; raises ValueError for a name that is not in the rail."""
        return self._group.button(self._names.index(name))  # type: ignore[return-value]

    def set_centre(self, name: str) -> None:
        """Show whose fleet it is."""
        self._centre.setText(name)

    @Slot(int)
    def _on_clicked(self, number: int) -> None:
        self.page_requested.emit(self._names[number])

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        focused = [n for n in range(len(self._names)) if self._group.button(n).hasFocus()]
        if event.key() in _STEPS and focused:
            self._group.button((focused[0] + _STEPS[Qt.Key(event.key())]) % len(self._names)).setFocus()
            return
        super().keyPressEvent(event)
