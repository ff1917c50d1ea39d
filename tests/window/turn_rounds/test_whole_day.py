"""A technician's day at the bench as one walk through the window: two units back, and one of their cells is weak.

It ends with both of them tested, calibrated side by side by two people, signed, packed; with a creeping regulator, a
lot recalled and a planned service begun.

Counted by part of the day: keys, clicks, forms and changes of page, under what they took in an earlier state.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.calc.core.verdict import Result
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.cells.tables import Calibration, CalibrationOutcome
from fleetbench.records.core.database import Database
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.tickets.tables import Task
from fleetbench.records.turn_rounds.tables import Bath, BathLoop
from fleetbench.records.upkeep.verify import verify
from fleetbench.window.bench.page import BenchPage
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.window.due.page import DuePage
from fleetbench.window.forms.fields import DecimalField
from fleetbench.window.hires.list import HireList
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import as_opened
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.turn_rounds.page import turn_round_desk
from fleetbench.workshop.units.list import unit_page
from tests.conftest import open_database
from tests.window.turn_rounds.test_worst_unit import (
    ENTER,
    LEFT,
    PRESS,
    Hands,
    enter_conditions,
    hands_sheet,
)

MOST = {
    "sign in": (6, 2, 0, 1), "receive": (10, 0, 1, 0), "strip and rinse": (7, 0, 0, 1), "bath": (3, 3, 2, 1),
    "dry and together": (4, 0, 0, 1), "loop tests": (6, 0, 0, 1), "batteries": (15, 0, 1, 2),
    "calibrate": (60, 8, 0, 2), "swap": (7, 0, 1, 3), "tests owed": (7, 0, 0, 2), "two heads": (105, 3, 0, 14),
    "card": (10, 0, 1, 1), "mouthpiece": (3, 0, 0, 1), "pack": (17, 0, 2, 2), "creep": (25, 1, 0, 0),
    "recall": (17, 0, 1, 1), "service": (15, 1, 0, 2),
}  # fmt: skip
"""The most keys, clicks, forms and changes of page of each part. As it was: receive 10, loop tests 5 (now with the key
that leads to them), batteries 15 over two pages, calibrate about 60 and the second head about 45, swap after a reject 7
moves over three pages, pack 12 and the label, creep 5 readings and 1, recall 3 fields, a planned service no key."""

BACK = ("B-09", "C-02")
WEAK = "cell 3"


class Day(Hands):
    """Hands that also count the changes of page, and press chords."""

    def __init__(self, qtbot: QtBot, database: Database, folder: Path) -> None:
        super().__init__(qtbot, database, folder)
        self.window.resize(1280, 800)
        self.pages: dict[str, list[PageKey]] = {}

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        """Count what follows for a part of the day, and hold it under its figures."""
        PRESS.parts.pop(name, None)
        before, self.pages[name] = self.window.here, []
        with PRESS.of(name):
            yield
        seen = [before, *self.pages[name], self.window.here]
        turned = sum(a.page != b.page for a, b in pairwise(seen))
        count = (*PRESS.parts[name], turned)
        print(f"{name}: {count[0]} keys, {count[1]} clicks, {count[2]} forms, {count[3]} pages")
        assert all(now <= most for now, most in zip(count, MOST[name], strict=True)), (name, count, MOST[name])

    def settle(self) -> None:
        super().settle()
        for seen in getattr(self, "pages", {}).values():
            if not seen or seen[-1] != self.window.here:
                seen.append(self.window.here)

    def chord(self, keys: str) -> None:
        """Press keys together, where the keyboard is."""
        if QApplication.activeModalWidget() is None:
            self.window.activateWindow()
        PRESS.now[0] += 1
        QTest.keySequence(QApplication.focusWidget() or self.window, QKeySequence(keys))
        self.settle()

    def rows(self, kind: type[Any]) -> list[Any]:
        with self.workplace.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found

    def line_text(self) -> str:
        """The line of the card that comes next."""
        line = self.window.page.next.line  # type: ignore[attr-defined]
        return line.step.value if line is not None else ""

    def reopen(self) -> None:
        """Close the window for the night, and open it again."""
        self.desk.close()
        self.window.deleteLater()
        self.desk.deleteLater()
        self.desk = Desk(lambda: as_opened(self.workplace), "light")
        self.window = self.desk.window
        self.window.resize(1280, 800)
        self.window.show()
        self.window.activateWindow()
        self.qtbot.waitUntil(lambda: self.window.here.page == "today" and self.window.isActiveWindow())
        self.settle()


@pytest.fixture
def day(qtbot: QtBot, sample_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Day]:
    """The window over the sample, with drafts and photographs in a folder of their own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("FLEETBENCH_PHOTOGRAPHS", str(tmp_path / "photographs"))
    made = Day(qtbot, open_database(Path(shutil.copy(sample_file, tmp_path / "day.db"))), tmp_path)
    yield made
    made.desk.close()
    made.window.deleteLater()
    made.desk.deleteLater()
    qtbot.wait(1)


def test_a_day_at_the_bench_goes_from_two_returns_to_two_units_signed_and_packed(day: Day) -> None:
    with day.part("sign in"):
        day.sign_in()
    for tag in BACK:
        receive_and_strip(day, tag)
    bathe_both(day)
    day.reopen()
    with PRESS.of("sign in again"):
        day.sign_in()
    day.clock.advance(hours=21)
    for tag in BACK:
        together_and_tested(day, tag)
    weak_cell_exchanged(day)
    day.clock.advance(minutes=4)
    owed_tests(day, BACK[0])
    both_heads(day)
    for tag in BACK:
        signed_and_packed(day, tag)
    regulator_creeps(day, "B-01")
    lot_recalled(day, "LA48")
    service_begun(day, "B-08")
    assert verify(day.workplace.database).first_break is None


def receive_and_strip(day: Day, tag: str) -> None:
    """From the list of hires: take the unit back, and go on with it by the one key for what is next."""
    desk = day.go("hires", HireList)
    desk.table.setFocus()
    with day.part("receive"):
        day.press("R")
        dialog = day.dialog()
        QTest.keyClicks(dialog["tag"], tag)  # a scanner's: one stroke of the hand, with its Enter
        day.press(ENTER, "y", "n", "n", "n")
        day.done(dialog, lambda: PRESS.keyClick(dialog, ENTER))
    line = next(each for each in reversed(day.rows(BookingUnit)) if each.received_at == day.clock())
    assert (line.received_by_id, desk.banner.text.split()[0]) == (day.technician.person_id, tag)
    with day.part("strip and rinse"):
        day.chord("Ctrl+J")
        assert day.window.here == PageKey("turn_rounds", tag)
        for _ in range(6):
            day.press("1")
    card = turn_round_desk(day.workplace, tag).card
    assert card is not None and card.next is not None and card.next.step is Step.DISINFECT
    ticked = [each.line for each in card.lines if each.state == "done"]
    assert len(ticked) == 6 and {each.settled_at for each in ticked} == {day.clock()}


def bathe_both(day: Day) -> None:
    """Both loops in one bath; its clock leads back to where it is recorded, from any page."""
    with day.part("bath"):
        day.press("1")
        bath = day.dialog()
        day.qtbot.waitUntil(lambda: bath.desk is not None)
        bath.units[BACK[0]].setFocus()
        day.press(" ")
        day.click(bath.clock_button)
        day.clock.advance(seconds=130)
        day.window.strip.look()
        day.settle()
        assert day.window.strip.shown[0] == "B-09 bath over 0:10 ago, lift out"
        day.chord("Ctrl+H")
        bath = day.dialog()
        day.qtbot.waitUntil(lambda: bath.desk is not None)
        bath.rinsed.setFocus()
        PRESS.now[1] += 1
        bath.rinsed.setChecked(True)
        day.done(bath, lambda: PRESS.mouseClick(bath.act_button, LEFT))
    made = day.rows(Bath)[-1]  # its contact time began with its clock, two minutes before
    assert (made.person_id, made.rinsed) == (day.technician.person_id, True)
    assert len([each for each in day.rows(BathLoop) if each.bath_id == made.id]) == 2


def together_and_tested(day: Day, tag: str) -> None:
    """The next morning: dry, put together, four loop tests and the batteries, each by the key for what is next."""
    day.find(tag)
    with day.part("dry and together"):
        day.chord("Ctrl+J")
        assert day.line_text() == "dry"
        for _ in range(3):
            day.press("1")
    assert day.line_text() == "tests"
    day.clock.advance(minutes=5)
    with day.part("loop tests"):
        day.press("1")
        day.press(*"1111", ENTER)
    taken = [each for each in day.rows(BenchTest) if each.at >= day.clock()]
    assert [(each.result, each.person_id) for each in taken] == [("pass", day.technician.person_id)] * 4
    with day.part("batteries"):
        day.chord("Ctrl+J")
        assert day.line_text() == "batteries"
        day.press("1")
        form = day.dialog()
        handsets = len(form.findChildren(DecimalField))
        with day.qtbot.waitSignal(form.accepted, timeout=20_000):
            for _ in range(handsets):
                day.press(*"4.1", ENTER)
        day.settle()
    taken = [each for each in day.rows(BenchTest) if each.kind == "battery voltage" and each.at >= day.clock()]
    assert [(each.result, each.value) for each in taken] == [("pass", 4.1)] * handsets
    assert day.line_text() == "calibrate"


def weak_cell_exchanged(day: Day) -> None:
    """One cell falls a fifth short in oxygen: rejected, exchanged from stock by the next key, tests owed."""
    tag = BACK[0]
    day.find(tag)
    air = {each.position: each.outcome and each.outcome.air_mv for each in unit_page(day.workplace, tag).cells}
    with day.part("calibrate"):
        day.chord("Ctrl+J")
        day.press("1")
        page = day.window.page
        assert isinstance(page, CalibratePage)
        day.wait(lambda: page.sheet is not None, "sheet")
        sheet = hands_sheet(page)
        with PRESS.of("conditions"):
            enter_conditions(day, sheet)
            day.wait(lambda: hands_sheet(page).held.session is not None, "conditions")
        sheet = hands_sheet(page)
        readers = len(sheet.air.fields) // len(sheet.held.positions)
        day.press("1", "1")
        in_air = "".join(f"{(air[each.name] or 0) * 10:.0f}" for each in sheet.held.positions)
        day.press(*in_air * readers)
        day.press("*")
        day.clock.advance(seconds=100)
        rise = 0.996 / (0.20939 * (1 - 0.45 * 24.9 / 1010))  # of mole fractions, 0.20939 in dry air (CIPM-2007)
        pure = {each.name: (air[each.name] or 0) * rise for each in sheet.held.positions}
        pure[WEAK] *= 0.8
        stamp = "".join(f"{value * 10:.0f}" for value in pure.values())
        day.press(*stamp)
        for seconds in (30, 31):
            day.clock.advance(seconds=seconds)
            day.press("+")
        day.wait(sheet.oxygen.isEnabled, "settled")
        day.press(*stamp * (readers - 1))
        day.press(ENTER)
        day.wait(lambda: not sheet.outcome.is_fresh and sheet.outcome.record_button.hasFocus(), "read")
        with day.qtbot.waitSignal(page.finished, timeout=30_000):
            day.press(ENTER)
        day.settle()
    verdicts = [each.verdict for each in day.rows(CalibrationOutcome)][-3:]
    assert verdicts == ["pass", "pass", "reject"]
    with day.part("swap"):
        day.press(ENTER)  # the keyboard is on the next step of the unit
        form = day.dialog()
        proposed = form.note.text().split()[1].rstrip(".")
        assert WEAK in form.slot.currentText()
        day.settle()
        form.part.setCompleter(None)  # the tests' own plugin leaves what it proposes the active window for good
        QTest.keyClicks(form.part, proposed)  # scanned, with its Enter
        day.press(ENTER)
        day.qtbot.waitUntil(form.why.hasFocus)
        with day.qtbot.waitSignal(form.accepted, timeout=10_000):
            day.press("2")
        day.settle()
    now = next(each for each in unit_page(day.workplace, tag).fitted if each.slot == WEAK)
    assert proposed in str(now.part)
    card = turn_round_desk(day.workplace, tag).card
    assert card is not None and card.next is not None and card.next.step is Step.TESTS, "the head was opened again"


def owed_tests(day: Day, tag: str) -> None:
    """What the opening of the head owes: the valves and the loop once more."""
    day.find(tag)
    with day.part("tests owed"):
        day.chord("Ctrl+J")
        assert day.line_text() == "tests"
        day.press("1")
        day.press(*"1111", ENTER)
    assert "valves and loop have passed since" in day.window.page.wanting.text()  # type: ignore[attr-defined]


def both_heads(day: Day) -> None:
    """Both heads flush side by side; in their midst another person takes over, and nothing of either is lost."""
    before = len(day.rows(CalibrationOutcome))
    with day.part("two heads"):
        oxygen = {}
        for tag in BACK:
            oxygen[tag] = flush_begun(day, tag)
            day.clock.advance(seconds=30)
        for seconds, keys in ((60, None), (31, "+"), (31, "+")):
            day.clock.advance(seconds=seconds)
            for tag in BACK:
                half_done(day, tag)
                day.press(*(keys or oxygen[tag]))
        with PRESS.of("sign in again"):
            day.sign_in(day.second)
        for tag in BACK:
            half_done(day, tag)
            page = day.window.page
            assert isinstance(page, CalibratePage)
            sheet = hands_sheet(page)
            day.wait(sheet.oxygen.isEnabled, "settled")
            day.press(*oxygen[tag] * (len(sheet.oxygen.fields) // len(sheet.held.positions) - 1))
            with PRESS.of("settings of the handsets"):
                day.click(sheet.extras.panel_buttons["handsets"])
                for fields in sheet.extras.handset_fields.values():
                    for field, figure in zip(fields, ("99.6", "1010", "1.00", "0.21"), strict=True):
                        field.setFocus()
                        PRESS.keyClicks(field, figure)
            recorded_once_read(day, page)
    made = day.rows(CalibrationOutcome)[before:]
    assert [each.verdict for each in made] == ["pass"] * 6
    recorded = {each.id: each.person_id for each in day.rows(Calibration)}
    assert {recorded[each.calibration_id] for each in made} == {day.second.person_id}
    with PRESS.of("sign in again"):
        day.sign_in(day.technician)


def recorded_once_read(day: Day, page: CalibratePage) -> None:
    """Enter on the button that records once the outcome could be read; again, where a newer one had come meanwhile."""
    hands_sheet(page).outcome.record_button.setFocus()

    def is_recorded() -> bool:
        outcome = hands_sheet(page).outcome
        waits = outcome.is_fresh or day.desk.background.is_busy or not outcome.record_button.isEnabled()
        if page.recorded is None and not waits:
            PRESS.keyClick(outcome.record_button, ENTER)
        return page.recorded is not None

    day.qtbot.waitUntil(is_recorded, timeout=30_000)
    day.settle()


def flush_begun(day: Day, tag: str) -> str:
    """The air points and the clock of the flush; comes back with the digits that its sound cells show in oxygen."""
    day.find(tag)
    day.chord("Ctrl+J")
    assert day.line_text() == "calibrate"
    day.press("1")
    page = day.window.page
    assert isinstance(page, CalibratePage)
    day.wait(lambda: page.sheet is not None, "sheet")
    sheet = hands_sheet(page)
    known = {each.position: each.outcome and each.outcome.air_mv for each in unit_page(day.workplace, tag).cells}
    air = [known[each.name] or 10.4 for each in sheet.held.positions]  # 10.4 mV: a new cell
    day.press("1", "1")
    day.press(*"".join(f"{each * 10:.0f}" for each in air) * (len(sheet.air.fields) // len(air)))
    day.press("*")
    rise = 0.996 / (0.20939 * (1 - 0.45 * 24.9 / 1010))  # as above
    return "".join(f"{each * rise * 10:.0f}" for each in air)


def half_done(day: Day, tag: str) -> None:
    """Back to a head that flushes, by the key for what is half done."""
    for _ in range(8):
        day.chord("Ctrl+H")
        if day.window.here == PageKey("calibrate", tag):
            return
    raise AssertionError(day.window.strip.shown)


def signed_and_packed(day: Day, tag: str) -> None:
    """The rest of the card, its signature, the mouthpiece valve that was opened with the rest, and a fill."""
    day.clock.advance(minutes=1)
    day.find(tag)
    with day.part("card"):
        day.chord("Ctrl+J")
        for key in ("1", "1", "1", Qt.Key.Key_F9):
            day.press(key)
        sign = day.dialog()
        PRESS.keyClicks(sign["pin"], "4711")
        day.done(sign, lambda: PRESS.keyClick(sign["pin"], ENTER))
    assert "the hold lifted" in day.window.page.banner.text
    day.clock.advance(minutes=1)
    with day.part("mouthpiece"):
        day.chord("Ctrl+J")
        day.press("1", ENTER)
    assert day.window.page.banner.text == "Recorded: pass."
    with day.part("pack"):
        day.chord("Ctrl+J")
        day.press("P")
        form = day.dialog()
        full = form.choices.full_mass_g
        day.press(*f"{1400 + full - 40:.0f}", ENTER, *"1400", ENTER, "1")
        day.press(ENTER)
        label = day.dialog()
        label.reject()
        day.settle()
    assert f"packed: {full - 40:.0f} g" in day.window.page.banner.text
    left = [each.check for each in unit_page(day.workplace, tag).assessment.checks if each.result is Result.STOP]
    assert left == [], "what is left is work of the hand-over"


def regulator_creeps(day: Day, tag: str) -> None:
    """An intermediate pressure that rises 0.2 bar a minute is a reject before its watch is over."""
    day.find(tag)
    page = day.onward("Test at the bench", BenchPage)
    with day.part("creep"):
        offers = page.plan.offers
        day.click(page.tests.button(next(n for n, each in enumerate(offers) if each.kind == "intermediate pressure")))
        day.press(*"190", ENTER)
        for bar in ("9.0", "9.1", "9.2", "9.3", "9.4"):
            day.press(*bar, ENTER)
            day.clock.advance(seconds=30)
        day.chord("Ctrl+Return")
    assert page.banner.text.startswith("Recorded: reject")


def lot_recalled(day: Day, lot: str) -> None:
    """A lot is recalled once it was shown what it touches."""
    day.window.go(PageKey("notices"))
    day.settle()
    with day.part("recall"):
        day.chord("Shift+H")
        form = day.dialog()
        day.press(*lot, ENTER, *"reads low", ENTER)
        assert form.act_button.text() == "Recall lot and hold 4 units and 6 parts"
        assert form["preview"].text().startswith("On hold: B-03")
        day.done(form, lambda: PRESS.keyClick(QApplication.focusWidget(), ENTER))
    assert day.window.here == PageKey("notices", f"RECALL {lot}")


def service_begun(day: Day, tag: str) -> None:
    """The planned service of a unit from the list of what is due, with the plan's task on its ticket."""
    page = day.go("due", DuePage)
    with day.part("service"):
        day.chord("Ctrl+L")
        day.press(*"Yearly", ENTER)
        rows = page.model.rows
        for _ in range([each.unit for each in rows].index(tag)):
            day.press(Qt.Key.Key_Down)
        day.chord("Ctrl+N")
        day.press(ENTER)
        day.wait(lambda: day.window.page.title.endswith(f", {tag}"), "ticket")
    assert any("Yearly service" in each.text for each in day.rows(Task))
