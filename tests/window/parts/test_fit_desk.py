"""Parts replaced, moved to another unit and put right from a part's own page, by keys and clicks."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from sqlalchemy import select

from fleetbench.records.core.database import Database
from fleetbench.records.parts.tables import Part
from fleetbench.window.detail.record_page import RecordPage
from fleetbench.window.forms.form import ActDialog
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.parts import page as parts
from fleetbench.window.parts.fit import FitDesk, FitDialog
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.window.units import list as units
from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.units.list import unit_page
from tests.centres.bench_centre import write_centre
from tests.conftest import Clock

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)


class Bench:
    """The small centre, with the page of one of its parts or units."""

    def __init__(self, qtbot: QtBot, theme: Theme, background: Background, database: Database) -> None:
        self.qtbot, self.background = qtbot, background
        self.clock = Clock(NOW)
        self.workplace = Workplace(database, self.clock, write_centre(database, NOW).manager)
        self.clock.advance(hours=1)
        self.context = PageContext(theme, background, self.workplace, BERLIN)

    def show(self, page: RecordPage, key: str) -> None:
        self.qtbot.addWidget(page)
        page.resize(1088, 748)
        with self.qtbot.waitExposed(page):
            page.show()
        page.show_key(key)
        self.settle()

    def part_page(self, serial: str) -> parts.PartRecordPage:
        page = parts.record_page(self.context)
        with self.workplace.database.read_session() as session:
            key = session.scalars(select(Part.id).where(Part.serial == serial)).one()
        self.show(page, str(key))
        return page

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.background.is_busy, timeout=10_000)

    def press(self, desk: FitDesk, name: str, kind: type[ActDialog]) -> ActDialog:
        desk.buttons[name].click()
        self.settle()
        assert isinstance(desk.dialog, kind)
        self.settle()
        return desk.dialog

    def finish(self, dialog: ActDialog) -> None:
        with self.qtbot.waitSignal(dialog.accepted):
            dialog.act()
        self.settle()
        self.clock.advance(minutes=1)

    def sits(self, tag: str) -> dict[str, str | None]:
        return {part.slot: part.part for part in unit_page(self.workplace, tag).fitted}


@pytest.fixture
def bench(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database) -> Bench:
    """A small centre and its pages."""
    return Bench(qtbot, theme, background, sqlite_database)


def test_a_fitted_cell_is_moved_to_the_other_unit_from_its_page_and_corrected_again(bench: Bench) -> None:
    page = bench.part_page("C-LK-01-2")
    assert page.fitting.isVisible()
    dialog = bench.press(page.fitting, "move", FormDialog)
    assert isinstance(dialog, FormDialog)
    assert (dialog["slot"].currentData(), dialog["to_tag"].currentText(), dialog["to_slot"].currentData()) == (
        "cell 2", "LK-02", "cell 2",
    )  # fmt: skip
    dialog.act()
    assert "reason: say why the part there is removed" in dialog.banner.text
    QTest.keyClick(dialog["why_old"], Qt.Key.Key_2)
    bench.finish(dialog)
    assert "C-LK-01-2 sits in cell 2. C-LK-02-2 was removed. The release tests must follow." in page.banner.text
    assert (bench.sits("LK-01")["cell 2"], bench.sits("LK-02")["cell 2"]) == (None, "C-LK-01-2")
    undo = bench.press(page.fitting, "undo", FormDialog)
    assert isinstance(undo, FormDialog) and undo["slot"].currentData() == "cell 2"
    undo.act()
    bench.settle()
    assert "reason: is empty" in undo.banner.text
    QTest.keyClicks(undo["reason"], "wrong unit")
    bench.finish(undo)
    assert "C-LK-01-2 left the slot, back to LK-01. C-LK-02-2 sits there again." in page.banner.text
    assert (bench.sits("LK-01")["cell 2"], bench.sits("LK-02")["cell 2"]) == ("C-LK-01-2", "C-LK-02-2")


def test_a_part_is_replaced_from_its_own_page_with_its_slot_chosen(bench: Bench) -> None:
    page = bench.part_page("C-LK-01-2")
    dialog = bench.press(page.fitting, "fit", FitDialog)
    assert isinstance(dialog, FitDialog) and dialog.slot_line is not None and dialog.slot_line.slot == "cell 2"
    dialog.part.setText("C-NEW")
    QTest.keyClick(dialog.part, Qt.Key.Key_Return)
    with bench.qtbot.waitSignal(dialog.accepted):
        QTest.keyClick(dialog.why, Qt.Key.Key_1)
    bench.settle()
    assert bench.sits("LK-01")["cell 2"] == "C-NEW"
    assert not page.fitting.isVisible(), "it lies on the shelf now"


def test_a_part_on_the_shelf_offers_no_act_on_slots(bench: Bench) -> None:
    page = bench.part_page("C-NEW")
    assert not page.fitting.isVisible() and page.desk.buttons["move_parts"].isEnabled()


def test_only_slots_of_the_same_kind_are_offered_and_the_own_unit_too(bench: Bench) -> None:
    page = bench.part_page("C-LK-01-2")
    dialog = bench.press(page.fitting, "move", FormDialog)
    assert isinstance(dialog, FormDialog)
    dialog["to_tag"].setCurrentText("LK-01")
    bench.settle()
    assert [dialog["to_slot"].itemData(n) for n in range(dialog["to_slot"].count())] == ["cell 1", "cell 3"]
    dialog.reject()


def test_a_units_page_offers_the_acts_on_its_slots(bench: Bench) -> None:
    page = units.record_page(bench.context)
    bench.show(page, "LK-01")
    (desk,) = page.findChildren(FitDesk)
    dialog = bench.press(desk, "take_out", FitDialog)
    assert isinstance(dialog, FitDialog)
    dialog.choose_slot("cell 1")
    with bench.qtbot.waitSignal(dialog.accepted):
        QTest.keyClick(dialog.why, Qt.Key.Key_3)
    bench.settle()
    assert bench.sits("LK-01")["cell 1"] is None
    assert "C-LK-01-1 was removed" in page.banner.text
