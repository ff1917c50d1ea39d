"""Photographs of a ticket: small ones in the page, one opened large, and a new one taken in from a file."""

from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

from PySide6.QtCore import QSize, Qt, Signal, Slot
from PySide6.QtGui import QIcon, QImage, QPixmap
from PySide6.QtWidgets import QDialog, QFileDialog, QGridLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fleetbench.records.tickets.reads import PhotographRecord
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.metered import PICTURES
from fleetbench.window.lists.rows import as_plain_tip
from fleetbench.window.look.buttons import ElidedLabel, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.look.words import moment, said

ACROSS = 3
SMALL = QSize(160, 110)
HINT = "Caption; it stays, so it names nobody"


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
        self.caption.setPlaceholderText(HINT)
        self.caption.setAccessibleName("caption of the next photograph")
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
            caption.setText(line.caption or "no caption")
            row, column = divmod(place, ACROSS)
            self._grid.addWidget(button, row * 2, column)
            self._grid.addWidget(caption, row * 2 + 1, column)
            self.shown.append(button)
        for column in range(ACROSS):
            self._grid.setColumnStretch(column, 1)
        self._none.setText("No photograph is kept.")
        self._none.setVisible(not lines)
        self.caption.setVisible(is_open)
        self.add_button.setVisible(is_open)

    def _button(self, line: PhotographRecord) -> QPushButton:
        button = quiet_button(self.theme, "", "", self)
        picture = self.pictures.get(line.sha256)
        if picture is None:
            button.setText("missing or changed")
        else:
            button.setIcon(QIcon(_scaled(picture, SMALL)))
            button.setIconSize(SMALL)
        button.setFixedHeight(SMALL.height() + 2 * CLOSE)
        button.setAccessibleName(f"photograph: {line.caption or 'no caption'}")
        button.setToolTip(as_plain_tip(f"{moment(line.at, self._zone)}, {said(line.person)}"))
        button.setProperty("sha256", line.sha256)
        button.clicked.connect(self._on_opened)
        return button

    @Slot()
    def choose(self) -> None:
        """Ask for a file."""
        name, _kind = QFileDialog.getOpenFileName(self, "Photograph", "", PICTURES)
        if name:
            self.give(Path(name))

    def give(self, path: Path) -> None:
        """Hand a file on with the caption that stands in the field."""
        self.chosen.emit(path, self.caption.text())

    @Slot()
    def _on_opened(self) -> None:
        picture = self.pictures.get(str(self.sender().property("sha256")))
        if picture is not None:
            dialog = QDialog(self)
            dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            dialog.setWindowTitle("Photograph")
            label = QLabel(dialog)
            room = self.window().size() - QSize(20 * GRID, 20 * GRID)
            label.setPixmap(_scaled(picture, room))
            QVBoxLayout(dialog).addWidget(label)
            dialog.open()


def _scaled(picture: QImage, room: QSize) -> QPixmap:
    """The picture as large as fits."""
    kept, smooth = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
    return QPixmap.fromImage(picture.scaled(room, kept, smooth))
