"""Dialogs that hold, freeze and free a unit: a hold by hand, a near miss, an incident, and lifting."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QCheckBox, QComboBox, QFileDialog, QLineEdit, QPlainTextEdit, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import labelled
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import quiet_button, text_label
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.units.holds import LIFTED_HERE, Frozen, freeze_unit, lift_hold, note_near_miss, place_hold
from fleetbench.workshop.units.list import HoldLine

FREEZES = (
    "People first: emergency services and the diving emergency line before this. "
    "The unit, all that sits in it, its fill and whatever was filled from the same batch are frozen: "
    "notes may be added and nothing else, until a manager lifts it."
)
SURE = "Freeze it; what is on it must be kept as it is"


@dataclass(frozen=True, slots=True)
class Incident:
    """What was frozen, and the sheet that was written, or why it was not."""

    frozen: Frozen
    sheet: str


class WordsDialog(ActDialog):
    """Asks for words, and what is done with them.

    Signals:
        done_with: what the act returned.
    """

    def __init__(
        self,
        theme: Theme,
        background: Background,
        title: str,
        act_words: str,
        label: str,
        act: Callable[[str], object],
        note: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(theme, background, title, act_words, parent)
        self._act = act
        self.note.setText(note)
        self.words = QPlainTextEdit(self)
        self.words.setAccessibleName(label.lower())
        self.words.setTabChangesFocus(True)
        self.words.setMinimumHeight(24 * GRID)
        self.body.addLayout(labelled(self.words, label, self))
        self.words.setFocus()

    def work(self) -> Callable[[], object]:
        """The act with the words as they stand."""
        act, words = self._act, self.words.toPlainText()
        return lambda: act(words)


def hold_dialog(theme: Theme, background: Background, shop: Shop, tag: str, parent: QWidget) -> WordsDialog:
    """Asks why a unit is held."""
    return WordsDialog(
        theme, background, f"Hold {tag}", "Hold it", "Why, in a sentence", lambda words: place_hold(shop, tag, words),
        "It may not go out until the hold is lifted.", parent,
    )  # fmt: skip


def near_miss_dialog(theme: Theme, background: Background, shop: Shop, tag: str, parent: QWidget) -> WordsDialog:
    """Asks what nearly happened."""
    return WordsDialog(
        theme, background, f"Near miss with {tag}", "Note it", "What happened, and what kept it from being worse",
        lambda words: note_near_miss(shop, tag, words),
        "A ticket is opened that holds the unit until what is learned is written down and two people have signed it. "
        "Nothing is frozen. Somebody hurt, or unwell? Then it is an incident.", parent,
    )  # fmt: skip


class IncidentDialog(WordsDialog):
    """Freezes a unit after an incident and writes the sheet of what to preserve.

    Signals:
        done_with: an Incident.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tags: Sequence[str], parent: QWidget | None
    ) -> None:
        """tags: the unit, or the units of a booking of which one is chosen."""
        title = f"Incident with {tags[0]}" if len(tags) == 1 else "Incident"
        super().__init__(
            theme, background, title, "Freeze it", "What is known, without names", self._freeze,
            FREEZES, parent,
        )  # fmt: skip
        self._shop, self._chosen, self._path = shop, tags[0], Path()
        self.unit = QComboBox(self)
        self.unit.setAccessibleName("unit")
        self.unit.addItems(list(tags))
        self.unit.setVisible(len(tags) > 1)
        self.body.insertWidget(0, self.unit)
        self.sure = QCheckBox(SURE, self)
        self.sheet = QLineEdit(str(Path.home() / f"incident-{tags[0] if len(tags) == 1 else 'unit'}.pdf"), self)
        self.sheet.setAccessibleName("file of the incident sheet")
        self.choose_button = quiet_button(theme, "Choose another file…", "", self)
        self.choose_button.clicked.connect(self._on_choose)
        self.body.addWidget(self.sure)
        self.body.addLayout(labelled(self.sheet, "Incident sheet: what to preserve", self))
        self.body.addWidget(self.choose_button, 0, Qt.AlignmentFlag.AlignLeft)

    def work(self) -> Callable[[], object]:
        """The freezing, then the sheet."""
        if not self.sure.isChecked():
            raise Refused("freeze: tick that it is meant; only a manager can undo it")
        self._chosen = self.unit.currentText()
        self._path = Path(self.sheet.text())
        return super().work()

    def _freeze(self, words: str) -> Incident:
        frozen = freeze_unit(self._shop, self._chosen, words)
        # reportlab is slow to import; only whoever prints waits for it
        from fleetbench.paper.units.incidents import print_incident

        path = self._path
        try:
            print_incident(self._shop, frozen.unit, path)
        except (OSError, Refused) as fault:
            return Incident(frozen, f"The sheet was not written ({fault}); print it from the unit's page.")
        return Incident(frozen, f"What to preserve is written to {path}.")

    @Slot()
    def _on_choose(self) -> None:
        path, _kind = QFileDialog.getSaveFileName(self, "Incident sheet", self.sheet.text(), "PDF (*.pdf)")
        if path:
            self.sheet.setText(path if path.lower().endswith(".pdf") else f"{path}.pdf")


class LiftDialog(WordsDialog):
    """Lifts one of the holds that stand, with a reason."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        tag: str,
        holds: Sequence[HoldLine],
        parent: QWidget | None,
    ) -> None:
        super().__init__(
            theme, background, f"Lift a hold of {tag}", "Lift it", "What was done, in a sentence", self._lift,
            "A hold after an incident is lifted by a manager only. The hold of a return is lifted by its turn-round, "
            "a notice's by its action.", parent,
        )  # fmt: skip
        self._shop = shop
        self.hold = QComboBox(self)
        self.hold.setAccessibleName("hold")
        for hold in holds:
            if hold.kind in LIFTED_HERE:
                on = f"{hold.part}: " if hold.part else ""
                self.hold.addItem(f"{hold.kind}: {on}{hold.reason}"[:120], hold.hold_id)
        self.body.insertWidget(0, text_label("Hold", "label", self))
        self.body.insertWidget(1, self.hold)
        self.hold.setMaximumWidth(150 * GRID)
        self.act_button.setEnabled(self.hold.count() > 0)

    def _lift(self, words: str) -> None:
        key = self.hold.currentData()
        if key is None:
            raise Refused("hold: none stands that a person lifts; do what it asks for")
        lift_hold(self._shop, int(key), words)
