"""A between-courses service of the sample fleet's worst unit that is out, from hand-back to sign-off, in the window.

Everything is done by keys and clicks in the main window; the fleet is imported once and copied into each database.
Every key, click and form is counted, and each part of the work is held under its figure.
"""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.exceptions import TimeoutError as QtTimeoutError
from pytestqt.qtbot import QtBot

from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.core.database import Database
from fleetbench.records.upkeep.verify import verify
from fleetbench.window.bench.page import BenchPage
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.window.cells.sheet import CalibrationSheet
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.hires.list import HireList
from fleetbench.window.shell.app import Desk
from fleetbench.window.shell.opening import as_opened
from fleetbench.window.shell.place import PageKey
from fleetbench.window.tickets.work import TicketWorkPage
from fleetbench.window.turn_rounds.page import TurnRoundPage
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.stock import list_shelf
from fleetbench.workshop.people.list import list_people
from fleetbench.workshop.tickets.list import ticket_page
from fleetbench.workshop.units.list import Fit, Where, list_units, unit_page
from tests.centres.pins import give_pin
from tests.centres.sample_copy import copy_sample
from tests.conftest import SAMPLE_NOW, Clock

ENTER = Qt.Key.Key_Return
LEFT = Qt.MouseButton.LeftButton


MOST = {
    "sign in": (6, 2, 0, ""),
    "take back": (12, 2, 1, "10 keys"),
    "card": (20, 3, 1, ""),
    "task and finding in words": (100, 3, 0, ""),
    "fit a cell": (24, 1, 1, "7 moves over 3 pages"),
    "loop tests": (12, 1, 1, "5 keys, without the minutes"),
    "mouthpiece": (4, 2, 0, ""),
    "conditions": (20, 5, 0, "typed again by each person"),
    "readings of the cells": (50, 3, 0, "about 60 keys"),
    "settings of the handsets": (40, 3, 0, ""),
    "sign off": (16, 3, 1, "refused without a way to the test"),
    "rest of the card": (50, 3, 0, "batteries alone 15 keys and 2 pages"),
    "hand over": (6, 1, 1, ""),
}  # fmt: skip
"""The most keys, clicks and forms of each part of the work, and what it took in an earlier state of the program."""


class CountedHands:
    """Qt's own keys and clicks, counted by the part of the work that they are for, with the forms that were opened."""

    def __init__(self) -> None:
        self.parts: dict[str, list[int]] = {}
        self.now = [0, 0, 0]

    @contextmanager
    def of(self, part: str) -> Iterator[None]:
        """Count what follows for this part."""
        around, self.now = self.now, self.parts.setdefault(part, [0, 0, 0])
        yield
        self.now = around

    def keyClick(self, target: Any, *key: Any) -> None:
        self.now[0] += 1
        QTest.keyClick(target, *key)

    def keyClicks(self, target: Any, text: str) -> None:
        self.now[0] += len(text)
        QTest.keyClicks(target, text)

    def mouseClick(self, target: Any, *button: Any) -> None:
        self.now[1] += 1
        QTest.mouseClick(target, *button)


PRESS = CountedHands()


class Hands:
    """The main window over the sample fleet, and hands that press keys and buttons."""

    def __init__(self, qtbot: QtBot, database: Database, folder: Path) -> None:
        self.qtbot, self.clock, self.folder = qtbot, Clock(SAMPLE_NOW), folder
        self.workplace = Workplace(database, self.clock, attended=True)
        codes = {each.code: each for each in list_people(self.workplace)}
        self.technician, self.second = codes["T1"], codes["T2"]
        for person, pin in ((self.technician, "4711"), (self.second, "2468")):
            give_pin(self.workplace, person.person_id, pin)
        self.desk = Desk(lambda: as_opened(self.workplace), "light")
        self.window = self.desk.window
        self.window.show()
        self.window.activateWindow()
        qtbot.waitUntil(lambda: self.window.here.page == "today" and QApplication.activeWindow() is not None)
        self.settle()

    def settle(self) -> None:
        """Wait until nothing is on its way and the page shows what it is for."""
        for _ in range(2):
            self.qtbot.waitUntil(
                lambda: not self.desk.background.is_busy and self.window.page.is_loaded, timeout=20_000
            )
            QApplication.processEvents()

    def wait(self, until: Callable[[], bool], what: str) -> None:
        """Wait for it; where it does not come, tell what the page said."""
        try:
            self.qtbot.waitUntil(until, timeout=10_000)
        except QtTimeoutError as late:
            raise AssertionError(f"{what}: {self.window.page.title}: {self.window.page.banner.text}") from late
        self.settle()

    def press(self, *keys: str | Qt.Key) -> None:
        """Press keys where the keyboard is."""
        if QApplication.activeModalWidget() is None:
            self.window.activateWindow()
        for key in keys:
            target = QApplication.focusWidget() or self.window.page
            PRESS.keyClick(target, key) if isinstance(key, Qt.Key) else PRESS.keyClicks(target, key)
        self.settle()

    def into(self, field: QWidget, text: str, *keys: Qt.Key) -> None:
        """Go to a field and type."""
        self.window.activateWindow()
        PRESS.now[1] += not field.hasFocus()  # a person would click there
        field.setFocus()
        PRESS.keyClicks(field, text)
        for key in keys:
            PRESS.keyClick(field, key)
        self.settle()

    def click(self, button: QWidget) -> None:
        assert button.isVisible() and button.isEnabled(), button.accessibleName() or getattr(button, "text", str)()
        PRESS.mouseClick(button, LEFT)
        self.settle()

    def dialog(self) -> Any:
        """The dialog that was opened last."""
        self.qtbot.waitUntil(lambda: isinstance(QApplication.activeModalWidget(), QDialog))
        made = QApplication.activeModalWidget()
        assert made is not None
        made.activateWindow()
        self.settle()
        PRESS.now[2] += 1
        return made

    def done(self, dialog: Any, end: Callable[[], None]) -> None:
        """End a dialog and wait for its act."""
        with self.qtbot.waitSignal(dialog.accepted, timeout=20_000):
            end()
        self.settle()

    def go(self, name: str, kind: type[Any]) -> Any:
        """Press the button of the rail, and be there."""
        self.click(self.window.rail.button(name))
        assert isinstance(self.window.page, kind)
        return self.window.page

    def onward(self, words: str, kind: type[Any]) -> Any:
        """Press a button that leads onward from the page of one thing."""
        page = self.window.page
        assert isinstance(page, RecordPage)
        (button,) = [each for each in page.onward_buttons if words in each.text()]
        self.click(button)
        assert isinstance(self.window.page, kind)
        return self.window.page

    def find(self, text: str) -> None:
        """Type into the find box and press Enter."""
        self.window.focus_find()
        PRESS.keyClicks(self.window.find_box, text)
        PRESS.keyClick(self.window.find_box, ENTER)
        self.qtbot.waitUntil(lambda: self.window.here == PageKey("units", text), timeout=20_000)
        self.settle()

    def sign_in(self, who: Any = None) -> None:
        """Choose a person in the head of the window by code, or the technician with the arrow keys."""
        self.click(self.window.chooser.button)
        names = self.window.chooser.list
        if who is not None:
            PRESS.keyClicks(names.field, who.code)
        who = who or self.technician
        while names.names.currentIndex().data() != who.name:
            PRESS.keyClick(names.field, Qt.Key.Key_Down)
        PRESS.keyClick(names.field, ENTER)
        assert self.window.chooser.button.text().endswith(who.name)
        self.settle()


@pytest.fixture(params=["sqlite", "postgresql"])
def hands(
    request: pytest.FixtureRequest, qtbot: QtBot, sample_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Hands]:
    """Hands at the window on either database, with drafts and photographs in a folder of their own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("FLEETBENCH_PHOTOGRAPHS", str(tmp_path / "photographs"))
    if request.param == "sqlite":
        database = Database(shutil.copy(sample_file, tmp_path / "sample.db"))
    else:
        database = request.getfixturevalue("server_database")
        copy_sample(sample_file, database)
    made = Hands(qtbot, database, tmp_path)
    yield made
    made.desk.close()
    made.window.deleteLater()
    made.desk.deleteLater()
    qtbot.wait(1)
    database.close()


def worst_that_is_out(workplace: Workplace) -> str:
    """The unit that is out with the most against it."""
    out = [row for row in list_units(workplace) if row.where is Where.OUT]
    worst = max(out, key=lambda row: len(row.reasons))
    assert worst.fit is Fit.HOLD, "out and on hold: ring the renter"
    return worst.tag


def fresh_cell(workplace: Workplace, tag: str) -> tuple[str, str]:
    """The position whose cell ends first, and the serial of a cell in stock of its type with the longest life."""
    worn = min(
        (part for part in unit_page(workplace, tag).fitted if part.slot_kind == "cell" and part.last_good_day),
        key=lambda part: part.last_good_day,  # type: ignore[arg-type, return-value]
    )
    stocked = [
        row
        for row in list_shelf(workplace)
        if row.kind.kind == "cell" and row.part.serial and row.kind.name == worn.part_type
    ]
    fresh = max(stocked, key=lambda row: str(row.last_good_day))
    return worn.slot, str(fresh.part.serial)


def test_the_worst_unit_is_served_from_hand_back_to_sign_off(hands: Hands) -> None:
    tag = worst_that_is_out(hands.workplace)
    slot, serial = fresh_cell(hands.workplace, tag)
    PRESS.parts.clear()
    with PRESS.of("take back"):
        receive_it(hands, tag)
    with PRESS.of("card"):
        hands.find(tag)
        work_the_card(hands, hands.onward("Turn-round", TurnRoundPage), until=Step.TESTS)
    with PRESS.of("task and finding in words"):
        hands.find(tag)
        ticket = hands.onward("Work on", TicketWorkPage)
        number = ticket.desk.page.row.number
        serve_it(hands, ticket, slot, serial)
    with PRESS.of("mouthpiece"):
        try_the_mouthpiece(hands)
    with PRESS.of("readings of the cells"):
        hands.find(tag)
        hands.onward("Work on", TicketWorkPage)
        calibrate_it(hands, tag)
    with PRESS.of("sign off"):
        hands.find(tag)
        sign_it(hands, hands.onward("Work on", TicketWorkPage))
    with PRESS.of("rest of the card"):
        hands.find(tag)
        work_the_card(hands, hands.onward("Turn-round", TurnRoundPage), until=None)
    with PRESS.of("hand over"):
        hands.press(Qt.Key.Key_F9)
        dialog = hands.dialog()
        PRESS.keyClicks(dialog["pin"], "4711")
        hands.done(dialog, lambda: PRESS.mouseClick(dialog.act_button, LEFT))
    tell_counts(ticket_page(hands.workplace, number).row.ticket.minutes)

    page = ticket_page(hands.workplace, number)
    assert (page.row.ticket.signed_by, page.row.ticket.second) == (hands.technician.name, hands.second.name)
    assert {(move.way, move.move.slot) for move in page.moves} == {("out", slot), ("in", slot)}
    assert {test.record.result for test in page.tests} == {"pass"} and len(page.photographs) == 1
    assert {each.outcome.verdict for each in page.calibrations} == {"pass"}
    row = next(each for each in list_units(hands.workplace) if each.tag == tag)
    assert row.fit is not Fit.HOLD and row.open_tickets == (), row.reasons
    assert verify(hands.workplace.database).first_break is None


def tell_counts(minutes: float | None) -> None:
    """Print keys, clicks and forms of each part, and the bench time that the ticket states; each under its figure."""
    for part, (keys, clicks, forms) in PRESS.parts.items():
        before = MOST[part][3]
        print(f"{part}: {keys} keys, {clicks} clicks, {forms} forms{f'; before, {before}' if before else ''}")
    whole = [sum(each) for each in zip(*PRESS.parts.values(), strict=True)]
    print(f"one unit: {whole[0]} keys, {whole[1]} clicks, {whole[2]} forms; {minutes} min of bench on its ticket")
    over = {
        part: count
        for part, count in PRESS.parts.items()
        if any(now > most for now, most in zip(count, MOST[part][:3], strict=True))
    }
    assert over == {}


def receive_it(hands: Hands, tag: str) -> None:
    desk = hands.go("hires", HireList)
    with PRESS.of("sign in"):
        hands.sign_in()
    desk.table.setFocus()
    hands.press("R")
    dialog = hands.dialog()
    PRESS.keyClicks(dialog["tag"], tag)
    hands.press(ENTER, "y", "n", "y", "n")
    hands.done(dialog, lambda: PRESS.keyClick(dialog, ENTER))
    assert f"{tag} is back" in desk.banner.text and "A ticket is open" in desk.banner.text


def work_the_card(hands: Hands, card: TurnRoundPage, *, until: Step | None) -> None:
    """Settle line after line, each by its key, until a step comes up or nothing is left to do."""
    for _ in range(30):
        line = card.next.line
        if line is None or line.step is until:
            return
        if line.step is Step.DISINFECT:
            hands.clock.advance(minutes=45)
            hands.press("1")
            bath = hands.dialog()
            hands.qtbot.waitUntil(lambda bath=bath: bath.desk is not None)
            hands.done(bath, lambda bath=bath: PRESS.mouseClick(bath.act_button, LEFT))
            hands.clock.advance(hours=20)
            hands.press(Qt.Key.Key_F5)
        elif line.step is Step.BATTERIES:
            hands.press("/")
            hands.into(card.next.reason, "read at the hand-over this morning", ENTER)
        else:
            hands.press("1")
        hands.wait(
            lambda line=line: card.next.line is None or card.next.line.line.line_id != line.line.line_id, line.text
        )
    raise AssertionError("the card has no end")


def serve_it(hands: Hands, ticket: TicketWorkPage, slot: str, serial: str) -> None:
    hands.press(Qt.Key.Key_F6)
    ticket.tasks.second.setChecked(True)
    hands.into(ticket.tasks.new, f"Replace {slot}", ENTER)
    hands.into(ticket.findings.new, "Cell past its life in days; the rest as it should be", ENTER)
    with PRESS.of("fit a cell"):
        hands.press(Qt.Key.Key_F2)
        fit = hands.dialog()
        hands.press(serial, ENTER, slot, ENTER)
        hands.done(fit, lambda: hands_keys("1"))
    hands.clock.advance(minutes=10)
    with PRESS.of("loop tests"):
        hands.press(Qt.Key.Key_F3)
        tests = hands.dialog()
        hands.press("1", "1", "1", "5", ENTER, "1", "5", ENTER)
        hands.done(tests, lambda: hands_keys(ENTER))
    picture = hands.folder / "seen.png"
    assert QImage(60, 40, QImage.Format.Format_RGB32).save(str(picture))
    ticket.photographs.give(picture)
    hands.settle()
    hands.press(Qt.Key.Key_F8)
    hands.press(Qt.Key.Key_F6)
    assert ticket.desk is not None and ticket.desk.page.row.ticket.minutes == 10


def hands_keys(key: str | Qt.Key) -> None:
    """Press one key where the keyboard is, without waiting."""
    target = QApplication.focusWidget()
    assert target is not None
    PRESS.keyClick(target, key) if isinstance(key, Qt.Key) else PRESS.keyClicks(target, key)


def calibrate_it(hands: Hands, tag: str) -> None:
    """Enter the conditions, the air point, the flush until it settles, and the oxygen point, as sound cells read.

    Each cell reads in air what it read at its last calibration, a new one what its neighbour did, and in oxygen what
    the air point says of pure oxygen: mole fractions 0.20939 in air (CIPM-2007) and 0.996 as analysed.
    """
    hands.press(Qt.Key.Key_F12)
    page = hands.window.page
    assert isinstance(page, CalibratePage)
    hands.wait(lambda: page.sheet is not None, "sheet")
    if hands_sheet(page).held.session is None:
        with PRESS.of("conditions"):
            enter_conditions(hands, hands_sheet(page))
        hands.wait(lambda: hands_sheet(page).held.session is not None, "conditions")
    sheet = hands_sheet(page)
    air = {cell.position: (cell.outcome and cell.outcome.air_mv) for cell in unit_page(hands.workplace, tag).cells}
    sound = next(value for value in air.values() if value is not None)
    shown = {each.slot_id: air.get(each.name) or sound for each in sheet.held.positions}
    sheet.head.head.setFocus()
    hands.press("1", "1")
    type_in(hands, sheet.air.fields, shown)
    oxygen = {slot: value * 0.996 / (0.20939 * (1 - 0.45 * 24.9 / 1010)) for slot, value in shown.items()}
    hands.press("*")
    hands.clock.advance(seconds=100)
    stamp = "".join(f"{oxygen[each.slot_id] * 10:.0f}" for each in sheet.held.positions)
    hands.press(*stamp)
    for seconds in (30, 31):
        hands.clock.advance(seconds=seconds)
        hands.press("+")
    hands.wait(sheet.oxygen.isEnabled, "settled")
    type_in(hands, sheet.oxygen.fields, oxygen)
    hands.wait(lambda: all(end.word == "pass" for end in sheet.oxygen.ends.values()),
               str([end.word for end in sheet.oxygen.ends.values()]))  # fmt: skip
    with PRESS.of("settings of the handsets"):
        hands.click(sheet.extras.panel_buttons["handsets"])
        for fields in sheet.extras.handset_fields.values():
            for field, figure in zip(fields, ("99.6", "1010", "1.00", "0.21"), strict=True):
                field.setFocus()
                PRESS.keyClicks(field, figure)
        hands.settle()
    sheet.outcome.record_button.setFocus()
    hands.wait(lambda: not sheet.outcome.is_fresh, "read")
    with hands.qtbot.waitSignal(page.finished, timeout=30_000):
        hands.press(ENTER)
    hands.settle()


def enter_conditions(hands: Hands, sheet: CalibrationSheet) -> None:
    form = sheet.session
    for field, figure in (
        (form.pressure, "1010"), (form.temperature, "21"), (form.humidity, "45"), (form.oxygen, "99.6")
    ):  # fmt: skip
        hands.into(field, figure)
    for box in form.tools_of.values():
        if box.currentData() is None:
            hands.into(box, "", Qt.Key.Key_Down)
    hands.click(form.open_button)


def hands_sheet(page: CalibratePage) -> CalibrationSheet:
    assert page.sheet is not None
    return page.sheet


def type_in(hands: Hands, fields: Any, figures: dict[int, float]) -> None:
    """Type a figure's digits into every field of a grid that holds none yet."""
    for (slot, _reader), field in fields.items():
        if field.value is None and field.isEnabled():
            field.setFocus()
            PRESS.keyClicks(field, f"{figures[slot] * 10:.0f}")
    hands.settle()


def try_the_mouthpiece(hands: Hands) -> None:
    """Go to the bench from the ticket and try the mouthpiece valve, which was opened with the rest."""
    hands.press(Qt.Key.Key_F11)
    page = hands.window.page
    assert isinstance(page, BenchPage)
    hands.wait(lambda: page.plan is not None and page.tests.buttons() != [], "bench")
    assert page.plan is not None
    number = next(place for place, offer in enumerate(page.plan.offers) if offer.kind == "mouthpiece valve")
    hands.click(page.tests.button(number))
    hands.press("1", ENTER)
    hands.wait(lambda: page.banner.text.startswith("Recorded: pass"), "mouthpiece valve")


def sign_it(hands: Hands, ticket: TicketWorkPage) -> None:
    hands.press(Qt.Key.Key_F9)
    dialog = hands.dialog()
    PRESS.keyClicks(dialog["pin"], "4711")
    dialog["second"].setCurrentIndex(dialog["second"].findData(hands.second.person_id))
    PRESS.keyClicks(dialog["second_pin"], "2468")
    hands.done(dialog, lambda: PRESS.mouseClick(dialog.act_button, LEFT))
    assert not ticket.sign.sign_button.isVisible()
