"""Opening the records for the window: off the GUI thread, with whose fleet it is.

What stands in the window before the records are open, and when they cannot be opened.
"""

from dataclasses import dataclass, field
from functools import partial
from zoneinfo import ZoneInfo

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from fleetbench.records.core.errors import NotFound
from fleetbench.settings import data_folder
from fleetbench.window.look.buttons import Emptiness, EmptyState
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.pages import Page
from fleetbench.workshop.core.workplace import Shop


@dataclass(frozen=True, slots=True)
class Opened:
    """An open workshop, the centre's name (empty while nothing is recorded), how many units, the site's time zone."""

    shop: Shop
    centre: str = ""
    units: int | None = None
    zone: ZoneInfo = field(default_factory=partial(ZoneInfo, "UTC"))


def open_records(database: str) -> Opened:
    """The workshop on the database at that URL or path, brought up to date if it is older.

    Raises Refused (Unreadable) where it cannot be opened, is foreign or newer.
    """
    # These read the tables' definitions, which takes as long as showing the window: it is shown first.
    from fleetbench.records.upkeep.migrate import open_database

    shop = Shop(open_database(database), attended=True)
    if shop.database.upgraded:
        # Scipy comes with it, and it is needed once in the life of a database.
        from fleetbench.workshop.parts.lives import keep_anew

        keep_anew(shop)
    return as_opened(shop)


def as_opened(shop: Shop) -> Opened:
    """An open workshop with whose fleet it is; raises Refused where it cannot be read."""
    # It reads the tables' definitions as well.
    from fleetbench.workshop.core.workplace import read_centre

    try:
        centre = read_centre(shop)
    except NotFound:
        return Opened(shop, units=0)
    return Opened(shop, centre.name, centre.units, ZoneInfo(centre.timezone))


def title_of(opened: Opened) -> str:
    """The window's title: whose records they are, in which file and where it lies."""
    path = opened.shop.database.path
    where = f"{path.name} in {path.parent}" if path is not None else "on a server"
    return " – ".join((*([opened.centre] if opened.centre else []), where, "fleetbench"))


def is_sample(opened: Opened) -> bool:
    """Whether the records are the sample's."""
    path = opened.shop.database.path
    return path is not None and path.parent == data_folder() / "sample"


_OPENING = Emptiness("Opening the records", "This takes a moment.", "units", "try_again", "Try again")


class StartPage(Page):
    """Says that the records are being opened, or why they cannot be, with a way to try again.

    Signals:
        try_again_requested: the reader has mended what was wrong.
    """

    try_again_requested = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "", parent)
        self.state = EmptyState(theme, _OPENING, self)
        self.state.offer(False)
        self.content.addWidget(self.state, 1)
        self.state.action_requested.connect(self._on_action)

    @Slot(str)
    def say_refused(self, line: str) -> None:
        """Say why the records cannot be opened."""
        self.state.say("The records cannot be opened", line)
        self.state.offer(True)

    @Slot()
    def say_opening(self) -> None:
        """Say that they are being opened."""
        self.state.say(_OPENING.headline, _OPENING.next_step)
        self.state.offer(False)

    @Slot(str)
    def _on_action(self, _name: str) -> None:
        self.say_opening()
        self.try_again_requested.emit()
