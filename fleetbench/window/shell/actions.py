"""Everything that can be done from the menus, as a table of data; menus and the page of shortcuts are built from it.

The page of keys, built from the table of actions so that it cannot fall behind it.

What the main window knows of pages on which work is done, without importing them before they are shown.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from importlib import import_module
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenuBar, QWidget

from fleetbench.calc.core.languages import say, strung, worded
from fleetbench.calc.people.permits import who_may
from fleetbench.window.detail.detail import Detail, Line, Table
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.look.buttons import as_button_text
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.pages import PageSpec


class Enabled(Enum):
    """When an action can be run."""

    NOTHING = "always"
    RECORDS = "once a database is open"
    LIST = "on a page with a list"
    WAY_BACK = "after another page"
    SAMPLE = "while the sample is open"


@dataclass(frozen=True, slots=True)
class ActionSpec:
    """One action: id, menu, text, keys, icon, when it can be run, and what it does in one line."""

    id: str
    menu: str
    text: str
    keys: tuple[str, ...]
    icon: str
    needs: Enabled
    help: str


MENUS = ("File", say("Go to"), "Bench", "List", "View", "Help")

ACTIONS: tuple[ActionSpec, ...] = (
    ActionSpec(
        "bring_in",
        "File",
        "Import files…",
        ("Ctrl+I",),
        "bring_in",
        Enabled.RECORDS,
        "Import a spreadsheet as you keep it, or a folder of the program's own files",
    ),
    ActionSpec(
        "walk_round", "Go to", "Walk-round…", ("Ctrl+Shift+K",), "open", Enabled.RECORDS,
        "What is not known of the fleet, in the order of the shelf, to look for and type in",
    ),
    ActionSpec(
        "begin", "File", "Begin…", ("Ctrl+Shift+A",), "add", Enabled.RECORDS,
        "Add a unit of a new type, import a spreadsheet, or look at the sample",
    ),
    ActionSpec(
        "settings", "File", "Settings…", ("Ctrl+,",), "columns", Enabled.RECORDS,
        "Look, folder of backups, back up and restore; version, licences and where the data lie",
    ),
    ActionSpec(
        "leave_sample", "File", "Leave the sample", ("Ctrl+Shift+W",), "close", Enabled.SAMPLE,
        "Return to your own records and delete the sample",
    ),
    ActionSpec("quit", "File", "Quit", ("Ctrl+Q",), "close", Enabled.NOTHING, "Close the window"),
    ActionSpec(
        "find", "Go to", "Find…", ("Ctrl+F",), "find", Enabled.RECORDS,
        "Jump to a tag, serial, lot or name, typed or scanned",
    ),
    ActionSpec(
        "people", "Go to", "People…", ("Ctrl+Shift+P",), "open", Enabled.RECORDS,
        "Staff, renters and students: certificates, PINs, how long names are kept",
    ),
    ActionSpec(
        "sign_in", "Go to", "Who is signed in…", ("Ctrl+Shift+S",), "open", Enabled.RECORDS,
        "Choose the user under whose name everything is recorded",
    ),
    ActionSpec("back", "Go to", "Back", ("Alt+Left",), "back", Enabled.WAY_BACK, "Return to the page before"),
    ActionSpec("refresh", "Go to", "Load again", ("F5",), "refresh", Enabled.RECORDS, "Load the page again"),
    ActionSpec(
        "calibrate", "Bench", "Calibrate…", ("Ctrl+K",), "calibrate", Enabled.RECORDS,
        "Calibrate the cells of the unit that is shown, or of one that you name",
    ),
    ActionSpec(
        "next_step", "Bench", "Next step", ("Ctrl+J",), "open", Enabled.RECORDS,
        "Go on with what is next on the unit that is shown, or was last",
    ),
    ActionSpec(
        "half_done", "Bench", "Half-done work", ("Ctrl+H",), "open", Enabled.RECORDS,
        "Go on with what is begun at the bench and calls first; again, with the next",
    ),
    ActionSpec(
        "read_meter", "Bench", "Read the meter", ("Ctrl+R",), "meter", Enabled.RECORDS,
        "Take a reading of a meter into the field that has the keyboard",
    ),
    ActionSpec("new_ticket", "Bench", "New ticket…", ("Ctrl+N",), "tickets", Enabled.RECORDS, "Open a service ticket"),
    ActionSpec("filter", "List", "Filter", ("Ctrl+L",), "filter", Enabled.LIST, "Show only rows that hold the words"),
    ActionSpec("columns", "List", "Columns…", ("Ctrl+Shift+L",), "columns", Enabled.LIST, "Choose the columns"),
    ActionSpec(
        "copy_table", "List", "Copy as table", ("Ctrl+Shift+C",), "copy_table", Enabled.LIST,
        "Copy the rows for a spreadsheet",
    ),
    ActionSpec("larger", "View", "Larger text", ("Ctrl++", "Ctrl+="), "text_size", Enabled.NOTHING, "All text larger"),
    ActionSpec("smaller", "View", "Smaller text", ("Ctrl+-",), "text_size", Enabled.NOTHING, "All text smaller"),
    ActionSpec(
        "usual_size", "View", "Usual text size", ("Ctrl+0",), "text_size", Enabled.NOTHING, "As the system has it"
    ),
    ActionSpec(
        "help", "Help", "Help on this page", ("F1",), "help", Enabled.NOTHING,
        "What this page is for, its acts, keys and columns, and what is calculated on it",
    ),
    ActionSpec(
        "all_help", "Help", "All help…", ("Ctrl+F1",), "find", Enabled.NOTHING,
        "Every page and every calculation, to search",
    ),
    ActionSpec("shortcuts", "Help", "Keys", ("Shift+F1",), "help", Enabled.NOTHING, "Show every key"),
)  # fmt: skip

KEYS_IN_A_LIST: tuple[tuple[str, str], ...] = (
    ("Enter", say("Open what the row stands for")),
    ("Escape", say("Clear the filter, then return to the page before")),
    (say("Alt+Up, Alt+Down"), say("Sort by the column the cursor is in, rising or falling")),
    (say("Left, Right"), say("Move to another column")),
    (say("Up from the first row"), say("Go to the filter")),
    (say("Down in the filter"), say("Go to the rows")),
    (say("Shift with Up or Down"), say("Mark several rows")),
    ("Tab", say("Go on to the next control")),
)


ROOMS_OF_ACTS: tuple[tuple[str, str], ...] = (
    ("Canisters", "canisters.acts"),
    ("Absorbent", "canisters.containers"),
    ("Cylinders", "gas.cylinder_bench"),
    (say("Gas side of a unit"), "gas.unit"),
    (say("Hire desk"), "hires.acts"),
    (say("Plan of the bench"), "hires.plan"),
    (say("Use and cost"), "earnings.page"),
    ("Shelf", "parts.shelf"),
    (say("What sits in a unit"), "parts.fit"),
    ("Stock", "parts.stock"),
    ("Kits", "parts.counted"),
    ("Places", "parts.places"),
    (say("A part that is kept oxygen-clean"), "gas.acts"),
    ("Notices", "notices.list"),
    (say("Test equipment"), "bench.equipment"),
    ("Bench", "bench.measure"),
    ("Calibrate", "cells.calibrate"),
    (say("Work on a ticket"), "tickets.next"),
    (say("Turn-rounds"), "turn_rounds.list"),
    (say("Turn-round card"), "turn_rounds.page"),
    ("People", "people.list"),
    ("Units", "units.list"),
    ("A unit", "units.acts"),
    ("Centre", "places.register"),
)
"""Where acts are done, and the module whose table `ACTS` tells them all; imported when somebody asks."""


def acts_by_room() -> "dict[str, tuple[ActSpec, ...]]":
    """Every act with a button or a key, by the name of its room."""
    return {room: import_module(f"fleetbench.window.{module}").ACTS for room, module in ROOMS_OF_ACTS}


KEYS_ON_THE_TIME_LINE: tuple[tuple[str, str], ...] = (
    ("Arrows", say("Move over units and days; with Ctrl by a week, Page Up and Page Down by a month")),
    ("Home", say("Go to today")),
    (say("Shift with Left or Right"), say("Mark days to book")),
    ("Enter", say("Book the marked days, or open what lies there")),
    ("M", say("Move a booking: arrows move it, Shift with Left or Right moves its last day")),
    (say("Enter, Escape"), say("Let it go, put it back")),
    (say("Plus, Minus"), say("Wider and narrower days")),
    (say("Alt with a number"), say("Go to the page beside, as numbered from the left")),
)


class ActionSet(QObject):
    """The actions as Qt knows them, each calling what was given for its id."""

    def __init__(
        self,
        theme: Theme,
        specs: tuple[ActionSpec, ...],
        callbacks: Mapping[str, Callable[[], object]],
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self.specs = specs
        self._actions: dict[str, QAction] = {}
        for spec in specs:
            action = QAction(as_button_text(worded(spec.text)), parent)
            action.setShortcuts([QKeySequence(keys) for keys in spec.keys])
            action.triggered.connect(callbacks[spec.id])
            action.setStatusTip(worded(spec.help))
            self._actions[spec.id] = action
        self.tint()
        theme.changed.connect(self.tint)

    def tint(self) -> None:
        """Give each action its icon in the scheme in force."""
        for spec in self.specs:
            self._actions[spec.id].setIcon(self._theme.icon(spec.icon, "muted"))

    def action(self, name: str) -> QAction:
        """The action with that id; raises KeyError for an id that is not in the table."""
        return self._actions[name]

    def allow(self, met: frozenset[Enabled]) -> None:
        """Let those actions be run whose need is met."""
        for spec in self.specs:
            self._actions[spec.id].setEnabled(spec.needs is Enabled.NOTHING or spec.needs in met)

    def fill(self, bar: QMenuBar) -> None:
        """Build the menus."""
        for title in dict.fromkeys(spec.menu for spec in self.specs):
            menu = bar.addMenu(worded(title))
            for spec in self.specs:
                if spec.menu == title:
                    menu.addAction(self._actions[spec.id])


def shortcut_detail(specs: Iterable[ActionSpec], pages: Iterable[PageSpec]) -> Detail:
    """Every key with what it does: pages and actions, what works in lists, and every act of every room."""
    everywhere = (
        *(Line((page.keys, say(page.title), say("Go to {page}", page=say(page.title)))) for page in pages),
        *(
            Line((strung(", ", spec.keys), worded(spec.text).rstrip("…"), say(spec.help)))
            for spec in specs
            if spec.keys
        ),
    )
    in_lists = tuple(Line(tuple(map(say, pair))) for pair in KEYS_IN_A_LIST)
    on_time_line = tuple(Line(tuple(map(say, pair))) for pair in KEYS_ON_THE_TIME_LINE)
    acts = tuple(
        Line((spec.key, worded(spec.words).rstrip("…"), say(room), _whom(spec)))
        for room, specs in acts_by_room().items()
        for spec in specs
        if spec.key
    )
    return Detail(
        say("Keys"),
        say("Everything can be done from the keyboard; a scanner types into the find box and ends with Enter."),
        (),
        (
            Table("Everywhere", ("Key", "Action", "What it does"), everywhere, column=0),
            Table("In a list", ("Key", "What it does"), in_lists, column=1),
            Table("Acts; a key means the same on every page", ("Key", "Act", "Where", "Who may"), acts, column=0),
            Table("On the time line of units", ("Key", "What it does"), on_time_line, column=1),
        ),
    )


def _whom(spec: "ActSpec") -> str:
    return strung(", ", map(say, who_may(spec.act))) if spec.act else say("all")


class ShortcutPage(RecordPage):
    """Shows every key."""

    def __init__(
        self, theme: Theme, specs: Iterable[ActionSpec], pages: Iterable[PageSpec], parent: QWidget | None = None
    ) -> None:
        super().__init__(theme, None, None, parent)
        self.show_detail(shortcut_detail(specs, pages))


if TYPE_CHECKING:
    from PySide6.QtCore import SignalInstance

    from fleetbench.window.lists.act_bar import ActSpec


@runtime_checkable
class WantsTicket(Protocol):
    """A page that asks for a ticket: its signal carries tag and reason."""

    ticket_wanted: "SignalInstance"


@runtime_checkable
class WantsRecords(Protocol):
    """A page that asks for other records to be opened here: its signal carries their place and what to say."""

    records_wanted: "SignalInstance"


@runtime_checkable
class BeginsTicket(Protocol):
    """The page that opens tickets."""

    def new_ticket(self, tag: str = "", reason: str = "", cause: str | None = None) -> None:
        """Begin a new ticket with what is known already."""
