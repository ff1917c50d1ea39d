"""Half-done work through the window: heads that flush side by side while a loop is watched, and nothing lost."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.main_window import MainWindow
from fleetbench.window.shell.opening import as_opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.bench_centre import Keys, open_bench
from tests.centres.valve_centre import write_valve_centre
from tests.window.bench_keys import CountedKeys

AIR, OXYGEN = "104102106104102106", "498489507"
KEYS_A_HEAD = 45
"""Keys of a head of three cells on two handsets taken alone, held by test_calibrate_page; with its way back here."""


class Day:
    """The main window over a small centre with a clock of its own, and fingers that count."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.theme, self.background, self.database, self.clock = qtbot, theme, background, database, clock
        self.keys: Keys = write_valve_centre(database, clock()).centre
        open_bench(database, self.keys, clock())
        self.counted = CountedKeys()
        self.window = self.open_window()

    def open_window(self) -> MainWindow:
        window = MainWindow(self.theme, self.background, lambda: as_opened(Workplace(self.database, self.clock)))
        self.qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        window.activateWindow()
        self.qtbot.waitUntil(lambda: window.isActiveWindow() and window.here.page == "today", timeout=20_000)
        self.background.signed_in.choose(self.keys.technician)
        self.settle()
        return window

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=20_000)
        self.qtbot.wait(1)
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=20_000)

    def press(self, *keys: str) -> None:
        """Press these one by one, as fast as the window follows."""
        for key in keys:
            self.counted.press(*([key] if key.startswith(("Ctrl+", "Enter", "Tab")) else list(key)))
        self.settle()

    def at(self, page: str, tag: str) -> Any:
        self.window.go(PageKey(page, tag))
        self.settle()
        return self.window.page

    def rows(self, kind: type[Any]) -> list[Any]:
        with self.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found


@pytest.fixture
def day(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Iterator[Day]:
    made = Day(qtbot, theme, background, sqlite_database, clock)
    yield made
    made.window.close()


def test_two_heads_flush_side_by_side_while_a_loop_is_watched_and_one_key_leads_back(day: Day) -> None:
    window, strip = day.window, day.window.strip
    assert not strip.isVisible(), "nothing is half done"
    for tag in ("LK-01", "LK-02"):
        day.at("calibrate", tag)
        day.press("11" + AIR, "*")
        day.clock.advance(seconds=20)
    bench = day.at("bench", "LK-01")
    day.press("11", " ")
    day.at("due", None)  # type: ignore[arg-type]
    strip.look()
    day.settle()
    assert strip.isVisible() and strip.height() <= 36, "one line"
    assert [words.rsplit(" ", 2)[0] for words in strip.shown] == ["LK-01 flush", "LK-02 flush", "LK-01 watch"]
    day.clock.advance(seconds=60)
    for _ in range(2):
        day.press("Ctrl+H")
        assert window.here.page == "calibrate" and window.page.sheet.flush.started_at is not None
        day.press(OXYGEN)
    for seconds in (30, 31):
        day.clock.advance(seconds=seconds)
        for tag in ("LK-01", "LK-02"):
            day.press("Ctrl+H")
            while window.here.key != tag or window.here.page != "calibrate":
                day.press("Ctrl+H")
            day.press("+")
    assert sum("settled" in words for words in strip.shown) >= 1
    for tag in ("LK-02", "LK-01"):
        while window.here != PageKey("calibrate", tag):
            day.press("Ctrl+H")
        day.press(OXYGEN, "Enter")
        page = window.page
        day.qtbot.waitUntil(lambda page=page: not page.sheet.outcome.is_fresh)
        day.press("Enter")
        day.qtbot.waitUntil(lambda page=page: page.recorded is not None)
    assert [row.verdict for row in day.rows(CalibrationOutcome)] == ["pass"] * 6
    assert len(day.rows(Calibration)) == 2 and day.counted.pressed <= 2 * (KEYS_A_HEAD + 8) + 3
    day.clock.advance(seconds=120)
    strip.look()
    day.settle()
    assert [words.split(" ago")[0] for words in strip.shown] == ["LK-01 watch over 1:01"]
    day.press("Ctrl+H", "11", "Enter")
    day.qtbot.waitUntil(lambda: bool(day.rows(BenchTest)))
    assert [row.watched_minutes for row in day.rows(BenchTest)][2:] == [pytest.approx(4.02, abs=0.01), 3.0]
    assert bench.card.negative.running is None
    day.qtbot.waitUntil(lambda: not strip.isVisible(), timeout=5_000)  # all of it is recorded


def test_closing_the_window_and_another_person_lose_neither_flush_nor_watch(day: Day) -> None:
    day.at("calibrate", "LK-02")
    day.press("11" + AIR, "*")
    day.at("bench", "LK-01")
    day.press("1", "1", " ")
    day.window.close()  # while the watch runs and nothing waits for the disk
    assert day.database.path is not None
    kept = {each.tag for each in Drafts(Path(day.database.path).parent / "half-done").listed()}
    assert kept == {"LK-02", "LK-01 release"}
    day.window = day.open_window()
    day.background.signed_in.choose(day.keys.manager)
    day.settle()
    strip = day.window.strip
    assert [words.rsplit(" ", 2)[0] for words in strip.shown] == ["LK-02 flush", "LK-01 watch"]
    day.clock.advance(seconds=185)
    button = next(each for each in strip.findChildren(type(strip.more)) if "LK-01" in each.text())
    assert button.accessibleName() == "LK-01: watch, half done"
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    day.settle()
    card = day.window.page.card  # type: ignore[attr-defined]
    assert day.window.here == PageKey("bench", "LK-01") and card.negative.question.hasFocus()
    day.press("1")
    assert card.negative.seen().minutes == pytest.approx(3.08, abs=0.01), "the watch ran on while the window was closed"
    day.press("Ctrl+H")
    sheet = day.window.page.sheet  # type: ignore[attr-defined]
    assert day.window.here == PageKey("calibrate", "LK-02") and len(sheet.air.figures()) == 6


def test_a_draft_of_yesterday_is_never_judged_in_the_conditions_of_today(day: Day) -> None:
    day.at("calibrate", "LK-01")
    day.press("11" + AIR, "*")
    day.at("due", None)  # type: ignore[arg-type]
    day.clock.advance(hours=22)
    day.window.strip.look()
    day.settle()
    assert day.window.strip.shown[0] == "LK-01 flush begun 22 h ago, read again"
    open_bench(day.database, day.keys, day.clock())
    day.press("Ctrl+H")
    sheet = day.window.page.sheet  # type: ignore[attr-defined]
    assert sheet.air.figures() == {} and sheet.flush.started_at is None
    assert "take all of them again" in day.window.page.question.text  # type: ignore[attr-defined]


def test_six_on_the_bench_stand_in_one_line_at_960_pixels(day: Day) -> None:
    drafts = Drafts(Path(str(day.database.path)).parent / "half-done")
    started = day.clock().isoformat()
    for number in range(1, 7):
        content = {"entry": {"figures": [1]}, "flush_started": started, "flush_expected_s": 100.0 + number}
        drafts.save(f"U-{number}", content, day.clock())
    day.window.resize(960, 640)
    day.window.strip.look()
    day.settle()
    strip = day.window.strip
    assert day.window.width() == 960 and strip.height() <= 36
    left = 6 - len(strip.shown)
    assert 0 < left < 6 and strip.more.text() == f"{left} more"
    assert [each.text().split()[0] for each in strip.more.menu().actions()] == [f"U-{n}" for n in range(7 - left, 7)]
    places = [each.x() for each in strip.findChildren(type(strip.more)) if each.isVisible()]
    day.clock.advance(seconds=63)
    strip.show_work(strip._work)
    assert places == [each.x() for each in strip.findChildren(type(strip.more)) if each.isVisible()], "nothing moves"
