"""Pictures of the window without a display, for the demonstration and for looking at every page.

`python -m fleetbench.window.shell.pictures DATABASE FOLDER` runs in a process of its own, since a program that
has once drawn without a display cannot open a window afterwards.

A printed page as a picture in the window, and all pages of what is printed in one job on a printer.
"""

import os
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEventLoop, QSize, QTimer, QtMsgType, qInstallMessageHandler
from PySide6.QtGui import QImage, QPageSize, QPainter
from PySide6.QtWidgets import QApplication, QDialog, QMessageBox, QWidget

from fleetbench.calc.core.languages import say
from fleetbench.records.core.errors import Refused
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import open_records
from fleetbench.window.shell.place import PageKey

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

SMALL = QSize(1280, 800)
DEMO_PLACES = ("today", "units", "cells", "due")
_PATIENCE_MS = 30_000
_GAP = 8
"""Pixels between two pages that are shown under each other."""

_HARMLESS = "propagateSizeHints"


def wait_until(done: Callable[[], bool]) -> None:
    """Let the window work until that is so; raises Refused when it takes half a minute."""
    loop, patience, look = QEventLoop(), QTimer(), QTimer()
    patience.setSingleShot(True)
    patience.timeout.connect(partial(loop.exit, 1))
    look.timeout.connect(lambda: loop.exit(0) if done() else None)
    patience.start(_PATIENCE_MS)
    look.start(10)
    late = loop.exec()
    look.stop()
    patience.stop()
    if late:
        raise Refused(say("pictures: the window did not finish loading within half a minute; try again when less runs"))


def settle(desk: Desk) -> None:
    """Wait until the shown page is loaded, nothing is on its way, and the layout has come to rest."""
    wait_until(lambda: desk.window.page.is_loaded and not desk.background.is_busy)
    for _ in range(3):
        QApplication.processEvents()


def sign_in(desk: Desk) -> None:
    """Sign the first technician in, as whom the acts of a picture open; nobody where none is recorded."""
    settle(desk)
    signed_in = desk.background.signed_in
    signed_in.choose(next((each.person_id for each in signed_in.offered), None))
    settle(desk)


def take(widget: QWidget, path: Path) -> Path:
    """Write the widget as a PNG; raises Refused when the file cannot be written."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if not widget.grab().save(str(path)):
        raise Refused(say("pictures: {path} cannot be written; check the folder and its rights", path=path))
    return path


def take_demo_pictures(database: str, folder: Path) -> tuple[Path, ...]:
    """Pictures of a few pages of the window on that database, and of the first unit that is on hold."""
    desk = Desk(partial(open_records, database), "light")
    desk.window.resize(SMALL)
    desk.window.show()
    wait_until(lambda: desk.window.here.page != "start")
    taken = []
    for name in DEMO_PLACES:
        desk.window.go(PageKey(name))
        settle(desk)
        taken.append(take(desk.window, folder / f"window_{name}.png"))
    tag = _first_on_hold(desk)
    if tag is not None:
        desk.window.go(PageKey("units", tag))
        settle(desk)
        taken.append(take(desk.window, folder / "window_unit.png"))
    desk.close()
    return tuple(taken)


def without_display() -> QApplication:
    """The application, drawing into memory; to be called before anything else asks for one."""
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    qInstallMessageHandler(_on_message)
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    return app


def _first_on_hold(desk: Desk) -> str | None:
    from fleetbench.window.lists.list_page import ListPage  # the pages are already there, this only names their type

    desk.window.go(PageKey("units"))
    settle(desk)
    page = desk.window.page
    rows = page.model.rows if isinstance(page, ListPage) else ()
    held = [row.tag for row in rows if row.fit.value == "hold"]
    return held[0] if held else (rows[0].tag if rows else None)


def _on_message(kind: QtMsgType, _context: object, text: str) -> None:
    if _HARMLESS not in text:
        print(f"{kind.name}: {text}", file=sys.stderr)


def main() -> int:
    """Take the pictures named on the command line; 1 with one line when it cannot be done."""
    if len(sys.argv) != 3:
        print("usage: python -m fleetbench.window.shell.pictures DATABASE FOLDER", file=sys.stderr)
        return 2
    without_display()
    try:
        for path in take_demo_pictures(sys.argv[1], Path(sys.argv[2])):
            print(path)
    except Refused as refusal:
        print(f"fleetbench: {refusal}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())


def print_pages(pdfs: Sequence[bytes], parent: QWidget, page: QPageSize | None = None) -> bool:
    """Print every page of these PDFs in one job on a printer that is chosen; False where none is chosen.

    Signs that cannot be printed are told first, since a box in place of a name is no name.
    """
    lacking = next(filter(None, map(lacking_words, pdfs)), "")
    if lacking and QMessageBox.warning(parent, "Signs that cannot be printed", lacking, _EITHER) != _ALL_THE_SAME:
        return False
    # the print system is loaded by the user who prints
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    if page is not None:
        printer.setPageSize(page)
    if QPrintDialog(printer, parent).exec() != QDialog.DialogCode.Accepted:
        return False
    draw_pages(pdfs, printer)
    return True


_ALL_THE_SAME = QMessageBox.StandardButton.Ignore
_EITHER = _ALL_THE_SAME | QMessageBox.StandardButton.Cancel
_MOST_LACKING = 300


def lacking_words(pdf: bytes) -> str:
    """Which lines of a page show a box instead of a sign, and what to do; empty where there is none."""
    # what pages are drawn with is loaded by the user who looks at one
    import pypdfium2

    from fleetbench.paper.core.scripts import east_asian_faces
    from fleetbench.paper.core.tags import LACKING

    document = pypdfium2.PdfDocument(pdf)
    try:
        told = document.get_metadata_value("Keywords")
    finally:
        document.close()
    if not told.startswith(LACKING):
        return ""
    lines = told.removeprefix(LACKING)[:_MOST_LACKING]
    told = say(
        "A box stands for each sign that the typeface lacks: {lines}. Write them by hand on the "
        "printed page, or enter the name in Latin letters as its passport has it.",
        lines=lines,
    )
    return told if east_asian_faces() else f"{told} {_NO_EAST_ASIAN_FACES}"


_NO_EAST_ASIAN_FACES = say("Chinese, Japanese and Korean names print whole once the extra named cjk is installed.")


def draw_pages(pdfs: Sequence[bytes], printer: "QPrinter") -> int:
    """Draw every page of these PDFs, each on a page of its own; how many there were."""
    printer.setFullPage(True)
    painter = QPainter(printer)
    target, drawn = painter.viewport(), 0
    for pdf in pdfs:
        for number in range(page_count(pdf)):
            if drawn:
                printer.newPage()
            image = picture_of(pdf, target.size(), number)
            painter.drawImage((target.width() - image.width()) // 2, 0, image)
            drawn += 1
    painter.end()
    return drawn


def page_count(pdf: bytes) -> int:
    """How many pages a PDF has."""
    # PDF drawing is loaded by the user who looks at a page
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        return len(document)
    finally:
        document.close()


def picture_of_all(pdf: bytes, wide: int) -> QImage:
    """All pages under each other, each so wide in pixels; Refused where they cannot be drawn."""
    size = QSize(wide, 3 * wide)
    first = picture_of(pdf, size)
    drawn = [first, *(picture_of(pdf, size, number) for number in range(1, page_count(pdf)))]
    whole = QImage(wide, sum(each.height() for each in drawn) + _GAP * (len(drawn) - 1), QImage.Format.Format_ARGB32)
    whole.fill(0)
    painter, top = QPainter(whole), 0
    for each in drawn:
        painter.drawImage(0, top, each)
        top += each.height() + _GAP
    painter.end()
    return whole


def picture_of(pdf: bytes, size: QSize, page: int = 0) -> QImage:
    """That page on white, as wide as asked or as high, whichever is reached first; Refused where it cannot be drawn."""
    # PDF drawing is loaded by whoever looks at a page
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(pdf)
    except pypdfium2.PdfiumError as fault:
        raise Refused(say("page: it cannot be shown; save it as PDF and open that")) from fault
    try:
        sheet = document[page]
        scale = min(size.width() / sheet.get_width(), size.height() / sheet.get_height())
        drawn = sheet.render(scale=scale, rev_byteorder=True)
        whole = QImage(bytes(drawn.buffer), drawn.width, drawn.height, drawn.stride, QImage.Format.Format_RGB888)
        return whole.copy()
    finally:
        document.close()
