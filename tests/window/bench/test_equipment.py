"""The register of test equipment on the screen: added and certified by keys, refused by field, marked by state."""

from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetbench.records.core.database import Database
from fleetbench.window.bench.equipment import EquipmentPage
from fleetbench.window.forms.form_dialog import FormDialog
from fleetbench.window.look.theme import Theme
from fleetbench.window.shell.background import Background
from fleetbench.window.shell.pages import PageContext
from fleetbench.workshop.bench.equipment import list_equipment
from fleetbench.workshop.core.workplace import Workplace
from tests.centres.valve_centre import write_valve_centre


@pytest.fixture
def page(qtbot: QtBot, theme: Theme, background: Background, sqlite_database: Database, clock: Any) -> Any:
    keys = write_valve_centre(sqlite_database, clock())
    workplace = Workplace(sqlite_database, clock, keys.centre.manager)
    made = EquipmentPage(PageContext(theme, background, workplace, ZoneInfo("Europe/Berlin")))
    qtbot.addWidget(made)
    made.show()
    made.refresh()
    qtbot.waitUntil(lambda: made.is_loaded and not background.is_busy)
    yield made
    qtbot.waitUntil(lambda: not background.is_busy)


def dialog(page: EquipmentPage) -> FormDialog:
    found = page.dialog
    assert isinstance(found, FormDialog)
    return found


def test_the_register_sums_up_and_shows_each_piece_with_its_state(page: EquipmentPage) -> None:
    assert page.summary == "8 pieces: 8 good"
    assert {row.tool.kind for row in page.model.rows} >= {"analyser", "gauge", "manometer", "flow meter"}


def test_a_piece_is_added_by_keys_and_stands_in_the_list(page: EquipmentPage, qtbot: QtBot) -> None:
    page.buttons["add"].click()
    asked = dialog(page)
    asked["kind"].setCurrentText("gauge")
    qtbot.waitUntil(lambda: asked["unit"].currentText() == "bar")
    for field, text in (("name", "Second gauge"), ("serial", "IG-2"), ("uncertainty", "0.03"),
                        ("digit", "0.01"), ("last_good_day", "2027-01-31")):  # fmt: skip
        qtbot.keyClicks(asked[field], text)
    with qtbot.waitSignal(asked.done_with):
        qtbot.keyClick(asked.act_button, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: any(row.tool.serial == "IG-2" for row in page.model.rows))
    added = next(row for row in page.model.rows if row.tool.serial == "IG-2")
    assert (added.tool.uncertainty, added.tool.digit, str(added.tool.last_good_day)) == (0.03, 0.01, "2027-01-31")


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("last_good_day", "31.1.27", "last valid day: "),
        ("uncertainty", "x", "uncertainty: "),
        ("serial", "", "serial: "),
    ],
)
def test_a_wrong_entry_is_refused_by_its_field_and_the_dialog_stays(
    page: EquipmentPage, qtbot: QtBot, field: str, text: str, words: str
) -> None:
    page.buttons["add"].click()
    asked = dialog(page)
    asked["name"].setText("Second gauge")
    asked["serial"].setText("IG-2")
    asked[field].setText(text)
    asked.act_button.click()
    qtbot.waitUntil(lambda: asked.banner.text.startswith(words))
    qtbot.waitUntil(lambda: not asked.is_acting)
    asked.reject()


def test_a_new_certificate_is_written_down_for_the_chosen_piece(page: EquipmentPage, qtbot: QtBot) -> None:
    row = next(row for row in page.model.rows if row.tool.serial == "LM-1")
    assert page.choose(str(row.tool.equipment_id))
    page.buttons["certify"].click()
    asked = dialog(page)
    until = row.tool.last_good_day + timedelta(days=365)
    asked["last_good_day"].setText(until.isoformat())
    with qtbot.waitSignal(asked.done_with):
        asked.act_button.click()
    found = next(row for row in list_equipment(page.workplace) if row.tool.serial == "LM-1")
    assert (found.tool.last_good_day, found.tool.uncertainty, found.tool.digit) == (until, 0.1, 0.1)
