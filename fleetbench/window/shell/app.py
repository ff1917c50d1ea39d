"""Starting the window: application, looks, hooks for what nobody foresaw, and the line for a missing display."""

import logging
import os
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from importlib import import_module
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from PySide6.QtCore import (
    QByteArray,
    QCoreApplication,
    QLibraryInfo,
    QLocale,
    QMargins,
    QObject,
    QSettings,
    QTimer,
    QTranslator,
    Signal,
    Slot,
)
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtWidgets import QApplication, QWidget

from fleetbench.calc.core.languages import chosen, read_in, say, strung
from fleetbench.records.core.errors import Refused
from fleetbench.settings import SETTINGS, backup_reminder, data_folder, keep_witness, last_backup, read_settings
from fleetbench.shipped import shipped
from fleetbench.window.look.theme import GRID, Theme
from fleetbench.window.shell.background import Background, CycleSearch, ProgramFault, fault_of
from fleetbench.window.shell.main_window import MainWindow
from fleetbench.window.shell.opening import (
    Kept,
    Open,
    Opened,
    is_sample,
    nothing_to_say,
    open_records,
    read_ahead,
)
from fleetbench.window.shell.pages import PageContext

if TYPE_CHECKING:
    from fleetbench.records.core.database import Database  # likewise read later

log = logging.getLogger(__name__)

GEOMETRY, ZOOM = "geometry", "text_size"
KEPT = "fleetbench.window.units.kept_today"
"""Keeps the first page; named as pages are, since it stands above the frame that shows them."""

TURN_S = 0.0005
"""For so long a thread may hold the interpreter while another waits: a paint asks for it hundreds of times, and each
time behind whatever is loaded meanwhile."""

A_WHILE = 60_000
"""Milliseconds between two looks whether something was written since the first page was kept."""

WITNESSED = 600_000
"""Milliseconds between two looks whether the journal's head was kept elsewhere today."""

CLOSING_SECONDS = 5.0
"""How long a closing window waits for folders of witnesses that do not answer, such as a share that is gone."""

A_MOMENT = 300
"""Milliseconds between two looks whether the first page stands."""
FRAME = QMargins(GRID, 8 * GRID, GRID, GRID)
"""Room that a window's title and edges take on a screen."""


def display_missing() -> str | None:
    """One line of advice when there is no display to open a window on, else None."""
    if not sys.platform.startswith("linux"):
        return None
    if any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")):
        return None
    return say(
        "no display: run this on a desktop, or use the command line (fleetbench --help); "
        "'fleetbench demo --folder DIR' writes pages and pictures without one"
    )


class FaultCatcher(QObject):
    """Catches what nobody foresaw, in any thread, logs it and hands it on in the GUI thread.

    Signals:
        caught: the Fault.
    """

    caught = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._before = (sys.excepthook, threading.excepthook)
        sys.excepthook = self._on_exception
        threading.excepthook = self._on_thread_exception

    def let_go(self) -> None:
        """Put back the hooks that were there before."""
        sys.excepthook, threading.excepthook = self._before

    def _on_exception(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            self._before[0](kind, error, trace)
            return
        fault = fault_of(error)
        log.error("unforeseen: %s", fault.trace)
        self.caught.emit(fault)

    def _on_thread_exception(self, args: threading.ExceptHookArgs) -> None:
        if args.exc_value is not None:
            self._on_exception(args.exc_type, args.exc_value, args.exc_traceback)


class Desk(QObject):
    """Application, looks, background work and window, tied together; the tests open the same desk."""

    def __init__(
        self,
        open_workplace: Open,
        look: str = "system",
        kept: Kept | None = None,
        parent: QObject | None = None,
        *,
        reminds: Callable[[Opened], str] = nothing_to_say,
    ) -> None:
        super().__init__(parent)
        self.cycles = CycleSearch(self)
        self._turn_before = sys.getswitchinterval()
        sys.setswitchinterval(TURN_S)
        self.kept = kept
        self._told: tuple[str, ...] = ()
        self.theme = Theme(self)
        if look != "system":
            self.theme.set_look(look)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.theme.apply(app)
        self.background = Background(self)
        self.window = MainWindow(self.theme, self.background, open_workplace, kept, reminds=reminds)
        self.catcher = FaultCatcher(self)
        self.catcher.caught.connect(self._on_caught)

    def close(self) -> None:
        """Close the window, wait for work on its way, and let go of the hooks."""
        self.catcher.let_go()
        self.window.close()
        self.background.wait()
        self.cycles.let_go()
        sys.setswitchinterval(self._turn_before)

    @Slot(object)
    def tell(self, lines: object) -> None:
        """Say what could not be kept elsewhere, once and quietly."""
        assert isinstance(lines, tuple)
        if lines and lines != self._told:
            self.window.page.banner.say_note(strung(" ", lines))
        self._told = lines

    @Slot(object)
    def warn(self, line: object) -> None:
        """Say what is wrong with the records, where anything is."""
        if line:
            self.window.page.banner.say_refused(str(line))

    @Slot(object)
    def _on_caught(self, fault: ProgramFault) -> None:
        self.window.show_fault(fault)


def remind_of_backups(file: Path, opened: Opened) -> str:
    """What to say of backups when records are opened; nothing of an empty centre, of the sample, or on a server."""
    if not opened.units or is_sample(opened) or opened.workplace.database.path is None:
        return ""
    return backup_reminder(read_settings(file), opened.workplace.today())


def run(database: str, look: str = "") -> int:
    """Open the window on the database at that URL or path and return the exit code when it is closed.

    look: system or one of SCHEMES; as the settings say where empty. Call display_missing() first: without a display Qt
    ends the process.
    """
    app = QApplication.instance() or QApplication(sys.argv[:1])
    app.setApplicationName("fleetbench")
    QGuiApplication.setDesktopFileName("fleetbench")
    QGuiApplication.setWindowIcon(QIcon(str(shipped("resources") / "icons" / "fleetbench.svg")))
    file = data_folder() / SETTINGS
    settings = read_settings(file)
    speak(app, settings["language"])
    desk = Desk(
        partial(open_records, database), look or settings["look"], import_module(KEPT).kept_of(database),
        reminds=partial(remind_of_backups, file),
    )  # fmt: skip
    kept = QSettings(str(data_folder() / "window.ini"), QSettings.Format.IniFormat)
    desk.theme.set_zoom(float(str(kept.value(ZOOM, 1.0))))
    place_window(desk.window, kept)
    desk.window.show()
    settle(desk)
    QTimer.singleShot(A_WHILE, desk, partial(witness, desk, file.parent))
    QTimer.singleShot(A_WHILE, desk, partial(look_for_damage, desk, file))
    daily = QTimer(desk, interval=WITNESSED)
    daily.timeout.connect(partial(witness, desk, file.parent))
    daily.start()
    code = app.exec()
    kept.setValue(ZOOM, desk.theme.zoom)
    kept.setValue(GEOMETRY, desk.window.saveGeometry())
    witness_at_closing(desk, file.parent)
    desk.close()
    return code


def speak(app: QCoreApplication, wanted: str) -> None:
    """Read in the language that the settings want, Qt's own buttons and choosers of files too."""
    code = chosen(wanted, QLocale.system().uiLanguages())
    read_in(code)
    buttons = QTranslator(app)
    if buttons.load(f"qtbase_{code}", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)):
        app.installTranslator(buttons)


def keep(desk: Desk) -> None:
    """Keep the first page as it stands, and again a while after something was written."""
    context, kept = desk.window.context, desk.kept
    if context is not None and kept is not None:
        if not desk.background.is_busy:
            desk.background.run(partial(kept.again, context), urgent=False)
        QTimer.singleShot(A_WHILE, desk, partial(keep, desk))


def witness(desk: Desk, data: Path) -> None:
    """Keep the journal's head in the folders of witnesses, once a day however often this is called.

    data: the folder of settings and of the desk's key.
    """
    context = _to_witness(desk, data)
    if context is not None:
        kept = partial(keep_witness, context.workplace.database, data, context.workplace.clock(), daily=True)
        desk.background.run(kept, urgent=False).succeeded.connect(desk.tell)


def look_for_damage(desk: Desk, file: Path) -> None:
    """Look for damaged pages of the open file in the background, and say so with the way back."""
    context = desk.window.context
    if context is not None:
        look = partial(_damage, context.workplace.database, file)
        desk.background.run(look, urgent=False).succeeded.connect(desk.warn)


def _damage(database: "Database", file: Path) -> str:
    # it reads the tables' definitions, which no start waits for
    from fleetbench.records.upkeep.backup import damage

    newest = last_backup(read_settings(file)["backup_folder"])
    return damage(database, [newest] if newest else [])


def _to_witness(desk: Desk, data: Path) -> PageContext | None:
    """The open records, unless they are the sample's, which prove nothing."""
    context = desk.window.context
    path = context.workplace.database.path if context is not None else None
    return None if path is not None and path.parent == data / "sample" else context


def witness_at_closing(desk: Desk, data: Path) -> None:
    """Keep the journal's head as the window leaves it, without waiting for a folder that does not answer."""
    context = _to_witness(desk, data)
    if context is None:
        return

    def kept() -> None:
        with suppress(Refused):  # nobody is there to be told
            keep_witness(context.workplace.database, data, context.workplace.clock())

    writing = threading.Thread(target=kept, daemon=True)
    writing.start()
    writing.join(CLOSING_SECONDS)


def settle(desk: Desk) -> None:
    """Once the first page stands and nothing is on its way: import what other pages want, and look for cycles then."""
    if desk.window.page.is_loaded and not desk.background.is_busy:
        import_next(desk, read_ahead())
        QTimer.singleShot(A_MOMENT, desk, partial(keep, desk))
    else:
        QTimer.singleShot(A_MOMENT, desk, partial(settle, desk))


def import_next(desk: Desk, names: Sequence[str], _before: object = None) -> None:
    """Import these one after the other in the background, so that a page waits for one alone."""
    if names:
        reading = desk.background.read(partial(import_module, names[0]), desk)
        reading.succeeded.connect(partial(import_next, desk, names[1:]))
    else:
        desk.cycles.begin()


def place_window(window: QWidget, kept: QSettings) -> None:
    """Put a window where it stood when it was closed last, and always whole on a screen that is there."""
    geometry = kept.value(GEOMETRY)
    if isinstance(geometry, QByteArray):
        window.restoreGeometry(geometry)
    room = window.screen().availableGeometry().marginsRemoved(FRAME)
    window.resize(window.size().boundedTo(room.size()))
    place = window.geometry()
    place.moveLeft(max(room.left(), min(place.left(), room.right() - place.width())))
    place.moveTop(max(room.top(), min(place.top(), room.bottom() - place.height())))
    window.setGeometry(place)
