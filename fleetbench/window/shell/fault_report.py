"""The dialog for a fault of ours: what happened, and a report that can be copied and sent."""

import platform

from PySide6.QtCore import Qt, Slot, qVersion
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPlainTextEdit, QVBoxLayout, QWidget

from fleetbench import __version__
from fleetbench.calc.core.languages import say, worded
from fleetbench.window.look.buttons import lead_button, plain_button, text_label
from fleetbench.window.look.theme import APART, CLOSE, SECTION, Theme
from fleetbench.window.shell.background import ProgramFault


class FaultReport(QDialog):
    """Says that the program is at fault, that nothing half-done was kept, and shows the report."""

    def __init__(self, theme: Theme, fault: ProgramFault, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(worded("Fault in fleetbench"))
        self.resize(760, 460)
        self._report = QPlainTextEdit(report_text(fault), self)
        self._report.setAccessibleName(worded("Report"))
        self._report.setReadOnly(True)
        self._copy = lead_button(theme, "Copy the report", "copy_table", self)
        self._close = plain_button(theme, "Close", "", self)
        self._build(fault)
        self._copy.clicked.connect(self._on_copy)
        self._close.clicked.connect(self.accept)

    def _build(self, fault: ProgramFault) -> None:
        said = text_label(
            say(
                "This is a fault of the program, not of your records. An act that was not finished has "
                "not been kept. Copy the report and send it to your support, then go on."
            ),
            "body",
            self,
        )
        said.setWordWrap(True)
        line = text_label(fault.line, "strong", self)
        line.setWordWrap(True)
        buttons = QHBoxLayout()
        buttons.setSpacing(CLOSE)
        buttons.addStretch(1)
        buttons.addWidget(self._close)
        buttons.addWidget(self._copy)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(SECTION, SECTION, SECTION, SECTION)
        layout.setSpacing(APART)
        layout.addWidget(text_label(say("Something went wrong"), "title", self))
        layout.addWidget(said)
        layout.addWidget(line)
        layout.addWidget(self._report, 1)
        layout.addLayout(buttons)

    @Slot()
    def _on_copy(self) -> None:
        QGuiApplication.clipboard().setText(self._report.toPlainText())


def report_text(fault: ProgramFault) -> str:
    """The report: versions, the line and the trace."""
    return (
        f"fleetbench {__version__}, Python {platform.python_version()}, Qt {qVersion()}, "
        f"{platform.system()} {platform.release()}\n\n{fault.line}\n\n{fault.trace}"
    )
