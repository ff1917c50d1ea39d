"""The time line driven by keys and by the pointer: conflicts said before letting go; bookings made, moved, opened."""

import threading
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from fleetbench.calc.core.languages import worded
from fleetbench.calc.hires.availability import DayCount, Strip, What
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import Booking
from fleetbench.window.hires import availability as page_module
from fleetbench.window.hires.availability import AvailabilityPage, list_page
from fleetbench.window.hires.availability_rows import rows_of
from fleetbench.window.hires.chart import AvailabilityChart
from fleetbench.window.hires.paint import Painting
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.known import forget
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.hires import availability
from fleetbench.workshop.hires.availability import Availability, TypeDays, UnitDays, read_availability
from fleetbench.workshop.hires.booking import BookingEntry, book
from fleetbench.workshop.units.holds import place_hold
from tests.centres.hire_centre import HireCentre

Key = Qt.Key


class Line:
    """The page over three units: LK-01 on H-7 today for three days, LK-02 on H-2026-001 four days on."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.background = qtbot, background
        self.centre = HireCentre(Workplace(database, clock), clock, units=3)
        self.centre.make_fit()
        book(self.centre.workplace, BookingEntry(kind="hire", unit_type="TYPE-L", first=self.centre.day(4),
                                            last=self.centre.day(6), units=("LK-02",),
                                            renter_id=self.centre.keys.other))  # fmt: skip
        self.page: AvailabilityPage = list_page(
            PageContext(theme, background, self.centre.workplace, ZoneInfo("Europe/Berlin"))
        )
        self.chart = self.page.chart
        qtbot.addWidget(self.page)
        self.page.resize(1088, 748)
        with qtbot.waitExposed(self.page):
            self.page.show()
        self.page.activateWindow()
        self.load()
        self.chart.setFocus()

    def load(self) -> None:
        """Load, and wait until nothing is on its way."""
        self.page.refresh()
        self.settle()

    def settle(self) -> None:
        """Wait until nothing is on its way."""
        self.qtbot.waitUntil(lambda: not self.background.is_busy and self.page.is_loaded, timeout=20_000)

    def go(self, tag: str, number: int) -> None:
        """Put the cursor on a unit and a day counted from today."""
        row = next(n for n, each in enumerate(self.chart.rows) if each.tag == tag)
        assert self.chart.shown is not None
        self.chart.go_to(row, (self.chart.shown.today - self.chart.shown.first).days + number)

    def press(self, *keys: Key, shift: bool = False) -> None:
        """Press keys on the time line."""
        for key in keys:
            held = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
            QTest.keyClick(self.chart, key, held)

    def point(self, tag: str, number: int) -> QPoint:
        """The middle of a cell."""
        self.go(tag, number)
        return self.chart.point_of(*self.chart.at)

    def drag(self, start: QPoint, *stops: QPoint, let_go: bool = True) -> None:
        """Press, move and perhaps let go."""
        port = self.chart.viewport()
        QTest.mousePress(port, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, start)
        for stop in stops:
            QTest.mouseMove(port, stop)
            self.qtbot.wait(1)
        if let_go:
            QTest.mouseRelease(port, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, stops[-1])

    def lines(self, tag: str) -> list[tuple[str, date, date]]:
        """What is promised of a unit, as it is shown."""
        self.load()
        row = next(each for each in self.chart.rows if each.tag == tag)
        return [(each.text, each.first, each.last) for each in row.strips]


@pytest.fixture
def line(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Iterator[Line]:
    """The time line."""
    made = Line(qtbot, theme, background, sqlite_database, clock)
    yield made
    made.settle()


def test_a_booking_is_moved_by_keys_alone_and_the_conflict_is_said_before_letting_go(line: Line) -> None:
    line.go("LK-01", 1)
    line.press(Key.Key_M, Key.Key_Down)
    for _ in range(3):
        line.press(Key.Key_Right)
    assert "unit LK-02 is promised to H-2026-001" in line.page.why_line.text()
    line.press(Key.Key_Return)
    line.settle()
    assert line.chart.taken is not None, "what is refused stays in hand"
    line.press(Key.Key_Down)
    day = line.centre.day(3), line.centre.day(5)
    assert line.page.why_line.text().startswith(f"Let go: H-7 on LK-03 from {day[0]} to {day[1]}.")
    line.press(Key.Key_Return)
    line.settle()
    assert line.lines("LK-01") == []
    assert line.lines("LK-03") == [("H-7", *day)]
    assert "H-7 is on LK-03" in line.page.banner.text


def test_escape_puts_a_booking_back_and_shift_moves_its_last_day_alone(line: Line) -> None:
    line.go("LK-01", 0)
    line.press(Key.Key_M, Key.Key_Down, Key.Key_Escape)
    assert line.chart.taken is None
    line.go("LK-01", 0)
    line.press(Key.Key_M)
    line.press(Key.Key_Right, Key.Key_Right, shift=True)
    line.press(Key.Key_Return)
    line.settle()
    assert line.lines("LK-01") == [("H-7", line.centre.day(0), line.centre.day(4))]


def test_a_bar_is_dragged_to_another_unit_and_back_where_it_may_not_go(line: Line) -> None:
    start, there = line.point("LK-01", 1), line.point("LK-03", 3)
    line.drag(start, start + QPoint(8, 0), there)
    line.settle()
    assert line.lines("LK-03") == [("H-7", line.centre.day(2), line.centre.day(4))]
    start, taken = line.point("LK-03", 3), line.point("LK-02", 4)
    line.drag(start, start + QPoint(8, 0), taken)
    line.settle()
    assert line.page.why_line.text().startswith("It was put back: unit LK-02 is promised to H-2026-001")
    assert [each[0] for each in line.lines("LK-03")] == ["H-7"]


def test_free_days_that_are_dragged_over_open_the_booking_with_unit_and_days_in_it(line: Line) -> None:
    start = line.point("LK-03", 2)
    line.drag(start, start + QPoint(8, 0), line.point("LK-03", 5))
    dialog = line.page.dialog
    assert dialog is not None
    line.qtbot.waitUntil(lambda: dialog.unit_type.count() > 0)
    asked = dialog.first.text(), dialog.last.text(), dialog.units.text()
    assert asked == (line.centre.day(2).isoformat(), line.centre.day(5).isoformat(), "LK-03")
    dialog.renter.setText("R2")
    with line.qtbot.waitSignal(dialog.done_with, timeout=20_000):
        QTest.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    line.settle()
    assert [each[1:] for each in line.lines("LK-03")] == [(line.centre.day(2), line.centre.day(5))]
    assert len(line.centre.rows(Booking)) == 3


def test_days_are_marked_with_shift_and_booked_with_enter(line: Line) -> None:
    line.go("LK-02", 0)
    line.press(Key.Key_Right, Key.Key_Right, shift=True)
    assert line.page.why_line.text() == f"Enter books LK-02 from {line.centre.day(0)} to {line.centre.day(2)}."
    line.press(Key.Key_Right, Key.Key_Right, shift=True)
    assert "On it already: H-2026-001" in line.page.why_line.text()
    line.press(Key.Key_Left, Key.Key_Left, shift=True)
    line.press(Key.Key_Return)
    dialog = line.page.dialog
    assert dialog is not None
    assert dialog.last.text() == line.centre.day(2).isoformat()
    line.settle()
    dialog.reject()


def test_a_cell_tells_its_reason_and_leads_to_its_record(line: Line) -> None:
    line.go("LK-01", 1)
    assert line.page.why_line.text().startswith("hire H-7 for ")
    assert "1 unit promised" in line.page.count_line.text()
    with line.qtbot.waitSignal(line.page.place_requested) as asked:
        line.press(Key.Key_Return)
    assert asked.args == [PageKey("hires", "H-7")]
    line.go("LK-01", 5)
    assert "LK-01" in line.page.title_line.text()
    with line.qtbot.waitSignal(line.page.place_requested) as asked:
        QTest.mouseClick(line.page.ways[-1], Qt.MouseButton.LeftButton)
    assert asked.args == [PageKey("units", "LK-01")]


def test_days_are_made_wider_and_narrower_and_today_is_found_again(line: Line) -> None:
    line.press(Key.Key_Minus, Key.Key_Minus)
    narrow = line.chart.day_width
    line.press(Key.Key_Plus)
    assert line.chart.day_width > narrow
    line.press(Key.Key_PageDown, Key.Key_PageDown)
    assert line.chart.day == line.centre.day(60)
    line.press(Key.Key_Home)
    assert line.chart.day == line.centre.today


def large(units: int, days: int) -> Availability:
    """An invented fleet with a booking a week on each unit."""
    today = date(2026, 5, 4)
    made = []
    for number in range(units):
        strips = tuple(
            Strip(today + timedelta(days=at), today + timedelta(days=at + 3), What.HIRE, f"H-{number}-{at}", "hire",
                  ("booking", "H"), state="to come")
            for at in range(number % 7, days, 7)
        )  # fmt: skip
        made.append(UnitDays(f"U-{number:03d}", "T", strips, ()))
    counts = tuple(DayCount(units, units // 2, 0, units) for _ in range(days))
    return Availability(today, today, tuple(made), (TypeDays("T", "Invented", 1, (), counts),))


def test_only_what_is_seen_is_painted(qtbot: QtBot, theme: Theme, monkeypatch: pytest.MonkeyPatch) -> None:
    chart = AvailabilityChart(theme)
    qtbot.addWidget(chart)
    chart.resize(1000, 600)
    chart.show_availability(large(200, 365))
    frame = chart.frame_now()
    assert frame is not None
    drawn: list[str] = []
    booking = Painting._booking

    def noted(self: Painting, strip: Strip, top: float) -> None:
        drawn.append(strip.text)
        booking(self, strip, top)

    monkeypatch.setattr(Painting, "_booking", noted)
    image = QImage(1000, 600, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    Painting(painter, theme, frame).draw()
    painter.end()
    rows = 600 // 36 + 2
    assert 0 < len(drawn) <= rows * 6


def test_units_stand_there_with_their_bookings_before_they_are_judged_and_nothing_rests_on_them(
    qtbot: QtBot, line: Line, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_go_on, judged = threading.Event(), line.chart.shown

    def held_back(workplace: Workplace) -> Availability:
        assert may_go_on.wait(20)
        return read_availability(workplace)

    monkeypatch.setattr(page_module, "read_availability", held_back)
    monkeypatch.setattr(availability, "FEW", 0)
    forget(line.centre.workplace.database)
    line.page.refresh()
    qtbot.waitUntil(lambda: line.chart.shown is not judged, timeout=20_000)
    assert judged is not None
    assert line.chart.shown is not None
    assert line.chart.shown.pending
    assert [(row.tag, row.strips) for row in line.chart.rows] == [
        (row.tag, row.strips) for row in rows_of(judged, None)
    ]  # fmt: skip
    assert {count.fit for kind in line.chart.shown.types for count in kind.days} == {None}
    assert line.page.summary == "3 units: being calculated"
    wanted: list[object] = []
    line.chart.booking_wanted.connect(lambda *asked: wanted.append(asked))
    line.go("LK-02", 1)
    assert line.chart.words_here() == ("being calculated",)
    assert "fit ones being calculated" in line.chart.count_words_here()
    line.press(Key.Key_Right, shift=True)
    assert line.chart.marked is None
    line.chart.act_here()
    assert wanted == []
    assert worded("Open   Enter") == line.page.act_button.text()
    line.go("LK-02", 5)
    line.press(Key.Key_M)
    assert line.chart.taken is None
    assert "nothing can be booked or moved" in line.page.why_line.text()
    line.chart.narrow()
    before = line.chart.at, line.chart.day_width, line.chart.horizontalScrollBar().value()
    may_go_on.set()
    line.settle()
    assert line.chart.shown == judged
    assert (line.chart.at, line.chart.day_width, line.chart.horizontalScrollBar().value()) == before
    line.press(Key.Key_M)
    assert line.chart.taken is not None


def test_what_was_judged_is_there_at_once_also_after_an_act(line: Line, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(availability, "FEW", 1)
    workplace = line.centre.workplace
    assert availability.availability_at_once(workplace) == read_availability(workplace)
    place_hold(workplace.as_person(line.centre.manager), "LK-02", "dropped")
    after = availability.availability_at_once(workplace)
    assert not after.pending
    assert after == read_availability(workplace)
    forget(workplace.database)
    assert availability.availability_at_once(workplace).pending
