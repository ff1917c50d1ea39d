"""A field for one figure that is typed without its point under a mask, and asks once about what is unusual.

One rule for every grid of such fields. The last digit completes a figure and leads on to the next field where that one
is empty; the Enter of a hand that presses it after every figure then does nothing more. Where the next field is not
empty, or there is none, the keyboard stays until Enter leads on. Enter never leaves an empty field. A complete figure
takes no further digit before the field was left or cleared, and one that is asked about or refused gives way to no
other: so no figure lands in another's place unseen.
"""

from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from fleetbench.calc.bench.meter import Metered
from fleetbench.calc.cells.readings import CellLimits
from fleetbench.calc.core.languages import say, shown, strung, worded
from fleetbench.calc.core.plausible import (
    AIR_MV,
    OXYGEN_MV,
    POT_MV,
    PURE_OXYGEN,
    SHOWN_PO2,
    ZERO_MV,
    Likely,
    Quantity,
)
from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.metered import READ_AGAIN, FieldMeter, MeteredField
from fleetbench.window.look.theme import font, text_width

NOT_KNOWN_KEY = "/"
NOT_KNOWN_TEXT = say("not known")
TENS = "0123456789"
AIR_TO_OXYGEN = 4.78
"""How much more a cell shows in pure oxygen than in dry air: 1 / 0.20939 (CIPM-2007)."""

KEEP_WORDS = say("Type it again to keep it, or Backspace to clear it.")
CLEAR_WORDS = say("Backspace clears it.")
KEPT_WORD = "kept"
KEPT_INSET = 6

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
ARROWS = {
    Qt.Key.Key_Up: (-1, 0),
    Qt.Key.Key_Down: (1, 0),
    Qt.Key.Key_Left: (0, -1),
    Qt.Key.Key_Right: (0, 1),
}


@dataclass(frozen=True, slots=True)
class FigureRule:
    """How digits become a figure: places after the point, which first digits have a second one before it, its range.

    two_whole: the first digits after which a second digit before the point follows. low and high: outside them it is
    asked once whether the figure is right; outside the quantity's own range it is refused. signed: a leading minus may
    be typed.
    """

    decimals: int
    two_whole: str
    low: float
    high: float
    quantity: Quantity
    signed: bool = False

    @property
    def unit(self) -> str:
        """The unit of the figure."""
        return str(self.quantity.unit)

    def digits_needed(self, typed: str) -> int:
        """How many digits make a whole figure, from the first one typed; 0 before any."""
        digits = typed.lstrip("-")
        if not digits:
            return 0
        return (2 if digits[0] in self.two_whole else 1) + self.decimals

    def value_of(self, typed: str) -> float | None:
        """The figure that was typed, with a point or without; None while it is not whole."""
        sign = -1.0 if typed.startswith("-") else 1.0
        digits = typed.lstrip("-")
        if "." in digits:
            whole, _, part = digits.partition(".")
            is_whole = bool(whole or part) and bool(part or not self.decimals)
            return sign * float(digits) if is_whole else None
        if not digits or len(digits) < self.digits_needed(typed):
            return None
        return sign * round(int(digits) / float(10**self.decimals), self.decimals)

    def is_whole(self, typed: str) -> bool:
        """Whether nothing more can follow, so that the field moves on."""
        digits = typed.lstrip("-")
        if "." in digits:
            return bool(self.decimals) and len(digits.partition(".")[2]) >= self.decimals
        return bool(digits) and len(digits) >= self.digits_needed(typed)

    def mask_of(self, typed: str) -> str:
        """What was typed with its point in place and a line for every digit to come: 10 is 10._ and nothing is __._."""
        digits = typed.lstrip("-")
        if "." in digits:
            return typed
        needed = self.digits_needed(digits) or self.decimals + (2 if self.two_whole else 1)
        signs = digits + "_" * (needed - len(digits))
        if not self.decimals:
            return typed[: len(typed) - len(digits)] + signs
        return f"{typed[: len(typed) - len(digits)]}{signs[: -self.decimals]}.{signs[-self.decimals :]}"

    def text_of(self, value: float) -> str:
        """The figure as the display shows it, or as far as the meter that gave it goes."""
        return f"{value:.{value.places if isinstance(value, Metered) else self.decimals}f}"


@dataclass(frozen=True, slots=True)
class PureRule(FigureRule):
    """Oxygen of a cylinder of oxygen: 996 is 99.6, and what begins with 1 is 100.4 in four digits."""

    def digits_needed(self, typed: str) -> int:
        """Four digits from a leading one, else three."""
        digits = typed.lstrip("-")
        return 0 if not digits else 4 if digits[0] == "1" else 3


PURE = PureRule(1, TENS, 95.0, 101.0, PURE_OXYGEN)
"""Oxygen of a cylinder of oxygen, at the bench and at the filling station alike."""


def decimals_of(resolution: float) -> int:
    """Places after the point of a display with this last digit."""
    return max(0, min(3, len(f"{resolution:.3f}".rstrip("0").partition(".")[2])))


def air_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in air: 104 is 10.4, 98 and 098 are 9.8; asked about well outside the limits, at any altitude."""
    return FigureRule(
        decimals_of(resolution),
        two_whole="012",
        low=0.6 * limits.air_low_mv,
        high=1.3 * limits.air_high_mv,
        quantity=AIR_MV,
    )


def oxygen_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in oxygen: 498 is 49.8."""
    high = 1.3 * AIR_TO_OXYGEN * limits.air_high_mv
    return FigureRule(
        decimals_of(resolution), two_whole=TENS, low=0.6 * limits.oxygen_floor_mv, high=high, quantity=OXYGEN_MV
    )


def zero_rule(resolution: float, _limits: CellLimits) -> FigureRule:
    """Millivolts at zero: 01 is 0.1, and a minus may lead."""
    return FigureRule(decimals_of(resolution), two_whole="", low=-1.0, high=1.0, quantity=ZERO_MV, signed=True)


def pot_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in a pressure pot of up to 2.4 bar of oxygen: 798 is 79.8."""
    high = 2.4 * AIR_TO_OXYGEN * limits.air_high_mv
    return FigureRule(
        decimals_of(resolution), two_whole=TENS, low=0.6 * limits.oxygen_floor_mv, high=high, quantity=POT_MV
    )


def bar_rule(low: float, high: float) -> FigureRule:
    """Oxygen partial pressure: 098 is 0.98 bar and 160 is 1.60 bar."""
    return FigureRule(2, two_whole="", low=low, high=high, quantity=SHOWN_PO2)


def show_state(field: QLineEdit, state: str, figure: str) -> None:
    """Draw a field as `plain`, `missing`, `asking` about what stands in it, or `kept` although it is unusual."""
    field.setProperty("state", state)
    field.setToolTip(
        worded(say("{figure} is unusual, and was kept when it was typed again", figure=figure))
        if state == "kept"
        else ""
    )
    field.style().unpolish(field)
    field.style().polish(field)
    field.update()


def paint_kept(field: QLineEdit, side: Qt.AlignmentFlag) -> None:
    """Write at one side of a field that its figure was asked about and kept."""
    painter = QPainter(field)
    painter.setFont(font("small"))
    painter.setPen(field.palette().placeholderText().color())
    room = field.rect().adjusted(KEPT_INSET, 0, -KEPT_INSET, 0)
    painter.drawText(room, int(side | Qt.AlignmentFlag.AlignVCenter), KEPT_WORD)
    painter.end()


class FigureField(MeteredField):
    """One figure of a grid, empty, given, or not known.

    Signals:
        entered: a figure was completed or said to be not known; whoever holds the field leads on to an empty one.
        passed: Enter in a field that is done with; whoever holds the field leads on.
        emptied: what stood there stands there no more.
        stepped: rows and columns to go from here.
        backed: Backspace in an empty field.
        asked: a line about a figure that is unusual, refused or not whole; empty once that is settled.
    """

    entered = Signal()
    passed = Signal()
    emptied = Signal()
    stepped = Signal(int, int)
    backed = Signal()
    asked = Signal(str)

    def __init__(self, rule: FigureRule, name: str, parent: QWidget | None = None) -> None:
        super().__init__(rule.quantity, parent)
        self.rule = rule
        self.name = name
        self.usual = (rule.low, rule.high)
        self.value: float | None = None
        self.not_known = False
        self.is_kept = False
        self._typed = ""
        self._doubted: float | None = None
        self._refused = False
        self._complete = False
        self._torn = False
        self.setProperty("bench", True)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.setAttribute(Qt.WidgetAttribute.WA_InputMethodEnabled, False)
        self.setAccessibleName(shown(strung(", ", (name, rule.unit))))
        self.setPlaceholderText(rule.mask_of(""))
        self.setMaximumWidth(text_width("-00.00", "reading") + 32)
        self.meter = FieldMeter(self, rule.quantity)

    @property
    def is_filled(self) -> bool:
        """True once a figure was given or said to be not known."""
        return self.value is not None or self.not_known

    @property
    def is_open(self) -> bool:
        """True while a figure is half typed, asked about or refused."""
        return bool(self._typed) or self._doubted is not None

    @property
    def metered(self) -> Metered | None:
        return self.value if isinstance(self.value, Metered) else None

    def give(self, value: float) -> None:
        self._take(value, not_known=False)

    def say_not_known(self) -> None:
        """Show that there is no figure, without a word to anybody."""
        self._take(None, not_known=True)

    def empty(self) -> None:
        """Show nothing."""
        self._take(None, not_known=False)

    def _take(self, value: float | None, *, not_known: bool, kept: bool = False) -> None:
        self.value, self.not_known, self.is_kept = value, not_known, kept
        self._typed, self._doubted, self._refused, self._torn = "", None, False, False
        self._show()

    def _show(self) -> None:
        if self._typed:
            text = self.rule.mask_of(self._typed)
        elif self._doubted is not None:
            text = self.rule.text_of(self._doubted)
        elif self.not_known:
            text = NOT_KNOWN_TEXT
        else:
            text = "" if self.value is None else self.rule.text_of(self.value)
        doubted = self._doubted is not None
        state = "asking" if doubted else "missing" if self.not_known else "kept" if self.is_kept else "plain"
        show_state(self, state, f"{text} {self.rule.unit}")
        self.setText(text)

    def _type(self, sign: str) -> None:
        if self._refused:
            self._tell_refused()
            return
        if self._torn:
            self._say_torn()
            return
        if self._complete and not self._typed:
            self.asked.emit(
                worded(say("{name}: stands complete. Enter leads on, Backspace clears it.", name=self.name))
            )
            return
        if not self._typed and self.is_filled:
            self._clear()
        self._typed += sign
        self._show()
        if self.rule.is_whole(self._typed):
            self._accept()

    def _clear(self) -> None:
        """Let go of what stood there, and say so."""
        self._take(None, not_known=False)
        self.emptied.emit()

    def _accept(self) -> None:
        value = self.rule.value_of(self._typed)
        if value is None:
            # Enter on a part of a figure: what follows is the next figure, and must not be taken for the rest of it.
            self._torn = True
            self._say_torn()
            return
        if self._doubted is not None:
            self._again(value, self._doubted)
            return
        found = self.judged(value)
        if found.likely is Likely.FINE:
            self._complete_with(value)
            return
        self._typed, self._doubted, self._refused = "", value, found.likely is Likely.REFUSE
        self._show()
        self.asked.emit(strung("", (self.name, ": ", found.words, ". ", CLEAR_WORDS if self._refused else KEEP_WORDS)))

    def take_reading(self, value: Metered) -> bool:
        found = self.judged(value)
        if found.likely is Likely.REFUSE:
            raise Refused(strung(": ", (self.name, found.words)))
        is_unusual = found.likely is Likely.ASK
        if is_unusual and not isinstance(self._doubted, Metered):
            self._typed, self._doubted, self._refused, self._torn = "", value, False, False
            self._show()
            self.asked.emit(strung("", (self.name, ": ", found.words, ". ", READ_AGAIN)))
            return False
        self._complete_with(value, kept=is_unusual)
        return True

    def _say_torn(self) -> None:
        self.asked.emit(
            worded(
                say(
                    "{name}: {text} is not whole. {clear_words} Type all digits, as {example}; "
                    "{not_known_key} for not known.",
                    name=self.name,
                    text=self.text(),
                    clear_words=CLEAR_WORDS,
                    example=self._example(),
                    not_known_key=NOT_KNOWN_KEY,
                )
            )
        )

    def _again(self, value: float, doubted: float) -> None:
        """A figure typed while another is asked about: the same once more keeps it, any other is not taken."""
        self._typed = ""
        if value == doubted:
            self._complete_with(value, kept=True)
            return
        self._show()
        said = self.rule.text_of
        self.asked.emit(
            worded(
                say(
                    "{name}: {said} was not taken, {doubted} {unit} is asked about. {keep_words}",
                    name=self.name,
                    said=said(value),
                    doubted=said(doubted),
                    unit=self.rule.unit,
                    keep_words=KEEP_WORDS,
                )
            )
        )

    def _complete_with(self, value: float | None, *, kept: bool = False) -> None:
        self._take(value, not_known=value is None, kept=kept)
        self._complete = True
        self.asked.emit("")
        self.entered.emit()

    def _example(self) -> str:
        value = (self.rule.low + self.rule.high) / 2
        return say(
            "{what} for {text_of} {unit}",
            what=self.rule.text_of(value).replace(".", ""),
            text_of=self.rule.text_of(value),
            unit=self.rule.unit,
        )

    def _tell_refused(self) -> None:
        told = say(
            "{name}: {text} {unit} was refused. {clear_words}",
            name=self.name, text=self.text(), unit=self.rule.unit, clear_words=CLEAR_WORDS,
        )  # fmt: skip
        self.asked.emit(worded(told))

    def _on_enter(self) -> None:
        """Enter: finish what was typed, stay where there is something to say, or pass on."""
        if self._typed:
            self._accept()
        elif self._refused:
            self._tell_refused()
        elif self._doubted is not None:
            self.asked.emit(
                worded(
                    say(
                        "{name}: {text} {unit} is unusual. {keep_words}",
                        name=self.name,
                        text=self.text(),
                        unit=self.rule.unit,
                        keep_words=KEEP_WORDS,
                    )
                )
            )
        elif self.is_filled:
            self.passed.emit()

    def _rub_out(self) -> None:
        self._complete = self._torn = False
        if self._typed:
            self._typed = self._typed[:-1]
            self._show()
        elif self.is_filled or self._doubted is not None:
            self._clear()
            self.asked.emit("")
        else:
            self.backed.emit()

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.is_kept:
            paint_kept(self, Qt.AlignmentFlag.AlignLeft)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, text = Qt.Key(event.key()), event.text()
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        if not plain:
            event.ignore()
        elif text and text in ".,":
            if "." not in self._typed and self.rule.decimals:
                self._type(".")
        elif text.isascii() and text.isdigit():
            self._type(text)
        elif text == "-" and self.rule.signed and not self._typed:
            self._type("-")
        elif text == NOT_KNOWN_KEY:
            self._complete_with(None)
        elif key in ENTER:
            self._on_enter()
        elif key in ARROWS:
            self.stepped.emit(*ARROWS[key])
        elif key in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self._rub_out()
        else:
            event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() != Qt.FocusReason.ActiveWindowFocusReason:
            self._complete = False

    def focusOutEvent(self, event: QFocusEvent) -> None:
        left = event.reason() != Qt.FocusReason.ActiveWindowFocusReason
        if left and self.is_open:
            # A figure that was asked about and not confirmed, or only half typed, is none.
            self._take(self.value, not_known=self.not_known)
            self.asked.emit("")
        super().focusOutEvent(event)
