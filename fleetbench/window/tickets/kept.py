"""What is kept under a ticket beside its work: lubricants and seal kits with their lots, and photographs."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFileDialog, QGridLayout, QLineEdit, QPushButton, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.records.tickets.reads import PhotographRecord
from fleetbench.window.forms.fields import StepCard
from fleetbench.window.forms.form import PRESS_YES_NO, YES_NO_KEYS, YES_NO_WORDS, Choices, Field, Form
from fleetbench.window.forms.photographs import PICTURES, Pictured, picture_button
from fleetbench.window.look.buttons import ElidedLabel, plain_button, put_hint, text_label
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.look.words import moment, said
from fleetbench.window.tickets.cards import LinesCard
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.gas.oxygen_side import fitted_in, use_material

if TYPE_CHECKING:
    from PySide6.QtGui import QImage


KINDS = (("lubricant", "lubricant"), (say("seal kit"), say("seal kit")))


class MaterialsCard(LinesCard):
    """What was used under the ticket.

    Signals:
        use_wanted: a lubricant or a seal kit is to be written down.
    """

    use_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, say("Lubricants and seal kits"), parent)
        self.use_button = plain_button(theme, "Used…", "", self)
        self.tools.addWidget(self.use_button)
        self.use_button.clicked.connect(self.use_wanted)

    def show_materials(self, materials: Sequence[str], is_open: bool) -> None:
        """Show what was used, a line each."""
        self.clear_lines()
        for words in materials:
            self.say(words)
        if not materials:
            self.say("None is recorded.", "small")
        self.use_button.setVisible(is_open)


def material_form(workplace: Workplace, ticket_id: int, tag: str) -> Form:
    """A lubricant or a seal kit: its name, its lot, whether it is oxygen-compatible, and the part it went into."""

    def use(kind: str, name: str, lot: str, oxygen_compatible: bool | None, part: int | None) -> object:
        parts = () if part is None else (part,)
        return use_material(
            workplace, ticket_id, kind=kind, name=name, lot=lot, oxygen_compatible=oxygen_compatible, part_ids=parts
        )

    def parts() -> Mapping[str, Choices]:
        return {
            "part": [
                (say("no single part, the job"), None),
                *((words, key) for key, words in fitted_in(workplace, tag)),
            ]
        }

    return Form(
        "Lubricant or seal kit used",
        act_words="Save material",
        note="On a part of the oxygen side, what is not known to be oxygen-compatible ends its oxygen-clean status.",
        fields=(
            Field("kind", "What", "question", choices=KINDS, wants="press 1 for a lubricant, 2 for a seal kit"),
            Field("name", "Name", hint="as on the tube or bag"),
            Field("lot", "Lot", beside=True),
            Field("oxygen_compatible", "Oxygen-compatible?", "question", choices=YES_NO_WORDS, keys=YES_NO_KEYS,
                  spoken="oxygen-compatible", wants=PRESS_YES_NO),
            Field("part", "On which part", "choice"),
        ),
        act=use,
        load=parts,
    )  # fmt: skip


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
