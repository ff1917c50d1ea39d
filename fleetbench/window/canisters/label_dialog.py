"""The label of a fill: its picture, and printing or saving it."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from PySide6.QtCore import QSize, QSizeF, Qt, Slot
from PySide6.QtGui import QPageSize, QPainter, QPixmap
from PySide6.QtWidgets import QDialog, QFileDialog, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from fleetbench.window.look.banner import Banner
from fleetbench.window.look.buttons import lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, Theme
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.pdf_picture import picture_of
from fleetbench.workshop.canisters.history import fill_label
from fleetbench.workshop.core.centre import read_centre
from fleetbench.workshop.core.workplace import Shop

_SHOWN = QSize(496, 232)
LABEL_MM = QSizeF(62, 29)


def label_pdf(shop: Shop, part_id: int, fill_id: int | None) -> bytes:
    """The label as PDF."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench.paper.canisters.labels import write_fill_labels
    from fleetbench.paper.core.from_workshop import fill_label_facts

    stream = BytesIO()
    write_fill_labels([fill_label_facts(fill_label(shop, part_id, fill_id), read_centre(shop).name)], stream)
    return stream.getvalue()


class LabelDialog(QDialog):
    """Shows the label of a fill, of the newest where none is named."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        shop: Shop,
        part_id: int,
        fill_id: int | None = None,
        parent: QWidget | None = None,
        *,
        make: Callable[[], bytes] | None = None,
        title: str = "Label of the fill",
    ) -> None:
        """make: what gives another label's PDF, called off the GUI thread."""
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.pdf = b""
        self.banner = Banner(theme, self)
        self.picture = QLabel(self)
        self.picture.setFixedSize(_SHOWN)
        self.picture.setAccessibleName("the label as it prints")
        self.print_button = lead_button(theme, "Print", "print", self)
        self.save_button = plain_button(theme, "Save as PDF…", "", self)
        self.leave_button = quiet_button(theme, "Close", "close", self)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        for button in (self.print_button, self.save_button, self.leave_button):
            feet.addWidget(button)
        feet.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(f"{title}, 62 × 29 mm", "heading", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.picture)
        layout.addLayout(feet)
        for button in (self.print_button, self.save_button):
            button.setEnabled(False)
        self.print_button.clicked.connect(self.print_label)
        self.save_button.clicked.connect(self._on_save)
        self.leave_button.clicked.connect(self.reject)
        self._loader = Refresher(background, self)
        self._loader.loaded.connect(self.show_pdf)
        self._loader.refused.connect(self.banner.say_refused)
        self._loader.ask(make or (lambda: label_pdf(shop, part_id, fill_id)))

    @Slot(object)
    def show_pdf(self, pdf: bytes) -> None:
        """Show this label and let it be printed."""
        self.pdf = pdf
        self.picture.setPixmap(QPixmap.fromImage(picture_of(pdf, _SHOWN)))
        for button in (self.print_button, self.save_button):
            button.setEnabled(True)
        self.print_button.setFocus()

    @Slot()
    def print_label(self) -> None:
        """Print on a printer that is chosen."""
        # the print system is loaded by whoever prints
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setPageSize(QPageSize(LABEL_MM, QPageSize.Unit.Millimeter, "label"))
        printer.setFullPage(True)
        chooser = QPrintDialog(printer, self)
        if chooser.exec() == QDialog.DialogCode.Accepted:
            painter = QPainter(printer)
            target = painter.viewport()
            painter.drawImage(target, picture_of(self.pdf, target.size()))
            painter.end()
            self.accept()

    def save_to(self, path: str) -> None:
        """Write the label to a file; says so where it cannot be written."""
        try:
            Path(path).write_bytes(self.pdf)
        except OSError as fault:
            self.banner.say_refused(f"file: {path} cannot be written ({fault.strerror}); choose another place")
            return
        self.banner.say_note(f"Saved as {path}.")

    @Slot()
    def _on_save(self) -> None:
        path, _ = QFileDialog.getSaveFileName(self, "Save the label", "label.pdf", "PDF (*.pdf)")
        if path:
            self.save_to(path)
