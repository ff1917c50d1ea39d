"""The whole window over a database, with hands that count what they type, choose and press."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLineEdit, QPlainTextEdit

from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import as_opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.workplace import Workplace

LEFT = Qt.MouseButton.LeftButton


class Centre:
    """The whole window over a database, with hands that count what they type."""

    def __init__(self, qtbot: Any, desk: Desk, workplace: Workplace) -> None:
        self.qtbot, self.desk, self.window, self.workplace = qtbot, desk, desk.window, workplace
        self.typed = self.chosen = self.pressed = 0

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: self.window.page.is_loaded and not self.desk.background.is_busy, timeout=20_000)

    def go(self, page: str, key: str | None = None) -> Any:
        self.window.go(PageKey(page, key))
        self.settle()
        return self.window.page

    def press(self, button: Any) -> None:
        self.pressed += 1
        QTest.mouseClick(button, LEFT)
        self.settle()

    def fill(self, dialog: Any, **fields: str | bool) -> None:
        for name, value in fields.items():
            widget = dialog[name]
            if isinstance(widget, QComboBox):
                self.chosen += 1
                texts = [widget.itemText(at) for at in range(widget.count())]
                widget.setCurrentIndex(next(at for at, text in enumerate(texts) if text.startswith(str(value))))
            elif isinstance(widget, QLineEdit | QPlainTextEdit):
                self.type(widget, str(value))
            else:
                self.chosen += 1
                widget.setChecked(bool(value))

    def type(self, widget: Any, text: str) -> None:
        self.typed += 1
        widget.setFocus()
        widget.selectAll()
        for at, line in enumerate(text.split("\n")):
            if at:
                QTest.keyClick(widget, Qt.Key.Key_Return)
            QTest.keyClicks(widget, line)

    def start(self, page: Any, act: str) -> None:
        """Press the button of an act, or choose it from the menu of rare ones."""
        bar = page.bar
        self.pressed += 1
        if act in bar.buttons:
            QTest.mouseClick(bar.buttons[act], LEFT)
        else:
            bar.choices[act].trigger()
        self.qtbot.waitUntil(lambda: bar.dialog is not None and bar.dialog.isVisible())
        self.settle()

    def save(self, dialog: Any) -> None:
        self.pressed += 1
        with self.qtbot.waitSignal(dialog.accepted, timeout=20_000):
            QTest.mouseClick(dialog.act_button, LEFT)
        self.settle()

    def choose(self, page: Any, text: str) -> None:
        names = [(getattr(row, "label", ""), getattr(row, "tag", "")) for row in page.model.rows]
        place = next(at for at, each in enumerate(names) if text in each)
        page.table.setCurrentIndex(page.model.index(place, 0))
        self.settle()


MakeCentre = Callable[[Workplace], Centre]


def centres_made(qtbot: Any) -> Iterator[MakeCentre]:
    """Makes windows, and closes them."""
    made: list[Desk] = []

    def make(workplace: Workplace) -> Centre:
        desk = Desk(partial(as_opened, workplace), "light")
        made.append(desk)
        desk.window.show()
        qtbot.waitUntil(lambda: desk.window.here.page != "start")
        centre = Centre(qtbot, desk, workplace)
        centre.settle()
        return centre

    yield make
    for desk in made:
        desk.close()
        desk.window.deleteLater()
        desk.deleteLater()
    qtbot.wait(1)
