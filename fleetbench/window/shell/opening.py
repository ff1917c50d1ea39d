"""The records behind the window: opened off the GUI thread, and watched for what another desk writes.

What stands in the window before the records are open, and when they cannot be opened.
"""

import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Protocol
from zoneinfo import ZoneInfo

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from fleetbench.calc.core.languages import say, shown, strung
from fleetbench.calc.core.measures import StatedUnits, use
from fleetbench.records.core.errors import NotFound
from fleetbench.settings import chosen_paper, data_folder
from fleetbench.window.look.buttons import Emptiness, EmptyState, plain_button
from fleetbench.window.look.theme import CLOSE, SECTION, Theme, put_font
from fleetbench.window.shell.pages import BESIDE_THE_RAIL, HELP_PAGE, PAGES, Page, PageContext

if TYPE_CHECKING:
    from fleetbench.records.core.database import Database
    from fleetbench.records.core.watch import Watch
    from fleetbench.workshop.core.workplace import Workplace  # likewise


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


@dataclass(frozen=True, slots=True)
class Opened:
    """An open workshop, the centre's name (empty while nothing is recorded), how many units, and the site's zone.

    told: what the user should know before recording anything; said: what was done. Empty for nothing.
    currency: of prices, empty where none is recorded. entry: the journal's last one then.
    """

    workplace: "Workplace"
    centre: str = ""
    units: int | None = None
    zone: ZoneInfo = field(default_factory=partial(ZoneInfo, "UTC"))
    told: str = ""
    currency: str = ""
    entry: int | None = None
    stated: StatedUnits = field(default_factory=StatedUnits)
    said: str = ""

    @property
    def shown_in(self) -> tuple[ZoneInfo, str, StatedUnits]:
        """The zone in which times are shown, the currency of prices, and the units of figures."""
        return self.zone, self.currency, self.stated


@dataclass(frozen=True, slots=True)
class NoneThere:
    """No database is at that place: where it was looked for, and the name of a copy that stands beside, or empty."""

    where: str
    kept: str = ""


def open_records(database: str, *, create: bool = False, said: str = "") -> Opened | NoneThere:
    """The workshop on the database at that URL or path, brought up to date if it is older; or that none is there.

    A new one is started only where that was asked for. said: what to tell first, as of a restore. Raises
    Refused (Unreadable) where it cannot be opened, is foreign or newer.
    """
    # These read the tables' definitions, which takes as long as showing the window: it is shown first.
    from fleetbench.records.upkeep.migrate import DatabaseState, examine, kept_beside, open_database
    from fleetbench.workshop.core.workplace import Workplace

    found = examine(database)
    if not create and (found is None or found.standing is DatabaseState.EMPTY):
        kept = kept_beside(database)
        return NoneThere(database, kept[-1].name if kept else "")
    workplace = Workplace(open_database(database), attended=True, paper=chosen_paper)
    if workplace.database.upgraded:
        # Scipy comes with it, and it is needed once in the life of a database.
        from fleetbench.workshop.parts.lives import keep_anew

        keep_anew(workplace)
    # The page that is shown first comes with the workshop it asks, and so do the line of half-done work and the choice
    # of users: read here, they hold no key press up.
    for name in (PAGES[0].module, *ASKED_AT_ONCE):
        import_module(name)
    opened = as_opened(workplace)
    told = strung(" ", (said, opened.told)) if said and opened.told else opened.told
    return replace(opened, told=told, said=said)


def as_opened(workplace: "Workplace") -> Opened:
    """An open workshop with whose fleet it is; raises Refused where it cannot be read."""
    # It reads the tables' definitions as well.
    from fleetbench.workshop.core.workplace import clock_in_doubt, last_number, read_centre

    told, entry = workplace.database.told, last_number(workplace)
    try:
        centre = read_centre(workplace)
    except NotFound:
        return Opened(workplace, units=0, told=told, entry=entry)
    told = strung(" ", filter(None, (clock_in_doubt(workplace), told)))
    prices = centre.currency or ""
    use(centre.stated)
    return Opened(
        workplace,
        centre=centre.name,
        units=centre.units,
        zone=ZoneInfo(centre.timezone),
        told=told,
        currency=prices,
        entry=entry,
        stated=centre.stated,
    )


def title_of(opened: Opened) -> str:
    """The window's title: whose records they are, in which file and where it lies."""
    path = opened.workplace.database.path
    where = say("{path} in {parent}", path=path.name, parent=path.parent) if path is not None else say("on a server")
    return " – ".join((*([opened.centre] if opened.centre else []), where, "fleetbench"))


def nothing_to_say(_opened: Opened) -> str:
    """Where nothing reminds of backups, as on records of a test."""
    return ""


def is_sample(opened: Opened) -> bool:
    """Whether the records are the sample's."""
    path = opened.workplace.database.path
    return path is not None and path.parent == data_folder() / "sample"


ASKED_AT_ONCE = ("fleetbench.workshop.bench.half_done", "fleetbench.workshop.people.list")
"""What the window asks of the workshop as soon as the records are open, besides its first page."""

DRAWS = ("pyqtgraph",)
"""What plots are drawn with."""


def read_ahead() -> tuple[str, ...]:
    """What a first look at a page would otherwise import, in the midst of a key press: every page, and plots."""
    return (*(spec.module for spec in (*PAGES, *BESIDE_THE_RAIL)), HELP_PAGE, *DRAWS)


_OPENING = Emptiness("Opening the records", "This takes a moment.", "units", "try_again", "Try again")


Open = Callable[..., Opened | NoneThere]
"""Opens the records; with create=True where none is yet."""


class Kept(Protocol):
    """What was kept of the first page, to be shown while the records are opened."""

    def page(self, theme: Theme, parent: QWidget) -> Page | None:
        """A page with what was kept, None where that may be shown no more."""

    def again(self, context: PageContext) -> None:
        """Keep the first page as it stands now; off the GUI thread."""


class StartPage(Page):
    """Says that the records are being opened, or why they cannot be, with a way to try again.

    Signals:
        try_again_requested: the reader has mended what was wrong.
        new_requested: the reader starts a new centre where no database is.
    """

    try_again_requested = Signal()
    new_requested = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "", parent)
        self._kept: Page | None = None
        self.state = EmptyState(theme, _OPENING, self)
        self.state.offer(False)
        self.content.addWidget(self.state, 1)
        self.state.action_requested.connect(self._on_action)
        self.new_button = plain_button(theme, "Start a new centre here", "add", self)
        self.new_button.hide()
        self.state.also(self.new_button)
        self.new_button.clicked.connect(self._on_new)

    def ask_new(self, none: NoneThere) -> None:
        """Say that no database is there, and offer to look again or to start a new one."""
        self._hide_kept()
        said = (
            say("A copy of what was here is kept: {kept}. Put it back with 'fleetbench restore'.", kept=none.kept)
            if none.kept
            else say("Nothing is at {where}.", where=none.where)
        )
        self.state.say("No records are here" if none.kept else "No records are here yet", said)
        self.state.offer(True)
        self.new_button.show()

    def show_kept(self, kept: Kept) -> None:
        """Show what was kept of the first page, where it may be shown, until the page itself is there."""
        self._kept = kept.page(self.theme, self)
        if self._kept is None:
            return
        self.content.insertWidget(self.content.indexOf(self.state), self._kept, 1)
        self._kept.place_requested.connect(self.place_requested)
        self._kept.focus_first()
        self.state.hide()

    def at_hand(self) -> object:
        return self._kept.at_hand() if self._kept is not None else None

    def _hide_kept(self) -> None:
        if self._kept is not None:
            self._kept.hide()
            self.state.show()

    @Slot(str)
    def say_refused(self, line: str) -> None:
        """Say why the records cannot be opened."""
        self._hide_kept()
        self.new_button.hide()
        self.state.say("The records cannot be opened", line)
        self.state.offer(True)

    @Slot()
    def say_opening(self) -> None:
        """Say that they are being opened."""
        self.new_button.hide()
        self.state.say(_OPENING.headline, _OPENING.next_step)
        self.state.offer(False)

    @Slot()
    def _on_new(self) -> None:
        self.say_opening()
        self.new_requested.emit()

    @Slot(str)
    def _on_action(self, _name: str) -> None:
        self.say_opening()
        self.try_again_requested.emit()
