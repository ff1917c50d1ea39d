"""The page of one thing: title and states on top, its parts as cards in columns that fit the width."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from fleetbench.window.background import Background, Refresher
from fleetbench.window.detail import ACROSS, Detail, Section, Table
from fleetbench.window.flow_line import FlowLine
from fleetbench.window.lines_view import LinesView
from fleetbench.window.mark_label import BadgeLabel, MarkLabel
from fleetbench.window.page import Page
from fleetbench.window.section_view import PartView, part_view
from fleetbench.window.theme import APART, CLOSE, GRID, SECTION, Theme

_TWO_COLUMNS_FROM = 200 * GRID


class RecordPage(Page):
    """Shows one Detail over the whole page, two columns wide where there is room."""

    def __init__(
        self,
        theme: Theme,
        background: Background | None,
        load: Callable[[str], Detail] | None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, "", parent)
        self._load = load
        self.key: str | None = None
        self.detail: Detail | None = None
        self._views: list[PartView] = []
        self._marks = QHBoxLayout()
        self._marks.setSpacing(SECTION)
        self._scroll = QScrollArea(self)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.content.addLayout(self._marks)
        self.content.addWidget(self._scroll, 1)
        self._loader = Refresher(background, self) if background is not None else None
        if self._loader is not None:
            self._loader.loaded.connect(self.show_detail)
            self._loader.refused.connect(self._on_refused)

    def show_key(self, key: str) -> None:
        """Load and show the thing with that key."""
        self.is_loaded = self.is_loaded and key == self.key
        self.key = key
        self.refresh()

    def refresh(self) -> None:
        """Load the thing again."""
        load, key = self._load, self.key
        if load is not None and key is not None and self._loader is not None:
            self._loader.ask(lambda: load(key))

    def focus_first(self) -> None:
        """Put the keyboard on the page, so that arrows scroll and Escape returns."""
        self._scroll.setFocus()

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show this instead of what was there, scrolled to the same place."""
        self.banner.take_back_refusal()
        scrolled = self._scroll.verticalScrollBar().value()
        self.detail = detail
        self.set_title(detail.title)
        self.set_summary(detail.subtitle)
        self._show_marks(detail)
        self._lay_out(detail)
        self._scroll.verticalScrollBar().setValue(scrolled)
        self.is_loaded = True

    def focus_first_table(self) -> None:
        """Put the keyboard on the first small table, or on the page where there is none."""
        table = self._scroll.findChild(LinesView)
        if table is None:
            self.focus_first()
            return
        table.setFocus()
        table.selectRow(0)

    def part(self, title: str) -> PartView:
        """The card with that title; raises KeyError when the page has none."""
        for view in self._views:
            if view.title == title:
                return view
        raise KeyError(title)

    def _show_marks(self, detail: Detail) -> None:
        while (item := self._marks.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.deleteLater()
        for mark in detail.marks:
            self._marks.addWidget(MarkLabel(self.theme, mark, "heading", self))
        for badge in detail.badges:
            self._marks.addWidget(BadgeLabel(self.theme, badge, self))
        self._marks.addStretch(1)

    def _lay_out(self, detail: Detail) -> None:
        body = QWidget()
        body.setObjectName("scrolled")
        whole = QVBoxLayout(body)
        whole.setContentsMargins(0, 0, CLOSE, 0)
        whole.setSpacing(APART)
        if detail.flow:
            flow = FlowLine(self.theme, detail.flow, body)
            flow.place_requested.connect(self.place_requested)
            whole.addWidget(flow)
        across = [part for part in detail.parts if part.column == ACROSS]
        self._views = [self._add(part, body, whole) for part in across]
        columns = QHBoxLayout()
        columns.setSpacing(APART)
        whole.addLayout(columns, 1)
        stacks = [QVBoxLayout() for _ in range(2 if self._has_two_columns() and _uses_both(detail) else 1)]
        for part in (part for part in detail.parts if part.column != ACROSS):
            self._views.append(self._add(part, body, stacks[min(part.column, len(stacks) - 1)]))
        for number, stack in enumerate(stacks):
            stack.setSpacing(APART)
            stack.addStretch(1)
            columns.addLayout(stack, (5, 9)[number])
        self._scroll.setWidget(body)

    def _add(self, part: Section | Table, body: QWidget, stack: QVBoxLayout) -> PartView:
        view = part_view(self.theme, part, body)
        view.place_requested.connect(self.place_requested)
        stack.addWidget(view)
        return view

    def _has_two_columns(self) -> bool:
        return self.width() >= _TWO_COLUMNS_FROM

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self.banner.say_refused(line)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        was_wide = event.oldSize().width() >= _TWO_COLUMNS_FROM
        if self.detail is not None and was_wide != self._has_two_columns():
            self._lay_out(self.detail)


def _uses_both(detail: Detail) -> bool:
    return {part.column for part in detail.parts} >= {0, 1}
