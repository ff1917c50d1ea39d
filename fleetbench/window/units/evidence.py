"""The dialog that gathers a unit's records over some days into a folder."""

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget

from fleetbench.records.core.errors import Refused
from fleetbench.window.forms.fields import labelled, with_unit
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.look.buttons import quiet_button
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.workplace import Shop

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
