"""The turn-round card as a work sheet: one key a line, the bath of several loops, what is found, and the signature."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fleetbench.calc.bench.half_done import BegunKind, clock_of
from fleetbench.calc.turn_rounds.card import Step
from fleetbench.records.core.database import Database
from fleetbench.records.tickets.tables import Disinfection, Ticket
from fleetbench.records.turn_rounds.tables import HandsetLook, TurnRound
from fleetbench.records.units.tables import Hold
from fleetbench.window.canisters.acts import LabelDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.frame import places_of
from fleetbench.window.shell.pages import Page, PageContext, drafts_of
from fleetbench.window.shell.place import PageKey
from fleetbench.window.turn_rounds.acts import BathDialog
from fleetbench.window.turn_rounds.cards import left_out_words
from fleetbench.window.turn_rounds.page import TurnRoundPage, list_page, record_page
from fleetbench.workshop.bench.half_done import half_done
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.fit import fit_part
from fleetbench.workshop.tickets.service_plan import NewServiceTask, enter_service_task
from tests.centres.turn_round_bench import TurnRoundBench
from tests.paper.pdf_reader import texts

BERLIN = ZoneInfo("Europe/Berlin")


class Desk:
    """The card of LK-01 on its page, with fingers that count."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.background = qtbot, background
        self.bench = TurnRoundBench(Workplace(database, clock), clock)
        self.context = PageContext(theme, background, self.bench.workplace, BERLIN)
        self.strokes = 0

    def show(self, page: Page) -> None:
        """Put a page on the screen, with its keys."""
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        page.activateWindow()
        self.settle()

    def card(self) -> TurnRoundPage:
        """The card of LK-01."""
        page = record_page(self.context)
        self.show(page)
        page.show_key("LK-01")
        self.settle()
        return page

    def settle(self) -> None:
        """Wait until nothing is on its way."""
        self.qtbot.waitUntil(lambda: not self.background.is_busy)
        QApplication.processEvents()

    def press(self, keys: str | Qt.Key) -> None:
        """Press keys one by one where the keyboard is."""
        for key in [keys] if isinstance(keys, Qt.Key) else list(keys):
            target = QApplication.focusWidget()
            assert target is not None, "the keyboard is nowhere"
            QTest.keyClick(target, key) if isinstance(key, Qt.Key) else QTest.keyClicks(target, key)
            self.strokes += 1
            self.settle()


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Desk:
    return Desk(qtbot, theme, background, sqlite_database, clock)


def next_step(page: TurnRoundPage) -> Step | None:
    return page.next.line.step if page.next.line is not None else None


def test_each_line_takes_one_key_and_the_next_one_stands_large(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    assert page.next.words.text() == "1  Cylinders closed and off, pressures noted"
    desk.press("111111")
    assert desk.strokes == 6
    assert next_step(page) is Step.DISINFECT
    assert [row.line.state for row in page.lines.rows[:6]] == ["done"] * 6
    desk.press(Qt.Key.Key_F4)
    assert next_step(page) is Step.RINSE, "one key puts a slip right"


def test_the_bath_is_one_form_that_brings_its_agents_figures(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01", "LK-02")
    for tag in ("LK-01", "LK-02"):
        desk.bench.tick(Step.STRIP, tag=tag)
    desk.bench.clock.advance(minutes=15)
    page = desk.card()
    dialog = page.bath()
    desk.settle()
    assert not dialog.rinsed.isChecked(), "nobody rinsed anything yet"
    assert {tag: box.isChecked() for tag, box in dialog.units.items()} == {"LK-01": True, "LK-02": False}
    assert dialog.minutes.text() == "10"
    dialog.units["LK-02"].setChecked(True)
    dialog.minutes.setText("9")
    desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert "asks for 10 min" in dialog.banner.text
    dialog.minutes.setText("10")
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert [row.rinsed for row in desk.bench.rows(Disinfection)] == [False, False]
    assert desk.bench.state("LK-01", Step.RINSE_AGAIN) == "to do"
    assert "LK-01, LK-02 disinfected in one bath; hang to dry until" in page.banner.text


def test_a_bath_is_begun_with_a_clock_that_leads_back_and_records_how_long_the_loops_lay_in_it(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01", "LK-02")
    for tag in ("LK-01", "LK-02"):
        desk.bench.tick(Step.STRIP, tag=tag)
    desk.bench.clock.advance(minutes=15)
    page = desk.card()
    dialog = page.bath()
    desk.settle()
    dialog.minutes.setText("9")
    desk.qtbot.mouseClick(dialog.clock_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert "asks for 10 min" in dialog.banner.text, "told before the loops go in, and not when they are out"
    dialog.minutes.setText("12")
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.clock_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert "in the bath until" in page.banner.text
    assert not desk.bench.rows(Disinfection), "nothing is recorded while they lie in it"
    drafts = drafts_of(desk.bench.workplace)
    desk.bench.clock.advance(minutes=1)
    dialog = page.bath()
    desk.settle()
    assert list(dialog.units) == ["LK-01"], "no other loop has lain in it as long"
    desk.qtbot.mouseClick(dialog.clock_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert all(each.kind is not BegunKind.BATH for each in half_done(desk.bench.workplace, drafts)), "forgotten"
    dialog = page.bath()
    desk.settle()
    dialog.units["LK-02"].setChecked(True)
    dialog.minutes.setText("12")
    begun = desk.bench.clock()
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.clock_button, Qt.MouseButton.LeftButton)
    desk.settle()
    desk.bench.clock.advance(minutes=14)
    bath = next(each for each in half_done(desk.bench.workplace, drafts) if each.kind is BegunKind.BATH)
    assert (bath.tag, bath.since, bath.detail) == ("LK-01", begun, "with LK-02")
    assert bath.calls(desk.bench.clock()) and clock_of(bath, desk.bench.clock()) == "over 2:00 ago, lift out"
    page.begin_at(places_of(bath)[1])
    desk.settle()
    dialog = page.findChildren(BathDialog)[-1]
    assert {tag: box.isChecked() for tag, box in dialog.units.items()} == {"LK-01": True, "LK-02": True}
    assert dialog.minutes.text() == "14", "they hang from when they came out, and no earlier"
    dialog.units["LK-02"].setChecked(False)
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    (row,) = desk.bench.rows(Disinfection)
    assert row.at == desk.bench.clock()
    bath = next(each for each in half_done(desk.bench.workplace, drafts) if each.kind is BegunKind.BATH)
    assert (bath.tag, bath.since) == ("LK-02", begun), "what was not lifted out lies in it still"
    page.show_key("LK-02")
    desk.settle()
    page.begin_at(places_of(bath)[1])
    desk.settle()
    dialog = page.findChildren(BathDialog)[-1]
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert all(each.kind is not BegunKind.BATH for each in half_done(desk.bench.workplace, drafts))


def test_a_whole_turn_round_is_worked_and_signed_on_its_page(desk: Desk) -> None:
    bench = desk.bench
    bench.out_and_back("LK-01")
    page = desk.card()
    desk.press("111111")
    bench.clock.advance(minutes=20)
    bench.bath("LK-01")
    bench.clock.advance(hours=16)
    page.refresh()
    desk.settle()
    assert next_step(page) is Step.DRY
    desk.press("112")
    assert next_step(page) is Step.TESTS, "dry, valves looked at, bagged"
    places: list[PageKey] = []
    page.place_requested.connect(places.append)
    desk.press("1")
    assert places == [PageKey("bench", "LK-01")]
    bench.release()
    page.refresh()
    desk.settle()
    assert next_step(page) is Step.BATTERIES
    desk.press("/")
    desk.qtbot.keyClicks(page.next.reason, "read this morning")
    desk.press(Qt.Key.Key_Return)
    assert next_step(page) is Step.CALIBRATE
    bench.calibrate("LK-01")
    page.refresh()
    desk.settle()
    desk.press("11")
    assert page.next.words.text() == "Every line is settled."
    assert [row.previous_data for row in bench.rows(HandsetLook) if row.previous_data] == ["cleared"]
    assert page.finish.button.isEnabled()
    dialog = page.sign()
    assert isinstance(dialog, FormDialog)
    dialog["pin"].setText("1357")
    with desk.qtbot.waitSignal(page.finished):
        desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert all(hold.lifted_at is not None for hold in bench.rows(Hold))
    assert not page.next.isVisible()
    assert page.open_button.isVisible()


def test_a_finding_opens_a_ticket_and_leaves_the_card_to_be_worked_on(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    QTest.keySequence(QApplication.focusWidget(), QKeySequence("Shift+F"))
    desk.qtbot.keyClicks(page.finding.field, "mouthpiece <b>torn</b>")
    desk.press(Qt.Key.Key_Return)
    (ticket,) = desk.bench.rows(Ticket)
    assert ticket.reason == "Found at the turn-round: mouthpiece <b>torn</b>"
    assert "holds the unit until signed" in page.banner.text
    assert next_step(page) is Step.CYLINDERS


def test_a_flood_found_at_the_bench_is_one_key_and_says_its_path(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    desk.press("z")
    assert desk.bench.rows(TurnRound)[-1].flooded_at is not None
    assert Step.CALIBRATE_AGAIN in [row.line.step for row in page.lines.rows]
    assert not page.flood_button.isVisible()


def test_signing_is_refused_in_the_page_while_lines_are_to_do(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_F9)
    assert "Head wiped, never in the bath: still to do" in page.banner.text


def test_a_line_is_done_out_of_its_turn_by_a_click(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    row = next(each for each in page.lines.rows if each.line.step is Step.HEAD)
    desk.qtbot.mouseClick(row.button, Qt.MouseButton.LeftButton)
    assert next_step(page) is Step.HEAD
    desk.press("1")
    assert desk.bench.state("LK-01", Step.HEAD) == "done"
    assert next_step(page) is Step.CYLINDERS


def test_a_unit_without_a_card_gets_one_by_hand_and_its_due_service_a_ticket(desk: Desk) -> None:
    task = NewServiceTask(text="Seals changed", basis="months", amount=12, source="invented manual")
    enter_service_task(desk.bench.boss, "TYPE-L", task)
    page = desk.card()
    assert not page.next.isVisible()
    places: list[PageKey] = []
    page.place_requested.connect(places.append)
    desk.qtbot.mouseClick(page.service.button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert places == [PageKey("ticket_work", "2026-001")] and "Ticket 2026-001 is open" in page.banner.text
    (ticket,) = desk.bench.rows(Ticket)
    assert ticket.reason == "Service: Seals changed"
    assert not page.service.button.isVisible(), "what waits on a ticket is not opened twice"
    desk.qtbot.mouseClick(page.open_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert next_step(page) is Step.CYLINDERS


def test_the_list_shows_open_cards_and_bathes_all_that_wait(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01", "LK-02")
    for tag in ("LK-01", "LK-02"):
        desk.bench.tick(Step.STRIP, tag=tag)
    desk.bench.clock.advance(minutes=15)
    page = list_page(desk.context)
    desk.show(page)
    page.refresh()
    desk.settle()
    assert [(row.card.unit, row.next) for row in page.model.rows] == [
        ("LK-01", "Cylinders closed and off, pressures noted"), ("LK-02", "Cylinders closed and off, pressures noted"),
    ]  # fmt: skip
    page.table.setFocus()
    QTest.keySequence(page.table, QKeySequence("Ctrl+B"))
    desk.settle()
    assert isinstance(page.dialog, BathDialog)
    page.dialog.rinsed.setChecked(True)
    with desk.qtbot.waitSignal(page.recorded):
        desk.qtbot.mouseClick(page.dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert page.summary == "2 turn-rounds open, 2 loops hang to dry"
    desk.bench.clock.advance(hours=14)
    page.table.setCurrentIndex(page.model.index(0, 0))
    page.table.setFocus()
    with desk.qtbot.waitSignal(page.recorded):
        QTest.keySequence(page.table, QKeySequence("Ctrl+D"))
    desk.settle()
    assert page.summary == "2 turn-rounds open, 1 loop hang to dry"


def test_the_card_is_printed_as_it_stands(desk: Desk, tmp_path: Path) -> None:
    desk.bench.out_and_back("LK-01", flooded=True)
    page = desk.card()
    desk.press("1")
    target = tmp_path / "card.pdf"
    desk.qtbot.mouseClick(page.print_button, Qt.MouseButton.LeftButton)
    (dialog,) = page.findChildren(LabelDialog)
    desk.qtbot.waitUntil(lambda: bool(dialog.pdf), timeout=20_000)
    dialog.save_to(str(target))
    dialog.reject()
    desk.settle()
    text = texts(target)[0]
    for words in ("Turn-round card", "AFTER A FLOOD", "Cylinders closed and off", "Tamsin Orrel", "Not finished",
                  "1910.134"):  # fmt: skip
        assert words in text, words


def test_a_loop_dry_before_its_time_asks_for_the_reason_which_stands_on_the_card(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    desk.press("111111")
    desk.bench.clock.advance(minutes=20)
    desk.bench.bath("LK-01")
    desk.bench.clock.advance(seconds=2)
    page.refresh()
    desk.settle()
    assert next_step(page) is Step.DRY
    desk.press("1")
    assert page.next.reason.isVisible() and next_step(page) is Step.DRY
    desk.press(Qt.Key.Key_Return)
    assert "hung 0.0 h, 12 h at the least" in page.banner.text, "no reason, no tick"
    desk.qtbot.keyClicks(page.next.reason, "drying cabinet")
    desk.press(Qt.Key.Key_Return)
    assert next_step(page) is Step.VALVES
    (row,) = [each for each in page.lines.rows if each.line.step is Step.DRY]
    assert (row.line.state, row.line.line.how) == ("left out", "found dry after 0.0 h: drying cabinet")
    assert "left out: Hung up, and dry, found dry after 0.0 h: drying cabinet" in left_out_words(page.desk)


def test_the_cards_battery_line_asks_for_the_batteries_at_once(desk: Desk) -> None:
    desk.bench.out_and_back("LK-01")
    page = desk.card()
    row = next(each for each in page.lines.rows if each.line.step is Step.BATTERIES)
    desk.qtbot.mouseClick(row.button, Qt.MouseButton.LeftButton)
    desk.press("1")
    (dialog,) = page.findChildren(FormDialog)
    field = next(each for name, each in dialog.fields.items() if name != "meter")
    field.setText("3.9")
    with desk.qtbot.waitSignal(dialog.done_with):
        desk.qtbot.mouseClick(dialog.act_button, Qt.MouseButton.LeftButton)
    desk.settle()
    assert desk.bench.state("LK-01", Step.BATTERIES) == "done"
    assert "handset 1 battery: pass" in page.banner.text


def test_a_card_is_not_said_to_be_settled_when_the_loop_was_opened_since(desk: Desk) -> None:
    bench = desk.bench
    bench.out_and_back("LK-01")
    bench.do_everything("LK-01")
    page = desk.card()
    assert page.next.words.text() == "Every line is settled."
    bench.clock.advance(hours=48)
    fit_part(bench.workplace, "V-NEW", "LK-01", "inhale one-way valve", why_old="age")
    page.refresh()
    desk.settle()
    assert page.next.words.text() == "12  One-way valves and loop tested"
    assert "No passed test since the loop was opened: one-way valve" in page.next.hint.text()
    places: list[PageKey] = []
    page.place_requested.connect(places.append)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_F9)
    assert "One-way valves and loop tested: still to do" in page.banner.text
    desk.press("1")
    assert places == [PageKey("bench", "LK-01")]
