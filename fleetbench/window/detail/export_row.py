"""Buttons that write what a page shows into a file: print as PDF, and whatever else the page offers."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QWidget

from fleetbench.window.look.buttons import quiet_button
from fleetbench.window.look.theme import CLOSE, Theme
from fleetbench.window.shell.background import Background

KINDS = {
    ".pdf": ("Print", "print", "PDF (*.pdf)"),
    ".csv": ("CSV", "", "CSV (*.csv)"),
    ".xlsx": ("XLSX", "", "Spreadsheet (*.xlsx)"),
    ".ics": ("iCalendar", "", "iCalendar (*.ics)"),
}


class ExportRow(QWidget):
    """A button for each kind of file; writing happens off the GUI thread.

    Signals:
        written: where the file is, in a sentence.
        refused: why nothing was written.
    """

    written = Signal(str)
    refused = Signal(str)

    def __init__(
        self, theme: Theme, background: Background, name: str, endings: Sequence[str],
        write: Callable[[], Callable[[Path], object]], parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        """write: called in the GUI thread for what is shown now; what it returns writes a path off it."""
        super().__init__(parent)
        self._background, self._name, self._write = background, name, write
        self.buttons: dict[str, QPushButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(CLOSE)
        for ending in endings:
            words, icon, _ = KINDS[ending]
            button = quiet_button(theme, words, icon, self)
            button.clicked.connect(partial(self.ask, ending))
            self.buttons[ending] = button
            line.addWidget(button)

    def ask(self, ending: str, _checked: bool = False) -> None:
        """Ask where to write, then write."""
        path, _ = QFileDialog.getSaveFileName(self.window(), "Save", f"{self._name}{ending}", KINDS[ending][2])
        if path:
            self.write_to(Path(path) if path.lower().endswith(ending) else Path(f"{path}{ending}"))

    def write_to(self, path: Path) -> None:
        """Write what is shown now into this file."""
        write = self._write()
        job = self._background.run(partial(_written, write, path), self)
        job.succeeded.connect(self._on_written)
        job.refused.connect(self.refused)

    def _on_written(self, path: object) -> None:
        self.written.emit(f"Written to {path}.")


def _written(write: Callable[[Path], object], path: Path) -> Path:
    write(path)
    return path
