"""What stands beside a field that takes a measured figure: the last one of the same thing, and the plausible band."""

from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import shown, strung
from fleetbench.calc.core.plausible import Likely, Plausible, Quantity, band_words, plausible
from fleetbench.window.look.buttons import text_label


class ExpectingField(QLineEdit):
    """A field that knows what is usual of the thing that is read into it, and says so in its own small line.

    A field without a quantity takes what nobody measures, and has no such line.
    """

    def __init__(self, quantity: Quantity | None, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.quantity = quantity
        self.last: float | None = None
        self.hours: float | None = None
        self.usual: tuple[float, float] | None = None
        self.known_as = "last"
        self.beside: QLabel | None = None

    def expect(
        self,
        *,
        last: float | None = None,
        hours: float | None = None,
        usual: tuple[float, float] | None = None,
        known_as: str = "last",
    ) -> None:
        """Say what is known of this very thing: its last figure with its age in hours, and what is usual of it."""
        self.last, self.hours, self.known_as = last, hours, known_as
        self.usual = usual or self.usual
        self._tell()

    def judged(self, value: float) -> Plausible:
        """Whether a figure of the field's quantity is taken, asked about or refused."""
        if self.quantity is None:
            return Plausible(Likely.FINE)
        return plausible(self.quantity, value, last=self.last, hours=self.hours, usual=self.usual)

    def beside_words(self) -> str:
        """The last figure and the band, without the unit that stands beside the field; empty where none is measured."""
        if self.quantity is None:
            return ""
        return band_words(self.quantity, last=self.last, hours=self.hours, usual=self.usual, known_as=self.known_as)

    def line_beside(self, parent: QWidget) -> QLabel:
        """The small line that a layout puts under the field; it follows what the field expects."""
        if self.beside is None:
            self.beside = text_label("", "small", parent)
        self._tell()
        return self.beside

    def _tell(self) -> None:
        words = self.beside_words()
        if self.beside is not None:
            self.beside.setText(shown(words))
        if self.quantity is not None:
            self.setAccessibleDescription(shown(strung(" ", filter(None, (words, str(self.quantity.unit))))))


def over_its_line(field: ExpectingField, parent: QWidget, line: QHBoxLayout | None = None) -> QVBoxLayout:
    """A field, or the line that holds it, over what stands beside it."""
    column = QVBoxLayout()
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(0)
    if line is None:
        column.addWidget(field)
    else:
        column.addLayout(line)
    if field.quantity is not None:
        column.addWidget(field.line_beside(parent))
    return column
