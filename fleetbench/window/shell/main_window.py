"""The main window: it assembles rail, find box and pages, and wires them; what they do is theirs."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from importlib import import_module
from typing import Any

from PySide6.QtCore import Slot
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetbench.calc.core.languages import say, worded
from fleetbench.window.lists.list_page import ListPage
from fleetbench.window.look.buttons import quiet_button, search_field
from fleetbench.window.look.theme import APART, CLOSE, GRID, SECTION, Theme
from fleetbench.window.shell.actions import (
    ACTIONS,
    ActionSet,
    BeginsTicket,
    Enabled,
    ShortcutPage,
    WantsRecords,
    WantsTicket,
)
from fleetbench.window.shell.background import Background, MeterDesk, ProgramFault, Refresher
from fleetbench.window.shell.fault_report import FaultReport
from fleetbench.window.shell.found_page import Found, FoundPage, find_hits
from fleetbench.window.shell.frame import HalfDoneStrip, Rail
from fleetbench.window.shell.opening import (
    DesksLine,
    Kept,
    NoneThere,
    Open,
    Opened,
    StartPage,
    as_opened,
    is_sample,
    nothing_to_say,
    open_records,
    title_of,
)
from fleetbench.window.shell.pages import (
    HELP_PAGE,
    PAGES,
    Page,
    PageContext,
    PageStack,
    TakesFiles,
    next_place,
    page_named,
    rail_entry,
    unit_of,
)
from fleetbench.window.shell.place import PageKey
from fleetbench.window.shell.signed_in import PersonChooser

KEYS_PLACE, ALL_HELP = PageKey("keys"), PageKey("help")
FOUND = PageKey("found")
RECORDS_CHANGED = "records_changed"
"""What a page asks for when it changed whose fleet this is."""
PEOPLE_CHANGED, FIRST_USER = "people_changed", "first_user"
"""What a page asks for when it changed who may sign in, and when it entered the first user, who is signed in then."""
TODAY, FIRST, START = PageKey("today"), PageKey("first"), PageKey("start")
OF_THE_WINDOW = frozenset(each.page for each in (START, KEYS_PLACE, ALL_HELP, FOUND))
"""Pages that show no record, and so stand before records are open and in any zone."""


class MainWindow(TakesFiles):
    """Everything in one window; open_workplace is called off the GUI thread and may raise Refused."""

    def __init__(
        self,
        theme: Theme,
        background: Background,
        open_workplace: Open,
        kept: Kept | None = None,
        parent: QWidget | None = None,
        *,
        reminds: Callable[[Opened], str] = nothing_to_say,
    ) -> None:
        """kept: the first page as it was last calculated, to be shown while the records are opened."""
        super().__init__(parent)
        self.setWindowTitle(worded("fleetbench"))
        self.resize(1280, 800)  # where its place was never kept
        self._theme, self._background, self._open_workplace = theme, background, open_workplace
        self._context: PageContext | None = None
        self._opened: Opened | None = None
        self._own_workplace, self._signs_in_first, self._reminds = open_workplace, False, reminds
        self._pages: dict[tuple[str, bool | str], Page] = {}
        self._trail: list[PageKey] = []
        self._at_hand: str | None = None
        self._wanted: PageKey | None = None
        self.here = START
        self._opening = Refresher(background, self)
        self._finding, self._people, self._stepping = (Refresher(background, self) for _ in range(3))
        self._build()
        self._connect()
        self._allow()
        if kept is not None:
            self._start.show_kept(kept)
        self._opening.ask(open_workplace)

    def _build(self) -> None:
        self.rail = Rail(self._theme, PAGES, self)
        self.find_box = search_field("Find", "Find: tag, serial, lot, name or scanned code", self)
        self.find_box.setMaximumWidth(120 * GRID)
        self.chooser = PersonChooser(self._theme, self._background.signed_in, self)
        self.back_button = quiet_button(self._theme, "Back", "back", self)
        self.stack = PageStack(self)
        self.desks_line = DesksLine(lambda: self.page, self)
        self.strip = HalfDoneStrip(self._theme, self._background, self)
        self.meters = MeterDesk(self._theme, self._background, self)
        self._start = StartPage(self._theme, self)
        self._pages["start", False] = self._start
        self.stack.addWidget(self._start)
        self.actions_at_hand = ActionSet(self._theme, ACTIONS, self._callbacks(), self)
        self.actions_at_hand.fill(self.menuBar())
        self.setCentralWidget(self._assembled())

    def _assembled(self) -> QWidget:
        top = QWidget(self)
        top.setObjectName("top")
        bar = QHBoxLayout(top)
        bar.setContentsMargins(APART, CLOSE, SECTION, CLOSE)
        bar.addWidget(self.back_button)
        bar.addWidget(self.find_box, 4)
        bar.addStretch(1)
        bar.addWidget(self.chooser)
        right = QVBoxLayout()
        right.setSpacing(0)
        for widget, stretch in ((top, 0), (self.stack, 1), (self.strip, 0), (self.desks_line, 0)):
            right.addWidget(widget, stretch)
        whole = QWidget(self)
        layout = QHBoxLayout(whole)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.rail)
        layout.addLayout(right, 1)
        return whole

    def _callbacks(self) -> dict[str, Callable[[], object]]:
        return {
            "bring_in": self.bring_in,
            "begin": partial(self.go, FIRST),
            "settings": partial(self.go, PageKey("settings")),
            "leave_sample": self.leave_sample,
            "walk_round": partial(self.go, PageKey("walk_round")),
            "quit": self.close,
            "find": self.focus_find,
            "sign_in": self.chooser.open_list,
            "back": self.go_back,
            "refresh": self.refresh,
            "filter": partial(self._on_list, ListPage.focus_filter),
            "columns": partial(self._on_list, ListPage.choose_columns),
            "copy_table": partial(self._on_list, ListPage.copy_as_table),
            "calibrate": self.calibrate,
            "new_ticket": self.new_ticket,
            "next_step": self.next_step,
            "half_done": self.next_half_done,
            "read_meter": partial(self.meters.read_into, self.focusWidget, self._on_refused),
            "people": partial(self.go, PageKey("people")),
            "larger": partial(self._theme.zoom_by, 1),
            "smaller": partial(self._theme.zoom_by, -1),
            "usual_size": partial(self._theme.set_zoom, 1.0),
            "help": self.show_help,
            "all_help": partial(self.go, ALL_HELP),
            "shortcuts": partial(self.go, KEYS_PLACE),
        }

    def _connect(self) -> None:
        self.rail.page_requested.connect(lambda name: self.go(PageKey(name)))
        self.back_button.clicked.connect(self.go_back)
        self.find_box.returnPressed.connect(self._on_find)
        self._opening.loaded.connect(self._on_opened)
        self._opening.refused.connect(self._start.say_refused)
        self._start.try_again_requested.connect(lambda: self._opening.ask(self._open_workplace))
        self._start.new_requested.connect(self._on_new_centre)
        self._start.place_requested.connect(self.go)
        self._finding.loaded.connect(self._on_found)
        self.chooser.opened.connect(self._ask_people)
        self.chooser.left.connect(self._on_chooser_left)
        self._people.loaded.connect(self._on_people)
        self.strip.chosen.connect(self._on_step)
        self._stepping.loaded.connect(self._on_step)
        for asked in (self._finding, self._stepping):
            asked.refused.connect(self._on_refused)
        self._background.failed.connect(self.show_fault)
        for spec in PAGES:
            shortcut = QShortcut(QKeySequence(spec.keys), self)
            shortcut.activated.connect(self.rail.button(spec.name).click)

    @property
    def context(self) -> PageContext | None:
        """What pages are given; None before the records are open."""
        return self._context

    @property
    def page(self) -> Page:
        """The page that is shown."""
        shown = self.stack.currentWidget()
        assert isinstance(shown, Page)
        return shown

    @Slot(object)
    def go(self, place: PageKey) -> None:
        """Show a place and begin there what it says, as soon as the records are open; remember the one before."""
        if self._context is None and place.page not in OF_THE_WINDOW:
            self._wanted = place
            self.page.banner.say_note(say("Shown as soon as the records are open."))
            return
        place, then = replace(place, then=None), place.then
        if place != self.here and (self.here != START or self._context is None):
            self._trail.append(self.here)
        self._show(place)
        if then is not None:
            self.page.begin_at(then)

    @Slot()
    def go_back(self) -> None:
        """Show the place before; nothing when there is none."""
        if self._trail:
            self._show(self._trail.pop())

    @Slot()
    def refresh(self) -> None:
        """Load the shown page again."""
        self.page.refresh()

    @Slot()
    def focus_find(self) -> None:
        """Put the keyboard on the find box."""
        self.find_box.setFocus()
        self.find_box.selectAll()

    @Slot()
    def calibrate(self) -> None:
        """Calibrate the unit that is shown, or ask which."""
        self.go(PageKey("calibrate", self.here.key if self.here.page == "units" else None))

    @Slot()
    def new_ticket(self) -> None:
        """Open a new ticket for what is chosen on the page, or on the unit that is shown if there is one."""
        place, tag = self.page.ticket_place(), self.here.key if self.here.page in ("units", "calibrate") else None
        if place is not None:
            self.go(place)
        else:
            self._begin_ticket(tag or "", "", None)

    @Slot()
    def next_step(self) -> None:
        """Go on with the unit that is shown, or that was shown or worked on last."""
        if self._at_hand is None or self._context is None:
            self._on_refused(say("unit: none was shown yet; open one, then go on with what is next on it"))
        else:
            self._stepping.ask(partial(next_place, self._context.workplace, self._at_hand))

    @Slot(object)
    def _on_step(self, places: tuple[PageKey, ...]) -> None:
        """Go where the step is done; the second place, if any, is a form on the page of the first."""
        for number, place in enumerate(places):
            (self.page.begin_at if number else self.go)(place)

    @Slot()
    def next_half_done(self) -> None:
        """Go on with what is half done and calls first; from one of them to the next."""
        self._on_step(self.strip.next_places(self.here))

    @Slot()
    def show_help(self) -> None:
        """Show help on the page that is shown; all help from help itself."""
        self.go(ALL_HELP if self.here.page == ALL_HELP.page else PageKey(ALL_HELP.page, self.here.page))

    @Slot()
    def bring_in(self) -> None:
        """Show the page that imports files."""
        self.go(PageKey("bring_in"))

    @Slot(str, str)
    def open_other(self, database: str, said: str) -> None:
        """Open other records in this window, such as the sample, and say what is to be said of them."""
        self._open_from(partial(open_records, database, said=said))

    @Slot()
    def leave_sample(self) -> None:
        """Return to the user's own records and delete the sample."""
        from fleetbench.settings import data_folder  # only who looked at the sample leaves it
        from fleetbench.workshop.places.shipped import throw_away_sample

        self._open_from(self._own_workplace)
        self._background.run(partial(throw_away_sample, data_folder()), self)

    def _open_from(self, open_workplace: Open) -> None:
        for each in (self.desks_line, self.strip, self.meters):
            each.stop()
        if self._opened is not None:
            self._opened.workplace.database.close()
        self._open_workplace, self._trail = open_workplace, []
        self._context = self._opened = self._at_hand = self._wanted = None
        self.here = START
        self.stack.setCurrentWidget(self._start)
        self._forget_pages()
        self._background.signed_in.choose(None)
        self._background.signed_in.show_people(())
        self._opening.ask(self._open_workplace)
        self._allow()

    @Slot(object)
    def show_fault(self, fault: ProgramFault) -> None:
        """Show the report of a fault of ours."""
        FaultReport(self._theme, fault, self).open()

    def _show(self, place: PageKey) -> None:
        if place == TODAY and self._opened is not None and self._opened.units == 0:
            place = FIRST  # a day without a unit says nothing
        page = self._page_for(place)
        if page is None:
            return
        if page is not self.page:
            self.page.call_off()
        if place != self.here:
            page.banner.clear()  # what it said was of another thing
        self.here, self._at_hand = place, unit_of(place) or self._at_hand
        self.rail.mark(rail_entry(place.page))
        self.stack.setCurrentWidget(page)
        if place.key is None:
            page.refresh()
        else:
            page.show_key(place.key)
        page.focus_first()
        self.desks_line.forget()
        self.strip.look()
        self._allow()

    def _page_for(self, place: PageKey) -> Page | None:
        slot = (place.page, self._page_key(place))
        if slot not in self._pages:
            made = self._make_page(place)
            if made is None:
                return None
            made.place_requested.connect(self.go)
            made.back_requested.connect(self.go_back)
            made.acted_on.connect(partial(setattr, self, "_at_hand"))
            made.action_requested.connect(self._on_action_requested)
            self._pages[slot] = made
            if isinstance(made, WantsTicket):
                made.ticket_wanted.connect(self._on_ticket_wanted)
            if isinstance(made, WantsRecords):
                made.records_wanted.connect(self.open_other)
            self.stack.addWidget(made)
        return self._pages[slot]

    def _page_key(self, place: PageKey) -> bool | str:
        """Which page of a place shows it: the list, the one page of all things, or a page of its own."""
        own = place.key is not None and place.page not in OF_THE_WINDOW and page_named(place.page).by_key
        return place.key if own and place.key is not None else place.key is not None

    def _begin_ticket(self, tag: str, reason: str, cause: str | None) -> None:
        self.go(PageKey("ticket_work"))
        if isinstance(self.page, BeginsTicket):
            self.page.new_ticket(tag, reason, cause)

    def _make_page(self, place: PageKey) -> Page | None:
        if place == KEYS_PLACE:
            return ShortcutPage(self._theme, ACTIONS, PAGES, self)
        if place.page == FOUND.page:
            return FoundPage(self._theme, self)
        if place.page == ALL_HELP.page:
            made: Page = import_module(HELP_PAGE).HelpPage(self._theme, self)
            return made
        if self._context is None:
            return None
        spec = page_named(place.page)
        return spec.make_list(self._context) if place.key is None else spec.make_record(self._context, place.key)

    def _forget_pages(self) -> None:
        """Pages keep zone, currency and units; where one is another they are made again when they are next shown."""
        for slot, page in list(self._pages.items()):
            if page is not self.page and slot[0] not in OF_THE_WINDOW:
                del self._pages[slot]
                self.stack.removeWidget(page)
                page.deleteLater()

    def _allow(self) -> None:
        met = {Enabled.RECORDS} if self._context is not None else set()
        if isinstance(self.page, ListPage):
            met.add(Enabled.LIST)
        if self._trail:
            met.add(Enabled.WAY_BACK)
        if self._opened is not None and is_sample(self._opened):
            met.add(Enabled.SAMPLE)
        self.actions_at_hand.allow(frozenset(met))
        self.back_button.setEnabled(bool(self._trail))
        self.find_box.setEnabled(self._context is not None)

    @Slot()
    def _ask_people(self) -> None:
        """Load who may sign in; another desk may have entered somebody meanwhile."""
        if self._context is not None:
            # It reads the tables' definitions, which takes as long as showing the window: it is shown first.
            from fleetbench.workshop.people.list import list_people

            self._people.ask(partial(list_people, self._context.workplace))

    @Slot(object)
    def _on_people(self, people: object) -> None:
        """Know who may sign in; who was entered alone just now, as the first user of all, is signed in."""
        signed_in = self._background.signed_in
        signed_in.show_people(people)  # type: ignore[arg-type]
        if self._signs_in_first and signed_in.is_missing and len(signed_in.offered) == 1:
            signed_in.choose(signed_in.offered[0].person_id)
        self._signs_in_first = False

    @Slot()
    def _on_chooser_left(self) -> None:
        self.activateWindow()
        if self.chooser.button.hasFocus():
            self.page.focus_first()

    @Slot(str, str)
    def _on_ticket_wanted(self, tag: str, reason: str) -> None:
        self._begin_ticket(tag, reason, say("failed test"))

    @Slot(str)
    def _on_action_requested(self, name: str) -> None:
        if name == RECORDS_CHANGED and self._context is not None:
            self._opening.ask(partial(as_opened, self._context.workplace))
        elif name in (PEOPLE_CHANGED, FIRST_USER):
            self._signs_in_first = name == FIRST_USER
            self._ask_people()
        elif name != RECORDS_CHANGED:
            self.actions_at_hand.action(name).trigger()

    @Slot(object)
    def _on_opened(self, opened: Opened | NoneThere) -> None:
        if isinstance(opened, NoneThere):
            self._start.ask_new(opened)
            return
        if self._context is not None and self._context.shown_in != opened.shown_in:
            self._forget_pages()
        asked = self._background.signed_in.at(opened.workplace)
        self._context, self._opened = PageContext(self._theme, self._background, asked, *opened.shown_in), opened
        self._trail = [each for each in self._trail if each != START]
        self.setAcceptDrops(True)
        self.desks_line.begin(opened.workplace.database, opened.entry, opened.zone)
        self.strip.begin(self._context)
        self.meters.begin(asked)
        self._ask_people()
        self.setWindowTitle(title_of(opened))
        self.rail.set_centre(opened.centre)
        kept, wanted, self._wanted = self._start.at_hand(), self._wanted, None
        if self.here == START:
            self.go(TODAY)
            self.page.take_over(kept)
        if wanted is not None:
            self.go(wanted)
        if opened.told:
            self.page.banner.say_refused(opened.told)
        elif words := opened.said or self._reminds(opened):
            self.page.banner.say_note(words)
        self._allow()

    @Slot()
    def _on_new_centre(self) -> None:
        self._opening.ask(partial(self._open_workplace, create=True))

    @Slot()
    def _on_find(self) -> None:
        text = self.find_box.text().strip()
        if text and self._context is not None:
            self._finding.ask(partial(find_hits, self._context.workplace, text))

    @Slot(object)
    def _on_found(self, found: Found) -> None:
        if len(found.places) == 1:
            self.go(found.places[0])
        else:
            self.go(FOUND)
        if isinstance(self.page, FoundPage):
            self.page.show_found(found)

    @Slot(str)
    def _on_refused(self, line: str) -> None:
        self.page.banner.say_refused(line)

    def _on_list(self, act: Callable[[ListPage[Any]], object]) -> None:
        if isinstance(self.page, ListPage):
            act(self.page)

    # Qt overrides

    def closeEvent(self, event: QCloseEvent) -> None:
        self.page.call_off()  # what is half done on it is kept
        for each in (self.desks_line, self.strip, self.meters):
            each.stop()
        self._background.wait()
        super().closeEvent(event)
