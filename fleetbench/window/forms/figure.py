"""A field for one figure that is typed without its point, moves on by itself and asks once when out of reason."""

from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from fleetbench.calc.cells.readings import CellLimits
from fleetbench.window.look.theme import text_width

NOT_KNOWN_KEY = "/"
NOT_KNOWN_TEXT = "not known"
AIR_TO_OXYGEN = 4.78
"""How much more a cell shows in pure oxygen than in dry air: 1 / 0.20939 (CIPM-2007)."""

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
    asked once whether the figure is right. signed: a leading minus may be typed.
    """

    decimals: int
    two_whole: str
    low: float
    high: float
    unit: str
    signed: bool = False

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

    def text_of(self, value: float) -> str:
        """The figure as the display shows it."""
        return f"{value:.{self.decimals}f}"


def decimals_of(resolution: float) -> int:
    """Places after the point of a display with this last digit."""
    return max(0, min(3, len(f"{resolution:.3f}".rstrip("0").partition(".")[2])))


def air_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in air: 104 is 10.4 and 98 is 9.8; asked about well outside the limits, at any usual altitude."""
    return FigureRule(decimals_of(resolution), "12", 0.6 * limits.air_low_mv, 1.3 * limits.air_high_mv, "mV")


def oxygen_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in oxygen: 498 is 49.8."""
    high = 1.3 * AIR_TO_OXYGEN * limits.air_high_mv
    return FigureRule(decimals_of(resolution), "123456789", 0.6 * limits.oxygen_floor_mv, high, "mV")


def zero_rule(resolution: float, _limits: CellLimits) -> FigureRule:
    """Millivolts at zero: 01 is 0.1, and a minus may lead."""
    return FigureRule(decimals_of(resolution), "", -1.0, 1.0, "mV", signed=True)


def pot_rule(resolution: float, limits: CellLimits) -> FigureRule:
    """Millivolts in a pressure pot of up to 2.4 bar of oxygen: 798 is 79.8."""
    high = 2.4 * AIR_TO_OXYGEN * limits.air_high_mv
    return FigureRule(decimals_of(resolution), "123456789", 0.6 * limits.oxygen_floor_mv, high, "mV")


def bar_rule(low: float, high: float) -> FigureRule:
    """Oxygen partial pressure: 098 is 0.98 bar and 160 is 1.60 bar."""
    return FigureRule(2, "", low, high, "bar")


class FigureField(QLineEdit):
    """One figure of a grid, empty, given, or not known.

    Signals:
        entered: a figure was given or said to be not known; whoever holds the field moves on.
        stepped: rows and columns to go from here.
        backed: Backspace in an empty field.
        asked: a line that asks whether a figure out of reason is right; empty once that is settled.
    """

    entered = Signal()
    stepped = Signal(int, int)
    backed = Signal()
    asked = Signal(str)

    def __init__(self, rule: FigureRule, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rule = rule
        self.name = name
        self.value: float | None = None
        self.not_known = False
        self._typed = ""
        self._asking = False
        self.setProperty("bench", True)
        self.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.setAttribute(Qt.WidgetAttribute.WA_InputMethodEnabled, False)
        self.setAccessibleName(f"{name}, {rule.unit}")
        self.setMaximumWidth(text_width("-00.00", "reading") + 32)

    @property
    def is_filled(self) -> bool:
        """True once a figure was given or said to be not known."""
        return self.value is not None or self.not_known

    @property
    def is_asking(self) -> bool:
        """True while a figure out of reason waits for a second Enter."""
        return self._asking

    def give(self, value: float) -> None:
        """Show this figure as given, without a word to anybody."""
        self._take(value, not_known=False)

    def say_not_known(self) -> None:
        """Show that there is no figure, without a word to anybody."""
        self._take(None, not_known=True)

    def empty(self) -> None:
        """Show nothing."""
        self._take(None, not_known=False)

    def _take(self, value: float | None, *, not_known: bool) -> None:
        self.value, self.not_known, self._typed, self._asking = value, not_known, "", False
        self._show()

    def _show(self) -> None:
        if self._typed:
            text = self._typed
        elif self.not_known:
            text = NOT_KNOWN_TEXT
        else:
            text = "" if self.value is None else self.rule.text_of(self.value)
        self.setProperty("state", "asking" if self._asking else "missing" if self.not_known else "plain")
        self.style().unpolish(self)
        self.style().polish(self)
        self.setText(text)

    def _type(self, sign: str) -> None:
        if not self._typed:
            self.value, self.not_known, self._asking = None, False, False
        self._typed += sign
        self._show()
        if self.rule.is_whole(self._typed):
            self._accept()

    def _accept(self) -> None:
        value = self.rule.value_of(self._typed)
        if value is None:
            self.asked.emit(f"{self.name}: type all digits, as {self._example()}; {NOT_KNOWN_KEY} for not known.")
            return
        if not self.rule.low <= value <= self.rule.high and not self._asking:
            self._asking = True
            self.value, self._typed = value, ""
            self._show()
            self.selectAll()
            shown = f"{self.rule.text_of(value)} {self.rule.unit}"
            self.asked.emit(f"{self.name}: {shown} is out of reason. Enter keeps it; type it again to change it.")
            return
        self._take(value, not_known=False)
        self.asked.emit("")
        self.entered.emit()

    def _example(self) -> str:
        value = (self.rule.low + self.rule.high) / 2
        return f"{self.rule.text_of(value).replace('.', '')} for {self.rule.text_of(value)} {self.rule.unit}"

    def _keep(self) -> None:
        """Enter: keep what was asked about, finish what was typed, or pass on."""
        if self._typed:
            self._accept()
            return
        if self._asking:
            self._asking = False
            self._show()
            self.asked.emit("")
        self.entered.emit()

    def _rub_out(self) -> None:
        if self._typed:
            self._typed = self._typed[:-1]
            self._show()
        elif self.is_filled:
            self.empty()
            self.asked.emit("")
        else:
            self.backed.emit()

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, text = Qt.Key(event.key()), event.text()
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.KeypadModifier)
        if not plain:
            event.ignore()
        elif text and text in ".,":
            if "." not in self._typed:
                self._type(".")
        elif text.isascii() and text.isdigit():
            self._type(text)
        elif text == "-" and self.rule.signed and not self._typed:
            self._type("-")
        elif text == NOT_KNOWN_KEY:
            self.say_not_known()
            self.asked.emit("")
            self.entered.emit()
        elif key in ENTER:
            self._keep()
        elif key in ARROWS:
            self.stepped.emit(*ARROWS[key])
        elif key in (Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self._rub_out()
        else:
            event.ignore()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        left = event.reason() != Qt.FocusReason.ActiveWindowFocusReason
        if left and (self._asking or self._typed):
            # A figure that was asked about and not confirmed, or only half typed, is none.
            self._take(None if self._asking else self.value, not_known=self.not_known)
            self.asked.emit("")
        super().focusOutEvent(event)
