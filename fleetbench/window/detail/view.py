"""A Detail laid out beside a list: title, states, and its sections one under the other."""

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QLabel, QScrollArea, QVBoxLayout, QWidget

from fleetbench.window.detail.detail import Detail
from fleetbench.window.detail.section_view import part_view
from fleetbench.window.look.buttons import text_label
from fleetbench.window.look.mark_label import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, GRID, TIGHT, Theme


class DetailView(QScrollArea):
    """Shows a Detail; rebuilds itself for the next one.

    Signals:
        place_requested: the Place that a pressed fact leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, nothing: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._nothing = nothing
        self.detail: Detail | None = None
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.show_nothing()

    def show_detail(self, detail: Detail) -> None:
        """Show this instead of what was there."""
        self.detail = detail
        body, layout = self._new_body()
        layout.addWidget(_wrapped(detail.title, "heading", body))
        if detail.subtitle:
            layout.addWidget(_wrapped(detail.subtitle, "small", body))
        for mark in detail.marks:
            layout.addWidget(MarkLabel(self._theme, mark, "strong", body))
        for part in detail.parts:
            layout.addSpacing(APART)
            view = part_view(self._theme, part, body)
            view.place_requested.connect(self.place_requested)
            layout.addWidget(view)
        self._finish(body, layout)

    def show_nothing(self) -> None:
        """Show one line where no thing is chosen."""
        self.detail = None
        body, layout = self._new_body()
        layout.addWidget(_wrapped(self._nothing, "small", body))
        self._finish(body, layout)

    def labels(self) -> list[QLabel]:
        """Every text that is shown."""
        body = self.widget()
        return body.findChildren(QLabel) if body is not None else []

    def _new_body(self) -> tuple[QWidget, QVBoxLayout]:
        body = QWidget()
        body.setObjectName("scrolled")
        layout = QVBoxLayout(body)
        layout.setContentsMargins(BLOCK, TIGHT, TIGHT, BLOCK)
        layout.setSpacing(TIGHT)
        return body, layout

    def _finish(self, body: QWidget, layout: QVBoxLayout) -> None:
        layout.addStretch(1)
        self.setWidget(body)

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(84 * GRID, 100 * GRID)


def _wrapped(text: str, role: str, parent: QWidget) -> QWidget:
    label = text_label(text, role, parent)
    label.setWordWrap(True)
    return label
