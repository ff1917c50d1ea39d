"""The pages of the window as a table of data: what stands in the rail, and what opens the page of one thing.

A view is imported when it is first shown, so that the window is usable early.

What every page of the window can do.

Pages that share an entry of the rail, offered beside the title of each, by a press or by Alt and their number.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, runtime_checkable
from zoneinfo import ZoneInfo

from PySide6.QtCore import QObject, QSize, Qt, Signal, Slot
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeyEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMainWindow,
    QScrollBar,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from fleetbench.calc.core.languages import shown, worded
from fleetbench.calc.core.measures import METRIC_ALL, StatedUnits
from fleetbench.window.look.buttons import LOOKS_FOR, Banner, ElidedLabel, PlaceButton, text_label
from fleetbench.window.look.flow import FlowLayout, tab_as_laid_out
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme, scaled
from fleetbench.window.look.words import as_plain_tip
from fleetbench.window.shell.background import Background, Refresher
from fleetbench.window.shell.place import PageKey
from fleetbench.window.shell.signed_in import SignedIn

if TYPE_CHECKING:
    # Only named here: it reads the tables' definitions, which takes longer than showing the window.
    from fleetbench.workshop.core.drafts import Drafts
    from fleetbench.workshop.core.workplace import Workplace


_LEAST_SUMMARY = 40 * GRID
"""What a summary has beside its title at least, in px, before the buttons beside it go on in the next line."""


class _TitleLine(QWidget):
    """Title and summary on one base line; the summary gives way to what stands beside them."""

    def __init__(self, title: QLabel, summary: QLabel, parent: QWidget) -> None:
        super().__init__(parent)
        self._summary = summary
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(APART)
        line.addWidget(title, 0, Qt.AlignmentFlag.AlignBaseline)
        line.addWidget(summary, 1, Qt.AlignmentFlag.AlignBaseline)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)

    # Qt overrides

    def sizeHint(self) -> QSize:
        least = self.minimumSizeHint()
        return QSize(least.width() + min(self._summary.sizeHint().width(), scaled(_LEAST_SUMMARY)), least.height())


class Page(QWidget):
    """A page with a title, a line that sums it up, a banner, and room for its content.

    is_loaded is true once the page shows what it is for, or says why it cannot.

    Signals:
        place_requested: the Place to go to.
        action_requested: the id of an action to run.
        back_requested: Escape was pressed and the page has nothing of its own to leave.
        acted_on: tag of the unit on which an act of the page was done; what is next of it is at hand from then on.
    """

    place_requested = Signal(object)
    action_requested = Signal(str)
    back_requested = Signal()
    acted_on = Signal(str)

    def __init__(self, theme: Theme, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("page")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.theme = theme
        self.is_loaded = False
        self._title = text_label(worded(title), "title", self)
        self._summary = ElidedLabel("body", self)
        self._summary.setProperty("role", "small")
        self.banner = Banner(theme, self)
        self.heading = FlowLayout(None, APART)
        self.heading.addWidget(_TitleLine(self._title, self._summary, self))
        self.heading.add_break()
        self.content = QVBoxLayout(self)
        self.content.setContentsMargins(SECTION, CLOSE, SECTION, APART)
        self.content.setSpacing(APART)
        self.content.addLayout(self.heading)
        self.content.addWidget(self.banner)

    @property
    def title(self) -> str:
        """The title as shown."""
        return self._title.text()

    @property
    def summary(self) -> str:
        """The line beside the title."""
        return self._summary.text()

    def set_title(self, title: str) -> None:
        """Show another title."""
        self._title.setText(shown(title))

    def set_summary(self, line: str) -> None:
        """Sum the page up in one line."""
        line = shown(line)
        self._summary.setText(line)
        self._summary.setToolTip(as_plain_tip(line))

    def _move_banner(self) -> None:
        """Let the banner take its room from what can give way, so that it moves nothing under the pointer."""
        yielding = [at for at in range(2, self.content.count()) if self._yields(at)]
        self.content.removeWidget(self.banner)
        self.content.insertWidget(yielding[-1] if yielding else self.content.count(), self.banner)

    def _yields(self, at: int) -> bool:
        item = self.content.itemAt(at)
        grows = item is not None and Qt.Orientation.Vertical in item.expandingDirections()
        return grows or self.content.stretch(at) > 0

    def refresh(self) -> None:
        """Load again what the page shows."""

    def holds_entries(self) -> bool:
        """Whether loading again now could lose what is typed and not recorded yet."""
        return any(field.isModified() and field.text() and not field.property(LOOKS_FOR) for field in self._fields())

    def _fields(self) -> list[QLineEdit]:
        return [field for field in self.findChildren(QLineEdit) if field.isVisible()]

    def follow(self) -> None:
        """Load again since another desk wrote, leaving keyboard and scroll bars where they are.

        Not to be asked while holds_entries().
        """
        kept = _WhereItWas(self)
        self.refresh()
        for loader in self.findChildren(Refresher):
            if loader.is_loading:
                loader.settled.connect(kept.bring_back, Qt.ConnectionType.SingleShotConnection)

    def at_hand(self) -> object:
        """What is shown and where the keyboard is, for another page of the same to take over; None for nothing."""
        return None

    def take_over(self, at_hand: object) -> None:
        """Show what another page of the same had at hand until this one is loaded, where it can."""

    def call_off(self) -> None:
        """Load no further, since another page is shown now."""
        for loader in self.findChildren(Refresher):
            loader.call_off()

    def show_key(self, key: str) -> None:
        """Show the thing with that key; a page of one thing says how."""

    @Slot(object)
    def begin_at(self, place: PageKey) -> None:
        """Begin what a line leads to: another place, unless this page does it itself."""
        self.place_requested.emit(place)

    def ticket_place(self) -> PageKey | None:
        """The ticket that is begun for what is chosen on this page; None where nothing is."""
        return None

    def focus_first(self) -> None:
        """Put the keyboard where work on this page starts."""
        self.setFocus()

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self.content.indexOf(self.banner) == 1:
            self._move_banner()
            tab_as_laid_out(self.content)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.back_requested.emit()
            return
        super().keyPressEvent(event)


class _WhereItWas(QObject):
    """Where the keyboard and the scroll bars of a page are."""

    def __init__(self, page: Page) -> None:
        super().__init__(page)
        focused = QApplication.focusWidget()
        self._focused = focused if focused is not None and page.isAncestorOf(focused) else None
        self._bars = [(bar, bar.value()) for bar in page.findChildren(QScrollBar) if bar.value()]

    @Slot()
    def bring_back(self) -> None:
        """Put them back there, where they still are."""
        focused = self._focused
        if focused is not None and isValid(focused) and focused.isVisible() and focused.isEnabled():
            focused.setFocus(Qt.FocusReason.OtherFocusReason)
        for bar, value in self._bars:
            if isValid(bar):
                bar.setValue(value)


@runtime_checkable
class OpensFiles(Protocol):
    """A page that looks at a file or folder from outside."""

    def open_path(self, path: Path) -> None: ...


class TakesFiles(QMainWindow):
    """A window on which a file or folder can be dropped, to be looked at on the page that bring_in shows."""

    @property
    def page(self) -> QWidget:
        """The page that is shown."""
        raise NotImplementedError

    def bring_in(self) -> None:
        """Show the page that imports files."""
        raise NotImplementedError

    def open_file(self, path: Path) -> None:
        """Look at a spreadsheet or a folder of files, to import it."""
        self.bring_in()
        if isinstance(self.page, OpensFiles):
            self.page.open_path(path)

    # Qt overrides

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped(event) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = _dropped(event)
        if path is not None:
            event.acceptProposedAction()
            self.open_file(path)


def _dropped(event: QDropEvent) -> Path | None:
    files = (url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile())
    return next((Path(name) for name in files if name), None)


@dataclass(frozen=True, slots=True)
class PageContext:
    """What a page is given: looks, where its work runs, the workshop it asks, zone of times, currency of prices
    and units of figures.

    The workshop acts as the signed-in user, whoever that is when an act is handed over: a page keeps no other.
    """

    theme: Theme
    background: Background
    workplace: "Workplace"
    zone: ZoneInfo
    currency: str = ""
    stated: StatedUnits = METRIC_ALL

    @property
    def shown_in(self) -> tuple[ZoneInfo, str, StatedUnits]:
        """What its pages were made in: zone, currency and units."""
        return self.zone, self.currency, self.stated

    @property
    def signed_in(self) -> SignedIn:
        """The signed-in user; a page that shows what they may do listens to its change."""
        return self.background.signed_in


@dataclass(frozen=True, slots=True)
class PageSpec:
    """One page: its module offers list_page(context) and, where one thing has a page, record_page(context).

    keys open it from anywhere; rail names the entry of the rail that it stands under, its own when empty.
    by_key: each thing has a page of its own, made for its key.
    """

    name: str
    title: str
    module: str
    keys: str
    has_record: bool = False
    rail: str = ""
    by_key: bool = False

    def make_list(self, context: PageContext) -> Page:
        """The page that the rail opens."""
        made: Callable[[PageContext], Page] = import_module(self.module).list_page
        return made(context)

    def make_record(self, context: PageContext, key: str = "") -> Page:
        """The page of one thing."""
        made: Callable[..., Page] = import_module(self.module).record_page
        return made(context, key) if self.by_key else made(context)


def drafts_of(workplace: "Workplace") -> "Drafts":
    """Half-done work, kept beside the records or, where they lie on a server, beside the settings."""
    from fleetbench.settings import data_folder  # work at the bench alone asks for it
    from fleetbench.workshop.core.drafts import Drafts  # likewise

    records = workplace.database.path
    return Drafts((records.parent if records is not None else data_folder()) / "half-done")


PAGES: tuple[PageSpec, ...] = (
    PageSpec("today", "Today", "fleetbench.window.units.today", "Ctrl+1"),
    PageSpec("units", "Units", "fleetbench.window.units.list", "Ctrl+2", has_record=True),
    PageSpec("cells", "Cells", "fleetbench.window.cells.list", "Ctrl+3", has_record=True),
    PageSpec("canisters", "Canisters", "fleetbench.window.canisters.page", "Ctrl+4", has_record=True),
    PageSpec("valves", "Valves", "fleetbench.window.bench.valves", "Ctrl+5", has_record=True),
    PageSpec("hires", "Hire desk", "fleetbench.window.hires.list", "Ctrl+6", has_record=True),
    PageSpec("due", "Due", "fleetbench.window.due.page", "Ctrl+7"),
    PageSpec("tickets", "Tickets", "fleetbench.window.tickets.list", "Ctrl+8", has_record=True),
    PageSpec("stock", "Stock", "fleetbench.window.parts.stock", "Ctrl+9"),
    PageSpec("centre", "Centre", "fleetbench.window.places.register", "Ctrl+Shift+E", has_record=True, by_key=True),
)

BESIDE_THE_RAIL: tuple[PageSpec, ...] = (
    PageSpec("calibrate", "Calibrate", "fleetbench.window.cells.calibrate", "", has_record=True, rail="units"),
    PageSpec("ticket_work", "Work on a ticket", "fleetbench.window.tickets.work", "", has_record=True, rail="tickets"),
    PageSpec("turn_rounds", "Turn-rounds", "fleetbench.window.turn_rounds.page", "", has_record=True, rail="tickets"),
    PageSpec("bench", "Bench", "fleetbench.window.bench.page", "", has_record=True, rail="valves"),
    PageSpec("unit_gas", "Gas side", "fleetbench.window.gas.unit", "", has_record=True, rail="units"),
    PageSpec("availability", "Availability", "fleetbench.window.hires.availability", "", rail="hires"),
    PageSpec("plan", "Plan", "fleetbench.window.hires.plan", "", rail="hires"),
    PageSpec("earnings", "Use and cost", "fleetbench.window.earnings.page", "", rail="hires"),
    PageSpec("equipment", "Test equipment", "fleetbench.window.bench.equipment", "", rail="valves"),
    PageSpec("people", "People", "fleetbench.window.people.list", "", has_record=True, rail="hires"),
    PageSpec("first", "Begin", "fleetbench.window.units.setting_up", "", rail="today"),
    PageSpec("settings", "Settings", "fleetbench.window.places.settings", ""),
    PageSpec("bring_in", "Import files", "fleetbench.window.import_export.page", ""),
    PageSpec("walk_round", "Walk-round", "fleetbench.window.import_export.walk_round", "", rail="units"),
    PageSpec("parts", "Parts", "fleetbench.window.parts.page", "", has_record=True, rail="stock"),
    PageSpec("shelf", "Shelf", "fleetbench.window.parts.shelf", "", rail="stock"),
    PageSpec("orders", "Orders", "fleetbench.window.parts.orders", "", rail="stock"),
    PageSpec("kits", "Kits", "fleetbench.window.parts.counted", "", rail="stock"),
    PageSpec("places", "Places", "fleetbench.window.parts.places", "", rail="stock"),
    PageSpec("fetch", "Pick list", "fleetbench.window.parts.fetch", "", rail="due"),
    PageSpec("notices", "Notices", "fleetbench.window.notices.list", "", has_record=True, rail="due"),
    PageSpec("cylinders", "Cylinders", "fleetbench.window.gas.list", "", has_record=True, rail="stock"),
    PageSpec("absorbent", "Absorbent", "fleetbench.window.canisters.containers", "", rail="stock"),
)
"""Pages without an entry of their own in the rail."""

HELP_PAGE = "fleetbench.window.places.help"
"""Shows help; named as pages are, since it stands above the frame that shows them."""


def page_named(name: str) -> PageSpec:
    """The entry of that name; raises KeyError for a page that does not exist."""
    for spec in (*PAGES, *BESIDE_THE_RAIL):
        if spec.name == name:
            return spec
    raise KeyError(name)


class PageStack(QStackedWidget):
    """The pages, of which only the shown one says how small the window may be."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.currentChanged.connect(self.updateGeometry)

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        shown = self.currentWidget()
        return QSize() if shown is None else shown.minimumSizeHint()


OF_ONE_UNIT = ("units", "calibrate", "bench", "turn_rounds", "unit_gas")
"""Pages whose key is the tag of a unit."""


def unit_of(place: PageKey) -> str | None:
    """The unit that a place shows; None where it shows none."""
    return place.key if place.page in OF_ONE_UNIT else None


def next_place(workplace: "Workplace", tag: str) -> tuple[PageKey, ...]:
    """Where the next step on a unit is done, and the form on it if there is one; not to be asked on the GUI thread."""
    found: tuple[PageKey, ...] = import_module("fleetbench.window.units.page").next_place(workplace, tag)
    return found


def rail_entry(name: str) -> str:
    """The entry of the rail that a page stands under, or its own name where it stands under none."""
    for spec in (*PAGES, *BESIDE_THE_RAIL):
        if spec.name == name:
            return spec.rail or spec.name
    return name


MOST_KEYS = 9


def offer_siblings(page: Page, title: str, siblings: Sequence[tuple[str, PageKey]]) -> None:
    """Offer these pages beside the title; the page itself, by its title, stands among them as the one that is shown."""
    for number, (name, place) in enumerate(siblings, 1):
        button = PlaceButton(worded(name), place, page)
        button.setProperty("role", "choice")
        button.setCheckable(True)
        button.setChecked(name == title)
        button.clicked.connect(partial(button.setChecked, name == title))
        button.place_requested.connect(page.place_requested)
        page.heading.addWidget(button)
        if number <= MOST_KEYS:
            button.setToolTip(f"Alt+{number}")
            shortcut = QShortcut(QKeySequence(f"Alt+{number}"), page)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(button.click)
