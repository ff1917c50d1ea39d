"""Hears in a thread of its own that another desk wrote, or that the server is lost or back; tells the window."""

import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from fleetbench.calc.core.languages import say, shown
from fleetbench.window.look.theme import CLOSE, SECTION, put_font
from fleetbench.window.shell.pages import Page

if TYPE_CHECKING:
    # Only named here: they read the tables' definitions, which takes longer than showing the window.
    from fleetbench.records.core.database import Database
    from fleetbench.records.core.watch import Watch

AGAIN = 500
"""Milliseconds until a page that could not follow is looked at again."""

FIRST_WAIT, LONGEST_WAIT = 0.5, 15.0
"""Seconds before a lost server is tried again: twice as long each time."""

LEAVING_SECONDS = 0.5
"""So long a window waits for it; a thread that waits for a server that is gone ends with the process."""


class Watching(QObject):
    """What goes on at other desks.

    Signals:
        moved: the journal's last entry, once another desk wrote it.
        lost: the database does not answer, and why in one line.
        back: it answers again, and what became of an act whose answer was lost, or nothing.
    """

    moved = Signal(int)
    lost = Signal(str)
    back = Signal(str)
    _heard = Signal(object, str, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._watch: Watch | None = None
        self._thread: threading.Thread | None = None
        self._heard.connect(self._on_heard, Qt.ConnectionType.QueuedConnection)

    def begin(self, database: "Database", seen: int | None = None) -> None:
        """Watch this database, and no other; seen: the entry of its journal that pages show already."""
        from fleetbench.records.core.watch import Watch  # the tables' definitions are read by now

        self.stop()
        self._watch = Watch(database, seen)
        self._thread = threading.Thread(target=self._run, args=(self._watch, database), name="watch", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Watch nothing any more; returns once the connection is given back."""
        if self._watch is not None and self._thread is not None:
            self._watch.stop()
            self._thread.join(LEAVING_SECONDS)
        self._watch = self._thread = None

    def _run(self, watch: "Watch", database: "Database") -> None:
        wait = FIRST_WAIT
        while not watch.is_stopped:
            try:
                entry = watch.wait()
                said = self._settled(database) if wait > FIRST_WAIT else ""
            except Exception as fault:  # whatever it is: a watch that ended would leave pages stale without a word
                self._tell(watch, "lost", str(fault))
                watch.pause(wait)
                wait = min(2 * wait, LONGEST_WAIT)
                continue
            if wait > FIRST_WAIT:
                self._tell(watch, "back", said)
                wait = FIRST_WAIT
            if entry is not None:
                self._tell(watch, "moved", entry)
        watch.close()

    def _settled(self, database: "Database") -> str:
        from fleetbench.records.core.transaction import settle_doubt  # likewise

        return settle_doubt(database)

    def _tell(self, watch: "Watch", kind: str, value: object) -> None:
        with suppress(RuntimeError):  # the window closed meanwhile, and nobody is left to hear of it
            self._heard.emit(watch, kind, value)

    @Slot(object, str, object)
    def _on_heard(self, watch: object, kind: str, value: object) -> None:
        if watch is self._watch:
            {"moved": self.moved, "lost": self.lost, "back": self.back}[kind].emit(value)


class DesksLine(QLabel):
    """Keeps the shown page true to what other desks record, and says in one quiet line where that cannot be.

    Nothing that is typed is lost for it: a page that holds entries, or stands behind a dialog, follows afterwards.
    """

    def __init__(self, shown: Callable[[], Page], parent: QWidget) -> None:
        super().__init__(parent)
        put_font(self, "small")
        self.setProperty("role", "small")
        self._shown, self._zone = shown, ZoneInfo("UTC")
        self._lost = self._stale = ""
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setContentsMargins(SECTION, 0, SECTION, CLOSE)
        self.setWordWrap(True)
        self.hide()
        self.watching = Watching(self)
        self._timer = QTimer(self)
        self._timer.setInterval(AGAIN)
        self._timer.timeout.connect(self._follow)
        self.watching.moved.connect(self._on_moved)
        self.watching.lost.connect(self._on_lost)
        self.watching.back.connect(self._on_back)

    def begin(self, database: "Database", seen: int | None, zone: ZoneInfo) -> None:
        """Follow what is recorded in this database after an entry of its journal; times are told in that zone."""
        self._zone, self._lost = zone, ""
        self.forget()
        self.watching.begin(database, seen)

    def stop(self) -> None:
        """Follow nothing any more."""
        self.watching.stop()
        self.forget()

    def _now(self) -> str:
        return f"{datetime.now(self._zone):%H:%M}"

    @Slot()
    def forget(self) -> None:
        """Another page is shown and loads by itself, or the window closes."""
        self._timer.stop()
        self._stale = ""
        self._say()

    @Slot(int)
    def _on_moved(self, _entry: int) -> None:
        self._stale = self._stale or self._now()
        self._follow()

    @Slot(str)
    def _on_lost(self, why: str) -> None:
        if not self._lost:
            self._lost = say(
                "{why}{why_2}. Shown as of {now}; it is tried again by itself.",
                why=why[:1].upper(),
                why_2=why[1:],
                now=self._now(),
            )
            self._say()

    @Slot(str)
    def _on_back(self, said: str) -> None:
        self._lost = ""
        if said:
            self._shown().banner.say_note(f"{said[:1].upper()}{said[1:]}.")
        self._on_moved(0)

    @Slot()
    def _follow(self) -> None:
        page = self._shown()
        aside = QApplication.activeModalWidget() is not None or QApplication.activePopupWidget() is not None
        if aside or page.holds_entries():
            self._timer.start()
        else:
            self._timer.stop()
            self._stale = ""
            page.follow()
        self._say()

    def _say(self) -> None:
        waits = self._stale and self._shown().holds_entries()
        stale = say(
            "Another desk recorded something at {stale}. It is shown once your entry is saved or emptied.",
            stale=self._stale,
        )
        self.setText(shown(self._lost or (stale if waits else "")))
        self.setVisible(bool(self.text()))
