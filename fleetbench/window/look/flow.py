"""A row of widgets that goes on in the next line where the width ends, so that no bar of buttons widens the window."""

from collections.abc import Iterator
from itertools import pairwise

from PySide6.QtCore import QMargins, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QScrollArea, QSplitter, QWidget

from fleetbench.window.look.theme import CLOSE


def tab_as_laid_out(layout: QLayout) -> None:
    """Let Tab go through what a layout holds in the order in which it is laid out, which is how it is read."""
    for before, after in pairwise(_stops_in(layout)):
        QWidget.setTabOrder(before, after)


def _stops_in(layout: QLayout) -> Iterator[QWidget]:
    for at in range(layout.count()):
        item = layout.itemAt(at)
        assert item is not None
        inner, widget = item.layout(), item.widget()
        if inner is not None:
            yield from _stops_in(inner)
        elif widget is not None:
            yield from _stops_of(widget)


def _stops_of(widget: QWidget | None) -> Iterator[QWidget]:
    if widget is None:
        return
    if widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
        yield widget
    inside = widget.layout()
    if inside is not None:
        yield from _stops_in(inside)
    elif isinstance(widget, QSplitter):
        for at in range(widget.count()):
            yield from _stops_of(widget.widget(at))
    elif isinstance(widget, QScrollArea):
        yield from _stops_of(widget.widget())


class FlowLayout(QLayout):
    """Lays its widgets from left to right and line by line, each as wide as it asks; its least width is the widest's.

    A widget whose policy expands takes what is left of its line, up to its maximum. `add_break` leaves the rest of the
    line free before what follows it, which stands together at the right end of its line.
    """

    def __init__(self, parent: QWidget | None = None, gap: int = CLOSE) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._right_from: int | None = None
        self._asked: dict[int, tuple[QSize, QSize]] = {}
        self._highs: dict[int, int] = {}
        self.setContentsMargins(QMargins())
        self.setSpacing(gap)

    def add_break(self) -> None:
        """What is added from here on stands at the right end of its line."""
        self._right_from = len(self._items)
        self.invalidate()

    def insert_widget(self, at: int, widget: QWidget) -> None:
        """Put a widget before the one at that place."""
        self.addWidget(widget)
        self._items.insert(at, self._items.pop())
        self.invalidate()

    def _shown(self) -> dict[int, tuple[QSize, QSize]]:
        """What each shown item asks for and its least size, by its number; asked once until one of them has changed.

        Qt asks a layout for its height in a width hundreds of times while a page is opened.
        """
        if not self._asked:
            shown = ((number, item) for number, item in enumerate(self._items) if not item.isEmpty())
            self._asked = {number: (item.sizeHint(), item.minimumSize()) for number, item in shown}
        return self._asked

    def _right_block(self) -> int:
        """Width of what stands at the right end, which is not torn apart."""
        return (
            sum(item.sizeHint().width() + self.spacing() for item in self._items[self._right_from :]) - self.spacing()
        )

    def _lines(self, width: int) -> list[list[tuple[int, QLayoutItem]]]:
        lines: list[list[tuple[int, QLayoutItem]]] = []
        taken, gap = 0, self.spacing()
        for number, (asked, _least) in self._shown().items():
            wide = asked.width()
            needed = self._right_block() if number == self._right_from else wide
            if not lines or (taken and taken + needed > width):
                lines.append([])
                taken = 0
            lines[-1].append((number, self._items[number]))
            taken += wide + gap
        return lines

    def _lay(self, room: QRect, *, place: bool) -> int:
        top, shown = room.top(), self._shown()
        for line in self._lines(room.width()):
            high = max(shown[number][0].height() for number, _item in line)
            if place:
                self._place(line, QRect(room.left(), top, room.width(), high))
            top += high + self.spacing()
        return max(0, top - self.spacing() - room.top())

    def _place(self, line: list[tuple[int, QLayoutItem]], room: QRect) -> None:
        widths = {number: min(item.sizeHint().width(), room.width()) for number, item in line}
        spare = room.width() - sum(widths.values()) - self.spacing() * (len(line) - 1)
        for number, item in line:
            if item.expandingDirections() & Qt.Orientation.Horizontal:
                more = min(spare, item.maximumSize().width() - widths[number])
                widths[number] += more
                spare -= more
        left = room.left()
        for at, (number, item) in enumerate(line):
            first_right = self._right_from is not None and number >= self._right_from
            if first_right and (at == 0 or line[at - 1][0] < (self._right_from or 0)):
                left += spare
            high = min(item.sizeHint().height(), room.height())
            item.setGeometry(QRect(left, room.top() + (room.height() - high) // 2, widths[number], high))
            left += widths[number] + self.spacing()

    # Qt overrides

    def addItem(self, item: QLayoutItem) -> None:
        self._items.append(item)
        self.invalidate()

    def count(self) -> int:
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:
        self.invalidate()
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        if width not in self._highs:
            self._highs[width] = self._lay(QRect(0, 0, width, 0), place=False)
        return self._highs[width]

    def invalidate(self) -> None:
        self._asked, self._highs = {}, {}
        super().invalidate()

    def setGeometry(self, rect: QRect) -> None:
        super().setGeometry(rect)
        self._lay(rect, place=True)

    def sizeHint(self) -> QSize:
        shown = [asked for asked, _least in self._shown().values()]
        wide = sum(each.width() for each in shown) + self.spacing() * max(0, len(shown) - 1)
        return QSize(wide, max((each.height() for each in shown), default=0))

    def minimumSize(self) -> QSize:
        least = QSize()
        for asked, narrowest in self._shown().values():
            least = least.expandedTo(QSize(narrowest.width(), asked.height()))
        return least
