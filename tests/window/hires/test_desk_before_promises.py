"""The hire desk while its promises are being judged: bookings are there, and no promise looks kept meanwhile."""

import threading
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.records.units.tables import Hold
from fleetbench.window.hires.list import HireList, list_page
from fleetbench.window.look.buttons import PlaceButton
from fleetbench.window.look.marks import UNKNOWN
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires import list as hires
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.hires.promises import PromiseLine, judged_promises
from tests.centres.hire_centre import HireCentre

CALCULATED = "being calculated"


class Counter:
    """The page over three units and a dozen bookings, whose promises are judged when it says so."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.background = qtbot, background
        self.centre = HireCentre(Workplace(database, clock), clock, units=3)
        self.centre.make_fit()
        self.may_go_on, self.asked = threading.Event(), 0
        for number in range(12):
            first = self.centre.day(6 + 2 * number)
            asks = BookingEntry(kind="hire", unit_type="TYPE-L", first=first, last=first, units=("LK-02",),
                                renter_id=self.centre.keys.other, way="kit")  # fmt: skip
            book(self.centre.workplace, asks)
        forget(database)
        self.page: HireList = list_page(PageContext(theme, background, self.centre.workplace, ZoneInfo("UTC")))
        qtbot.addWidget(self.page)
        self.page.resize(1088, 480)
        with qtbot.waitExposed(self.page):
            self.page.show()

    def judged(self, workplace: Workplace) -> dict[str, PromiseLine]:
        """As the workshop judges, once it may."""
        self.asked += 1
        assert self.may_go_on.wait(20)
        return judged_promises(workplace)

    def look(self) -> None:
        """Load the list, with its bookings alone."""
        with self.qtbot.waitSignal(self.page.rows_shown, timeout=20_000):
            self.page.refresh()

    def let_go(self) -> None:
        """Let the promises be judged and shown."""
        self.may_go_on.set()
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=20_000)

    def hold_back(self) -> None:
        """Judge no more promises meanwhile."""
        self.may_go_on.clear()

    def promises(self) -> set[str]:
        """What stands in the column of promises."""
        number = [each.key for each in self.page.model.columns].index("promise")
        return {str(self.page.model.index(row, number).data()) for row in range(self.page.model.rowCount())}

    def detail(self) -> str:
        """Every word beside the list."""
        return "\n".join(label.text() for label in self.page.detail.labels())

    def hold(self, tag: str) -> None:
        """Put a unit on hold."""
        with self.centre.workplace.transaction("write", "test") as act:
            act.add(Hold(unit_id=self.centre.units[tag], kind="manual", reason="strap torn", placed_at=act.at,
                         placed_by_id=self.centre.manager))  # fmt: skip


@pytest.fixture
def counter(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Counter]:  # fmt: skip
    """The page, nothing of it judged yet."""
    made = Counter(qtbot, theme, background, sqlite_database, clock)
    monkeypatch.setattr(hires, "judged_promises", made.judged)
    yield made
    made.let_go()


def test_bookings_are_there_and_opened_by_keys_before_their_promises_which_then_move_nothing(counter: Counter) -> None:
    page = counter.page
    counter.hold("LK-02")
    counter.look()
    assert page.model.total == 13 and page.is_loaded
    assert counter.promises() == {CALCULATED}
    assert page.summary.endswith(f"promises: {CALCULATED}")
    page.activateWindow()
    page.table.setFocus()
    page.table.sortByColumn([each.key for each in page.model.columns].index("from"), Qt.SortOrder.DescendingOrder)
    page.filter_field.setText("LK-02")
    QTest.keyClick(page.table, Qt.Key.Key_End, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(page.table, Qt.Key.Key_Up)
    chosen, scrolled = page.chosen_key(), page.table.verticalScrollBar().value()
    assert page.table.currentIndex().row() == 10 and scrolled > 0
    counter.qtbot.waitUntil(lambda: "Unit LK-02" in counter.detail(), timeout=20_000)
    assert f"Promise: {CALCULATED}" in counter.detail()
    with counter.qtbot.waitSignal(page.place_requested):
        QTest.keyClick(page.table, Qt.Key.Key_Return)
    page.banner.say_refused("LK-01: on another booking")
    counter.let_go()
    assert counter.promises() == {"at risk"}
    assert CALCULATED not in page.summary
    assert (page.chosen_key(), page.table.currentIndex().row()) == (chosen, 10)
    assert page.table.verticalScrollBar().value() == scrolled
    assert (page.filter_field.text(), page.model.rowCount()) == ("LK-02", 12)
    assert page.table.hasFocus()
    assert "Promise at risk" in counter.detail() and "strap torn" in counter.detail()
    assert page.banner.text == "LK-01: on another booking", "what an act said stays"


def test_an_unjudged_promise_looks_neither_kept_nor_broken_and_only_those_that_are_judged_wait(
    counter: Counter,
) -> None:
    far = counter.centre.day(90)
    book(counter.centre.workplace, BookingEntry(kind="hire", unit_type="TYPE-L", first=far, last=far, units=("LK-03",),
                                                renter_id=counter.centre.keys.other, way="kit"))  # fmt: skip
    counter.look()
    column = next(each for each in counter.page.model.columns if each.key == "promise")
    marks = {row.booking.starts_on == far: column.state(row) for row in counter.page.model.rows}  # type: ignore[misc]
    assert marks[False] is not None
    assert (marks[False].shape, marks[False].tone) == (UNKNOWN.shape, UNKNOWN.tone)
    assert marks[True] is None
    counter.let_go()
    assert counter.promises() == {"fit", "–"}


def test_what_was_judged_stays_over_an_act_only_where_it_is_known_to_hold(counter: Counter) -> None:
    counter.let_go()
    counter.look()
    counter.let_go()
    asked = counter.asked
    counter.hold_back()
    counter.look()
    assert counter.promises() == {"fit"} and counter.asked == asked, "nothing was written, so nothing is judged again"
    counter.hold("LK-02")
    counter.look()
    assert counter.promises() == {CALCULATED}
    counter.let_go()
    assert counter.promises() == {"fit", "at risk"}


def test_a_filter_by_promise_has_its_booking_chosen_again_once_promises_are_there(counter: Counter) -> None:
    page = counter.page
    counter.hold("LK-02")
    counter.let_go()
    counter.look()
    counter.let_go()
    page.filter_field.setText("at risk")
    page.table.setFocus()
    page.table.selectRow(4)
    chosen = page.chosen_key()
    counter.hold_back()
    counter.hold("LK-03")
    counter.look()
    assert page.model.rowCount() == 0
    counter.let_go()
    assert page.model.rowCount() == 12
    assert page.chosen_key() == chosen


def test_the_keyboard_stays_on_a_line_beside_the_list_when_its_promise_is_there(counter: Counter) -> None:
    page = counter.page
    counter.look()
    assert page.choose("H-7")
    counter.qtbot.waitUntil(lambda: "Unit LK-01" in counter.detail(), timeout=20_000)
    page.activateWindow()
    link = next(each for each in page.detail.findChildren(PlaceButton) if each.place == PageKey("units", "LK-01"))
    link.setFocus()
    counter.let_go()
    assert CALCULATED not in counter.detail()
    now = page.window().focusWidget()
    assert isinstance(now, PlaceButton) and now is not link and now.place == PageKey("units", "LK-01")


def test_where_another_desk_wrote_the_keyboard_is_back_once_bookings_are_there_and_not_at_the_end(
    counter: Counter,
) -> None:
    page = counter.page
    counter.let_go()
    counter.look()
    counter.let_go()
    counter.hold_back()
    counter.hold("LK-02")
    page.activateWindow()
    page.table.setFocus()
    with counter.qtbot.waitSignal(page.rows_shown, timeout=20_000):
        page.follow()
    counter.qtbot.waitUntil(lambda: counter.asked == 2, timeout=20_000)
    page.filter_field.setFocus()
    page.table.verticalScrollBar().setValue(2)
    counter.let_go()
    assert page.filter_field.hasFocus()
    assert page.table.verticalScrollBar().value() == 2
