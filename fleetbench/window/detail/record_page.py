"""The page of one thing: title and states on top, its parts as cards in columns that fit the width."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QImage, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import shown, strung, worded
from fleetbench.window.detail.detail import ACROSS, Detail, Pictures, Section, Table
from fleetbench.window.detail.view import PartView, part_view
from fleetbench.window.forms.photographs import Pictured
from fleetbench.window.lists.lines_view import LinesView
from fleetbench.window.look.buttons import PlaceButton
from fleetbench.window.look.state_delegate import BadgeLabel, MarkLabel
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme
from fleetbench.window.look.words import moment, said
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import Page

if TYPE_CHECKING:
    # Only named here: it reads the tables' definitions, which takes longer than showing the window.
    from fleetbench.workshop.core.workplace import Workplace

_WIDE_FROM = 350 * GRID

Part = Section | Table | Pictures


class RecordPage(Page):
    """Shows one Detail over the whole page, two columns wide where there is room.

    many_cards: cards that say the same as before stay, and the first ones are made one between two events, since they
    take longer than a key press may wait. first_key: by what is loaded before, where nothing is shown yet and the thing
    itself takes long; empty where it does not.
    """

    many_cards = False
    first_key = ""

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
        self.onward_buttons: list[PlaceButton] = []
        self._marks = QHBoxLayout()
        self._marks.setSpacing(SECTION)
        self._scroll = QScrollArea(self)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.content.addLayout(self._marks)
        self.content.addWidget(self._scroll, 1)
        self._loader = Refresher(background, self) if background is not None else None
        self._coming: Detail | None = None
        self._ready: dict[int, PartView] = {}
        self._cards: list[tuple[Part, PartView]] = []
        self._cards_before: list[tuple[Part, PartView]] = []
        if self._loader is not None:
            self._loader.at_once.connect(self.on_loaded)
            self._loader.loaded.connect(self.on_loaded)
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
            first = self.first_key if not self.is_loaded else ""
            self._loader.ask(partial(load, key), partial(load, first) if first else None)

    def focus_first(self) -> None:
        """Put the keyboard on the page, so that arrows scroll and Escape returns."""
        self._scroll.setFocus()

    @Slot(object)
    def on_loaded(self, detail: Detail) -> None:
        """Show what was loaded."""
        self._drop_ready()
        if self.many_cards and not self.is_loaded:
            self._coming = detail
            self._make_next()
        else:
            self.show_detail(detail)

    def _stands(self, detail: Detail) -> bool:
        """Whether all cards that are shown say what those of this detail say."""
        return self.many_cards and self.detail is not None and self.detail.parts == detail.parts

    def _drop_ready(self) -> None:
        for view in self._ready.values():
            if view.parent() is self:  # it was made for what is not shown any more
                view.deleteLater()
        self._coming, self._ready = None, {}

    @Slot()
    def _make_next(self) -> None:
        """Make one more card of what is to be shown, or show it where all are made."""
        detail = self._coming
        if detail is None:
            return
        missing = next((part for part in detail.parts if id(part) not in self._ready), None)
        if missing is None:
            self.show_detail(detail)
        else:
            self._ready[id(missing)] = self._made(missing, self)
            QTimer.singleShot(0, self, self._make_next)

    @Slot(object)
    def show_detail(self, detail: Detail) -> None:
        """Show this instead of what was there, scrolled to the same place."""
        self.banner.take_back_refusal()
        scrolled, line = self._scroll.verticalScrollBar().value(), self._line_at_hand()
        stands, self.detail = self._stands(detail), detail
        self.set_title(detail.title)
        self._scroll.setAccessibleName(shown(detail.title))
        self.set_summary(detail.subtitle)
        self._show_marks(detail)
        self._show_onward(detail)
        if not stands:
            self._lay_out(detail)
            self._take_up(*line)
            self._scroll.verticalScrollBar().setValue(scrolled)
        self._drop_ready()
        self.is_loaded = True
        if self._loader is not None:
            self._loader.go_on(detail)

    def at_hand(self) -> object:
        return (self.detail, self._line_at_hand(), self._scroll.verticalScrollBar().value())

    def take_over(self, at_hand: object) -> None:
        match at_hand:
            case (Detail() as detail, (str(name), int(row)), int(scrolled)) if self.detail is None:
                self.show_detail(detail)
                self._take_up(name, row)
                self._scroll.verticalScrollBar().setValue(scrolled)
                self.is_loaded = False

    def _line_at_hand(self) -> tuple[str, int]:
        """The small table that has the keyboard, by name, and its line; an empty name for none."""
        table = self.window().focusWidget()  # also while another window has the keyboard
        if not isinstance(table, LinesView) or not self._scroll.isAncestorOf(table):
            return "", 0
        return table.accessibleName(), table.currentIndex().row()

    def _take_up(self, name: str, row: int) -> None:
        for table in self.findChildren(LinesView) if name else ():
            if table.accessibleName() == name and self._scroll.isAncestorOf(table):
                table.setFocus()
                table.selectRow(row)

    def focus_first_table(self, title: str = "") -> None:
        """Put the keyboard on the first small table, or that of the title; on the page where it has no line."""
        inside = self._scroll if not title else next((each for each in self._views if each.title == title), None)
        table = inside.findChild(LinesView) if inside is not None else None
        if table is None:
            self._scroll.setFocus()
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

    def _show_onward(self, detail: Detail) -> None:
        for button in self.onward_buttons:
            self.heading.removeWidget(button)
            button.deleteLater()
        self.onward_buttons = []
        for onward in detail.onward:
            button = PlaceButton(worded(onward.text), onward.leads_to, self)
            button.setProperty("role", "plain")
            self.theme.dress(button, onward.icon)
            button.place_requested.connect(self.place_requested)
            self.heading.addWidget(button)
            self.onward_buttons.append(button)

    def _lay_out(self, detail: Detail) -> None:
        body = QWidget()  # made in its place, wrapped words would keep the height of a narrower one
        body.setObjectName("scrolled")
        whole = QVBoxLayout(body)
        whole.setContentsMargins(0, 0, CLOSE, 0)
        whole.setSpacing(APART)
        self._views, self._cards, self._cards_before = [], [], self._cards if self.many_cards else []
        across, beside, below = arranged(detail.parts, self._is_wide())
        if detail.flow is None:
            self._add_drawings(detail, body, whole)
        for part in across:
            self._add(part, body, whole)
        if detail.flow is not None:  # what is to be done stands above the drawing of the unit
            self._add_drawings(detail, body, whole)
        self._lay_beside(beside, body, whole)
        for part in below:
            self._add(part, body, whole)
        whole.addStretch(1)
        self._scroll.setWidget(body)
        self._cards_before = []

    def _add_drawings(self, detail: Detail, body: QWidget, whole: QVBoxLayout) -> None:
        if detail.flow is not None:
            # it knows what the workshop calculates with numpy, which the start of the window does without
            from fleetbench.window.units.schematic import SchematicView

            flow = SchematicView(self.theme, detail.flow, body)
            flow.place_requested.connect(self.place_requested)
            whole.addWidget(flow)
        if detail.trend:
            from fleetbench.window.bench.readings import TrendCard  # likewise

            whole.addWidget(TrendCard(self.theme, detail.trend, detail.zone, body))

    def _lay_beside(self, columns: tuple[list[Part], list[Part]], body: QWidget, whole: QVBoxLayout) -> None:
        row = QHBoxLayout()
        row.setSpacing(APART)
        for number, parts in enumerate(column for column in columns if column):
            stack = QVBoxLayout()
            stack.setSpacing(APART)
            for part in parts:
                self._add(part, body, stack)
            stack.addStretch(1)
            row.addLayout(stack, (5, 9)[number] if self._is_wide() else 1)
        whole.addLayout(row)

    def _add(self, part: Part, body: QWidget, stack: QVBoxLayout) -> None:
        view = self._ready.get(id(part)) or self._as_before(part) or self._made(part, body)
        stack.addWidget(view)
        self._views.append(view)
        self._cards.append((part, view))

    def _made(self, part: Part, parent: QWidget) -> PartView:
        view = part_view(self.theme, part, parent)
        view.place_requested.connect(self.begin_at)
        return view

    def _as_before(self, part: Part) -> PartView | None:
        """The card that was shown and said the same; it is moved, not made again."""
        at = next((at for at, (before, _view) in enumerate(self._cards_before) if before == part), None)
        return self._cards_before.pop(at)[1] if at is not None else None

    def _is_wide(self) -> bool:
        return self.width() >= _WIDE_FROM

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.is_loaded = True
        self.banner.say_refused(line)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        was_wide = event.oldSize().width() >= _WIDE_FROM
        if self.detail is not None and was_wide != self._is_wide():
            self._lay_out(self.detail)


def arranged(parts: Sequence[Part], wide: bool) -> tuple[list[Part], tuple[list[Part], list[Part]], list[Part]]:
    """Parts across the page, parts in two columns, and parts across below them.

    On a wide page every part stands in its own column. On a narrow one wide tables go below, and where only one
    column is left its parts are shared between the two.
    """
    across = [part for part in parts if part.column == ACROSS]
    spread: list[Part] = [
        part for part in parts if part.column != ACROSS and not isinstance(part, Section) and part.wide
    ]
    below: list[Part] = [] if wide else spread
    beside = [part for part in parts if part not in across and part not in below]
    left = [part for part in beside if part.column == 0]
    right = [part for part in beside if part.column == 1]
    if not wide and below and not right:
        left, right = shared(left)
    return across, (left, right), below


def shared(parts: Sequence[Part]) -> tuple[list[Part], list[Part]]:
    """The parts in two columns of about the same length, each in the order given."""
    columns: tuple[list[Part], list[Part]] = ([], [])
    lengths = [0, 0]
    for part in parts:
        shorter = lengths.index(min(lengths))
        columns[shorter].append(part)
        lengths[shorter] += 2 + length_of(part)
    return columns


def with_photographs(detail: Detail, workplace: "Workplace", zone: ZoneInfo, **of: Any) -> Detail:
    """The detail with the photographs beside what was recorded of a unit (tag) or a part (part_id), over its last part.

    As it was where there are none. It is loaded with the detail, off the GUI thread.
    """
    from fleetbench.workshop.tickets.photographs import photographs_beside  # read already, with the detail

    pictures = tuple(
        Pictured(
            each.caption, strung(", ", (moment(each.at, zone), said(each.person))), each.sha256,
            QImage.fromData(data) if data is not None else None,
        )
        for each, data in photographs_beside(workplace, **of)
    )  # fmt: skip
    if not pictures:
        return detail
    return replace(detail, parts=(*detail.parts[:-1], Pictures("Photographs", pictures), *detail.parts[-1:]))


def length_of(part: Part) -> int:
    """About how many lines a part takes."""
    match part:
        case Section():
            return len(part.facts)
        case Pictures():
            return 6 * len(part.pictures)
    return len(part.lines)
