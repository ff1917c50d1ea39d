"""A step of the calibration page: a card with its number and name, and room for what is done in it.

A question with two or three answers, each on one key.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtCore import QMetaMethod, QRectF, Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.measures import Measure, in_unit
from fleetbench.calc.core.plausible import Likely, Quantity, written_figure
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.figure import (
    ENTER,
    KEEP_WORDS,
    NOT_KNOWN_KEY,
    NOT_KNOWN_TEXT,
    FigureRule,
    paint_kept,
    show_state,
)
from fleetbench.window.forms.metered import READ_AGAIN, ExpectingField, FieldMeter, MeteredField
from fleetbench.window.look.buttons import choice_button, text_label
from fleetbench.window.look.flow import FlowLayout
from fleetbench.window.look.theme import APART, CLOSE, TIGHT, Theme, put_font, scaled, text_width


class StepCard(QFrame):
    """One step; its title row has room for a note and for quiet buttons at its right."""

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.setProperty("role", "card")
        self.note: QLabel = text_label("", "small", self)
        self.note.setWordWrap(True)
        self.tools = FlowLayout()
        head = QHBoxLayout()
        head.setSpacing(APART)
        head.addWidget(text_label(worded(title), "heading", self))
        head.addWidget(self.note, 1)
        head.addLayout(self.tools)
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(APART, CLOSE, APART, APART)
        self.body.setSpacing(CLOSE)
        self.body.addLayout(head)


class DecimalField(MeteredField):
    """A field for a plain decimal figure, or nothing, or 'not known' on its key; its name stands in every refusal.

    With a quantity, Enter and the act that takes the figure refuse what cannot be, and ask once about what is unusual:
    the figure is kept only when it is typed again, and no other takes its place before Backspace cleared it. With a
    rule, digits are taken without their point, as the mask in the empty field says.

    Signals:
        asked: a line about a figure that is unusual or cannot be; empty once that is settled.
    """

    asked = Signal(str)

    def __init__(
        self,
        name: str,
        parent: QWidget | None = None,
        *,
        quantity: Quantity | None = None,
        rule: FigureRule | None = None,
    ) -> None:
        super().__init__(quantity, parent)
        self.name, self.rule = name, rule
        self.measure = quantity.measure if quantity is not None else None
        self._given: tuple[str, float] | None = None
        self._doubted: float | None = None
        self._again = False
        self._kept: float | None = None
        self.setAccessibleName(worded(name))
        self.setMaximumWidth(text_width("0000.00 not", "body") + 24)
        if rule is not None:
            self.setPlaceholderText(rule.mask_of(""))
        self.textEdited.connect(self._on_edited)
        self.meter = FieldMeter(self, quantity)

    @property
    def is_kept(self) -> bool:
        """True where the figure is unusual and was typed again."""
        return self._kept is not None

    def _on_edited(self, text: str) -> None:
        self._kept = None
        if self.metered is not None:
            self._given = None  # what is typed over a meter's figure is typed, even where it reads the same
        if self._doubted is None:
            show_state(self, "plain", "")
        else:
            self._again = True
        if text.endswith(NOT_KNOWN_KEY):
            self.say_not_known()
        elif NOT_KNOWN_TEXT in text and text != NOT_KNOWN_TEXT:
            self.setText(text.replace(NOT_KNOWN_TEXT, ""))

    def say_not_known(self) -> None:
        """Say that there is no figure."""
        self.setText(NOT_KNOWN_TEXT)
        self.selectAll()

    def show_value(self, value: float | None, decimals: int | None = 1) -> None:
        """Show a stored figure, or nothing; without decimals as it was typed."""
        text = "" if value is None else self._text_of(value, decimals)
        self.setText(text)
        in_other = self.measure is not None and not self.measure.is_stored
        is_kept = value is not None and (in_other or isinstance(value, Metered))
        self._given = (text, value) if value is not None and is_kept else None

    def give(self, value: float) -> None:
        self.show_value(value, None)

    @property
    def metered(self) -> Metered | None:
        given = self._given
        is_its = given is not None and self.text().strip() == given[0] and isinstance(given[1], Metered)
        return given[1] if given is not None and is_its else None  # type: ignore[return-value]

    def take_reading(self, value: Metered) -> bool:
        found = self.judged(value)
        if found.likely is Likely.REFUSE:
            raise Refused(strung(": ", (self.name, found.words)))
        again = isinstance(self._doubted, Metered)
        self.setText(self._text_of(value))
        self._given = self.text(), value
        self.setModified(True)
        if found.likely is Likely.ASK and not again:
            self._doubted, self._again = value, False
            show_state(self, "asking", "")
            self.meter.say(strung("", (self.name, ": ", found.words, ". ", READ_AGAIN)))
            return False
        if found.likely is Likely.ASK:
            self._kept = value
            show_state(self, "kept", f"{self.text()} {self.quantity.unit if self.quantity is not None else ''}")
        self.editingFinished.emit()
        return True

    def _text_of(self, value: float, decimals: int | None = None) -> str:
        if decimals is None and isinstance(value, Metered):
            decimals = value.places
        return self.measure.number(value, decimals) if self.measure is not None else in_unit(value, "", decimals)

    def value(self) -> float | None:
        """The figure as it is stored; None where it is empty or not known. Refused where it is none.

        A figure that was shown in another unit and left as it was is the stored one to its last digit.
        """
        if self._given is not None and self.text().strip() == self._given[0]:
            return self._given[1]
        typed = self._typed()
        return typed if typed is None or self.measure is None else self.measure.typed(typed)

    def _typed(self) -> float | None:
        text = self.text().strip()
        if not text or text == NOT_KNOWN_TEXT:
            return None
        try:
            if self.rule is None or not text.isdigit():
                return written_figure(text)
        except ValueError:
            raise Refused(
                say("{name}: {text!r} is not a figure; enter a figure such as 1008.4", name=self.name, text=text)
            ) from None
        whole = self.rule.value_of(text) if len(text) == self.rule.digits_needed(text) else None
        if whole is None:
            raise Refused(say("{name}: {text} is not whole; type it as {what}, with its point or all digits without",
                name=self.name, text=text, what=self.rule.mask_of('')))  # fmt: skip
        return whole

    def settle(self) -> float | None:
        """The figure as it may be taken; Refused where it cannot be, and where it is unusual and not kept."""
        value = self.value()
        if value is None or self.quantity is None or value == self._kept:
            self._rest()
            return value
        if self._doubted is not None:
            self._take_again(value, self._doubted)
            return value
        found = self.judged(value)
        if found.likely is Likely.REFUSE:
            raise Refused(strung(": ", (self.name, found.words)))
        if found.likely is Likely.ASK:
            self._doubted, self._again = value, False
            show_state(self, "asking", "")
            raise Refused(strung("", (self.name, ": ", found.words, ". ", KEEP_WORDS)))
        self._rest()
        return value

    def _take_again(self, value: float, doubted: float) -> None:
        if value == doubted and self._again:
            self._doubted, self._kept = None, value
            show_state(self, "kept", self.quantity.told(value) if self.quantity is not None else f"{value:g}")
            return
        self._show_doubted()
        if value == doubted:
            raise Refused(
                say(
                    "{name}: {doubted} is unusual. {keep_words}",
                    name=self.name,
                    doubted=self._text_of(doubted),
                    keep_words=KEEP_WORDS,
                )
            )
        asked = say(
            "{text_of} was not taken, {doubted} is asked about",
            text_of=self._text_of(value),
            doubted=self._text_of(doubted),
        )
        raise Refused(strung("", (self.name, ": ", asked, ". ", KEEP_WORDS)))

    def _rest(self) -> None:
        self._doubted = None
        if self._kept is None:
            show_state(self, "plain", "")

    def _show_doubted(self) -> None:
        self._again = False
        super().setText("" if self._doubted is None else self._text_of(self._doubted))

    def stays(self) -> bool:
        """Whether the keyboard stays here on Enter, which is then said: there is something to settle first.

        Where nobody listens the Enter goes on, so that what takes the figure refuses it: nothing is swallowed unsaid.
        """
        if not self.isSignalConnected(QMetaMethod.fromSignal(self.asked)):
            return False
        was_doubted = self._doubted is not None
        try:
            self.settle()
        except Refused as refusal:
            self.asked.emit(str(refusal))
            return True
        if was_doubted:
            self.asked.emit("")
        return False

    @property
    def is_said(self) -> bool:
        """True once a figure or 'not known' stands in it."""
        return bool(self.text().strip())

    # Qt overrides

    def setText(self, text: str | None) -> None:
        """Show this text, which nobody has asked about yet."""
        if self._doubted is not None or self._kept is not None:
            self._doubted, self._kept = None, None
            show_state(self, "plain", "")
        super().setText(text)

    def clear(self) -> None:
        """Show nothing, which nobody has asked about."""
        self.setText("")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in ENTER and not event.modifiers() & Qt.KeyboardModifier.ControlModifier and self.stays():
            event.accept()
            return
        if self._doubted is not None and not self._again:
            if event.key() in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
                self.setText("")
                self.asked.emit("")
                return
            if event.text().isprintable() and event.text():
                super().setText("")
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        if self._doubted is not None:
            self._show_doubted()
        super().focusOutEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.is_kept:
            paint_kept(self, Qt.AlignmentFlag.AlignRight)


def settle_all(within: QWidget) -> None:
    """Let every figure on view within a widget be settled; Refused, with the keyboard there, where one is not."""
    for field in within.findChildren(DecimalField):
        if field.isVisibleTo(within) and field.isEnabled():
            try:
                field.settle()
            except Refused:
                field.setFocus()
                raise


_LONGEST_TITLE = 200
"""Width of a title over its field, in px, from which it goes on in the next line."""


def with_unit(field: QLineEdit, label: str, unit: str | Measure, parent: QWidget) -> QVBoxLayout:
    """A field under its label with its unit beside it, and over its last figure and plausible band.

    With a measure it is typed and shown in the unit in use.
    """
    if isinstance(field, DecimalField) and isinstance(unit, Measure):
        field.measure = unit
    line = QHBoxLayout()
    line.setSpacing(CLOSE)
    line.addWidget(field)
    line.addWidget(text_label(worded(str(unit)), "small", parent))
    line.addStretch(1)
    column = QVBoxLayout()
    column.setSpacing(2)
    title = text_label(worded(label), "label", parent)
    title.setWordWrap(title.sizeHint().width() > scaled(_LONGEST_TITLE))
    column.addWidget(title, 1, Qt.AlignmentFlag.AlignBottom)
    column.addLayout(line)
    if isinstance(field, ExpectingField) and field.quantity is not None:
        column.addWidget(field.line_beside(parent))
    return column


def labelled(field: QWidget, label: str, parent: QWidget) -> QVBoxLayout:
    """A field as wide as there is room, under its label."""
    column = QVBoxLayout()
    column.setSpacing(2)
    column.addWidget(text_label(worded(label), "label", parent))
    column.addWidget(field)
    return column


@dataclass(frozen=True, slots=True)
class AnswerKey:
    """One answer: the key that gives it, its word, and the value it stands for."""

    key: str
    word: str
    value: str


class QuestionField(QWidget):
    """A question; its answer stays open until a key or a press gives one. bench: large enough for wet hands.

    Signals:
        answered: the value of the answer given.
    """

    answered = Signal(str)

    def __init__(
        self,
        theme: Theme,
        text: str,
        answers: tuple[AnswerKey, ...],
        parent: QWidget | None = None,
        *,
        bench: bool = True,
    ) -> None:
        super().__init__(parent)
        self.answers = answers
        self._given: str | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(worded(text))
        self._group = QButtonGroup(self)
        self._group.setExclusive(False)
        line = FlowLayout()  # long words in another language take a second line
        self.buttons: dict[str, QPushButton] = {}
        for number, answer in enumerate(answers):
            button = choice_button(theme, f"{worded(answer.word)}   {answer.key}", self)
            button.setProperty("bench", bench)
            put_font(button, "strong")
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            self._group.addButton(button, number)
            self.buttons[answer.value] = button
            line.addWidget(button)
        self._text = text_label(worded(text), "strong", self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(CLOSE, CLOSE, CLOSE, CLOSE)
        layout.setSpacing(TIGHT)
        layout.addWidget(self._text)
        layout.addLayout(line)
        self._theme = theme
        self._group.idClicked.connect(self._on_clicked)

    @property
    def given(self) -> str | None:
        """The value of the answer given; None while the question is open."""
        return self._given

    def show_given(self, value: str | None) -> None:
        """Show this answer, without a word to anybody."""
        self._given = value
        for each, button in self.buttons.items():
            button.setChecked(each == value)

    @Slot(int)
    def _on_clicked(self, number: int) -> None:
        self._give(self.answers[number].value)

    def _give(self, value: str) -> None:
        self.show_given(value)
        self.answered.emit(value)

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.hasFocus():
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(self._theme.colour("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 4, 4)
            painter.end()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        for answer in self.answers:
            if event.text() == answer.key:
                self._give(answer.value)
                return
        super().keyPressEvent(event)


class Ticks(QWidget):
    """Things to be ticked, by mouse, by space, or each by its number; Enter moves on.

    Signals:
        finished: Enter was pressed; whoever holds it moves on.
    """

    finished = Signal()

    def __init__(self, theme: Theme, label: str, choices: Sequence[tuple[Any, ...]], parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(TIGHT)
        self._column.addWidget(text_label(worded(label), "label", self))
        self.boxes: dict[Any, QPushButton] = {}
        self._words: dict[Any, str] = {}
        self.offer(choices)

    def offer(self, choices: Sequence[tuple[Any, ...]]) -> None:
        """Offer these words and keys instead; a third of each says that it is ticked at first."""
        for box in self.boxes.values():
            box.hide()
            box.deleteLater()
        self.boxes.clear()
        for number, (said, key, *ticked) in enumerate(choices, 1):
            box, words = choice_button(self._theme, "", self), shown(said)
            box.setAccessibleName(words)
            self.boxes[key], self._words[key] = box, f"{number}   {words}" if number < 10 else words
            box.toggled.connect(partial(self._say, key))
            box.setChecked(any(ticked))
            self._say(key, any(ticked))
            self._column.addWidget(box, 0, Qt.AlignmentFlag.AlignLeft)
        if len(choices) == 1 and len(choices[0]) == 2:
            next(iter(self.boxes.values())).setChecked(True)
        if self.boxes:
            self.setFocusProxy(next(iter(self.boxes.values())))

    def _say(self, key: Any, ticked: bool) -> None:
        # A word beside the colour, since colour alone is seen by not everybody.
        self.boxes[key].setText(f"{self._words[key]}   {worded('chosen')}" if ticked else self._words[key])

    def press(self, digit: str) -> None:
        """Tick what stands at this number, or all."""
        boxes = list(self.boxes.values())
        if digit == "0":
            for box in boxes:
                box.setChecked(True)
        elif int(digit) <= len(boxes):
            boxes[int(digit) - 1].toggle()

    def chosen(self) -> tuple[Any, ...]:
        """The keys of what is ticked; Refused where nothing is."""
        keys = tuple(key for key, box in self.boxes.items() if box.isChecked())
        if not keys:
            raise Refused(
                say("{accessiblename}: none is ticked; press the number of each", accessiblename=self.accessibleName())
            )
        return keys

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.text().isascii() and event.text().isdigit():
            self.press(event.text())
            return
        if event.key() in ENTER:
            self.finished.emit()
            return
        super().keyPressEvent(event)
