"""The frame around every page: the rail at the left, and the line of what is half done at the bench."""

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QMenu, QPushButton, QVBoxLayout, QWidget

from fleetbench.calc.bench.half_done import TIMED, BegunKind, HalfDone, clock_of, in_turn
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.window.look.buttons import announce, as_button_text, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, SECTION, TIGHT, Theme, font, put_font
from fleetbench.window.look.words import as_plain_tip
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import PageContext, PageSpec, drafts_of
from fleetbench.window.shell.place import HALF_DONE, PageKey

if TYPE_CHECKING:
    from fleetbench.workshop.core.drafts import Drafts


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


SECOND = 1000
_PAGES = {BegunKind.FLUSH: "calibrate", BegunKind.CALIBRATION: "calibrate", BegunKind.WATCH: "bench",
          BegunKind.TEST: "bench", BegunKind.BATH: "turn_rounds", BegunKind.DRYING: "turn_rounds",
          BegunKind.CARD: "turn_rounds"}  # fmt: skip


def places_of(work: HalfDone) -> tuple[PageKey, ...]:
    """Where half-done work goes on; the second place asks the page to take up what was left."""
    place = PageKey(_PAGES[work.kind], work.tag)
    recorded = work.kind in (BegunKind.DRYING, BegunKind.CARD)
    return (place,) if recorded else (place, PageKey(HALF_DONE, work.tag))


class HalfDoneStrip(QWidget):
    """One line of buttons, what calls for a hand first; gone while nothing is half done.

    Signals:
        chosen: the places that lead back to one of them.
    """

    chosen = Signal(object)

    def __init__(self, theme: Theme, background: Background, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._context: PageContext | None = None
        self._drafts: Drafts | None = None
        self._state: object = None
        self._work: tuple[HalfDone, ...] = ()
        self._told: set[tuple[str, BegunKind]] = set()
        self._led_to: PageKey | None = None
        self._buttons: list[QPushButton] = []
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_work)
        self._timer = QTimer(self)
        self._timer.setInterval(SECOND)
        self._timer.timeout.connect(self._on_second)
        background.acted.connect(self.look)
        self._build()

    def _build(self) -> None:
        self._line = QHBoxLayout(self)
        self._line.setContentsMargins(SECTION, 0, SECTION, 0)
        self._line.setSpacing(CLOSE)
        self._label = text_label(say("Half done"), "label", self)
        self._line.addWidget(self._label)
        self.more = quiet_button(self._theme, "", "", self)
        self.more.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.more.setMenu(QMenu(self.more))
        self._line.addWidget(self.more)
        self._line.addStretch(1)
        self.setAccessibleName(worded("Half done at the bench"))
        self.hide()

    def begin(self, context: PageContext) -> None:
        """Show what is half done in these records and on this machine."""
        self._context, self._drafts = context, drafts_of(context.workplace)
        self.look()

    def stop(self) -> None:
        """Show nothing any more."""
        self._loader.call_off()
        self._context, self._drafts = None, None
        self.show_work(())

    @Slot()
    def look(self) -> None:
        """Load again what is half done."""
        if self._context is None or self._drafts is None:
            return
        # It reads the tables' definitions, which takes as long as showing the window: that is shown first.
        from fleetbench.workshop.bench.half_done import half_done

        self._state = self._drafts.state
        self._loader.ask(partial(half_done, self._context.workplace, self._drafts))

    @property
    def shown(self) -> tuple[str, ...]:
        """The words of every button that is shown."""
        return tuple(each.text() for each in self._buttons if not each.isHidden())

    @Slot(object)
    def show_work(self, work: tuple[HalfDone, ...]) -> None:
        """Show these, what calls first."""
        self._work = work
        self._fill()
        self.setVisible(bool(work))

    def next_places(self, here: PageKey) -> tuple[PageKey, ...]:
        """The way to what calls first, or from the one it led to last to the next; none where nothing is half done."""
        ways = list(dict.fromkeys(places_of(each) for each in self._work))
        led = here in (self._led_to, *(places[0] for places in ways[:1] if len(places) == 1))
        at = next((number for number, places in enumerate(ways) if led and places[0] == here), -1)
        found = ways[(at + 1) % len(ways)] if ways else ()
        self._led_to = found[0] if found else None
        return found

    def _fill(self) -> None:
        """Write the words of each; what has no room in the line stands in the menu at its end."""
        if self._context is None or not self._work:
            return
        now = self._context.workplace.clock()
        self._work = in_turn(self._work, now)
        while len(self._buttons) < len(self._work):
            self._buttons.append(self._make_button())
        for button, work in zip(self._buttons, self._work, strict=False):
            words = shown(strung(" ", (work.tag, say(work.kind), clock_of(work, now))))
            self._write(button, work, words, calls=work.calls(now))
        self._make_room()

    def _make_button(self) -> QPushButton:
        button = quiet_button(self._theme, "", "", self)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(self._on_button)
        self._line.insertWidget(1 + len(self._buttons), button)
        return button

    def _write(self, button: QPushButton, work: HalfDone, words: str, *, calls: bool) -> None:
        calls = calls and work.kind in TIMED
        button.setAccessibleName(worded(say("{tag}: {kind}, half done", tag=work.tag, kind=say(work.kind))))
        # It grows with its words and shrinks only with another state, so that a ticking clock moves no neighbour.
        state = "".join(sign for sign in words if not sign.isdigit())
        if button.property("state") != state:
            button.setProperty("state", state)
            button.setMinimumWidth(0)
        if button.text() != as_button_text(words):
            button.setText(as_button_text(words))
            detail = told if (told := shown(work.detail)) not in words else ""
            button.setToolTip(as_plain_tip(strung(". ", (words, detail)) if detail else words))
        if button.font() != font("strong" if calls else "body"):
            put_font(button, "strong" if calls else "body")
        button.setMinimumWidth(max(button.minimumWidth(), button.sizeHint().width()))
        self._tell_once(button, work, words, calls=calls)

    def _tell_once(self, button: QPushButton, work: HalfDone, words: str, *, calls: bool) -> None:
        key = work.tag, work.kind
        if calls and key not in self._told:
            self._told.add(key)
            announce(button, words, urgent=False)
        elif not calls:
            self._told.discard(key)

    def _make_room(self) -> None:
        used = self._buttons[: len(self._work)]
        margins = self._line.contentsMargins()
        room = self.width() - margins.left() - margins.right() - self._label.sizeHint().width()
        widths = [each.minimumWidth() + CLOSE for each in used]
        fits = len(used)
        if sum(widths) > room:
            self.more.setText(worded(say("{count} more", count=len(used))))
            room -= self.more.sizeHint().width() + CLOSE
            while fits and sum(widths[:fits]) > room:
                fits -= 1
        for number, each in enumerate(self._buttons):
            each.setVisible(number < fits)
        self._list_more(fits)

    def _list_more(self, fits: int) -> None:
        rest = self._buttons[fits : len(self._work)]
        self.more.setVisible(bool(rest))
        self.more.setText(worded(say("{count} more", count=len(rest))))
        self.more.setAccessibleName(worded(say("{count} more, half done", count=len(rest))))
        menu = self.more.menu()
        if menu.isVisible():
            return
        menu.clear()
        for button in rest:
            menu.addAction(button.text(), button.click)

    @Slot()
    def _on_button(self) -> None:
        number = next((at for at, each in enumerate(self._buttons) if each is self.sender()), len(self._work))
        if number < len(self._work):
            self.chosen.emit(places_of(self._work[number]))

    @Slot()
    def _on_second(self) -> None:
        if self._drafts is not None and self._drafts.state != self._state:
            self.look()
        self._fill()

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        return QSize(1, super().minimumSizeHint().height())

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._timer.start()

    def hideEvent(self, event: QHideEvent) -> None:
        self._timer.stop()
        super().hideEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._work:
            self._make_room()
