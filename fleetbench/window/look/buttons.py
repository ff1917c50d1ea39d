"""Standard buttons and labels, made in one place.

What stands where a list would be: what is missing and what to do next.
One clear line inside a page: what was refused and what to do, or a plain note.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QStandardItem,
    QStandardItemModel,
)
from PySide6.QtWidgets import (
    QComboBox,
    QCompleter,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import folded_name, say, shown, strung, worded
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, TIGHT, Theme, put_font, scaled, text_width
from fleetbench.window.look.words import as_plain_tip
from fleetbench.window.shell.place import PageKey


class ElidedButton(QPushButton):
    """A button whose words give way where there is little room; the tool tip then tells the whole."""

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def _lacking(self) -> int:
        return self.sizeHint().width() - self.width()

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        asked = super().minimumSizeHint()
        return QSize(min(asked.width(), scaled(30 * GRID)), asked.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        words = self.text().replace("&&", "&")
        if self._lacking() > 0 and not self.toolTip():
            self.setToolTip(as_plain_tip(words))
        elif self._lacking() <= 0 and self.toolTip() == as_plain_tip(words):
            self.setToolTip("")

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._lacking() <= 0:
            super().paintEvent(event)
            return
        option, metrics = QStyleOptionButton(), self.fontMetrics()
        self.initStyleOption(option)
        room = metrics.horizontalAdvance(self.text()) - self._lacking()
        option.text = metrics.elidedText(self.text(), Qt.TextElideMode.ElideRight, room)
        painter = QStylePainter(self)
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        painter.end()


class PlaceButton(ElidedButton):
    """A recorded name that can be pressed to go to its page.

    Signals:
        place_requested: the Place it leads to.
    """

    place_requested = Signal(object)

    def __init__(self, text: str, place: PageKey, parent: QWidget | None = None) -> None:
        super().__init__(as_button_text(shown(text)), parent)
        self.place = place
        self.setProperty("role", "goto")
        self.setAutoDefault(False)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.clicked.connect(self._on_clicked)

    @Slot()
    def _on_clicked(self) -> None:
        self.place_requested.emit(self.place)


def lead_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """The one button of a page that does its main act."""
    return _button(theme, text, icon, "lead", parent)


def plain_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """A button for any other act."""
    return _button(theme, text, icon, "plain", parent)


def quiet_button(theme: Theme, text: str, icon: str = "", parent: QWidget | None = None) -> QPushButton:
    """A button without a frame, for what is always at hand and seldom pressed."""
    return _button(theme, text, icon, "quiet", parent)


def listed_button(text: str, parent: QWidget | None = None) -> QPushButton:
    """One of a column of choices, as narrow as the column."""
    button = ElidedButton(as_button_text(worded(text)), parent)
    button.setProperty("role", "listed")
    put_font(button, "strong")
    button.setAutoDefault(False)
    button.setCheckable(True)
    button.setMinimumHeight(8 * GRID)
    return button


def choice_button(theme: Theme, text: str, parent: QWidget | None = None) -> QPushButton:
    """One of several choices of which one holds."""
    button = _button(theme, text, "", "choice", parent)
    button.setCheckable(True)
    return button


def for_bench(button: QPushButton) -> QPushButton:
    """The same button, large enough for wet hands."""
    button.setProperty("bench", True)
    put_font(button, "heading")
    return button


class ElidedLabel(QLabel):
    """One line of plain text that gives way where there is little room; the tool tip tells the whole."""

    def __init__(self, role: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        put_font(self, role)
        self.setMinimumWidth(1)

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        return QSize(1, super().minimumSizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter.setPen(self.palette().windowText().color())
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()


def text_label(text: str, role: str = "body", parent: QWidget | None = None) -> QLabel:
    """A label that shows its text as it is, never as markup, in a role of the type scale."""
    label = QLabel(parent)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setText(shown(text))
    put_font(label, role)
    label.setProperty("role", role)
    return label


WIDEST_LIST = 230 * GRID
"""Width of an open list of choices at most, in px."""


class ChoiceBox(QComboBox):
    """A choice whose long lines are shortened where there is little room, and whole in its tool tip and open list."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.currentTextChanged.connect(self.tell_whole)

    @Slot()
    def tell_whole(self) -> None:
        """Let the tool tip tell what is chosen; to be called where it was filled with its signals blocked."""
        self.setToolTip(as_plain_tip(self.currentText()))

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        asked = super().minimumSizeHint()
        return QSize(min(asked.width(), scaled(36 * GRID)), asked.height())

    def showPopup(self) -> None:
        self.view().setMinimumWidth(min(WIDEST_LIST, self.view().sizeHintForColumn(0) + 8 * GRID))
        super().showPopup()


LOOKS_FOR = "looks_for"
"""The property of a field whose words narrow a list and are recorded nowhere."""


def search_field(name: str, placeholder: str, parent: QWidget | None = None) -> QLineEdit:
    """A field for words to look for, with a button that empties it; name: what a screen reader says of it."""
    field = QLineEdit(parent)
    field.setAccessibleName(worded(name))
    put_hint(field, worded(placeholder))
    field.setClearButtonEnabled(True)
    field.setProperty(LOOKS_FOR, True)
    for button in field.findChildren(QToolButton):
        button.setAccessibleName(worded("Empty the field"))
    return field


def put_hint(field: QLineEdit, hint: str, *, whole: bool = False) -> None:
    """Say in an empty field what belongs in it; the tool tip tells it too, also once something is typed.

    whole: the field is never narrower than its hint.
    """
    if whole:
        field.setMinimumWidth(text_width(hint) + 2 * BLOCK)
    field.setPlaceholderText(hint)
    field.setToolTip(as_plain_tip(hint))


class NameCompleter(QCompleter):
    """Offers those of a few names in which what was typed occurs, whatever its case and accents."""

    FOLDED = Qt.ItemDataRole.UserRole

    def __init__(self, names: Sequence[str], parent: QObject) -> None:
        super().__init__(parent)
        model = QStandardItemModel(self)
        for name in names:
            item = QStandardItem(name)
            item.setData(folded_name(name), self.FOLDED)
            model.appendRow(item)
        self.setModel(model)
        self.setCompletionRole(self.FOLDED)
        self.setFilterMode(Qt.MatchFlag.MatchContains)

    def splitPath(self, path: str) -> list[str]:
        return [folded_name(path)]

    def pathFromIndex(self, index: QModelIndex | QPersistentModelIndex) -> str:
        return str(index.data())


def typed_choice(name: str, parent: QWidget | None = None) -> ChoiceBox:
    """A choice that can be typed too and keeps no other words than it was given; name: what a screen reader says."""
    box = ChoiceBox(parent)
    box.setEditable(True)
    box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
    box.setAccessibleName(worded(name))
    line = box.lineEdit()
    assert line is not None
    line.setAccessibleName(worded(name))
    return box


def still_plot(parent: QWidget) -> Any:
    """A plot that is looked at only, out of the way of the keyboard: what it shows stands in words beside it."""
    # pyqtgraph is slow to import: it is loaded with the first plot that is shown
    import pyqtgraph

    pyqtgraph.setConfigOptions(antialias=True)
    plot = pyqtgraph.PlotWidget(parent)
    plot.setMenuEnabled(False)
    plot.setMouseEnabled(False, False)
    plot.hideButtons()
    for each in (plot, plot.viewport()):
        each.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return plot


def name_ends(plot: Any, ink: Any, ends: Iterable[tuple[float, float, str]], spread: float) -> None:
    """Write names beside the last points of lines, apart where they would lie on one another.

    ends: height, place along the plot, and name. spread: what the plot shows from bottom to top, about.
    """
    import pyqtgraph  # it is there already, with the plot

    lowest = -1e9
    for height, along, name in sorted(ends):
        lowest = max(height, lowest + 0.075 * spread)
        label = pyqtgraph.TextItem(f"  {shown(name)}", color=ink, anchor=(0, 0.5))
        put_font(label, "small")
        label.setPos(along, lowest)
        plot.addItem(label)


def rule(parent: QWidget | None = None) -> QFrame:
    """A thin line between two parts of a page."""
    line = QFrame(parent)
    line.setProperty("role", "rule")
    return line


def as_button_text(text: str) -> str:
    """The text as a button shows it unchanged: a single & would become a mnemonic."""
    return text.replace("&", "&&")


def _button(theme: Theme, text: str, icon: str, role: str, parent: QWidget | None) -> QPushButton:
    button = QPushButton(as_button_text(worded(text)), parent)
    button.setProperty("role", role)
    put_font(button, "strong")
    button.setAutoDefault(False)
    if icon:
        theme.dress(button, icon, "on_accent" if role == "lead" else "ink")
    return button


@dataclass(frozen=True, slots=True)
class Emptiness:
    """Why a page is empty: a headline, what to do next, and the id of the action that does it, if there is one."""

    headline: str
    next_step: str
    icon: str = "note"
    action: str = ""
    action_text: str = ""


def nothing_recorded(
    headline: str, icon: str, what: str = "", action: str = "begin", words: str = "Begin"
) -> Emptiness:
    """What a list says while nothing of its kind is recorded: what belongs there, and the button that begins it.

    action: the id of an action of the window, or the name of an act of the list.
    """
    if action == "begin":
        begin = say("Add a unit, import a spreadsheet, or look at the sample first.")
        what = strung(" ", (say(what), begin)) if what else begin
    return Emptiness(headline, next_step=what, icon=icon, action=action, action_text=words)


class EmptyState(QWidget):
    """Says why there is nothing and offers the next step.

    Signals:
        action_requested: the id of the action to run.
    """

    action_requested = Signal(str)

    def __init__(self, theme: Theme, emptiness: Emptiness, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._emptiness = emptiness
        self._picture = QLabel(self)
        self._headline = _centred(worded(emptiness.headline), "heading", self)
        self._next = _centred(worded(emptiness.next_step), "body", self)
        self.button = lead_button(theme, emptiness.action_text, "", self)
        self.offer(bool(emptiness.action))
        self._lay_out()
        self.button.clicked.connect(self._on_pressed)
        theme.changed.connect(self._tint)
        self._tint()

    def _lay_out(self) -> None:
        layout = QVBoxLayout(self)
        layout.setSpacing(APART)
        layout.addStretch(2)
        layout.addWidget(self._picture, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addWidget(self._headline)
        layout.addWidget(self._next)
        layout.addSpacing(BLOCK)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(3)

    @property
    def words(self) -> tuple[str, str]:
        """Headline and next step as shown."""
        return self._headline.text(), self._next.text()

    def say(self, headline: str, next_step: str) -> None:
        """Say something else; the action is no longer offered."""
        self._headline.setText(shown(headline))
        self._next.setText(shown(next_step))
        self._next.setMinimumHeight(self._next.heightForWidth(self._next.width() or self._next.maximumWidth()))
        self.offer(False)

    def also(self, button: QWidget) -> None:
        """Put another button under the one that it has."""
        layout = self.layout()
        assert isinstance(layout, QVBoxLayout)
        layout.insertWidget(layout.count() - 1, button, 0, Qt.AlignmentFlag.AlignHCenter)

    def offer(self, offered: bool) -> None:
        """Show or hide the button."""
        self.button.setVisible(offered)

    @Slot()
    def _tint(self) -> None:
        self._picture.setPixmap(self._theme.icon(self._emptiness.icon, "muted").pixmap(QSize(32, 32)))

    @Slot()
    def _on_pressed(self) -> None:
        self.action_requested.emit(self._emptiness.action)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Give each text the height that it needs in the width it has: a label that is centred asks for one line."""
        super().resizeEvent(event)
        for label in (self._headline, self._next):
            width = max(label.minimumWidth(), self.contentsRect().width())
            label.setMinimumHeight(max(0, label.heightForWidth(width)))


def _centred(text: str, role: str, parent: QWidget) -> QLabel:
    label = text_label(text, role, parent)
    label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
    label.setWordWrap(True)
    label.setMinimumWidth(scaled(60 * GRID))
    return label


def announce(widget: QWidget, line: str, *, urgent: bool) -> None:
    """Let a screen reader say a line now; urgent: at once, whatever it is saying (WCAG 2.2, 4.1.3)."""
    if QAccessible.isActive() and line:
        event = QAccessibleAnnouncementEvent(widget, line)
        told = QAccessible.AnnouncementPoliteness
        event.setPoliteness(told.Assertive if urgent else told.Polite)
        QAccessible.updateAccessibility(event)


class Banner(QFrame):
    """Hidden until it has something to say; stays until it is closed or what it says no longer holds."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(worded("Message"))
        self._text = text_label("", "body", self)
        self._text.setWordWrap(True)
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._close = quiet_button(theme, "Close", "close", self)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(BLOCK, TIGHT, CLOSE, TIGHT)
        layout.addWidget(self._text, 1)
        layout.addWidget(self._close)
        self._close.clicked.connect(self.clear)
        self.hide()

    @property
    def text(self) -> str:
        """What is said now; empty when the banner is hidden."""
        return "" if self.isHidden() else self._text.text()

    @Slot(str)
    def say_refused(self, line: str) -> None:
        """Say what was refused and the remedy; an empty line takes it back."""
        if line:
            self._say("refused", line)
        else:
            self.take_back_refusal()

    @Slot(str)
    def say_note(self, line: str) -> None:
        """Say something that needs no act."""
        self._say("note", line)

    def say_recorded(self, line: str, *, rejected: bool) -> None:
        """Say what was recorded; a reject among it looks like one, and stays when a refusal is taken back."""
        self._say("rejected" if rejected else "note", line)

    @Slot()
    def clear(self) -> None:
        """Say nothing more."""
        self.hide()

    @Slot()
    def take_back_refusal(self) -> None:
        """Stop saying what was refused, because it works now; a note stays."""
        if self.property("role") == "refused":
            self.clear()

    def _say(self, role: str, line: str) -> None:
        self.setProperty("role", role)
        self.style().unpolish(self)
        self.style().polish(self)
        line = shown(line)
        self._text.setText(line)
        self.setAccessibleDescription(line)
        self.show()
        announce(self, line, urgent=role != "note")

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.clear()
            return
        super().keyPressEvent(event)
