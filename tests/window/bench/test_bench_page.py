"""The bench by real keys: valves and loop in few strokes, readings that stamp their time, answers that grow."""

from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QPushButton, QWidget
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.bench.reads import read_bench_readings
from fleetbench.records.bench.tables import BenchTest
from fleetbench.records.core.database import Database
from fleetbench.records.tickets.photographs import Photograph
from fleetbench.records.tickets.tables import Task
from fleetbench.window.bench.measure import MeasureCard
from fleetbench.window.bench.page import BenchPage
from fleetbench.window.bench.release import ReleaseCard
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.place import PageKey
from fleetbench.workshop.bench.valves import leak_places
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.work import open_ticket
from tests.centres.valve_centre import ValveKeys, write_valve_centre

BERLIN = ZoneInfo("Europe/Berlin")
TEN = 10
"""Keystroke bar for valves and loop together: common practice, no published source."""


class Bench:
    """A page with its centre, a clock, and fingers that count."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any) -> None:
        self.qtbot, self.clock, self.database, self.background = qtbot, clock, database, background
        self.keys: ValveKeys = write_valve_centre(database, clock())
        self.workplace = Workplace(database, clock, self.keys.centre.technician)
        self.strokes = 0
        background.signed_in.choose(self.workplace.person_id)
        self.page = BenchPage(theme, background, background.signed_in.at(self.workplace), BERLIN)
        qtbot.addWidget(self.page)
        self.page.resize(1088, 748)
        with qtbot.waitExposed(self.page):
            self.page.show()
        self.page.activateWindow()
        qtbot.waitUntil(self.page.isActiveWindow)

    def open(self, tag: str = "LK-01") -> Any:
        with self.qtbot.waitSignal(self.page.opened):
            self.page.open_tag(tag)
        return self.page.card

    def choose(self, words: str) -> Any:
        self.page.test_button(words).click()
        return self.page.card

    def press(self, keys: str | Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Real key events to whatever has the keyboard, each counted."""
        for key in keys if isinstance(keys, str) else (keys,):
            self.strokes += 1
            target = QApplication.focusWidget()
            assert isinstance(target, QWidget)
            QTest.keyClick(target, key, modifier)

    def read(self, *values: str, every: float = 30.0) -> None:
        """Readings typed one after another, each closed with Enter, while the clock goes on."""
        for value in values:
            with self.qtbot.waitSignal(self.page.judged_anew):
                self.press(value)
                self.press(Qt.Key.Key_Return)
            self.clock.advance(seconds=every)

    def record(self, key: Qt.Key = Qt.Key.Key_Return, modifier: Any = Qt.KeyboardModifier.NoModifier) -> Any:
        with self.qtbot.waitSignal(self.page.recorded) as done:
            self.press(key, modifier)
        self.settle()
        return done.args[0]

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy)

    def rows(self) -> list[BenchTest]:
        with self.database.read_session() as session:
            return list(session.scalars(select(BenchTest).order_by(BenchTest.id)))


@pytest.fixture
def bench(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Any:
    made = Bench(qtbot, theme, background, sqlite_database, clock)
    yield made
    made.settle()


# valves by breath, loop by eye


def test_a_photograph_taken_while_a_test_is_entered_comes_back_with_it_and_is_recorded_in_its_act(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def photographs() -> list[tuple[int | None, int, int]]:
        with bench.database.read_session() as session:
            return [(row.bench_test_id, row.wide, row.high) for row in session.scalars(select(Photograph))]

    beside, banner = bench.page.photograph, bench.page.banner
    assert not beside.button.isVisible(), "of no unit"
    bench.open()
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.darkGreen)
    file = tmp_path / "label.png"
    image.save(str(file))
    image.fill(Qt.GlobalColor.darkBlue)
    QApplication.clipboard().setImage(image)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_args: (str(file), ""))
    bench.press(Qt.Key.Key_F7)
    bench.page._run(lambda: pytest.fail("recorded without it"))
    assert banner.text == "photograph: is still being read; record it in a moment" and photographs() == []
    bench.settle()
    bench.press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    bench.settle()
    assert banner.text == "Photograph taken. Recording the figures records it too."
    bench.press("1")
    assert (beside.door.text(), photographs()) == ("2 photographs", [])
    bench.choose(STAGE)
    assert not beside.door.isVisible(), "they are of the other test"
    bench.open()
    assert (beside.door.text(), len(beside.held)) == ("2 photographs", 2) and bench.page.holds_entries()
    beside.door.click()
    bench.settle()
    assert beside.gallery is not None
    shown = [each for each in beside.gallery.findChildren(QPushButton) if each.text() != "Close"]
    assert [each.accessibleName() for each in shown] == [
        "photograph: 1 of 2", "remove photograph 1 of 2", "photograph: 2 of 2", "remove photograph 2 of 2",
    ]  # fmt: skip
    shown[1].click()
    assert beside.door.text() == "1 photograph"
    bench.page.activateWindow()
    bench.qtbot.waitUntil(bench.page.isActiveWindow)
    bench.page.focus_first()
    bench.press("111")
    done = bench.record()
    assert photographs() == [(done[-1].test_id, 40, 30)]
    bench.press(Qt.Key.Key_F7)
    bench.settle()
    assert banner.text == "The photograph is kept beside what was recorded."
    assert photographs() == [(done[-1].test_id, 40, 30)] * 2 and beside.door.text() == "2 photographs"
    bench.press(Qt.Key.Key_F7)
    bench.settle()
    assert banner.text == "photograph: this one is kept under the bench test already"
    bench.open()
    assert not beside.door.isVisible() and not bench.page.holds_entries(), "what is recorded is half done no more"


def test_valves_and_loop_are_evidence_in_at_most_ten_keystrokes(bench: Bench) -> None:
    card = bench.open()
    assert isinstance(card, ReleaseCard)
    bench.strokes = 0
    bench.press("1111")
    done = bench.record()
    assert bench.strokes <= TEN
    assert [test.answer.verdict for test in done] == ["pass"] * 4
    assert [(row.kind, row.direction, row.held, row.watched_minutes) for row in bench.rows()] == [
        ("one-way valve", "inhale", True, None), ("one-way valve", "exhale", True, None),
        ("loop negative", None, True, 3.0), ("loop positive", None, True, 3.0),
    ]  # fmt: skip
    assert {card.ends[name].word for name in card.ends} == {"pass"}


def test_with_the_watch_running_it_is_still_at_most_ten(bench: Bench) -> None:
    bench.open()
    bench.strokes = 0
    bench.press("11")
    for _loop in range(2):
        bench.press(Qt.Key.Key_Space)
        bench.clock.advance(seconds=195)
        bench.press("1")
    bench.record()
    assert bench.strokes <= TEN
    assert [row.watched_minutes for row in bench.rows()[2:]] == [3.25, 3.25]


def test_a_loop_that_was_watched_too_short_by_the_clock_is_to_be_repeated(bench: Bench) -> None:
    card = bench.open()
    bench.press("11")
    bench.press(Qt.Key.Key_Space)
    bench.clock.advance(seconds=60)
    bench.press("1/")
    done = bench.record()
    assert [test.answer.verdict for test in done] == ["pass", "pass", "repeat"]
    assert card.ends["positive"].word == "", "what was not done says nothing"
    assert len(bench.rows()) == 3


def test_another_time_is_typed_and_enter_there_does_not_record(bench: Bench) -> None:
    bench.open()
    bench.press("1135")
    bench.press(Qt.Key.Key_Return)
    assert bench.rows() == []
    bench.press("2")
    done = bench.record()
    assert [test.answer.verdict for test in done] == ["pass", "pass", "pass", "reject"]
    assert bench.rows()[2].watched_minutes == 5.0


def test_nothing_answered_is_refused_and_nothing_recorded(bench: Bench) -> None:
    bench.open()
    bench.press(Qt.Key.Key_Return)
    bench.qtbot.waitUntil(lambda: bool(bench.page.banner.text))
    assert bench.page.banner.text.startswith("tests: nothing was tried")
    assert bench.rows() == []


def test_a_slip_is_corrected_by_one_key(bench: Bench) -> None:
    card = bench.open()
    bench.press("1211")
    first = bench.record()
    assert bench.page.ticket_button.isVisible()
    bench.clock.advance(minutes=2)
    bench.press(Qt.Key.Key_F4)
    card.exhale.setFocus()
    bench.press("1")
    again = bench.record()
    assert [test.answer.verdict for test in again] == ["pass"] * 4
    assert {row.supersedes_id for row in bench.rows() if row.supersedes_id} == {test.test_id for test in first}


def test_a_failed_valve_offers_a_ticket_with_the_reason(bench: Bench) -> None:
    bench.open()
    bench.press("2///")
    bench.record()
    with bench.qtbot.waitSignal(bench.page.ticket_wanted) as wanted:
        bench.page.ticket_button.click()
    assert wanted.args[0] == "LK-01"
    assert "Did not hold" in wanted.args[1]


def test_a_test_here_ticks_the_open_tickets_line_and_says_so(bench: Bench) -> None:
    open_ticket(bench.workplace, "LK-01", cause="turn-round", reason="back", tasks=("Loop negative",))
    bench.open()
    bench.press("1111")
    bench.record()
    assert "Ticked on the ticket: Loop negative." in bench.page.banner.text
    with bench.database.read_session() as session:
        assert session.scalars(select(Task)).one().state == "done"


def test_nobody_signed_in_is_refused_by_name(bench: Bench) -> None:
    bench.background.signed_in.choose(None)
    bench.open()
    bench.press("1111")
    bench.press(Qt.Key.Key_Return)
    bench.qtbot.waitUntil(lambda: bool(bench.page.banner.text))
    assert bench.page.banner.text.startswith("person: ")


# measured tests

STAGE = "Oxygen first stage: intermediate pressure"


def test_readings_stamp_their_time_and_the_answer_grows_with_them(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    assert isinstance(card, MeasureCard)
    bench.press("190")
    bench.press(Qt.Key.Key_Return)
    begun = bench.clock()
    bench.read("9.41", "9.43")
    assert [each.at for each in card.readings] == [begun, begun.replace(second=begun.second + 30)]
    assert "2 of at least 3 readings" in card.end.line
    assert "Watch 4:" in card.time_left.text()
    bench.read(*["9.43"] * 9)
    assert card.end.word == "pass"
    assert card.figure.text() == "9.43 ± 0.04 bar (k = 2)"
    assert card.plot.facts.points == tuple((0.5 * n, 9.41 if n == 0 else 9.43) for n in range(11))
    (done,) = bench.record(Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    with bench.database.reading() as connection:
        raw = read_bench_readings(connection, done.test_id)
    assert [each.at for each in raw] == [each.at for each in card.readings]
    assert bench.rows()[0].supply_bar == 190.0


def test_a_creeping_regulator_is_rejected_before_the_watch_is_over(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    bench.press("190")
    bench.press(Qt.Key.Key_Return)
    bench.read("9.0", "9.1", "9.2", "9.3", "9.4")
    assert card.end.word == "reject"
    assert "Creeps" in card.end.line


def test_the_set_up_the_limit_and_its_source_stand_on_the_card(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    words = " ".join(label.text() for label in card.findChildren(QWidget) if hasattr(label, "text"))
    assert "read the gauge at once and then every half minute" in words
    assert "8.5 to 10 bar (invented manual)" in words
    assert "0.05 bar/min over 5 min (common practice, no published source)" in words


def test_the_last_reading_is_taken_back(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    bench.press("190")
    bench.press(Qt.Key.Key_Return)
    bench.read("9.4", "9.9")
    with bench.qtbot.waitSignal(bench.page.judged_anew):
        card.back_button.click()
    assert [each.value for each in card.readings] == [9.4]


def test_a_tenfold_pressure_is_refused_and_one_twice_the_last_is_asked_about(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    bench.press("190")
    bench.press(Qt.Key.Key_Return)
    bench.press("102")
    bench.press(Qt.Key.Key_Return)
    assert card.readings == () and "102 is outside 0 to 50 bar" in bench.page.banner.text
    card.value_field.setText("")
    bench.read("9.4")
    bench.press("4.1")
    bench.press(Qt.Key.Key_Return)
    assert len(card.readings) == 1 and "4.1 bar is far from the last, 9.4 bar" in bench.page.banner.text
    bench.press("9.5")
    bench.press(Qt.Key.Key_Return)
    assert len(card.readings) == 1 and "was not taken" in bench.page.banner.text
    bench.read("4.1")
    assert [each.value for each in card.readings] == [9.4, 4.1]


def test_half_done_readings_come_back_after_another_unit_and_after_another_test(bench: Bench) -> None:
    bench.open()
    bench.choose(STAGE)
    bench.press("190")
    bench.press(Qt.Key.Key_Return)
    bench.read("9.41", "9.43")
    bench.open("LK-02")
    back = bench.open()
    assert isinstance(back, MeasureCard)
    assert [each.value for each in back.readings] == [9.41, 9.43] and back.fields["supply_bar"].text() == "190"
    assert "half-done" in bench.page.banner.text
    bench.choose("Injector: injector flow")
    again = bench.choose(STAGE)
    assert [each.value for each in again.readings] == [9.41, 9.43]
    assert bench.rows() == []


def test_half_done_answers_by_breath_come_back(bench: Bench) -> None:
    bench.open()
    bench.press("12")
    bench.open("LK-02")
    back = bench.open()
    assert (back.inhale.given, back.exhale.given, back.negative.question.given) == ("held", "fell", None)


def test_a_unit_that_was_typed_is_the_place_to_come_back_to(bench: Bench) -> None:
    bench.open()
    bench.page.tag_field.setFocus()
    with bench.qtbot.waitSignal(bench.page.place_requested) as wanted:
        bench.press("LK-02")
        bench.press(Qt.Key.Key_Return)
    assert wanted.args == [PageKey("bench", "LK-02")]


def test_a_reject_among_what_was_recorded_looks_like_one(bench: Bench) -> None:
    bench.open()
    bench.press("1211")
    bench.record()
    assert bench.page.banner.property("role") == "rejected"
    assert bench.page.banner.text.startswith("Recorded: pass, reject, pass, pass. Rejected: ")


def test_what_is_no_figure_is_refused_by_its_field_and_stamps_nothing(bench: Bench) -> None:
    bench.open()
    card = bench.choose(STAGE)
    card.value_field.setFocus()
    bench.press("nine")
    bench.press(Qt.Key.Key_Return)
    assert bench.page.banner.text.startswith("intermediate pressure: 'nine' is not a figure")
    assert card.readings == ()


def test_a_loop_by_manometer_takes_pressure_and_temperature_in_turn(bench: Bench) -> None:
    bench.open()
    card = bench.choose("Loop positive, by manometer")
    assert (card.fields["volume_l"].text(), card.fields["ambient_mbar"].text()[:2]) == ("9.0", "99")
    card.value_field.setFocus()
    for value in ("25.0", "24.9", "24.8", "24.7"):
        with bench.qtbot.waitSignal(bench.page.judged_anew, timeout=20_000):  # the first slope reads scipy
            bench.press(value)
            bench.press(Qt.Key.Key_Return)
            bench.press("20")
            bench.press(Qt.Key.Key_Return)
        bench.clock.advance(seconds=60)
    assert [each.temperature_c for each in card.readings] == [20.0] * 4
    assert card.end.word == "repeat", "not said whether it held, and no leak limit is recorded"
    with bench.qtbot.waitSignal(bench.page.judged_anew, timeout=20_000):  # the first slope reads scipy
        card.held.setFocus()
        bench.press("1")
    assert card.end.word == "pass"
    assert "indicative" in card.end.line.casefold()


def test_equipment_is_chosen_once_for_the_session(bench: Bench) -> None:
    bench.open()
    card = bench.choose("Injector: injector flow")
    assert card.gauges["gauge"].currentData() == bench.keys.tools["gauge"], "the only gauge there is"
    box = card.gauges["flow meter"]
    assert box.currentData() == bench.keys.by_serial["FM-1"], "the one that shows litres a minute"
    box.setCurrentIndex(0)
    with bench.qtbot.waitSignal(bench.page.judged_anew):
        box.activated.emit(0)
    card.focus_first()
    for figure in ("9", "20", "0.8"):
        bench.press(figure)
        bench.press(Qt.Key.Key_Return)
    assert [each.value for each in card.readings] == [0.8]
    # pyqtgraph 0.14 would write 800 for 0.8, whatever it is told by its switch for prefixes.
    assert card.plot._plot.getAxis("left").autoSIPrefixScale == 1.0
    bench.open("LK-02")
    volume = bench.choose("Solenoid: gas a pulse").gauges["flow meter"]
    assert volume.findData(bench.keys.by_serial["FM-1"]) < 0, "a flow cannot be read as a volume"
    assert volume.currentData() == bench.keys.by_serial["FV-1"]


def test_leaving_the_page_stops_every_watch(bench: Bench) -> None:
    card = bench.open()
    bench.press("11")
    bench.press(Qt.Key.Key_Space)
    bench.page.hide()
    assert card.negative.seen().held is None
    bench.page.show()


def test_a_unit_that_is_not_recorded_is_said_to_be_so(bench: Bench) -> None:
    bench.page.open_tag("U-77")
    bench.qtbot.waitUntil(lambda: bool(bench.page.banner.text))
    assert bench.page.banner.text.startswith("unit U-77: ")


def test_every_test_of_the_unit_has_a_card_that_opens(bench: Bench) -> None:
    bench.open()
    for button in bench.page.tests.buttons():
        button.click()
        bench.settle()
        assert bench.page.card is not None
        assert bench.page.banner.text == ""


def test_where_a_loop_leaks_is_noted_right_after_the_test_that_did_not_hold(bench: Bench) -> None:
    bench.open()
    bench.press("1121")
    bench.record()
    assert bench.page.leak_button.isVisible()
    bench.page.leak_button.click()
    dialog = bench.page.dialog
    assert dialog is not None
    bench.settle()
    slot, method = dialog["slot"], dialog["method"]
    slot.setCurrentText("head")
    method.setCurrentText("soapy water")
    bench.clock.advance(seconds=30)
    with bench.qtbot.waitSignal(dialog.done_with, timeout=20_000):
        dialog.act()
    bench.settle()
    assert "head leaked once, last found by soapy water; no loop test has passed since" in bench.page.banner.text
    assert [each.place for each in leak_places(bench.workplace, "LK-01")] == ["head"]
