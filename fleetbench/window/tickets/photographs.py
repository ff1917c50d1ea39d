"""Photographs of a ticket: small ones in the page, one opened large, and a new one taken in from a file."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFileDialog, QGridLayout, QLineEdit, QPushButton, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.records.tickets.reads import PhotographRecord
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.photographs import PICTURES, Pictured, picture_button
from fleetbench.window.look.buttons import ElidedLabel, plain_button, put_hint, text_label
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.look.words import moment, said

if TYPE_CHECKING:
    from PySide6.QtGui import QImage

ACROSS = 3
HINT = say("Caption; it stays, so it names nobody")


class PhotographsCard(StepCard):
    """Photographs with their captions.

    Signals:
        chosen: the file of a new photograph, and its caption.
    """

    chosen = Signal(object, str)

    def __init__(self, theme: Theme, zone: ZoneInfo, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Photographs", parent)
        self._zone = zone
        self.pictures: dict[str, QImage] = {}
        self.shown: list[QPushButton] = []
        self.add_button = plain_button(theme, "Add   F7", "", self)
        self.tools.addWidget(self.add_button)
        self.caption = QLineEdit(self)
        put_hint(self.caption, worded(HINT))
        self.caption.setAccessibleName(worded("caption of the next photograph"))
        self.caption.setMaxLength(200)
        self._none = text_label("", "small", self)
        self._grid = QGridLayout()
        self._grid.setSpacing(CLOSE)
        self.body.addWidget(self._none)
        self.body.addLayout(self._grid)
        self.body.addWidget(self.caption)
        self.add_button.clicked.connect(self.choose)

    def show_photographs(self, lines: Sequence[PhotographRecord], is_open: bool) -> None:
        """Show these; pictures holds what was loaded of them."""
        while (item := self._grid.takeAt(0)) is not None:
            if (widget := item.widget()) is not None:
                widget.hide()
                widget.deleteLater()
        self.shown = []
        for place, line in enumerate(lines):
            button = self._button(line)
            caption = ElidedLabel("small", self)
            caption.setText(line.caption or worded("no caption"))
            row, column = divmod(place, ACROSS)
            self._grid.addWidget(button, row * 2, column)
            self._grid.addWidget(caption, row * 2 + 1, column)
            self.shown.append(button)
        for column in range(ACROSS):
            self._grid.setColumnStretch(column, 1)
        self._none.setText(worded("No photograph is kept."))
        self._none.setVisible(not lines)
        self.caption.setVisible(is_open)
        self.add_button.setVisible(is_open)

    def _button(self, line: PhotographRecord) -> QPushButton:
        taken = strung(", ", (moment(line.at, self._zone), said(line.person)))
        of = Pictured(line.caption, taken, line.sha256, self.pictures.get(line.sha256))
        return picture_button(self.theme, of, self)

    @Slot()
    def choose(self) -> None:
        """Ask for a file."""
        name, _kind = QFileDialog.getOpenFileName(self, worded("Photograph"), "", PICTURES)
        if name:
            self.give(Path(name))

    def give(self, path: Path) -> None:
        """Hand a file on with the caption that stands in the field."""
        self.chosen.emit(path, self.caption.text())
