"""A Detail laid out beside a list: title, states, and its sections one under the other.

One part of a Detail as a card: facts with labels to the left, or a small table.
"""

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import worded
from fleetbench.window.detail.detail import Detail, Fact, Pictures, Section, Table
from fleetbench.window.forms.photographs import with_caption
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.look.buttons import PlaceButton, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.state_delegate import MarkLabel
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, TIGHT, Theme, scaled

_MOST_LINES_IN_VIEW = 12


class PartView(QFrame):
    """A card of a page.

    Signals:
        place_requested: the Place that a pressed fact or line leads to.
    """

    place_requested = Signal(object)

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.title = title
        self.setProperty("role", "card")

    def say_empty(self, line: str) -> QLabel:
        """The line shown where the part holds nothing."""
        said = text_label(worded(line or "Nothing is recorded."), "small", self)
        said.setWordWrap(True)
        return said


class SectionView(PartView):
    """Facts, labels to the left and values to the right."""

    def __init__(self, theme: Theme, section: Section, parent: QWidget | None = None) -> None:
        super().__init__(theme, section.title, parent)
        grid = QGridLayout(self)
        grid.setContentsMargins(APART, APART, APART, APART)
        grid.setHorizontalSpacing(BLOCK)
        grid.setVerticalSpacing(CLOSE)
        grid.setColumnStretch(1, 1)
        grid.addWidget(text_label(worded(section.title), "strong", self), 0, 0, 1, 2)
        if not section.facts:
            grid.addWidget(self.say_empty(section.empty), 1, 0, 1, 2)
        for number, fact in enumerate(section.facts, start=1):
            self._add_fact(grid, number, fact)

    def _add_fact(self, grid: QGridLayout, number: int, fact: Fact) -> None:
        if fact.label:
            words = worded(fact.label)
            label = text_label(words[:1].upper() + words[1:], "small", self)
            label.setWordWrap(True)
            label.setFixedWidth(scaled(27 * GRID))
            label.setMinimumHeight(18)
            grid.addWidget(label, number, 0, Qt.AlignmentFlag.AlignTop)
        lines = QVBoxLayout()
        lines.setSpacing(2)
        if fact.mark is not None:
            lines.addWidget(MarkLabel(self.theme, fact.mark, "strong", self))
        if fact.leads_to is not None:
            button = PlaceButton(fact.value, fact.leads_to, self)
            button.place_requested.connect(self.place_requested)
            lines.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        elif fact.value:
            lines.addWidget(_selectable(text_label(fact.value, "body", self)))
        if fact.note:
            lines.addWidget(_selectable(text_label(fact.note, "small", self)))
        column, span = (1, 1) if fact.label else (0, 2)
        grid.addLayout(lines, number, column, 1, span)


class TableView(PartView):
    """A small table under its title."""

    def __init__(self, theme: Theme, table: Table, parent: QWidget | None = None) -> None:
        super().__init__(theme, table.title, parent)
        self.lines = table.lines
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, APART)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(worded(table.title), "strong", self))
        if not table.lines:
            layout.addWidget(self.say_empty(table.empty))
            return
        lines = LinesView(theme, table, self)
        lines.place_requested.connect(self.place_requested)
        layout.addWidget(lines)


class PicturesView(PartView):
    """Small pictures side by side, each over what it is; one opens large."""

    def __init__(self, theme: Theme, part: Pictures, parent: QWidget | None = None) -> None:
        super().__init__(theme, part.title, parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(APART, APART, APART, APART)
        layout.setSpacing(CLOSE)
        layout.addWidget(text_label(worded(part.title), "strong", self))
        flow = FlowLayout(None, APART)
        for each in part.pictures:
            flow.addWidget(with_caption(theme, each, self)[0])
        layout.addLayout(flow)


def part_view(theme: Theme, part: Section | Table | Pictures, parent: QWidget | None = None) -> PartView:
    """The card for a part of a Detail."""
    if isinstance(part, Pictures):
        return PicturesView(theme, part, parent)
    return SectionView(theme, part, parent) if isinstance(part, Section) else TableView(theme, part, parent)


def _selectable(label: QLabel) -> QLabel:
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    label.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
    return label


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
        """Show this instead of what was there; of the same thing, scrolled and with the keyboard where it was."""
        if detail == self.detail:
            return  # loaded again, and nothing moved
        same = self.detail is not None and self.detail.title == detail.title
        scrolled, at_hand = self.verticalScrollBar().value(), self.window().focusWidget()
        leads_to = at_hand.place if isinstance(at_hand, PlaceButton) and self.isAncestorOf(at_hand) else None
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
        if same:
            for button in body.findChildren(PlaceButton) if leads_to is not None else ():
                if button.place == leads_to:
                    button.setFocus()
                    break
            self.verticalScrollBar().setValue(scrolled)

    def show_nothing(self, line: str = "") -> None:
        """Show one line where no thing is chosen; line: another one than before."""
        self.detail, self._nothing = None, line or self._nothing
        body, layout = self._new_body()
        layout.addWidget(_wrapped(worded(self._nothing), "small", body))
        self._finish(body, layout)

    def labels(self) -> list[QLabel]:
        """Every text that is shown."""
        body = self.widget()
        return body.findChildren(QLabel) if body is not None else []

    def _new_body(self) -> tuple[QWidget, QVBoxLayout]:
        body = QWidget()  # made in its place, wrapped words would keep the height of a narrower one
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
        return QSize(scaled(84 * GRID), 100 * GRID)


class BesideList(QSplitter):
    """A list and, beside it, what is recorded of the chosen row, which gets more room as text grows."""

    def __init__(self, theme: Theme, rows: QWidget, detail: DetailView, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.addWidget(rows)
        self.addWidget(detail)
        self.setStretchFactor(0, 1)
        self.setStretchFactor(1, 0)
        self.setChildrenCollapsible(False)
        self.setHandleWidth(CLOSE)
        self.setSizes([1000, scaled(84 * GRID)])
        theme.text_size_changed.connect(self._share)

    @Slot()
    def _share(self) -> None:
        detail = scaled(84 * GRID)
        self.setSizes([max(self.width() - detail, detail), detail])


def _wrapped(text: str, role: str, parent: QWidget) -> QWidget:
    label = text_label(text, role, parent)
    label.setWordWrap(True)
    return label
