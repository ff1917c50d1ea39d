"""The pages of a booking: looked at, printed, saved, signed; all of them in one act that can be called off.

A box to sign in with a mouse, a finger or a pen.
"""

from functools import partial
from io import BytesIO
from pathlib import Path

from PySide6.QtCore import QPointF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen, QPixmap, QShowEvent
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetbench.calc.core.languages import ENGLISH, LANGUAGES, say, worded
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.plain_file import plain_name, save_pdf
from fleetbench.records.hires.reads import BookingRecord
from fleetbench.window.forms.fields import AnswerKey, QuestionField
from fleetbench.window.forms.form import Field, Form, keep_on_screen, replacing
from fleetbench.window.forms.long_work import LongWork
from fleetbench.window.look.buttons import Banner, lead_button, plain_button, quiet_button, text_label
from fleetbench.window.look.theme import APART, BLOCK, CLOSE, GRID, Theme
from fleetbench.window.look.words import counted
from fleetbench.window.shell.background import Background, Progress, Refresher
from fleetbench.window.shell.pictures import lacking_words, picture_of_all, print_pages
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires.list import HireLine, handover_facts, hire_lines
from fleetbench.workshop.hires.signing import HIGH, WIDE, Stroke, set_page_terms

SHEET, LOG, BOARD, RECEIPT = say("hand-over sheet"), say("daily log"), "board", say("return receipt")
LOG_FORM = say("log to fill in")
"""The daily log as a form for a phone or a computer."""

NOW = say("state now")
"""The hand-over sheet as the unit stands now, beside the one that was signed."""

PAGES = tuple(
    AnswerKey(str(number), word, word) for number, word in enumerate((SHEET, LOG, BOARD, RECEIPT, NOW, LOG_FORM), 1)
)
PARTIES = (AnswerKey("d", "diver", "diver"), AnswerKey("c", "centre", "centre"))
_LEFT = 74 * GRID


LEAST_STEP = 3
"""Points closer than this are one point: a hand that rests is no stroke of its own."""


class SignaturePad(QWidget):
    """Keeps what is drawn as strokes in a box of 1000 by 300; Delete or Backspace clears it.

    Signals:
        signed: a stroke was finished, or the box was cleared.
    """

    signed = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._strokes: list[list[tuple[int, int]]] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(worded("signature, drawn; Delete clears it"))
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setMinimumSize(60 * GRID, 18 * GRID)

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """What was drawn, empty where nothing was."""
        return tuple(tuple(each) for each in self._strokes if each)

    def clear(self) -> None:
        """Take everything away."""
        self._strokes = []
        self.update()
        self.signed.emit()

    def _point(self, at: QPointF) -> tuple[int, int]:
        x = round(at.x() / max(1, self.width()) * WIDE)
        y = round(at.y() / max(1, self.height()) * HIGH)
        return min(WIDE, max(0, x)), min(HIGH, max(0, y))

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(125 * GRID, 38 * GRID)

    def heightForWidth(self, width: int) -> int:
        return width * HIGH // WIDE

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._strokes.append([self._point(event.position())])
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if not self._strokes or not event.buttons() & Qt.MouseButton.LeftButton:
            return
        last, new = self._strokes[-1][-1], self._point(event.position())
        if abs(last[0] - new[0]) + abs(last[1] - new[1]) >= LEAST_STEP:
            self._strokes[-1].append(new)
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton and self._strokes:
            self.signed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.clear()
            return
        super().keyPressEvent(event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        # Ink is dark on white in both themes, as it is on the page that it is printed on.
        painter.fillRect(self.rect(), Qt.GlobalColor.white)
        frame, wide = ("accent", 3) if self.hasFocus() else ("edge", 1)
        painter.setPen(QPen(self._theme.colour(frame), wide))
        painter.drawRect(self.rect().adjusted(wide // 2, wide // 2, -1 - wide // 2, -1 - wide // 2))
        painter.setPen(QPen(self._theme.colour("line"), 1))
        base = round(self.height() * 0.82)
        painter.drawLine(2 * GRID, base, self.width() - 2 * GRID, base)
        painter.setPen(QPen(Qt.GlobalColor.black, 2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        for stroke in self._strokes:
            points = [QPointF(x * self.width() / WIDE, y * self.height() / HIGH) for x, y in stroke]
            path = QPainterPath(points[0])
            for point in points[1:] or points:
                path.lineTo(point)
            painter.drawPath(path)


def page_pdf(workplace: Workplace, code: str, line: HireLine, page: str) -> bytes:
    """One page of a booking as PDF; Refused where it cannot be, with the reason."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench import printing

    stream = BytesIO()
    if page == BOARD:
        printing.print_course_board(workplace, code, stream)
    elif page == RECEIPT:
        printing.print_return_receipt(workplace, line.line.line_id, stream)
    else:
        facts = handover_facts(workplace, line.line.unit, code)
        if page in (LOG, LOG_FORM):
            printing.print_daily_log(workplace, facts, stream, fields=page == LOG_FORM)
        else:
            printing.print_handover(workplace, facts, stream, now=page == NOW)
    return stream.getvalue()


def sign_page(workplace: Workplace, code: str, tag: str, party: str, strokes: tuple[Stroke, ...]) -> int:
    """The key of a signature under the sheet of a unit, whose page is kept as it was signed."""
    # reportlab and its typefaces take longer to load than the window
    from fleetbench import printing

    return printing.sign_handover(workplace, code, tag, party, strokes)


def page_terms_form(workplace: Workplace, booking: BookingRecord) -> Form:
    """Asks in which language the pages of a booking are printed, and by which hour its units come back."""
    languages = tuple((name, key) for key, name in LANGUAGES.items())
    return Form(
        say("Language and return of {code}", code=booking.code),
        act_words="Save language and return",
        note="The front of the hand-over sheet is printed in this language. Pages that are signed stay as they were "
        "signed. Translations are not confirmed by a native speaker of the trade yet: the page says so.",
        fields=(
            Field("language", "Language of the pages", "choice", default=booking.language or ENGLISH),
            Field("back_by", "Return by", default=booking.back_by or "", hint="an hour of the last day, such as 17:00"),
        ),
        act=replacing(
            {"language": booking.language or ENGLISH, "back_by": booking.back_by},
            partial(set_page_terms, workplace, booking.code),
        ),
        load=lambda: {"language": languages},
    )


def write_pages(
    workplace: Workplace, code: str, lines: tuple[HireLine, ...], page: str, folder: Path, progress: Progress
) -> tuple[Path, ...]:
    """That page of every unit on a booking, a PDF each in a folder; it can be called off between two."""
    written = []
    chosen = lines[:1] if page == BOARD else lines
    for number, line in enumerate(chosen):
        progress(number, len(chosen), line.line.unit)
        name = f"{page}-{code}" + ("" if page == BOARD else f"-{line.line.unit}")
        target = folder / plain_name(name, ".pdf")
        if target in written:  # two tags that differ in a sign that no file name has
            target = folder / plain_name(f"{name[:70]}-{number + 1}", ".pdf")
        save_pdf(page_pdf(workplace, code, line, page), target)
        written.append(target)
    progress(len(chosen), len(chosen), "")
    return tuple(written)


def _unit_list(parent: QWidget) -> QListWidget:
    units = QListWidget(parent)
    units.setAccessibleName(worded("units of the booking"))
    units.setFixedWidth(_LEFT)
    units.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
    units.setToolTip(worded("Marked units are printed together, all in one job."))
    return units


class SheetsDialog(QDialog):
    """Shows the pages of one booking, unit by unit.

    Signals:
        page_shown: a page stands in the picture.
        written: the files of a batch, a tuple of paths.
        signed: a signature was recorded.
    """

    page_shown = Signal()
    written = Signal(object)
    signed = Signal()

    def __init__(
        self, theme: Theme, background: Background, workplace: Workplace, code: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(worded(say("Pages of {code}", code=code)))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(270 * GRID, 180 * GRID)
        self._theme, self._background, self._workplace, self.code = theme, background, workplace, code
        self.lines: tuple[HireLine, ...] = ()
        self.pdf = b""
        self._build()
        self._connect()
        self._lines = Refresher(background, self)
        self._lines.loaded.connect(self.show_lines)
        self._lines.refused.connect(self.banner.say_refused)
        self._page = Refresher(background, self)
        self._page.loaded.connect(self.show_pdf)
        self._page.refused.connect(self._on_no_page)
        self._lines.ask(lambda: hire_lines(workplace, code))

    def _build(self) -> None:
        theme = self._theme
        self.banner = Banner(theme, self)
        self.page = QuestionField(theme, "Page", PAGES, self, bench=False)
        self.page.show_given(SHEET)
        self.units = _unit_list(self)
        self.picture = QLabel(self)
        self.picture.setAccessibleName(worded("the page as it prints"))
        self.picture.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self._scroll = QScrollArea(self)
        self._scroll.setWidgetResizable(True)
        self._scroll.setWidget(self.picture)
        self._scroll.setAccessibleName(worded("the page as it prints, to scroll"))
        self.party = QuestionField(theme, "Signs", PARTIES, self, bench=False)
        self.party.show_given("diver")
        self.pad = SignaturePad(theme, self)
        self.pad.setFixedSize(_LEFT, _LEFT * 3 // 10)
        self.sign_button = plain_button(theme, "Sign as drawn", "", self)
        self.paper_button = plain_button(theme, "Signed on the printed page", "", self)
        self.print_button = lead_button(theme, "Print", "print", self)
        self.save_button = plain_button(theme, "Save as PDF…", "", self)
        self.all_button = plain_button(theme, "All units into a folder…", "", self)
        self.work = LongWork(
            theme, self._background, self.banner, self,
            cancelled=say("Cancelled. What was written before stays in the folder."),
        )  # fmt: skip
        self.leave_button = quiet_button(theme, "Close", "close", self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(BLOCK, BLOCK, BLOCK, BLOCK)
        layout.setSpacing(APART)
        layout.addWidget(text_label(say("Pages of {code}", code=self.code), "title", self))
        layout.addWidget(self.banner)
        layout.addWidget(self.page)
        middle = QHBoxLayout()
        middle.setSpacing(APART)
        left = QVBoxLayout()
        left.setSpacing(CLOSE)
        left.addWidget(self.units, 1)
        left.addWidget(self.party)
        left.addWidget(self.pad)
        left.addWidget(self.sign_button)
        left.addWidget(self.paper_button)
        middle.addLayout(left)
        middle.addWidget(self._scroll, 1)
        layout.addLayout(middle, 1)
        feet = QHBoxLayout()
        feet.setSpacing(CLOSE)
        for button in (self.print_button, self.save_button, self.all_button, self.leave_button):
            feet.addWidget(button)
        feet.addWidget(self.work, 1)
        feet.addStretch(1)
        layout.addLayout(feet)

    def _connect(self) -> None:
        self.page.answered.connect(self.look)
        self.units.currentRowChanged.connect(self.look)
        self.pad.signed.connect(self._on_drawn)
        self.sign_button.clicked.connect(self.sign_drawn)
        self.paper_button.clicked.connect(self.sign_on_paper)
        self.print_button.clicked.connect(self.print_page)
        self.save_button.clicked.connect(self._on_save)
        self.all_button.clicked.connect(self._on_all)
        self.work.changed.connect(self._show_batch)
        self.leave_button.clicked.connect(self.reject)
        self._on_drawn()

    @property
    def line(self) -> HireLine | None:
        """The unit that is chosen."""
        row = self.units.currentRow()
        return self.lines[row] if 0 <= row < len(self.lines) else None

    @Slot(object)
    def show_lines(self, lines: tuple[HireLine, ...]) -> None:
        """Show the units of the booking, the chosen one staying chosen."""
        row = max(0, self.units.currentRow())
        self.lines = lines
        self.units.clear()
        for each in lines:
            self.units.addItem(f"{each.line.unit}   {each.diver or worded('spare')}")
        if lines:
            self.units.setCurrentRow(min(row, len(lines) - 1))
            self.units.setFocus()
        else:
            self._on_no_page(say("No unit is on this booking yet: put one on it first."))

    @Slot()
    def look(self) -> None:
        """Draw the page of the chosen unit anew."""
        workplace, code, line, page = self._workplace, self.code, self.line, self.page.given or SHEET
        if line is not None:
            chosen = line
            self._page.ask(lambda: page_pdf(workplace, code, chosen, page))
        self._on_drawn()

    @Slot(object)
    def show_pdf(self, pdf: bytes) -> None:
        """Show all of it, front and back under each other."""
        self.banner.hide()
        self.pdf = pdf
        ratio = self.devicePixelRatioF()
        wide = self._scroll.viewport().width() - self._scroll.verticalScrollBar().sizeHint().width()
        image = picture_of_all(pdf, round(wide * ratio))
        image.setDevicePixelRatio(ratio)
        self.picture.setPixmap(QPixmap.fromImage(image))
        self._allow(True)
        if lacking := lacking_words(pdf):
            self.banner.say_refused(lacking)
        self.page_shown.emit()

    @Slot(str)
    def _on_no_page(self, words: str) -> None:
        self.pdf = b""
        self.picture.clear()
        self._allow(False)
        self.banner.say_refused(words)

    def _allow(self, able: bool) -> None:
        for button in (self.print_button, self.save_button, self.all_button):
            button.setEnabled(able)

    # signing

    @Slot()
    def _on_drawn(self) -> None:
        line = self.line
        signable = line is not None and line.line.out_at is not None and self.page.given == SHEET
        self.sign_button.setEnabled(signable and bool(self.pad.strokes))
        self.paper_button.setEnabled(signable)

    @Slot()
    def sign_drawn(self) -> None:
        """Record what was drawn under the sheet of the chosen unit."""
        self._sign(self.pad.strokes)

    @Slot()
    def sign_on_paper(self) -> None:
        """Record that the printed sheet was signed."""
        self._sign(())

    def _sign(self, strokes: tuple[tuple[tuple[int, int], ...], ...]) -> None:
        workplace, code, line, party = self._workplace, self.code, self.line, self.party.given or "diver"
        if line is None:
            return
        tag = line.line.unit
        job = self._background.run(lambda: sign_page(workplace, code, tag, party, strokes), self)
        job.succeeded.connect(partial(self._on_signed, party))
        job.refused.connect(self.banner.say_refused)

    def _on_signed(self, party: str, _key: object) -> None:
        self.pad.clear()
        self.party.show_given("centre" if party == "diver" else "diver")
        self.signed.emit()
        self.look()

    # printing and saving

    @Slot()
    def print_page(self) -> None:
        """Print the page of every chosen unit, all in one job, on a printer that is chosen."""
        workplace, code, page, lines = self._workplace, self.code, self.page.given or SHEET, self.chosen
        job = self._background.run(lambda: [page_pdf(workplace, code, line, page) for line in lines], self)
        job.succeeded.connect(self._on_printable)
        job.refused.connect(self.banner.say_refused)

    @property
    def chosen(self) -> tuple[HireLine, ...]:
        """The units whose pages are printed: the marked ones; the board is one page for all."""
        rows = sorted({index.row() for index in self.units.selectedIndexes()})
        lines = tuple(self.lines[row] for row in rows)
        return lines[:1] if self.page.given == BOARD else lines

    @Slot(object)
    def _on_printable(self, pdfs: list[bytes]) -> None:
        if print_pages(pdfs, self):
            self.banner.say_note(say("{count} sent to the printer.", count=counted(len(pdfs), "document")))

    def save_to(self, path: Path) -> None:
        """Write the page that is shown to a file; says so where it cannot be written."""
        try:
            save_pdf(self.pdf, path)
        except Refused as refusal:
            self.banner.say_refused(str(refusal))
            return
        self.banner.say_note(say("Saved as {path}.", path=path))

    @Slot()
    def _on_save(self) -> None:
        line = self.line
        name = plain_name(f"{self.page.given or SHEET}-{self.code}-{line.line.unit if line else ''}", ".pdf")
        path, _ = QFileDialog.getSaveFileName(self, worded("Save the page"), name, "PDF (*.pdf)")
        if path:
            self.save_to(Path(path))

    @Slot()
    def _on_all(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, worded("Folder for the pages"))
        if folder:
            self.write_all(Path(folder))

    def write_all(self, folder: Path) -> None:
        """Write the page of every unit into a folder, with progress; it can be called off."""
        workplace, code, lines, page = self._workplace, self.code, self.lines, self.page.given or SHEET
        self.work.start(lambda progress: write_pages(workplace, code, lines, page, folder, progress), self._on_written)

    @Slot(object)
    def _on_written(self, files: tuple[Path, ...]) -> None:
        self.banner.say_note(
            say("{count} written to {parent}.", count=counted(len(files), "page"), parent=files[0].parent)
        )
        self.written.emit(files)

    @Slot()
    def _show_batch(self) -> None:
        self.all_button.setEnabled(bool(self.pdf) and not self.work.is_busy)

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        keep_on_screen(self)
