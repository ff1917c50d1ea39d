"""The page of one unit with what is done to it as a whole: hold, lift, near miss, incident, evidence.

Dialogs that hold, freeze and free a unit: a hold by hand, a near miss, an incident, and lifting.

The dialog that gathers a unit's records over some days into a folder.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QWidget,
)

from fleetbench.records.core.errors import Refused
from fleetbench.window.detail.detail import Detail, Section
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.fields import labelled, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import quiet_button, text_label
from fleetbench.window.look.theme import CLOSE, GRID, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.person import grey
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.page import number_of
from fleetbench.workshop.units.holds import LIFTED_HERE, Frozen, freeze_unit, lift_hold, note_near_miss, place_hold
from fleetbench.workshop.units.list import HoldLine, unit_page

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
        from fleetbench.paper.units.evidence import print_incident

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


USUAL_DAYS = 90


def day_in(field: QLineEdit, name: str) -> date:
    """The day that stands in a field; Refused where it is none."""
    text = field.text().strip()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(f"{name}: {text or 'nothing'} is no day; write it as 2026-06-15") from None


class EvidenceDialog(ActDialog):
    """Asks for the days and the folder.

    Signals:
        done_with: where the folder is and how many files are in it, in a sentence.
    """

    def __init__(
        self, theme: Theme, background: Background, shop: Shop, tag: str, today: date, parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, background, f"Evidence of {tag}", "Gather it", parent)
        self._shop, self._tag = shop, tag
        self.note.setText(
            "A new folder with a page to read, every reading as CSV, photographs, a manifest of SHA-256, and the "
            "journal's head. It names people who worked on the unit; keep it where only those see it who may."
        )
        self.first = QLineEdit((today - timedelta(days=USUAL_DAYS)).isoformat(), self)
        self.last = QLineEdit(today.isoformat(), self)
        self.folder = QLineEdit(str(Path.home() / f"evidence-{tag}-{today.isoformat()}"), self)
        for field, name in ((self.first, "first day"), (self.last, "last day"), (self.folder, "folder")):
            field.setAccessibleName(name)
        self.choose_button = quiet_button(theme, "Choose where…", "", self)
        self.choose_button.clicked.connect(self._on_choose)
        self.body.addLayout(with_unit(self.first, "First day", "", self))
        self.body.addLayout(with_unit(self.last, "Last day", "inclusive", self))
        self.body.addLayout(labelled(self.folder, "New folder", self))
        self.body.addWidget(self.choose_button, 0, Qt.AlignmentFlag.AlignLeft)
        self.first.returnPressed.connect(self.last.setFocus)
        self.last.returnPressed.connect(self.folder.setFocus)
        self.folder.returnPressed.connect(self.act)

    def work(self) -> Callable[[], object]:
        """The gathering."""
        first, last = day_in(self.first, "first day"), day_in(self.last, "last day")
        shop, tag, folder = self._shop, self._tag, Path(self.folder.text().strip())

        def gather() -> str:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.paper.units.evidence import write_evidence

            try:
                files = write_evidence(shop, tag, first, last, folder)
            except OSError as fault:
                raise Refused(f"folder: cannot be written ({fault.strerror}); choose another place") from fault
            return f"{len(files)} files are in {folder}."

        return gather

    @Slot()
    def _on_choose(self) -> None:
        parent = QFileDialog.getExistingDirectory(self, "Where the new folder goes", str(Path.home()))
        if parent:
            self.folder.setText(str(Path(parent) / Path(self.folder.text()).name))


BUTTONS = {
    "hold": ("Hold…", "place hold"), "lift": ("Lift a hold…", "lift hold"), "near_miss": ("Near miss…", "near miss"),
    "incident": ("Incident…", "place hold"), "sheet": ("Incident sheet…", ""), "evidence": ("Evidence…", ""),
}  # fmt: skip
"""Words of each button, and the act that it needs; nothing for what only reads."""


class UnitRecordPage(RecordPage):
    """A unit's page with a row of acts under its states."""

    def __init__(self, context: PageContext, load: Callable[[str], Detail], parent: QWidget | None = None) -> None:
        super().__init__(context.theme, context.background, load, parent)
        self._background, self._shop, self._zone = context.background, context.shop, context.zone
        self.buttons: dict[str, QPushButton] = {}
        row = QHBoxLayout()
        row.setSpacing(CLOSE)
        for word, (text, _act) in BUTTONS.items():
            button = quiet_button(self.theme, text, "", self)
            button.clicked.connect(partial(self._on_clicked, word))
            self.buttons[word] = button
            button.setVisible(word not in ("lift", "sheet"))
            row.addWidget(button)
        row.addStretch(1)
        self.content.insertLayout(3, row)
        self._holds = Refresher(context.background, self)
        self._holds.loaded.connect(self._on_holds)
        self._holds.refused.connect(self.banner.say_refused)
        context.signed_in.changed.connect(self._grey)
        self._grey()

    @Slot()
    def _grey(self) -> None:
        needs = {word: act for word, (_text, act) in BUTTONS.items() if act}
        grey(self.buttons, needs, self._background.signed_in.role)

    def show_detail(self, detail: Detail) -> None:
        """Show this unit, and offer only what there is to lift or to print."""
        super().show_detail(detail)
        kinds = [
            fact.mark.word
            for part in detail.parts
            if isinstance(part, Section) and part.title == "Holds placed"
            for fact in part.facts
            if fact.mark is not None
        ]
        self.buttons["lift"].setVisible(bool(kinds))
        self.buttons["sheet"].setVisible("incident" in kinds)

    @property
    def tag(self) -> str:
        """The tag of the unit on the page."""
        return self.detail.title if self.detail is not None else (self.key or "")

    def _on_clicked(self, word: str, _checked: bool = False) -> None:
        if self.detail is None:
            return
        if word == "lift":
            shop, tag = self._shop, self.tag
            self._holds.ask(lambda: unit_page(shop, tag).holds)
        elif word == "sheet":
            self._save_sheet()
        else:
            self.ask(word)

    def ask(self, word: str) -> ActDialog:
        """Open the dialog of a button."""
        ways: dict[str, Callable[[], ActDialog]] = {
            "hold": lambda: hold_dialog(self.theme, self._background, self._shop, self.tag, self),
            "near_miss": lambda: near_miss_dialog(self.theme, self._background, self._shop, self.tag, self),
            "incident": lambda: IncidentDialog(self.theme, self._background, self._shop, (self.tag,), self),
            "evidence": lambda: EvidenceDialog(self.theme, self._background, self._shop, self.tag, self._today(), self),
        }
        dialog = ways[word]()
        dialog.done_with.connect(partial(self._on_done, word))
        dialog.open()
        return dialog

    def _today(self) -> date:
        return self._shop.clock().astimezone(self._zone).date()

    @Slot(object)
    def _on_holds(self, holds: tuple[HoldLine, ...]) -> None:
        standing = [hold for hold in holds if hold.lifted_at is None]
        dialog = LiftDialog(self.theme, self._background, self._shop, self.tag, standing, self)
        dialog.done_with.connect(partial(self._on_done, "lift"))
        dialog.open()

    def _on_done(self, word: str, value: object) -> None:
        self.refresh()
        if word == "near_miss" and isinstance(value, int):
            shop = self._shop
            job = self._background.run(lambda: number_of(shop, value), self)
            job.succeeded.connect(self._on_near_miss)
            return
        said = {"hold": "The unit is held.", "lift": "The hold is lifted."}
        if isinstance(value, Incident):
            self.banner.say_note(f"{value.frozen.unit} is frozen. {value.sheet}")
        else:
            self.banner.say_note(said.get(word, str(value)))

    @Slot(object)
    def _on_near_miss(self, number: str) -> None:
        self.banner.say_note(f"Ticket {number} holds the unit until what is learned is written under it.")

    def _save_sheet(self) -> None:
        path, _kind = QFileDialog.getSaveFileName(self, "Incident sheet", f"incident-{self.tag}.pdf", "PDF (*.pdf)")
        if path:
            self.write_sheet(Path(path))

    def write_sheet(self, path: Path) -> None:
        """Write the incident sheet of a frozen unit."""
        shop, tag = self._shop, self.tag

        def write() -> str:
            # reportlab is slow to import; only whoever prints waits for it
            from fleetbench.paper.units.evidence import print_incident

            print_incident(shop, tag, path)
            return f"Written to {path}."

        job = self._background.run(write, self)
        job.succeeded.connect(self.banner.say_note)
        job.refused.connect(self.banner.say_refused)
