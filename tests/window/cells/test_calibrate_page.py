"""A head calibrated on the page by real keys: how many it takes, what it asks, refuses, keeps and records."""

from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.cells.tables import Calibration, CalibrationOutcome, CalibrationReading, HandsetSetting
from fleetbench.records.core.database import Database
from fleetbench.records.tickets.photographs import Photograph
from fleetbench.records.units.tables import ReaderCell
from fleetbench.window.cells.calibrate import CalibratePage
from fleetbench.window.cells.sheet import CalibrationSheet
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.workshop.core.drafts import Drafts
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.tickets.photographs import photographs_beside
from fleetbench.workshop.units.list import list_units
from tests.centres.bench_centre import Keys, open_bench, write_centre

BERLIN = ZoneInfo("Europe/Berlin")
AIR = "104102106104102106"
OXYGEN = "498489507"


class Bench:
    """A page with its centre, a clock, and fingers that count."""

    def __init__(
        self, qtbot: QtBot, theme: Theme, background: Background, database: Database, clock: Any, folder: Path
    ) -> None:
        self.qtbot, self.clock, self.database, self.background = qtbot, clock, database, background
        self.keys: Keys = write_centre(database, clock())
        background.signed_in.choose(self.keys.technician)
        self.workplace = background.signed_in.at(Workplace(database, clock))
        self.folder = folder
        self.theme = theme
        self.strokes = 0
        self.page = self.new_page()

    def new_page(self) -> CalibratePage:
        page = CalibratePage(self.theme, self.background, self.workplace, Drafts(self.folder), BERLIN)
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        page.activateWindow()
        return page

    def open(self, tag: str = "LK-01") -> CalibrationSheet:
        with self.qtbot.waitSignal(self.page.opened):
            self.page.open_tag(tag)
        return self.sheet

    @property
    def sheet(self) -> CalibrationSheet:
        assert self.page.sheet is not None
        return self.page.sheet

    def press(self, keys: str | Qt.Key) -> None:
        """Press keys one by one where the keyboard is."""
        for key in [keys] if isinstance(keys, Qt.Key) else list(keys):
            target = QApplication.focusWidget() or self.page
            if isinstance(key, Qt.Key):
                QTest.keyClick(target, key)
            else:
                QTest.keyClicks(target, key)
            self.strokes += 1

    def press_and_wait(self, keys: str | Qt.Key) -> None:
        """Press keys and wait until what they say is judged."""
        if isinstance(keys, str) and len(keys) > 1:
            self.press(keys[:-1])
            self.settle()
            keys = keys[-1]
        with self.qtbot.waitSignal(self.page.previewed):
            self.press(keys)
        self.settle()

    def settle(self) -> None:
        """Wait until nothing is on its way."""
        self.qtbot.waitUntil(lambda: not self.background.is_busy)

    def flush(self) -> None:
        """Start the flush and stamp it until every cell has settled."""
        self.press("*")
        self.clock.advance(seconds=100)
        self.press_and_wait(OXYGEN)
        self.clock.advance(seconds=30)
        self.press_and_wait("+")
        self.clock.advance(seconds=31)
        self.press_and_wait("+")

    def whole(self) -> None:
        """Everything up to the record, with sound figures."""
        self.press("11")
        self.press_and_wait(AIR)
        self.flush()
        self.press_and_wait(OXYGEN)

    def record(self) -> None:
        """Lead on from the last field with Enter where the keyboard is still there, and record with another."""
        if not self.sheet.outcome.record_button.hasFocus():
            self.press(Qt.Key.Key_Return)
        self.qtbot.waitUntil(lambda: self.sheet.outcome.record_button.hasFocus() and not self.sheet.outcome.is_fresh)
        with self.qtbot.waitSignal(self.page.finished, timeout=20_000):
            self.press(Qt.Key.Key_Return)
        self.settle()

    def rows(self, kind: type[Any]) -> list[Any]:
        with self.database.read_session() as session:
            found = list(session.scalars(select(kind).order_by(kind.id)))
            session.expunge_all()
            return found


@pytest.fixture
def make_bench(
    qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any, tmp_path: Path
) -> Callable[[], Bench]:
    """Makes the page over the small centre."""
    return lambda: Bench(qtbot, theme, background, sqlite_database, clock, tmp_path / "drafts")


@pytest.fixture
def bench(make_bench: Callable[[], Bench]) -> Bench:
    """The page with a session that holds and a unit open."""
    made = make_bench()
    open_bench(made.database, made.keys, made.clock())
    made.open()
    made.settle()
    return made


def test_a_head_of_three_cells_on_two_handsets_takes_at_most_45_keys(bench: Bench) -> None:
    # The bar of 45 is common practice at this bench, no published source.
    bench.whole()
    bench.record()
    assert bench.strokes <= 45
    assert [row.verdict for row in bench.rows(CalibrationOutcome)] == ["pass"] * 3
    readings = bench.rows(CalibrationReading)
    assert len(readings) == 6 + 9 + 6
    assert [row.mv for row in readings if row.point == "air"] == [10.4, 10.4, 10.2, 10.2, 10.6, 10.6]
    assert bench.rows(Calibration)[0].settled == "yes"


def test_the_oxygen_grid_opens_only_when_every_cell_has_settled(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    assert not bench.sheet.oxygen.isEnabled()
    bench.press("*")
    bench.clock.advance(seconds=60)
    bench.press_and_wait(OXYGEN)
    assert not bench.sheet.oxygen.isEnabled()
    bench.clock.advance(seconds=70)
    bench.press_and_wait("+")
    assert not bench.sheet.oxygen.isEnabled(), "two readings prove nothing"
    bench.clock.advance(seconds=30)
    bench.press_and_wait("+")
    assert bench.sheet.oxygen.isEnabled()
    assert [end.word for end in bench.sheet.flush.grid.ends.values()] == ["settled"] * 3


def test_the_stamped_handset_fills_its_own_column_and_never_the_other(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    figures = bench.sheet.oxygen.figures()
    first, second = bench.keys.readers
    assert [figures[slot, first] for slot in bench.keys.cell_slots] == [49.8, 48.9, 50.7]
    assert all((slot, second) not in figures for slot in bench.keys.cell_slots)


def test_new_figures_are_stamped_each_when_it_is_typed_and_grow_the_plot(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.press("*")
    bench.clock.advance(seconds=40)
    bench.press_and_wait("452441460")
    bench.clock.advance(seconds=60)
    bench.press("*")
    bench.press_and_wait(OXYGEN)
    series = bench.sheet.flush.plot.series
    assert [each.name for each in series] == ["cell 1", "cell 2", "cell 3"]
    assert (series[0].times_s, series[0].mv) == ((40.0, 100.0), (45.2, 49.8))


def test_a_head_on_one_handset_is_judged_with_the_stamps_it_settled_on(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    with bench.workplace.transaction("unread", "handset 2") as act:
        for row in act.session.scalars(select(ReaderCell).where(ReaderCell.reader_id == bench.keys.readers[1])):
            act.change(row, shows="nothing")
    open_bench(bench.database, bench.keys, bench.clock())
    bench.open()
    bench.press("11")
    bench.press_and_wait("104102106")
    bench.flush()
    bench.qtbot.waitUntil(lambda: [end.word for end in bench.sheet.oxygen.ends.values()] == ["pass"] * 3)
    assert bench.sheet.outcome.record_button.hasFocus()
    bench.record()
    readings = bench.rows(CalibrationReading)
    assert [row.mv for row in readings if row.point == "oxygen"] == [49.8, 48.9, 50.7]
    assert {row.reader_id for row in readings} == {bench.keys.readers[0]}


def test_an_early_oxygen_point_can_be_taken_and_is_recorded_as_repeat(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    QTest.mouseClick(bench.sheet.flush.early_button, Qt.MouseButton.LeftButton)
    bench.settle()
    assert "recorded as repeat" in bench.page.question.text
    bench.press_and_wait(OXYGEN + OXYGEN)
    assert [end.word for end in bench.sheet.oxygen.ends.values()] == ["repeat"] * 3
    bench.record()
    assert [row.verdict for row in bench.rows(CalibrationOutcome)] == ["repeat"] * 3
    assert bench.rows(Calibration)[0].settled == "no"


def test_an_unusual_figure_is_asked_about_once_and_kept_when_typed_again(bench: Bench) -> None:
    bench.press("11")
    bench.press("10442")
    field = bench.sheet.air.fields[bench.keys.cell_slots[1], bench.keys.readers[0]]
    assert field.hasFocus() and "4.2 mV is unusual" in bench.page.question.text
    bench.press(Qt.Key.Key_Return)
    assert field.value is None and field.hasFocus(), "the Enter of a habit keeps nothing"
    bench.press("42")
    assert field.value == 4.2 and not field.hasFocus()
    assert bench.page.question.text == "" and field.is_kept and "unusual" in field.toolTip()


def test_a_figure_typed_blind_never_takes_the_place_of_one_that_is_asked_about(bench: Bench) -> None:
    bench.press("11")
    bench.press("10442102")
    field = bench.sheet.air.fields[bench.keys.cell_slots[1], bench.keys.readers[0]]
    assert field.hasFocus() and field.value is None and field.text() == "4.2"
    assert "10.2 was not taken" in bench.page.question.text
    bench.press(Qt.Key.Key_Backspace)
    bench.press("102")
    assert field.value == 10.2


def enter_after_each(figures: list[str]) -> list[str | Qt.Key]:
    return [key for each in figures for key in (each, Qt.Key.Key_Return)]


def test_enter_after_every_reading_puts_each_reading_on_its_own_cell(bench: Bench) -> None:
    slots, (first, second) = bench.keys.cell_slots, bench.keys.readers
    bench.press("11")
    for keys in enter_after_each(["104", "102", "98", "105", "103", "99"]):
        bench.press(keys)
    bench.settle()
    figures = bench.sheet.air.figures()
    assert [figures[slot, first] for slot in slots] == [10.4, 10.2, 9.8]
    assert [figures[slot, second] for slot in slots] == [10.5, 10.3, 9.9]
    bench.press(Qt.Key.Key_Return)
    assert bench.sheet.flush.started_at is None, "no Enter starts the clock of the flush"


def test_enter_never_leaves_an_empty_field(bench: Bench) -> None:
    bench.press("11")
    first = bench.sheet.air.fields[bench.keys.cell_slots[0], bench.keys.readers[0]]
    for _ in range(3):
        bench.press(Qt.Key.Key_Return)
    assert first.hasFocus()


def test_a_leading_zero_does_not_split_a_figure_into_two_fields(bench: Bench) -> None:
    slots, reader = bench.keys.cell_slots, bench.keys.readers[0]
    bench.press("11")
    bench.press("075")
    assert bench.sheet.air.figures() == {(slots[0], reader): 7.5}
    assert bench.sheet.air.fields[slots[1], reader].hasFocus()
    assert bench.sheet.air.fields[slots[1], reader].placeholderText() == "__._"
    bench.press("1")
    assert bench.sheet.air.fields[slots[1], reader].text() == "1_._"


def one_handset(bench: Bench) -> None:
    with bench.workplace.transaction("unread", "handset 2") as act:
        for row in act.session.scalars(select(ReaderCell).where(ReaderCell.reader_id == bench.keys.readers[1])):
            act.change(row, shows="nothing")
    open_bench(bench.database, bench.keys, bench.clock())
    bench.open()


def test_a_head_on_one_handset_keeps_each_reading_when_more_is_typed(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    one_handset(bench)
    slots, reader = bench.keys.cell_slots, bench.keys.readers[0]
    bench.press("11")
    for keys in enter_after_each(["104", "102", "98"])[:-1]:
        bench.press(keys)
    bench.press("105")
    assert bench.sheet.air.fields[slots[2], reader].hasFocus()
    assert "stands complete" in bench.page.question.text
    assert [bench.sheet.air.figures()[slot, reader] for slot in slots] == [10.4, 10.2, 9.8]


def test_a_habitual_enter_records_nothing_before_the_outcome_is_read(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    bench.press(OXYGEN)
    for _ in range(3):
        bench.press(Qt.Key.Key_Return)
    bench.settle()
    assert bench.rows(Calibration) == []
    bench.record()
    assert len(bench.rows(Calibration)) == 1


def test_a_verdict_goes_when_a_reading_under_it_is_typed_over(bench: Bench) -> None:
    bench.whole()
    slot, reader = bench.keys.cell_slots[0], bench.keys.readers[0]
    assert bench.sheet.oxygen.ends[slot].word == "pass"
    bench.sheet.oxygen.fields[slot, reader].setFocus()
    bench.press("4")
    assert bench.sheet.oxygen.ends[slot].word == "" and bench.sheet.outcome.waiting.isVisible()
    bench.settle()
    bench.page.record()
    assert bench.rows(Calibration) == [] and bench.page.banner.text.startswith("oxygen: give every reading")
    bench.sheet.oxygen.fields[slot, reader].setFocus()
    bench.press("450")
    bench.page.record()
    bench.settle()
    assert bench.rows(Calibration) == [], "what was not judged is shown first"
    assert bench.sheet.oxygen.ends[slot].word != "pass"


def test_a_figure_asked_about_and_left_is_no_figure(bench: Bench) -> None:
    bench.press("11")
    bench.press("42")
    bench.sheet.flush.start_button.setFocus()
    assert not bench.sheet.air.figures()


def test_a_reading_not_known_is_missing_and_never_ok(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    bench.press_and_wait("498/507")
    ends = [end.word for end in bench.sheet.oxygen.ends.values()]
    assert ends == ["pass", "repeat", "pass"]
    bench.record()
    missing = [row for row in bench.rows(CalibrationReading) if row.mv is None]
    assert [(row.point, row.reader_id) for row in missing] == [("oxygen", bench.keys.readers[1])]


def test_arrows_and_backspace_move_in_the_grid(bench: Bench) -> None:
    slots, readers = bench.keys.cell_slots, bench.keys.readers
    fields = bench.sheet.air.fields
    bench.press("11")
    bench.press("104")
    assert fields[slots[1], readers[0]].hasFocus()
    bench.press(Qt.Key.Key_Right)
    assert fields[slots[1], readers[1]].hasFocus()
    bench.press(Qt.Key.Key_Up)
    assert fields[slots[0], readers[1]].hasFocus()
    bench.press(Qt.Key.Key_Left)
    bench.press(Qt.Key.Key_Backspace)
    assert fields[slots[0], readers[0]].value is None
    bench.press("10.5")
    assert fields[slots[0], readers[0]].value == 10.5


def test_a_session_is_opened_on_the_page_by_keys(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    bench.open()
    bench.settle()
    for text in ("1008.4", "21", "45", "99.6"):
        bench.press(text)
        if text != "99.6":
            bench.press(Qt.Key.Key_Return)
    with bench.qtbot.waitSignal(bench.page.opened):
        bench.press(Qt.Key.Key_Return)
    bench.settle()
    held = bench.sheet.held.session
    assert held is not None and (held.pressure_mbar, held.oxygen_shown_percent) == (1008.4, 99.6)
    assert held.analyser is not None and held.analyser.tool.serial == "AN-1"
    assert bench.sheet.head.head.hasFocus(), "the next step is plain"


def test_a_pressure_far_from_the_one_read_minutes_ago_is_asked_about_and_not_taken(bench: Bench) -> None:
    bench.clock.advance(minutes=5)
    form = bench.sheet.session
    QTest.mouseClick(form.change_button, Qt.MouseButton.LeftButton)
    bench.press("913")
    bench.press(Qt.Key.Key_Return)
    assert form.pressure.hasFocus() and "913 mbar is far from the last" in bench.page.banner.text
    bench.press("1009")
    bench.press(Qt.Key.Key_Return)
    assert form.pressure.text() == "913" and "was not taken" in bench.page.banner.text
    form.submit()
    assert form.pressure.hasFocus() and "913" in bench.page.banner.text
    bench.press(Qt.Key.Key_Backspace)
    bench.press("1009,5")
    bench.press(Qt.Key.Key_Return)
    assert form.temperature.hasFocus() and form.pressure.value() == 1009.5


def test_a_pressure_far_from_the_last_that_is_typed_again_is_kept_and_says_so(bench: Bench) -> None:
    form = bench.sheet.session
    QTest.mouseClick(form.change_button, Qt.MouseButton.LeftButton)
    for keys in ("913", Qt.Key.Key_Return, "913", Qt.Key.Key_Return):
        bench.press(keys)
    assert form.temperature.hasFocus() and form.pressure.is_kept and "kept" in form.pressure.toolTip()


@pytest.mark.parametrize("typed", ["992", "99.2", "99,2"])
def test_the_gas_is_typed_at_the_bench_as_in_the_analyses(make_bench: Callable[[], Bench], typed: str) -> None:
    bench = make_bench()
    bench.open()
    bench.settle()
    form = bench.sheet.session
    assert form.oxygen.placeholderText() == "__._"
    form.oxygen.setFocus()
    bench.press(typed)
    assert form.oxygen.settle() == 99.2


def test_the_next_person_goes_on_with_the_conditions_of_the_bench(bench: Bench) -> None:
    before = bench.sheet.held.session
    with bench.qtbot.waitSignal(bench.page.opened):
        bench.background.signed_in.choose(bench.keys.manager)
    assert before is not None and bench.sheet.held.session is not None
    assert bench.sheet.held.session.session_id == before.session_id


def test_a_session_without_an_analysis_has_no_oxygen_point(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    open_bench(bench.database, bench.keys, bench.clock(), oxygen_shown_percent=None, analyser_id=None)
    bench.open()
    bench.press("11")
    bench.press_and_wait(AIR)
    assert not bench.sheet.flush.start_button.isEnabled()
    assert "not analysed" in bench.sheet.flush.words.text()
    bench.press(Qt.Key.Key_Return)
    assert bench.sheet.outcome.record_button.hasFocus()
    bench.record()
    assert [row.verdict for row in bench.rows(CalibrationOutcome)] == ["repeat"] * 3


def test_a_wrong_condition_is_refused_inside_the_page(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    bench.open()
    bench.sheet.session.pressure.setText("29.9")
    bench.sheet.session.temperature.setText("21")
    bench.sheet.session.submit()
    bench.qtbot.waitUntil(lambda: bench.page.banner.text != "")
    assert bench.page.banner.text.startswith("pressure: 29.9 is outside 300 to 1100")
    bench.sheet.session.pressure.setText("ten")
    bench.sheet.session.submit()
    assert bench.page.banner.text == "pressure: 'ten' is not a figure; enter a figure such as 1008.4"


def test_another_gas_asks_for_the_oxygen_point_anew_and_keeps_the_air_point(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    bench.clock.advance(minutes=1)
    open_bench(bench.database, bench.keys, bench.clock(), oxygen_shown_percent=98.0)
    with bench.qtbot.waitSignal(bench.page.opened):
        bench.page.refresh()
    bench.settle()
    assert bench.sheet.air.is_complete and not bench.sheet.oxygen.figures() and not bench.sheet.flush.stamps
    assert "gas changed" in bench.page.question.text
    bench.clock.advance(minutes=1)
    open_bench(bench.database, bench.keys, bench.clock(), oxygen_shown_percent=98.0, pressure_mbar=1012.0)
    with bench.qtbot.waitSignal(bench.page.opened):
        bench.page.refresh()
    bench.settle()
    assert not bench.sheet.air.figures(), "the pressure moved by more than 2 mbar"


def test_half_done_work_survives_a_crash_and_is_offered_again(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.press("*")
    bench.clock.advance(seconds=100)
    bench.press_and_wait(OXYGEN)
    bench.settle()
    image = BytesIO()
    Image.new("RGB", (60, 40), "white").save(image, "PNG")
    bench.page.photograph.give(image.getvalue())
    bench.settle()
    (held,) = bench.page.photograph.held
    before = bench.sheet.entry()
    bench.page.close()
    bench.page = bench.new_page()
    sheet = bench.open()
    assert not sheet.air.figures(), "nothing is taken up unasked"
    assert bench.page.go_on_button.isVisible()
    with bench.qtbot.waitSignal(bench.page.previewed):
        QTest.mouseClick(bench.page.go_on_button, Qt.MouseButton.LeftButton)
    bench.settle()
    assert bench.sheet.entry() == before and bench.page.photograph.held == (held,)
    bench.clock.advance(seconds=30)
    bench.press_and_wait("+")
    assert bench.sheet.flush.stamps[-1].seconds == 130.0, "the flush's clock runs on"


def test_a_draft_is_gone_once_its_work_is_recorded_or_thrown_away(bench: Bench) -> None:
    bench.whole()
    bench.record()
    assert Drafts(bench.folder).listed() == ()
    sheet = bench.open("LK-02")
    bench.press("11104")
    bench.settle()
    assert [draft.tag for draft in Drafts(bench.folder).listed()] == ["LK-02"]
    assert sheet.head.head.given == "dry"
    bench.open("LK-02")
    QTest.mouseClick(bench.page.throw_button, Qt.MouseButton.LeftButton)
    bench.settle()
    assert Drafts(bench.folder).listed() == ()


def test_f2_puts_a_slip_right_within_ten_minutes(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    bench.press_and_wait("460489507")
    assert bench.sheet.oxygen.ends[bench.keys.cell_slots[0]].word == "repeat"
    image = BytesIO()
    Image.new("RGB", (60, 40), "white").save(image, "PNG")
    bench.page.photograph.give(image.getvalue())
    bench.settle()
    assert bench.rows(Photograph) == []
    bench.record()
    (taken,) = bench.rows(Photograph)
    assert taken.calibration_id == bench.page.recorded.calibration_id
    assert not bench.sheet.oxygen.isEnabled(), "what is recorded is not typed over"
    bench.press(Qt.Key.Key_F4)
    bench.press(Qt.Key.Key_Right)
    bench.press_and_wait("498")
    bench.sheet.outcome.record_button.setFocus()
    bench.record()
    first, second = bench.rows(Calibration)
    assert (second.supersedes_id, second.supersedes_reason) == (first.id, "typing")
    (kept,) = bench.rows(Photograph)
    assert (kept.id, kept.calibration_id) == (taken.id, second.id), "it goes over to what takes the place"
    ((shown, data),) = photographs_beside(bench.workplace, part_id=bench.rows(CalibrationOutcome)[0].part_id)
    assert shown.sha256 == kept.sha256 and data is not None
    outcomes = [row.verdict for row in bench.rows(CalibrationOutcome) if row.calibration_id == second.id]
    assert outcomes == ["pass"] * 3


def test_a_typing_error_found_after_the_page_was_left_is_corrected_with_f4_within_ten_minutes(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    bench.press_and_wait("460489507")
    typed = {(each.reader_id, each.slot_id): each.mv for each in bench.sheet.entry().at_point("oxygen")}
    bench.record()
    bench.open("LK-02")
    bench.open("LK-01")
    assert bench.sheet.oxygen.figures() == {}
    bench.press(Qt.Key.Key_F4)
    bench.settle()
    assert bench.page.banner.text.startswith("Change what was mistyped")
    again = {(each.reader_id, each.slot_id): each.mv for each in bench.sheet.entry().at_point("oxygen")}
    assert again == typed and 46.0 in again.values()
    assert Drafts(bench.folder).listed() == (), "a correction is no draft"
    bench.press(Qt.Key.Key_Right)
    bench.press_and_wait("498")
    bench.sheet.outcome.record_button.setFocus()
    bench.record()
    first, second = bench.rows(Calibration)
    assert (second.supersedes_id, second.supersedes_reason) == (first.id, "typing")
    bench.open("LK-01")
    bench.clock.advance(minutes=11)
    bench.press(Qt.Key.Key_F4)
    bench.settle()
    assert "is older than ten minutes" in bench.page.banner.text


def test_a_rejected_cell_offers_a_ticket_with_its_reason(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.press("*")
    bench.clock.advance(seconds=100)
    bench.press_and_wait("498450507")
    for _ in range(2):
        bench.clock.advance(seconds=50)
        bench.press_and_wait("+")
    bench.press_and_wait("498450507")
    cell_2 = bench.sheet.oxygen.ends[bench.keys.cell_slots[1]]
    assert cell_2.word == "reject" and "%" in cell_2.line and "margin" in cell_2.line
    bench.record()
    with bench.qtbot.waitSignal(bench.page.ticket_wanted) as wanted:
        bench.press(Qt.Key.Key_Backtab)
        assert bench.sheet.outcome.ticket_button.hasFocus()
        bench.press(Qt.Key.Key_Return)
    assert wanted.args is not None
    assert wanted.args[0] == "LK-01" and str(wanted.args[1]).startswith("cell 2 reject")
    with bench.qtbot.waitSignal(bench.page.action_requested) as step:
        bench.press(Qt.Key.Key_Tab)
        bench.press(Qt.Key.Key_Return)
    assert step.args == ["next_step"]


def test_a_pasted_table_and_a_log_stand_as_if_typed(bench: Bench, tmp_path: Path) -> None:
    bench.press("11")
    QGuiApplication.clipboard().setText("10.4\t10.4\n10.2\t10.2\n10.6\t10.6")
    with bench.qtbot.waitSignal(bench.page.previewed):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    bench.settle()
    assert bench.sheet.air.is_complete
    lines = ["time,handset,cell,mV"]
    for second, share in ((0, 0.21), (40, 0.9), (80, 0.99), (120, 1.0), (150, 1.0), (181, 1.0)):
        for reader in (1, 2):
            lines += [f"{second},{reader},{cell},{mv * share:.1f}" for cell, mv in ((1, 49.8), (2, 48.9), (3, 50.7))]
    log = tmp_path / "log.csv"
    log.write_text("\n".join(lines), encoding="utf-8")
    with bench.qtbot.waitSignal(bench.page.previewed):
        bench.page.read_log_file(log)
    bench.settle()
    assert [end.word for end in bench.sheet.oxygen.ends.values()] == ["pass"] * 3
    assert bench.sheet.outcome.record_button.hasFocus()
    bench.page.read_log_file(tmp_path / "nothing.csv")
    assert bench.page.banner.text.startswith("log: nothing.csv cannot be read")


def test_readings_from_paper_are_recorded_at_their_own_time(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    bench.open()
    form = bench.sheet.session
    QTest.mouseClick(form.paper_button, Qt.MouseButton.LeftButton)
    done = bench.clock() - timedelta(hours=20)
    form.when.setText(f"{done.astimezone(BERLIN):%Y-%m-%d %H:%M}")
    QTest.keyClicks(form.settled, "1")
    for field, text in ((form.pressure, "1008.4"), (form.temperature, "21"), (form.oxygen, "99.6")):
        field.setText(text)
    form.submit()
    bench.settle()
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.press(Qt.Key.Key_Return)
    bench.press_and_wait(OXYGEN + OXYGEN)
    bench.record()
    row = bench.rows(Calibration)[0]
    assert (row.session_id, row.at, row.settled) == (None, done, "yes")


def test_the_handsets_own_calibration_is_recorded_with_it(bench: Bench) -> None:
    bench.press("11")
    bench.press_and_wait(AIR)
    bench.flush()
    fields = bench.sheet.extras.handset_fields[bench.keys.readers[0]]
    for field, text in zip(fields, ("99.6", "1008", "1.00", "0.21"), strict=True):
        field.setText(text)
    bench.press_and_wait(OXYGEN)
    bench.record()
    row = bench.rows(HandsetSetting)[0]
    assert (row.reader_id, row.fraction_set, row.shown_air_bar) == (bench.keys.readers[0], 0.996, 0.21)


def test_a_point_above_one_bar_shows_up_to_where_the_cells_were_verified(bench: Bench) -> None:
    bench.whole()
    extras = bench.sheet.extras
    QTest.mouseClick(extras.panel_buttons["pot"], Qt.MouseButton.LeftButton)
    extras.pot_bar.setFocus()
    bench.press("160")
    bench.press("796781810796781810")
    bench.press(Qt.Key.Key_Return)
    with bench.qtbot.waitSignal(bench.page.previewed):
        bench.press(Qt.Key.Key_Return)
    bench.settle()
    assert len(bench.sheet.extras.pots) == 6
    bench.sheet.outcome.record_button.setFocus()
    bench.record()
    assert {row.verified_up_to_bar for row in bench.rows(CalibrationOutcome)} == {1.6}


def test_nothing_is_recorded_before_both_questions_are_answered(bench: Bench) -> None:
    bench.page.record()
    assert bench.page.banner.text.startswith("head: answer both questions")
    assert bench.rows(Calibration) == []


def test_a_tag_that_no_unit_has_is_said_inside_the_page(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    bench.page.tag_field.setFocus()
    bench.press("LK-99")
    bench.press(Qt.Key.Key_Return)
    bench.qtbot.waitUntil(lambda: bench.page.banner.text != "")
    assert bench.page.banner.text.startswith("unit LK-99: no unit has this tag")


def test_nobody_signed_in_is_asked_for(make_bench: Callable[[], Bench]) -> None:
    bench = make_bench()
    bench.background.signed_in.choose(None)
    bench.page = bench.new_page()
    open_bench(bench.database, bench.keys, bench.clock())
    bench.open()
    bench.press("11")
    bench.press_and_wait(AIR)
    assert bench.page.banner.text == "person: nobody is signed in; choose your name at the top of the window"
    with bench.qtbot.waitSignal(bench.page.opened):
        bench.background.signed_in.choose(bench.keys.technician)
    bench.settle()
    assert bench.sheet.air.is_complete, "what was entered stays"


def test_a_head_low_in_all_its_cells_is_compared_with_another_on_the_same_gas_and_holds_its_unit(bench: Bench) -> None:
    low = "464455472"  # all three 7 % short in oxygen

    def short(tag: str) -> None:
        bench.press("11")
        bench.press_and_wait(AIR)
        bench.press("*")
        bench.clock.advance(seconds=100)
        bench.press_and_wait(low)
        for _ in range(2):
            bench.clock.advance(seconds=50)
            bench.press_and_wait("+")
        bench.press_and_wait(low)
        bench.record()

    assert "No other head was calibrated on this gas yet" in bench.sheet.session.warnings.text()
    short("LK-01")
    assert [row.verdict for row in bench.rows(CalibrationOutcome)] == ["repeat"] * 3
    assert {row.blame for row in bench.rows(CalibrationOutcome)} == {"common"}
    bench.open("LK-02")
    bench.settle()
    assert "For comparison on this gas: LK-01 repeat." in bench.sheet.session.warnings.text()
    bench.whole()
    bench.record()
    assert [row.verdict for row in bench.rows(CalibrationOutcome)][3:] == ["pass"] * 3
    bench.open("LK-01")
    bench.settle()
    assert "For comparison on this gas: LK-02 pass." in bench.sheet.session.warnings.text()
    short("LK-01")
    assert [row.verdict for row in bench.rows(CalibrationOutcome)][6:] == ["reject"] * 3
    fit = {row.tag: row for row in list_units(bench.workplace)}
    assert fit["LK-01"].fit == "hold" and any("reject" in reason for reason in fit["LK-01"].reasons)
    assert bench.sheet.outcome.ticket_button.isVisible()


def test_cells_that_look_exchanged_are_asked_about_once_before_they_are_recorded(bench: Bench) -> None:
    bench.open()
    bench.press("11")
    bench.press_and_wait("096102108096102108")
    bench.flush()
    bench.press_and_wait(OXYGEN)
    bench.record()
    bench.open()
    bench.press("11")
    bench.press_and_wait("102096108096102108")
    bench.flush()
    bench.press_and_wait(OXYGEN)
    bench.page.record()
    bench.settle()
    assert "cell 1 and cell 2 on handset 1 look exchanged" in bench.page.banner.text
    assert len(bench.rows(Calibration)) == 1
    bench.page.record()
    bench.settle()
    assert len(bench.rows(Calibration)) == 2
